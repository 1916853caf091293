// SPDX-License-Identifier: MIT
#include "dialogue/steps/timed_run.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>

#include <rewound/base/error.hpp>
#include <rewound/report/number_text.hpp>

namespace rewound::tool::dialogue {

namespace {

double steady_seconds() {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

std::string clock_text(double seconds) {
  const long whole = std::lround(std::ceil(seconds));
  char text[32];
  std::snprintf(text, sizeof text, "%02ld:%02ld", whole / 60, whole % 60);
  return text;
}

}  // namespace

void expect_not_before(double already_s, double last_reading_s) {
  if (already_s >= last_reading_s) return;
  throw base::error(base::error_code::out_of_range, {}, report::number_text(already_s) + " s",
                    "no less than the last reading's " + report::number_text(last_reading_s) + " s");
}

run_clock::run_clock(const pace& speed_of_time, double already_s)
    : pace_(speed_of_time), started_(steady_seconds() - already_s), waited_(already_s) {}

double run_clock::seconds() const { return !pace_.rehearsal ? steady_seconds() - started_ : waited_; }

bool run_clock::wait_until(terminal& person, double until, const std::string& what) {
  bool announced = false;
  for (double left = until - seconds(); left > 0.0; left = until - seconds()) {
    const std::string line = what + " in " + clock_text(left) + "  (Enter stops)";
    if (person.moves()) person.status(line);
    else if (!announced) person.say(line);
    announced = true;
    const double tick = std::min(left, 1.0 * pace_.factor);
    if (person.stopped_within(tick / pace_.factor)) {
      person.status("");
      return false;
    }
    waited_ += tick;
  }
  person.status("");
  return true;
}

}  // namespace rewound::tool::dialogue
