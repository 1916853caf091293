// SPDX-License-Identifier: MIT
#include "progress.hpp"

#include <cstdio>

#include <unistd.h>

namespace rewound::tool {

terminal_progress::terminal_progress(const char* what) : what_(what), terminal_(::isatty(STDERR_FILENO) == 1) {}

terminal_progress::~terminal_progress() { clear(); }

void terminal_progress::clear() {
  if (shown_) std::fprintf(stderr, "\r%40s\r", "");
  shown_ = false;
}

void terminal_progress::show(std::size_t count) {
  using clock = std::chrono::steady_clock;
  if (!terminal_ || clock::now() < next_) return;
  next_ = clock::now() + std::chrono::milliseconds(200);
  std::fprintf(stderr, "\r%zu %s ", count, what_);
  std::fflush(stderr);
  shown_ = true;
}

}  // namespace rewound::tool
