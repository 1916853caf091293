// SPDX-License-Identifier: MIT
#include <rewound/record/read_file.hpp>

#include <cerrno>
#include <cstring>
#include <mutex>
#include <set>
#include <utility>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <rewound/base/error.hpp>

#include "opened_file.hpp"

namespace rewound::record {

namespace {

using base::error;
using base::error_code;

struct files_in_mind {
  std::mutex turn;
  bool kept = false;
  std::set<std::pair<dev_t, ino_t>> all;
};

files_in_mind& in_mind() {
  static files_in_mind here;
  return here;
}

const char* kind_of_file(mode_t mode) {
  if (S_ISDIR(mode)) return "a folder";
  if (S_ISFIFO(mode) || S_ISSOCK(mode)) return "a pipe";
  return S_ISREG(mode) ? nullptr : "a device";
}

std::string in_megabytes(std::size_t bytes) { return std::to_string(bytes >> 20) + " MB"; }

}  // namespace

opened_file::opened_file(const std::string& path) {
  // A name cut short at a zero byte would stand for another file.
  if (path.find('\0') != std::string::npos)
    throw error(error_code::file_unreadable, {path, 0, ""}, "a name with a zero byte", "the name of a file");
  // A pipe that nobody writes to would be waited for.
  descriptor_ = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
  struct stat seen {};
  if (descriptor_ < 0 || ::fstat(descriptor_, &seen) != 0) {
    const int trouble = errno;
    if (descriptor_ >= 0) ::close(descriptor_);
    throw error(error_code::file_unreadable, {path, 0, ""}, std::strerror(trouble), "a file that can be read");
  }
  if (const char* kind = kind_of_file(seen.st_mode)) {
    ::close(descriptor_);
    throw error(error_code::file_unreadable, {path, 0, ""}, kind, "a file");
  }
  const std::lock_guard hold(in_mind().turn);
  if (in_mind().kept) in_mind().all.emplace(seen.st_dev, seen.st_ino);
}

opened_file::~opened_file() { ::close(descriptor_); }

std::string read_whole_file(const std::string& path, std::size_t most) {
  const opened_file file(path);
  std::string out;
  for (;;) {
    constexpr std::size_t at_a_time = std::size_t{1} << 16;
    const auto before = out.size();
    out.resize(before + at_a_time);
    const auto got = ::read(file.descriptor(), out.data() + before, at_a_time);
    out.resize(before + static_cast<std::size_t>(got > 0 ? got : 0));
    if (got < 0 && errno == EINTR) continue;
    if (got < 0)
      throw error(error_code::file_unreadable, {path, 0, ""}, std::strerror(errno), "a file that can be read");
    if (out.size() > most)
      throw error(error_code::too_large, {path, 0, ""}, "more than " + in_megabytes(most),
                  "a file of at most " + in_megabytes(most));
    if (got == 0) return out;
  }
}

void remember_files_read() {
  const std::lock_guard hold(in_mind().turn);
  in_mind().kept = true;
}

void stop_remembering_files_read() {
  const std::lock_guard hold(in_mind().turn);
  in_mind().kept = false;
}

bool was_read(const std::string& path) {
  struct stat seen {};
  if (::stat(path.c_str(), &seen) != 0) return false;
  const std::lock_guard hold(in_mind().turn);
  return in_mind().all.contains({seen.st_dev, seen.st_ino});
}

}  // namespace rewound::record
