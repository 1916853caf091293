// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

namespace rewound::report {

struct tick {
  double value;
  std::string text;
};

/// One axis of a picture: its range, whether it is logarithmic, its ticks and what it shows.
struct axis {
  double low = 0.0;
  double high = 1.0;
  bool logarithmic = false;
  std::string label;
  std::vector<tick> ticks;

  /// Place on the axis, 0 at `low` and 1 at `high`; beyond them for values outside.
  double place(double value) const;
};

/// Smallest and largest of the values that are to be seen.
class extent {
 public:
  void take(double value);
  void take(const std::vector<double>& values);
  bool empty() const { return low_ > high_; }
  double low() const { return low_; }
  double high() const { return high_; }

 private:
  double low_ = 1e300;
  double high_ = -1e300;
};

/// An axis with room to spare on both sides and ticks at 1, 2 or 5 times a power of ten; from 0 where the values reach
/// down to a third of the largest or less, and none is negative.
axis linear_axis(const extent& values, std::string label, int most_ticks);

/// The same in the logarithm of values above 0: ticks at 1, 2 and 5 of each decade, or at decades where those are many.
axis logarithmic_axis(const extent& values, std::string label);

/// Times of an insulation test: 15 s, 30 s, 1 min and so on.
axis test_time_axis(double first_s, double last_s);

/// Text of a number that is a multiple of `step`.
std::string tick_text(double value, double step);

}  // namespace rewound::report
