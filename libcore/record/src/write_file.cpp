// SPDX-License-Identifier: MIT
#include <rewound/record/write_file.hpp>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <optional>
#include <utility>

#include <fcntl.h>
#include <stdlib.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <rewound/base/error.hpp>

namespace rewound::record {

namespace {

[[noreturn]] void fail(const std::string& path, const std::string& why) {
  throw base::error(base::error_code::file_unwritable, {path, 0, ""}, why, "a file that can be written");
}

[[noreturn]] void fail(const std::string& path) { fail(path, std::strerror(errno)); }

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

/// A pipe or a device takes the text as it comes.
void write_into(const std::string& path, std::string_view content) {
  const int descriptor = ::open(path.c_str(), O_WRONLY | O_CLOEXEC | O_NOCTTY);
  if (descriptor < 0) fail(path);
  const bool whole = write_all(descriptor, content);
  const int trouble = errno;
  const bool closed = ::close(descriptor) == 0;
  if (!whole) errno = trouble;
  if (!whole || !closed) fail(path);
}

bool is_named(int descriptor, const std::string& path) {
  struct stat open_one {};
  struct stat named {};
  return ::fstat(descriptor, &open_one) == 0 && ::lstat(path.c_str(), &named) == 0 && open_one.st_ino == named.st_ino &&
         open_one.st_dev == named.st_dev;
}

/// What a killed run left is known by its name, and by nobody having it locked; somebody else's file is left alone.
bool may_be_taken_over(int descriptor, const std::string& path) {
  struct stat seen {};
  if (::fstat(descriptor, &seen) != 0 || !S_ISREG(seen.st_mode) || seen.st_nlink > 1 || seen.st_uid != ::geteuid())
    return false;
  return ::flock(descriptor, LOCK_EX | LOCK_NB) == 0 && is_named(descriptor, path);
}

/// A part has one name, and further ones where several runs write the same file at a time.
constexpr int most_parts = 8;
std::string part_name(const std::string& path, int nth) {
  return path + ".part-rewound" + (nth == 1 ? "" : "-" + std::to_string(nth));
}

/// A file beside the one that is to be written, empty, and what it is called.
std::pair<int, std::string> beside(const std::string& path, mode_t mode) {
  for (int nth = 1; nth <= most_parts; ++nth) {
    const std::string part = part_name(path, nth);
    const int descriptor = ::open(part.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK, mode);
    if (descriptor >= 0) {
      if (may_be_taken_over(descriptor, part) && ::ftruncate(descriptor, 0) == 0) return {descriptor, part};
      ::close(descriptor);
    } else if (errno != ELOOP && errno != EACCES && errno != EISDIR && errno != ENXIO) fail(path);
    // Another writer of the same file is at work, or the name is somebody else's.
  }
  std::string other = path + ".part-XXXXXX";
  const int made = ::mkstemp(other.data());
  if (made < 0) fail(path);
  return {made, other};
}

/// Parts under further names, left by runs that were killed while they wrote the same file.
void remove_left_parts(const std::string& path) {
  for (int nth = 2; nth <= most_parts; ++nth) {
    const std::string part = part_name(path, nth);
    const int descriptor = ::open(part.c_str(), O_RDWR | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    if (descriptor < 0) continue;
    if (may_be_taken_over(descriptor, part)) std::remove(part.c_str());
    ::close(descriptor);
  }
}

std::optional<struct stat> stat_of(const std::string& path) {
  struct stat seen {};
  return ::stat(path.c_str(), &seen) == 0 ? std::optional(seen) : std::nullopt;
}

/// What the umask leaves of a new file's permissions. It can be read only by setting it, which other threads would see:
/// the system tells it too.
mode_t left_by_umask() {
  std::FILE* status = std::fopen("/proc/self/status", "re");
  unsigned mask = 022;
  if (status != nullptr) {
    char line[256];
    while (std::fgets(line, sizeof line, status) != nullptr)
      if (std::sscanf(line, "Umask: %o", &mask) == 1) break;
    std::fclose(status);
  }
  return 0666U & ~static_cast<mode_t>(mask);
}

void replace(const std::string& path, std::string_view content, const std::optional<struct stat>& there,
             const std::optional<struct stat>& like) {
  const auto& pattern = there ? there : like;
  const mode_t mode = pattern ? pattern->st_mode & 0777U : left_by_umask();
  const auto [descriptor, part] = beside(path, mode & 0600U);
  // Before its content: at no time may more people read it than the file it becomes.
  if (pattern && (pattern->st_uid != ::geteuid() || pattern->st_gid != ::getegid()) &&
      ::fchown(descriptor, pattern->st_uid, pattern->st_gid) != 0)
    errno = 0;  // only its owner or root can give a file away: it then belongs to who wrote it
  const bool whole = write_all(descriptor, content) && ::fchmod(descriptor, mode) == 0 && ::fsync(descriptor) == 0;
  int trouble = errno;
  const bool renamed = whole && std::rename(part.c_str(), path.c_str()) == 0;
  if (whole && !renamed) trouble = errno;
  if (!renamed) std::remove(part.c_str());
  ::close(descriptor);
  if (renamed) {
    remove_left_parts(path);
    return sync_folder_of(path);
  }
  errno = trouble;
  fail(path);
}

}  // namespace

std::string behind_links(const std::string& path) {
  namespace fs = std::filesystem;
  std::string out = path;
  constexpr int most = 40;  // as many as the system follows
  for (int i = 0; i < most; ++i) {
    std::error_code none;
    const auto to = fs::read_symlink(out, none);
    if (none) return out;
    out = to.is_absolute() ? to.string() : (fs::path(out).parent_path() / to).string();
  }
  return path;
}

void write_whole_file(const std::string& path, std::string_view content, const std::string& like) {
  if (path.find('\0') != std::string::npos) fail(path, "a name with a zero byte");
  const auto there = stat_of(path);
  if (!there && errno == ELOOP) fail(path);
  if (there && S_ISDIR(there->st_mode)) fail(path, "a folder");
  if (there && S_ISSOCK(there->st_mode)) fail(path, "a socket");
  if (there && S_ISBLK(there->st_mode)) fail(path, "a disk");
  if (there && !S_ISREG(there->st_mode)) return write_into(path, content);
  replace(behind_links(path), content, there, like.empty() ? std::nullopt : stat_of(like));
}

}  // namespace rewound::record
