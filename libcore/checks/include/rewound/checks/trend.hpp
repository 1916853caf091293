// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/measurement/uncertain.hpp>

namespace rewound::checks {

/// One visit's value; its logarithm is what changes evenly with time.
struct trend_point {
  double years;                 ///< on any scale, rising from point to point
  double value;                 ///< above 0
  double relative_uncertainty;  ///< standard, independent from visit to visit
};

struct trend_input {
  std::vector<trend_point> points;
  double minimum = 0.0;             ///< whose crossing is forecast, in the unit of the values
  double common_uncertainty = 0.0;  ///< relative standard uncertainty that all points share, such as one tester's gain
  double horizon_years = 10.0;      ///< how far ahead of the last point the forecast looks
  double step_certainty = 3.0;      ///< standard uncertainties from which a step counts
  double step_factor = 1.5;         ///< smallest factor that is called a step
};

struct trend_step {
  std::size_t index;                    ///< first point after the step
  double factor;                        ///< of the values, after over before
  measurement::interval<double> range;  ///< 95 %
};

/// A place of the fitted line, and the interval of the line there.
struct trend_place {
  double years;  ///< after the last point
  double value;
  measurement::interval<double> range;  ///< 95 %, with what all points share
};

enum class trend_forecast {
  one_point,   ///< nothing to go by
  below_now,   ///< the line is under the minimum at the last point
  crosses,     ///< within the horizon
  not_within,  ///< not within the horizon, at 95 %
  cannot_tell  ///< the interval reaches the minimum within the horizon, the line itself does not
};

struct trend_result {
  std::optional<measurement::uncertain<double>> slope_per_year;  ///< of the logarithm
  double scale = 1.0;  ///< factor by which the points scatter more than stated, at least 1
  std::vector<trend_step> steps;
  std::vector<trend_place> line;  ///< at each point, then on to the horizon; empty with one point
  trend_forecast forecast = trend_forecast::one_point;
  std::optional<double> crosses_in_years;  ///< after the last point
  std::optional<double>
      earliest_years;  ///< 95 %: where the interval of the line meets the minimum first; absent beyond the horizon
  std::optional<double> latest_years;  ///< 95 %: where all of it lies below; absent beyond the horizon
};

/// Trend of a positive quantity over visits: a straight line of its logarithm against time, with steps where they are
/// beyond doubt, and when the line meets a minimum.
///
/// The line's interval at any date comes from the points' uncertainties, widened where they scatter more. The interval
/// of the crossing is where the interval of the line meets the minimum (Fieller 1954, J. Royal Statistical Society B
/// 16, 175-185; from memory, unverified); with a slope that may be 0 it has no end. A step needs three points or more
/// and is kept apart from the slope.
///
/// @throws base::error (precondition) for no point, dates that do not rise, or a value or uncertainty not above 0
trend_result trend(const trend_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/trend.hpp>
#endif
