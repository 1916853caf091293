// SPDX-License-Identifier: MIT
#include <rewound/record/write_file.hpp>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>

#include <fcntl.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include <rewound/base/error.hpp>

namespace rewound::record {

namespace {

[[noreturn]] void fail(const std::string& path) {
  throw base::error(base::error_code::file_unwritable, {path, 0, ""}, std::strerror(errno),
                    "a file that can be written");
}

bool write_all(int descriptor, std::string_view content) {
  while (!content.empty()) {
    const auto written = ::write(descriptor, content.data(), content.size());
    if (written < 0 && errno == EINTR) continue;
    if (written <= 0) return false;
    content.remove_prefix(static_cast<std::size_t>(written));
  }
  return true;
}

/// The new name is on disk only once the folder is. A file system that cannot sync a folder has done what it can.
void sync_folder_of(const std::string& path) {
  const auto folder = std::filesystem::path(path).parent_path().string();
  const int descriptor = ::open(folder.empty() ? "." : folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (descriptor < 0) return;
  ::fsync(descriptor);
  ::close(descriptor);
}

}  // namespace

void write_whole_file(const std::string& path, std::string_view content) {
  std::string temporary = path + ".part-XXXXXX";
  const int descriptor = ::mkstemp(temporary.data());
  if (descriptor < 0) fail(path);
  const bool whole = write_all(descriptor, content) && ::fsync(descriptor) == 0 && ::fchmod(descriptor, 0644) == 0;
  int trouble = errno;
  ::close(descriptor);
  if (whole && std::rename(temporary.c_str(), path.c_str()) == 0) {
    sync_folder_of(path);
    return;
  }
  if (whole) trouble = errno;
  std::remove(temporary.c_str());
  errno = trouble;
  fail(path);
}

}  // namespace rewound::record
