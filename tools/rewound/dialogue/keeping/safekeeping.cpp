// SPDX-License-Identifier: MIT
#include "dialogue/keeping/safekeeping.hpp"

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <sstream>

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <rewound/base/error.hpp>
#include <rewound/record/write_file.hpp>

namespace rewound::tool::dialogue {

namespace {

using base::error;
using base::error_code;

std::string utc_now() {
  const std::time_t now = std::time(nullptr);
  std::tm parts{};
  gmtime_r(&now, &parts);
  char text[32];
  std::strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &parts);
  return text;
}

/// One line whatever was typed: control characters would break the journal, or steer a terminal that shows it.
std::string one_line(std::string_view text) {
  std::string out;
  for (const char c : text) out += (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) ? ' ' : c;
  return out;
}

std::string whole_text(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::stringstream out;
  out << file.rdbuf();
  return out.str();
}

/// A name beside a file that nothing has yet: job.toml.before-bench, job.toml.before-bench.2 and so on. Nothing where
/// one of those there already holds the text.
std::optional<std::string> free_name(const std::string& stem, const std::optional<std::string>& text) {
  std::string name = stem;
  for (int number = 2; std::filesystem::exists(std::filesystem::symlink_status(name)); ++number) {
    if (text && whole_text(name) == *text) return std::nullopt;
    name = stem + "." + std::to_string(number);
  }
  return name;
}

bool write_line(int descriptor, std::string_view line) {
  const auto before = ::lseek(descriptor, 0, SEEK_END);
  const auto written = ::write(descriptor, line.data(), line.size());
  if (written == static_cast<ssize_t>(line.size()) && ::fsync(descriptor) == 0) return true;
  const int trouble = written >= 0 && written < static_cast<ssize_t>(line.size()) ? ENOSPC : errno;
  // Half a line would join with the next one.
  if (before >= 0 && ::ftruncate(descriptor, before) != 0) errno = trouble;
  errno = trouble;
  return false;
}

/// A journal is read by whoever may read its record.
/// @throws base::error (file_unwritable)
int opened_journal(const std::string& path, const std::string& record) {
  struct stat seen {};
  const mode_t mode = ::stat(record.c_str(), &seen) == 0 ? seen.st_mode & 0666U : 0666U;
  const int out = ::open(path.c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC | O_NONBLOCK, mode);
  if (out < 0)
    throw error(error_code::file_unwritable, {path, 0, ""}, std::strerror(errno), "a journal beside the record");
  return out;
}

bool locked(int descriptor) { return ::flock(descriptor, LOCK_EX | LOCK_NB) == 0; }

[[noreturn]] void refuse_held(const std::string& path) {
  throw error(error_code::file_unwritable, {path, 0, ""}, "a record that another bench has open",
              "one bench a record; end the other first");
}

/// Whether a name still stands for the file that is open.
bool same_file(int descriptor, const std::string& path) {
  struct stat open_one {};
  struct stat named {};
  return ::fstat(descriptor, &open_one) == 0 && ::stat(path.c_str(), &named) == 0 && open_one.st_ino == named.st_ino &&
         open_one.st_dev == named.st_dev;
}

/// All of an open file, which may have no name any more.
std::string text_behind(int descriptor) {
  std::string out;
  char part[4096];
  for (ssize_t count = 0; (count = ::pread(descriptor, part, sizeof part, static_cast<off_t>(out.size()))) > 0;)
    out.append(part, static_cast<std::size_t>(count));
  return out;
}

}  // namespace

std::optional<journal_entry> journal_entry_of(std::string_view line) {
  const auto first = line.find(' ');
  if (first == std::string_view::npos) return std::nullopt;
  const auto second = std::min(line.find(' ', first + 1), line.size());
  journal_entry out{std::string(line.substr(0, first)), std::string(line.substr(first + 1, second - first - 1)), ""};
  if (second < line.size()) out.text = std::string(line.substr(second + 1));
  if (out.time.size() != std::strlen("2026-01-01T00:00:00Z") || !out.time.ends_with('Z')) return std::nullopt;
  return out;
}

std::vector<journal_entry> journal_entries(const std::string& path) {
  std::vector<journal_entry> out;
  std::istringstream lines(whole_text(path));
  for (std::string line; std::getline(lines, line);)
    if (auto entry = journal_entry_of(line)) out.push_back(std::move(*entry));
  return out;
}

safekeeping::safekeeping(const std::string& path) : path_(record::behind_links(path)), last_text_(whole_text(path_)) {
  open_journal();
  if (hold_record()) return;
  ::close(journal_);
  refuse_held(path_);
}

void safekeeping::open_journal() {
  journal_ = opened_journal(journal_path(), path_);
  if (!locked(journal_)) {
    ::close(journal_);
    refuse_held(path_);
  }
  const std::string text = whole_text(journal_path());
  earlier_ = journal_entries(journal_path());
  if (!text.empty() && text.back() != '\n') write_line(journal_, "\n");
}

bool safekeeping::hold_record() {
  const int now = ::open(path_.c_str(), O_RDONLY | O_CLOEXEC);
  if (now < 0) return true;  // none yet
  if (!locked(now)) {
    ::close(now);
    return false;
  }
  if (record_ >= 0) ::close(record_);
  record_ = now;
  return true;
}

void safekeeping::expect_still_ours() {
  if (same_file(journal_, journal_path())) return;
  const int now = opened_journal(journal_path(), path_);
  if (!locked(now)) {
    ::close(now);
    throw record_taken(error_code::file_unwritable, {path_, 0, ""}, "a record that another bench has opened meanwhile",
                       "one bench a record: the last line typed here was not kept");
  }
  const auto before = text_behind(journal_);
  const auto there = text_behind(now);
  if (!there.starts_with(before)) write_line(now, before);
  ::close(journal_);
  journal_ = now;
}

safekeeping::~safekeeping() {
  for (const int held : {journal_, record_})
    if (held >= 0) ::close(held);
}

std::string safekeeping::note(std::string_view kind, std::string_view text) {
  expect_still_ours();
  const std::string line = utc_now() + " " + std::string(kind) + " " + one_line(text) + "\n";
  return write_line(journal_, line) ? "" : std::strerror(errno);
}

std::optional<std::string> safekeeping::save(const record::visit_record& in) {
  expect_still_ours();
  const auto text = record::record_text(in);
  std::optional<std::string> copy;
  const auto there = whole_text(path_);
  if (!there.empty() && there != last_text_ && there != text) {
    copy = free_name(path_ + ".edited-meanwhile", there);
    if (copy) record::write_whole_file(*copy, there, path_);
    last_text_ = there;
  }
  record::write_whole_file(path_, text);
  last_text_ = text;
  hold_record();  // it is another file now; the journal's lock stood over the change
  return copy;
}

std::optional<std::string> safekeeping::keep_original() {
  const auto text = whole_text(path_);
  if (text == record::record_text(record::load_record(path_))) return std::nullopt;
  const auto copy = free_name(path_ + ".before-bench", text);
  if (copy) record::write_whole_file(*copy, text, path_);
  return copy;
}

bool makes_a_record(const journal_entry& entry) {
  return entry.kind == "opened" || (entry.kind == "kept" && entry.text == "a new record");
}

std::optional<std::string> safekeeping::set_journal_aside_of_a_record() {
  if (std::none_of(earlier_.begin(), earlier_.end(), makes_a_record)) return std::nullopt;
  const auto name = *free_name(journal_path() + ".before", std::nullopt);
  if (std::rename(journal_path().c_str(), name.c_str()) != 0)
    throw error(error_code::file_unwritable, {journal_path(), 0, ""}, std::strerror(errno),
                "a folder in which the old journal can be renamed");
  ::close(journal_);
  journal_ = -1;
  earlier_.clear();
  open_journal();
  return name;
}

std::optional<std::string> left_hanging(const std::vector<journal_entry>& entries) {
  std::string given;
  std::string typed;
  const auto join = [](std::string& list, const std::string& text) {
    if (!text.empty()) list += (list.empty() ? "" : "; ") + text;
  };
  for (const auto& entry : entries) {
    if (entry.kind == "typed") typed = entry.text;
    else if (entry.kind != "opened") typed.clear();
    constexpr std::string_view leave_it[] = {"typed", "opened", "measured", "refused", "stated", "noted"};
    if (entry.kind == "given") join(given, entry.text);
    else if (std::find(std::begin(leave_it), std::end(leave_it), entry.kind) == std::end(leave_it)) given.clear();
  }
  join(given, typed);
  return given.empty() ? std::nullopt : std::optional(given);
}

}  // namespace rewound::tool::dialogue
