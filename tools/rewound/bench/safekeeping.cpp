// SPDX-License-Identifier: MIT
#include "safekeeping.hpp"

#include <cerrno>
#include <cstring>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <sstream>

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <rewound/base/error.hpp>
#include <rewound/job/write_file.hpp>

namespace rewound::tool::bench {

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

/// The file that a name stands for: of a link its target, so that renaming replaces the record and not the link.
std::string resolved(const std::string& path) {
  std::error_code none;
  const auto target = std::filesystem::canonical(path, none);
  return none ? path : target.string();
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

safekeeping::safekeeping(const std::string& path) : path_(resolved(path)) {
  journal_ = ::open(journal_path().c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
  if (journal_ < 0)
    throw error(error_code::file_unwritable, {journal_path(), 0, ""}, std::strerror(errno), "a journal beside the record");
  if (::flock(journal_, LOCK_EX | LOCK_NB) != 0) {
    ::close(journal_);
    throw error(error_code::file_unwritable, {path, 0, ""}, "a record that another bench has open", "one bench a record; end the other first");
  }
  const std::string text = whole_text(journal_path());
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);)
    if (auto entry = journal_entry_of(line)) earlier_.push_back(std::move(*entry));
  if (!text.empty() && text.back() != '\n') write_line(journal_, "\n");
}

safekeeping::~safekeeping() { ::close(journal_); }

std::string safekeeping::note(std::string_view kind, std::string_view text) {
  const std::string line = utc_now() + " " + std::string(kind) + " " + one_line(text) + "\n";
  return write_line(journal_, line) ? "" : std::strerror(errno);
}

void safekeeping::save(const job::record& in) { job::write_whole_file(path_, job::record_text(in)); }

std::optional<std::string> safekeeping::keep_original() {
  const std::string copy = path_ + ".before-bench";
  if (std::filesystem::exists(copy)) return std::nullopt;
  job::write_whole_file(copy, whole_text(path_));
  return copy;
}

std::optional<std::string> left_hanging(const std::vector<journal_entry>& entries) {
  std::optional<std::string> open;
  for (const auto& entry : entries) {
    if (entry.kind == "typed") open = entry.text;
    else if (entry.kind != "opened") open.reset();
  }
  if (open && open->empty()) open.reset();
  return open;
}

}  // namespace rewound::tool::bench
