// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

#include <rewound/checks/detail/misreading.hpp>
#include <rewound/measurement/run_up.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks::detail {

inline bool already_found(const std::vector<suspect_reading>& found, std::size_t run, int index) {
  return std::any_of(found.begin(), found.end(), [&](const auto& s) { return s.run == run && s.index == index; });
}

/// Readings of one run-up brought to the rated voltage in proportion; good to a factor, which is all that is asked
/// here.
inline std::vector<double> at_rated(const measurement::run_up& run, units::voltage rated,
                                    const std::vector<suspect_reading>& found, std::size_t place) {
  std::vector<double> out;
  for (const auto& reading : run.readings)
    if (reading.turning && reading.voltage.value() > 0.0 && reading.current.value() > 0.0 &&
        !already_found(found, place, reading.index))
      out.push_back(units::in_amperes(reading.current) / (reading.voltage / rated).value());
  return out;
}

inline double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t n = values.size();
  return n % 2 == 1 ? values[n / 2] : 0.5 * (values[n / 2 - 1] + values[n / 2]);
}

/// What one speed's current at the rated voltage may be held against: the expectation, or else the middle of the
/// other speeds, and how far a healthy one may lie from it (factors: common practice, no source).
struct yardstick {
  double current;
  double beyond;  ///< a reading is out of proportion when it differs by more than this factor
  double near;    ///< a slip explains it when it brings the reading within this factor
};

inline std::optional<yardstick> yardstick_for(const std::vector<measurement::run_up>& runs, std::size_t place,
                                              const std::optional<units::current>& expected, units::voltage rated,
                                              const std::vector<suspect_reading>& found) {
  if (expected) return yardstick{units::in_amperes(*expected), 2.0, 1.35};
  std::vector<double> others;
  for (std::size_t i = 0; i < runs.size(); ++i) {
    if (i == place) continue;
    const auto values = at_rated(runs[i], rated, found, i);
    if (!values.empty()) others.push_back(median(values));
  }
  if (others.empty()) return std::nullopt;
  return yardstick{median(others), 2.5, 1.67};
}

/// Readings of one run-up that lie out of proportion and that a slip explains, and by how much the farthest is off
/// (ln).
struct out_of_proportion {
  std::vector<suspect_reading> readings;
  double farthest = 0.0;
};

inline out_of_proportion search_one_run(const measurement::run_up& run, std::size_t place, const yardstick& stick,
                                        units::voltage rated, double current_digit,
                                        const std::vector<suspect_reading>& found) {
  out_of_proportion out;
  const bool alone = at_rated(run, rated, found, place).size() == 1;
  for (const auto& reading : run.readings) {
    const double volts = reading.voltage.value();
    const double amperes = reading.current.value();
    if (!reading.turning || volts <= 0.0 || amperes <= 0.0 || already_found(found, place, reading.index)) continue;
    const double share = (reading.voltage / rated).value() * stick.current;
    const double off = std::abs(std::log(amperes / share));
    double best = std::log(stick.near);
    if (off < std::log(stick.beyond)) continue;
    std::optional<suspect_reading> explanation;
    for (const auto& slip : possible_slips(amperes, current_digit)) {
      if (slip.value <= 0.0 || (slip.why == suspicion::digits_transposed && !alone)) continue;
      const double away = std::abs(std::log(slip.value / share));
      if (away >= best) continue;
      best = away;
      explanation = {place, reading.index, false, slip.why, amperes, slip.value, true};
    }
    if (!explanation) continue;
    out.readings.push_back(*explanation);
    out.farthest = std::max(out.farthest, off);
  }
  return out;
}

/// One pass of search_between_speeds: the run-ups with an expectation of their own, or those without. Of the latter
/// the farthest off is taken first, and the others are held against what is left: a speed that slipped is no yardstick.
inline void search_those(const std::vector<measurement::run_up>& runs,
                         const std::vector<std::optional<units::current>>& expected, units::voltage rated,
                         double current_digit, bool with_expectation, std::vector<suspect_reading>& found) {
  std::vector<std::size_t> left;
  for (std::size_t run = 0; run < runs.size(); ++run)
    if ((run < expected.size() && expected[run].has_value()) == with_expectation) left.push_back(run);
  while (!left.empty()) {
    out_of_proportion worst;
    std::size_t which = 0;
    for (std::size_t i = 0; i < left.size(); ++i) {
      const auto run = left[i];
      const auto stick = yardstick_for(runs, run, run < expected.size() ? expected[run] : std::nullopt, rated, found);
      if (!stick) continue;
      auto fresh = search_one_run(runs[run], run, *stick, rated, current_digit, found);
      if (fresh.farthest <= worst.farthest) continue;
      worst = std::move(fresh);
      which = i;
    }
    if (worst.readings.empty()) return;
    found.insert(found.end(), worst.readings.begin(), worst.readings.end());
    left.erase(left.begin() + static_cast<std::ptrdiff_t>(which));
  }
}

/// Readings out of all proportion to the expectation or to the other speeds that a slip explains.
///
/// An exchange of digits is believed of a lone reading only: several readings that agree on
/// their own curve were hardly all transposed, but may well all have been taken in a wrong range.
inline void search_between_speeds(const std::vector<measurement::run_up>& runs,
                                  const std::vector<std::optional<units::current>>& expected, units::voltage rated,
                                  double current_digit, std::vector<suspect_reading>& found) {
  // Speeds with an expectation first: what is found there must not serve as a yardstick for the others.
  for (const bool with_expectation : {true, false})
    search_those(runs, expected, rated, current_digit, with_expectation, found);
}

}  // namespace rewound::checks::detail
