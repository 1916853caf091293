// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/insulation_curve.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

namespace detail {

/// How sure a change between two readings is, in standard uncertainties; negative for a fall.
inline double certainty_of_change(const curve_of_time_reading& from, const curve_of_time_reading& to) {
  const double u = std::hypot(from.relative_uncertainty, to.relative_uncertainty);
  return std::log((to.resistance / from.resistance).value()) / u;
}

/// Where the curve turns: the first reading, each extreme that the next one leaves beyond uncertainty, the last
/// extreme.
inline std::vector<std::size_t> turning_points(const std::vector<curve_of_time_reading>& readings, double certainty) {
  std::vector<std::size_t> out{0};
  std::size_t low = 0;   // lowest reading since the last turn
  std::size_t high = 0;  // highest reading since the last turn
  int direction = 0;
  for (std::size_t i = 1; i < readings.size(); ++i) {
    if (readings[i].resistance > readings[high].resistance) high = i;
    if (readings[i].resistance < readings[low].resistance) low = i;
    if (direction <= 0 && certainty_of_change(readings[low], readings[i]) > certainty) {
      if (direction < 0) out.push_back(low);
      direction = 1;
      high = i;
    } else if (direction >= 0 && certainty_of_change(readings[high], readings[i]) < -certainty) {
      if (direction > 0) out.push_back(high);
      direction = -1;
      low = i;
    }
  }
  if (direction != 0) out.push_back(direction > 0 ? high : low);
  return out;
}

/// The step that rises most beyond what an absorption current of the form 1/t would let it rise.
inline std::optional<insulation_curve_result> steepest(const insulation_curve_input& in) {
  std::optional<insulation_curve_result> out;
  double most = in.certainty;
  for (std::size_t i = 1; i < in.readings.size(); ++i) {
    const auto& before = in.readings[i - 1];
    const auto& here = in.readings[i];
    const double rise = std::log((here.resistance / before.resistance).value());
    const double beyond = (rise - std::log((here.time / before.time).value())) /
                          std::hypot(before.relative_uncertainty, here.relative_uncertainty);
    if (beyond <= most) continue;
    most = beyond;
    out = {insulation_curve_shape::steep, i, std::exp(rise)};
  }
  return out;
}

}  // namespace detail

REWOUND_INLINE insulation_curve_result insulation_curve(const insulation_curve_input& in) {
  insulation_curve_result out;
  const auto& readings = in.readings;
  if (readings.size() < 2) return out;
  out.shape = insulation_curve_shape::as_usual;
  const auto turns = detail::turning_points(readings, in.certainty);
  const auto factor = [&](std::size_t k) {
    return (readings[turns[k]].resistance / readings[turns[k - 1]].resistance).value();
  };
  if (turns.size() == 1 || (turns.size() == 2 && factor(1) > 1.0)) return detail::steepest(in).value_or(out);
  // The deepest fall is where it shows.
  for (std::size_t k = 1; k < turns.size(); ++k)
    if (factor(k) < out.change) {
      out.change = factor(k);
      out.index = turns[k];
    }
  out.shape = turns.size() > 3                 ? insulation_curve_shape::erratic
              : factor(turns.size() - 1) < 1.0 ? insulation_curve_shape::falling
                                               : insulation_curve_shape::dipping;
  return out;
}

}  // namespace rewound::checks
