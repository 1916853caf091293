// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/fit/curve_choice.hpp>
#include <rewound/fit/detail/curve_candidates.hpp>

namespace rewound::fit {

REWOUND_INLINE std::optional<current_curve> fit_current_curve(const std::vector<curve_reading>& readings) {
  if (readings.empty()) return std::nullopt;
  const auto fits = detail::candidates(readings);
  if (fits.empty()) {
    const bool slope = detail::distinct_voltages(columns_of(readings)) >= 2;
    auto curve = slope ? fit_current_curve(curve_family::power, readings) : std::nullopt;
    return curve ? curve : fit_current_curve(curve_family::proportional, readings);
  }
  return detail::chosen_of(fits, readings.size(), detail::scatter_of(fits));
}

REWOUND_INLINE curve_family choose_family(const curve_readings& readings) {
  if (readings.x.size() == 0) return curve_family::proportional;
  if (readings.weighted()) return detail::choose_weighted(readings);
  const auto chosen = fit_current_curve(rows_of(readings));
  return chosen ? chosen->family : curve_family::proportional;
}

}  // namespace rewound::fit
