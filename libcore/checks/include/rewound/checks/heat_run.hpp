// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>
#include <cstddef>
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

/// Two-body machines, as far as the run itself does not say: a winding that warms within minutes on a frame that takes
/// longer.
struct fast_body {
  units::duration shortest;  ///< of its time constants
  units::duration longest;
  double share_most;  ///< of the rise still to come at the first reading; 0: the machine is one body
};

struct heat_run_input {
  std::vector<heat_reading> readings;           ///< times rising
  units::duration usual_time_constant;          ///< of the slow body, where the run itself does not say
  double time_constant_factor;                  ///< by which time constants spread, one standard deviation, above 1
  double two_parts_certainty;                   ///< fall of chi-squared from which a second time constant is named
  units::temperature_difference known_within;   ///< half-width of the interval at which the final rise counts as known
  units::temperature_difference steady_within;  ///< change within 30 minutes at which the run counts as steady
  fast_body fast;
  std::optional<units::temperature_difference> before;  ///< the rise that the cold reading stands for
  units::temperature_difference moves_by{};             ///< a machine that runs changes at least by this
  bool absolute = false;  ///< the uncertainties hold whatever the readings' scatter: no `scale`
};

enum class heat_run_status {
  projected,
  too_few_readings,  ///< fewer than three
  not_heating,       ///< the readings fall, beyond what the meter explains
  not_moving         ///< nothing changed since the cold reading: another winding, or a lead on the wrong terminal
};

constexpr std::string_view name(heat_run_status status) {
  switch (status) {
    case heat_run_status::projected: return "projected";
    case heat_run_status::too_few_readings: return "too_few_readings";
    case heat_run_status::not_heating: return "not_heating";
    case heat_run_status::not_moving: return "not_moving";
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

  /// By Newton's steps, kept within a bracket.
  double quantile(double probability, double further = 0.0) const {
    double low = parts.front().value;
    double high = low;
    for (const auto& each : parts) {
      const double reach = 10.0 * std::hypot(each.standard_uncertainty, further);
      low = std::min(low, each.value - reach);
      high = std::max(high, each.value + reach);
    }
    // Tolerance and number of steps are the project's choices.
    const double rounding = 1e-13 * std::max({std::abs(low), std::abs(high), high - low});
    double at = 0.5 * (low + high);
    for (int i = 0; i < 100 && high - low > rounding; ++i) {
      const double missed = probability_below(at, further) - probability;
      (missed < 0.0 ? low : high) = at;
      const double step = missed / density_at(at, further);  // no number where the density is nothing
      if (std::abs(step) <= rounding) return at - step;
      const double next = at - step;
      at = next > low && next < high ? next : 0.5 * (low + high);
    }
    return at;
  }

 private:
  double density_at(double kelvins, double further) const {
    double out = 0.0;
    for (const auto& each : parts) {
      const double u = std::hypot(each.standard_uncertainty, further);
      const double z = (kelvins - each.value) / u;
      out += each.weight * std::exp(-0.5 * z * z) / u;
    }
    return out / std::sqrt(2.0 * std::numbers::pi);
  }
};

/// One of the curves that a run is weighed over, and what it counts.
struct heat_curve {
  double weight;
  double slow_s;
  double fast_s;
  double share;
  double level_K;
  double amplitude_K;
  double level_variance;
  double amplitude_variance;
  double mean_left;  ///< level and amplitude have the covariance mean_left amplitude_variance
};

/// What the run comes to. Only `projected` carries numbers.
struct heat_run_result {
  heat_run_status status = heat_run_status::too_few_readings;
  heat_mixture final_rise;
  heat_mixture remainder;                       ///< final rise less the curve at the last reading
  std::vector<units::duration> time_constants;  ///< of the best fit, slowest first: two where the readings show two
  units::duration slow_time_constant{};         ///< in the middle of all that are weighed, with the prior
  units::duration length{};                     ///< from switching on to the last reading
  std::size_t readings = 0;
  units::temperature_difference at_end{};                  ///< the best fit's rise at the last reading
  std::vector<units::temperature_difference> at_readings;  ///< the same at each reading
  double chi2 = 0.0;
  double scale = 1.0;                                ///< factor by which the readings scatter more than stated
  units::temperature_difference change_in_30_min{};  ///< of the best fit, up to the last reading
  std::optional<units::duration>
      steady_after;                ///< further run until steady, 0 when it is; absent: not within 20 time constants
  units::duration first{};         ///< of the first reading, from which the curves count time
  std::vector<heat_curve> curves;  ///< their weights' sum is 1
  std::optional<units::duration>
      known_after;  ///< further run until the final rise is known, 0 when it is; absent likewise
};

/// Projection of a heat run to its final rise: rise = final - a ((1 - share) exp(-t / slow) + share exp(-t / fast)), a
/// winding that warms within minutes on a frame that takes longer.
///
/// Nothing is asked of the start, so that a fast part gone before the first reading does no harm. Both time constants
/// and the share stay open: every combination is weighed by its likelihood and a broad prior (the usual slow time
/// constant and its factor, any fast one and any share that small machines have; common practice, no source), which
/// counts while the run does not show its own. An early run that one fast body would explain alone is therefore never
/// taken for one: the slow body still to come is in the interval. The final rise is then a sum of normal distributions,
/// skewed to the hot side early in a run. Errors that all readings share (cold resistance and temperature, ambient) are
/// not in it. Coverage of the 95 % interval by simulation: tests/laws/verdict/test_heat_laws.cpp.
///
/// @throws base::error (precondition) for times that do not rise, an uncertainty not above 0, a factor not above 1, a
/// fast body whose time constants are not above 0 or do not rise, or a share outside 0 to 1
heat_run_result heat_run(const heat_run_input& in);

/// The rise at any time since switching on, before the first reading, between them or beyond the last.
///
/// @param run  a projected one
heat_mixture rise_at(const heat_run_result& run, units::duration since_on);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/heat_run.hpp>
#endif
