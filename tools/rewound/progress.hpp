// SPDX-License-Identifier: MIT
#pragma once

#include <chrono>
#include <cstddef>

namespace rewound::tool {

/// How far long work has come, on one line of a terminal that is wiped at the end; a few times a second, and nothing
/// where standard error is a file.
class terminal_progress {
 public:
  /// @param what  what is counted: "machines judged"
  explicit terminal_progress(const char* what);
  ~terminal_progress();
  terminal_progress(const terminal_progress&) = delete;
  terminal_progress& operator=(const terminal_progress&) = delete;

  void show(std::size_t count);

  /// Wipes the line, before something else is written there.
  void clear();

 private:
  const char* what_;
  bool terminal_;
  bool shown_ = false;
  std::chrono::steady_clock::time_point next_{};
};

}  // namespace rewound::tool
