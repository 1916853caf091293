// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>

#include "dialogue/person/terminal.hpp"

namespace rewound::tool::dialogue {

/// How fast time runs: 1 at a bench. A rehearsal runs faster by this factor, and its clock then counts waits only, so
/// that what it records does not depend on how fast the computer is.
struct pace {
  double factor = 1.0;
  bool rehearsal = false;
};

/// Of a clock that ran before this session, whose time a person says.
///
/// @throws base::error (out_of_range) where it would stand before the last reading
void expect_not_before(double already_s, double last_reading_s);

/// Seconds since it was made, or since `already_s` before that.
class run_clock {
 public:
  explicit run_clock(const pace& speed_of_time, double already_s = 0.0);

  double seconds() const;
  /// Waits until a time, counting down in the terminal. @returns false where the person stopped it
  bool wait_until(terminal& person, double seconds, const std::string& what);

 private:
  pace pace_;
  double started_;
  double waited_ = 0.0;
};

}  // namespace rewound::tool::dialogue
