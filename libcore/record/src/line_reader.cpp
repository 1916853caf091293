// SPDX-License-Identifier: MIT
#include "line_reader.hpp"

#include <cerrno>
#include <cstring>

#include <unistd.h>

#include <rewound/base/error.hpp>

namespace rewound::record {

namespace {

constexpr std::size_t longest_line = 1 << 20;

[[noreturn]] void refuse_unreadable(const std::string& path) {
  throw base::error(base::error_code::file_unreadable, {path, 0, ""}, std::strerror(errno), "a file that can be read");
}

}  // namespace

line_reader::line_reader(std::string path) : path_(std::move(path)), buffer_(2 * longest_line, '\0'), file_(path_) {}

bool line_reader::fill() {
  if (end_ - begin_ > longest_line)
    throw base::error(base::error_code::bad_table, {path_, number_ + 1, ""}, "a line of more than a megabyte",
                      "shorter lines");
  std::memmove(buffer_.data(), buffer_.data() + begin_, end_ - begin_);
  end_ -= begin_;
  begin_ = 0;
  ssize_t got = 0;
  do got = ::read(file_.descriptor(), buffer_.data() + end_, buffer_.size() - end_);
  while (got < 0 && errno == EINTR);
  if (got < 0) refuse_unreadable(path_);
  end_ += static_cast<std::size_t>(got);
  return got > 0;
}

std::optional<std::string_view> line_reader::next() {
  std::size_t searched = 0;
  for (;;) {
    const char* from = buffer_.data() + begin_;
    const auto* stop = static_cast<const char*>(std::memchr(from + searched, '\n', end_ - begin_ - searched));
    if (stop != nullptr) {
      const auto length = static_cast<std::size_t>(stop - from);
      begin_ += length + 1;
      ++number_;
      return std::string_view(from, length);
    }
    searched = end_ - begin_;
    if (fill()) continue;
    if (searched == 0) return std::nullopt;
    begin_ = end_;
    ++number_;
    return std::string_view(buffer_.data() + end_ - searched, searched);
  }
}

}  // namespace rewound::record
