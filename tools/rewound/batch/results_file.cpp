// SPDX-License-Identifier: MIT
#include "batch/results_file.hpp"

#include <algorithm>
#include <cerrno>
#include <cinttypes>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <sstream>

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <rewound/base/characters.hpp>
#include <rewound/base/checksum.hpp>
#include <rewound/base/error.hpp>

namespace rewound::tool {

namespace {

namespace fs = std::filesystem;
using base::error;
using base::error_code;

constexpr std::array<std::string_view, batch_outcome_count> outcome_names{"release", "hold", "undecided", "unreadable",
                                                                          "internal_error"};

[[noreturn]] void refuse_writing(const std::string& path) {
  throw error(error_code::file_unwritable, {path, 0, ""}, std::strerror(errno), "a file that can be written");
}

int opened(const std::string& path, int flags) {
  const int descriptor = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | flags, 0666);
  if (descriptor < 0) refuse_writing(path);
  return descriptor;
}

void write_all(int descriptor, const std::string& path, std::string_view text) {
  while (!text.empty()) {
    const auto written = ::write(descriptor, text.data(), text.size());
    if (written < 0 && errno == EINTR) continue;
    if (written <= 0) refuse_writing(path);
    text.remove_prefix(static_cast<std::size_t>(written));
  }
}

std::string first_line(std::uint64_t run) {
  char text[64];
  std::snprintf(text, sizeof text, "rewound-batch/1 %016" PRIx64, run);
  return text;
}

bool holds_something(const std::string& path) {
  std::error_code trouble;
  const auto size = fs::file_size(path, trouble);
  return !trouble && size > 0;
}

/// One line of the progress file; false for a torn or foreign one.
struct progress_line {
  std::uint64_t length;
  std::uint64_t checksum;
  std::size_t outcome;

  static bool read(const std::string& line, progress_line& out) {
    char word[32] = "";
    if (std::sscanf(line.c_str(), "%" SCNu64 " %16" SCNx64 " %31s", &out.length, &out.checksum, word) != 3)
      return false;
    const auto* const found = std::find(outcome_names.begin(), outcome_names.end(), word);
    out.outcome = static_cast<std::size_t>(found - outcome_names.begin());
    return out.outcome < batch_outcome_count;
  }
};

}  // namespace

results_file::results_file(std::string path, std::uint64_t run, std::string_view head, bool fresh)
    : path_(std::move(path)), progress_path_(path_ + ".run") {
  if (path_.empty()) {
    results_ = STDOUT_FILENO;
    path_ = "standard output";
    write_all(results_, path_, head);
    return;
  }
  if (fs::exists(path_) && !fs::is_regular_file(path_)) {  // a pipe or a terminal keeps nothing
    results_ = ::open(path_.c_str(), O_WRONLY | O_CLOEXEC);
    if (results_ < 0) refuse_writing(path_);
    write_all(results_, path_, head);
    return;
  }
  if (holds_something(path_) && !fresh && !fs::exists(progress_path_))
    throw error(error_code::records_do_not_match, {path_, 0, ""}, "a file that no run of this command began",
                "another name, or --fresh to replace it");
  progress_ = opened(progress_path_, O_NONBLOCK);
  expect_own_progress();
  lock_progress();
  if (fresh || !resume(run)) begin(run, head);
}

results_file::~results_file() {
  if (progress_ >= 0) ::close(progress_);
  if (results_ >= 0 && results_ != STDOUT_FILENO) ::close(results_);
}

/// A file of this name that no run wrote is somebody else's, and stays as it is.
void results_file::expect_own_progress() const {
  std::string begins(first_line(0).find(' '), '\0');
  const auto got = ::pread(progress_, begins.data(), begins.size(), 0);
  if (fs::is_regular_file(fs::symlink_status(progress_path_)) &&
      (got == 0 || begins == first_line(0).substr(0, begins.size())))
    return;
  throw error(error_code::records_do_not_match, {progress_path_, 0, ""}, "a file that no run of this command wrote",
              "another name for the results: how far they are is kept beside them under this one");
}

void results_file::lock_progress() const {
  if (::flock(progress_, LOCK_EX | LOCK_NB) == 0) return;
  throw error(error_code::file_unwritable, {path_, 0, ""}, "results that another run is writing",
              "to wait for it, or another name");
}

bool results_file::resume(std::uint64_t run) {
  if (!holds_something(path_)) return false;
  std::ifstream progress(progress_path_);
  std::string line;
  if (!std::getline(progress, line) || line != first_line(run))
    throw error(error_code::records_do_not_match, {path_, 0, ""},
                "results of other records or options, or of another version",
                "the same input and options, another name, or --fresh to replace them");
  results_ = opened(path_, 0);
  take_over(progress);
  if (taken_over_ > 0) return true;
  ::close(results_);
  return false;
}

/// Follows the progress as far as the results agree with it, and cuts both off there.
void results_file::take_over(std::istream& progress) {
  std::ifstream results(path_, std::ios::binary);
  std::uint64_t checked = 0, checksum = base::checksum_start,
                progress_length = static_cast<std::uint64_t>(progress.tellg());
  const auto whole = fs::file_size(path_);
  std::string line, piece;
  while (std::getline(progress, line) && !progress.eof()) {  // the end of the file instead of the line's: torn
    progress_line each{};
    if (!progress_line::read(line, each) || each.length < checked || each.length > whole) break;
    piece.resize(each.length - checked);
    if (!results.read(piece.data(), static_cast<std::streamsize>(piece.size()))) break;
    checksum = base::checksum_of(piece, checksum);
    if (checksum != each.checksum)
      throw error(error_code::records_do_not_match, {path_, 0, ""}, "results that were changed since they were written",
                  "the file as it was, another name, or --fresh to replace it");
    checked = each.length;
    progress_length += line.size() + 1;
    length_ = checked;
    checksum_ = checksum;
    ++outcomes_[each.outcome];
    ++taken_over_;
  }
  if (taken_over_ == 0) return;
  if (::ftruncate(results_, static_cast<off_t>(length_)) != 0 || ::lseek(results_, 0, SEEK_END) < 0)
    refuse_writing(path_);
  if (::ftruncate(progress_, static_cast<off_t>(progress_length)) != 0 || ::lseek(progress_, 0, SEEK_END) < 0)
    refuse_writing(progress_path_);
}

void results_file::begin(std::uint64_t run, std::string_view head) {
  // The results go first: progress never vouches for more than there is.
  results_ = opened(path_, O_TRUNC);
  if (::ftruncate(progress_, 0) != 0 || ::lseek(progress_, 0, SEEK_SET) < 0) refuse_writing(progress_path_);
  write_all(progress_, progress_path_, first_line(run) + "\n");
  write_all(results_, path_, head);
  length_ = head.size();
  checksum_ = base::checksum_of(head);
}

void results_file::add(std::string_view piece, batch_outcome outcome) {
  // A record's names must not steer a terminal; a file or a pipe gets them as they are.
  if (!keeps_progress() && ::isatty(results_) == 1)
    write_all(results_, path_, base::seen_text(piece, base::replacement_character, true));
  else write_all(results_, path_, piece);
  ++outcomes_[static_cast<std::size_t>(outcome)];
  if (!keeps_progress()) return;
  length_ += piece.size();
  checksum_ = base::checksum_of(piece, checksum_);
  char line[96];
  std::snprintf(line, sizeof line, "%" PRIu64 " %016" PRIx64 " %s\n", length_, checksum_,
                outcome_names[static_cast<std::size_t>(outcome)].data());
  write_all(progress_, progress_path_, line);
}

void results_file::finish() {
  if (!keeps_progress()) return;
  if (::fsync(results_) != 0) refuse_writing(path_);
  if (::fsync(progress_) != 0) refuse_writing(progress_path_);
}

}  // namespace rewound::tool
