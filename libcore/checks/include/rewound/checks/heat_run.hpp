// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <string_view>
#include <vector>

#include <rewound/measurement/normal.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/units/temperature.hpp>

namespace rewound::checks {

struct heat_reading {
  units::duration time;                       ///< since switched on
  units::temperature_difference rise;         ///< over the ambient
  units::temperature_difference uncertainty;  ///< standard, independent from reading to reading
};

struct heat_run_input {
  std::vector<heat_reading> readings;           ///< times rising
  units::duration usual_time_constant;          ///< where the run itself does not say
  double time_constant_factor;                  ///< by which time constants spread, one standard deviation, above 1
  double two_parts_certainty;                   ///< fall of chi-squared from which a second time constant is taken
  units::temperature_difference known_within;   ///< half-width of the interval at which the final rise counts as known
  units::temperature_difference steady_within;  ///< change within 30 minutes at which the run counts as steady
};

enum class heat_run_status {
  projected,
  too_few_readings,  ///< fewer than three
  not_heating        ///< the readings fall, beyond what the meter explains
};

constexpr std::string_view name(heat_run_status status) {
  switch (status) {
    case heat_run_status::projected: return "projected";
    case heat_run_status::too_few_readings: return "too_few_readings";
    case heat_run_status::not_heating: return "not_heating";
  }
  return "unknown";
}

/// A distribution as a sum of normal ones, in kelvins.
struct heat_mixture {
  struct part {
    double value;
    double standard_uncertainty;
    double weight;
  };
  std::vector<part> parts;

  /// Probability of lying below `kelvins`, with a further independent standard uncertainty.
  double probability_below(double kelvins, double further = 0.0) const {
    double out = 0.0;
    for (const auto& each : parts)
      out += each.weight *
             measurement::normal_probability((kelvins - each.value) / std::hypot(each.standard_uncertainty, further));
    return out;
  }

  double quantile(double probability, double further = 0.0) const {
    double low = parts.front().value;
    double high = low;
    for (const auto& each : parts) {
      const double reach = 10.0 * std::hypot(each.standard_uncertainty, further);
      low = std::min(low, each.value - reach);
      high = std::max(high, each.value + reach);
    }
    for (int i = 0; i < 80; ++i) {
      const double middle = 0.5 * (low + high);
      (probability_below(middle, further) < probability ? low : high) = middle;
    }
    return 0.5 * (low + high);
  }
};

/// What the run comes to. Only `projected` carries numbers.
struct heat_run_result {
  heat_run_status status = heat_run_status::too_few_readings;
  heat_mixture final_rise;
  heat_mixture remainder;                       ///< final rise less the curve at the last reading
  std::vector<units::duration> time_constants;  ///< of the best fit, slowest first: one or two
  units::temperature_difference at_end{};       ///< the best fit's rise at the last reading
  double chi2 = 0.0;
  double scale = 1.0;                                ///< factor by which the readings scatter more than stated
  units::temperature_difference change_in_30_min{};  ///< of the best fit, up to the last reading
  std::optional<units::duration>
      steady_after;  ///< further run until steady, 0 when it is; absent: not within 20 time constants
  std::optional<units::duration>
      known_after;  ///< further run until the final rise is known, 0 when it is; absent likewise
};

/// Projection of a heat run to its final rise: rise = final - a exp(-t / tau), with a second, faster part where the
/// readings carry it (a winding warms within minutes on a frame that takes longer).
///
/// Nothing is asked of the start, so that a fast part gone before the first reading does no harm. The time constant
/// stays open: every one is weighed by its likelihood, by Jeffreys' rule and by a broad prior (the usual time constant
/// and its factor; common practice, no source), which only counts while the run does not show its own. The final rise
/// is then a sum of normal distributions, skewed to the hot side early in a run. Errors that all readings share (cold
/// resistance and temperature, ambient) are not in it. Coverage of the 95 % interval by simulation:
/// tests/unit/checks/test_heat_coverage.cpp.
///
/// @throws base::error (precondition) for times that do not rise, an uncertainty not above 0, a factor not above 1
heat_run_result heat_run(const heat_run_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/heat_run.hpp>
#endif
