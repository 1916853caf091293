// SPDX-License-Identifier: MIT
#include "axis.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <rewound/base/number_text.hpp>

namespace rewound::report {

double axis::place(double value) const {
  if (logarithmic) return std::log(value / low) / std::log(high / low);
  return (value - low) / (high - low);
}

void extent::take(double value) {
  if (!std::isfinite(value)) return;
  low_ = std::min(low_, value);
  high_ = std::max(high_, value);
}

void extent::take(const std::vector<double>& values) {
  for (const double value : values) take(value);
}

std::string tick_text(double value, double step) {
  constexpr double rounding = 1e-9;
  const int decimals = std::clamp(static_cast<int>(-std::floor(std::log10(step) + rounding)), 0, 6);
  const bool nothing = std::abs(value) < 1e-9 * step;  // never "-0"
  return base::fixed_digits(nothing ? 0.0 : value, decimals);
}

namespace {

/// The smallest of 1, 2, 5 times a power of ten that parts the span into at most `most` steps.
double nice_step(double span, int most) {
  const double raw = span / most;
  const double decade = std::pow(10.0, std::floor(std::log10(raw)));
  for (const double factor : {1.0, 2.0, 5.0})
    if (factor * decade >= raw) return factor * decade;
  return 10.0 * decade;
}

}  // namespace

axis linear_axis(const extent& values, std::string label, int most_ticks) {
  axis out{.low = 0.0, .high = 1.0, .logarithmic = false, .label = std::move(label), .ticks = {}};
  if (values.empty()) return out;
  const double widest = std::max(std::abs(values.low()), std::abs(values.high()));
  const double span = std::max(values.high() - values.low(), 0.02 * std::max(widest, 1e-9));
  constexpr double spare = 0.06;
  const bool from_zero = values.low() >= 0.0 && values.low() <= values.high() / 3.0;
  out.low = from_zero ? 0.0 : values.low() - spare * span;
  out.high = values.high() + spare * span;
  const double step = nice_step(out.high - out.low, most_ticks);
  for (double k = std::ceil(out.low / step - 1e-9); k * step <= out.high + 1e-9 * step; k += 1.0)
    out.ticks.push_back({k * step, tick_text(k * step, step)});
  return out;
}

axis logarithmic_axis(const extent& values, std::string label) {
  axis out{.low = 1.0, .high = 10.0, .logarithmic = true, .label = std::move(label), .ticks = {}};
  if (values.empty() || values.low() <= 0.0) return out;
  constexpr double spare = 1.15;
  out.low = values.low() / spare;
  out.high = std::max(values.high() * spare, 2.0 * out.low);
  const bool many = std::log10(out.high / out.low) > 2.8;
  for (double decade = std::pow(10.0, std::floor(std::log10(out.low))); decade <= out.high; decade *= 10.0)
    for (const double factor : {1.0, 2.0, 5.0}) {
      const double value = factor * decade;
      if (value < out.low || value > out.high || (many && factor != 1.0)) continue;
      out.ticks.push_back({value, tick_text(value, decade)});
    }
  constexpr std::size_t enough = 3;
  if (out.ticks.size() >= enough || out.high > 10.0 * out.low) return out;
  // Less than a decade: equal steps, as on a linear axis.
  out.ticks.clear();
  const double step = nice_step(out.high - out.low, 6);
  for (double k = std::ceil(out.low / step); k * step <= out.high; k += 1.0)
    out.ticks.push_back({k * step, tick_text(k * step, step)});
  return out;
}

axis test_time_axis(double first_s, double last_s) {
  struct mark {
    double seconds;
    const char* text;
  };
  constexpr std::array marks{mark{5, "5 s"}, mark{15, "15 s"},    mark{30, "30 s"}, mark{60, "1 min"}, mark{120, "2"},
                             mark{300, "5"}, mark{600, "10 min"}, mark{1800, "30"}, mark{3600, "1 h"}};
  axis out{.low = first_s / 1.15,
           .high = last_s * 1.15,
           .logarithmic = true,
           .label = "time under test voltage",
           .ticks = {}};
  for (const auto& each : marks)
    if (each.seconds >= out.low && each.seconds <= out.high) out.ticks.push_back({each.seconds, each.text});
  return out;
}

}  // namespace rewound::report
