// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <random>
#include <vector>

#include <rewound/checks/heat_run.hpp>

namespace rewound::testing {

/// A winding on its frame, and how it warms. Kelvins and minutes.
struct two_body_machine {
  double final_K;
  double slow_min;
  double fast_min;
  double share;  ///< of the final rise, in the fast body

  double at(double minutes) const {
    return final_K * (1.0 - (1.0 - share) * std::exp(-minutes / slow_min) - share * std::exp(-minutes / fast_min));
  }
};

inline double anything(std::mt19937_64& random, double low, double high) {
  return std::uniform_real_distribution<double>(low, high)(random);
}

inline double any_factor(std::mt19937_64& random, double low, double high) {
  return std::exp(anything(random, std::log(low), std::log(high)));
}

/// Two-body machines of all kinds: fast 1 to 10 min with 5 to 40 % of the rise, slow 20 to 120 min.
inline two_body_machine any_two_bodies(std::mt19937_64& random) {
  two_body_machine out{};
  out.final_K = any_factor(random, 25.0, 160.0);
  out.slow_min = any_factor(random, 20.0, 120.0);
  out.fast_min = any_factor(random, 1.0, std::min(10.0, out.slow_min / 4.0));
  out.share = anything(random, 0.05, 0.4);
  return out;
}

/// How a run is read: every so many minutes to its end, with a meter right within a number of kelvins.
struct way_of_reading {
  double end_min;
  int count;
  double limit_K;
};

inline checks::heat_run_input usual_heat_run() {
  return {{},
          units::seconds(45.0 * 60.0),
          2.0,
          12.0,
          units::kelvins(2.0),
          units::kelvins(1.0),
          {units::seconds(60.0), units::seconds(600.0), 0.5},
          units::kelvins(0.0),
          units::kelvins(2.0)};
}

inline checks::heat_run_input read_run(const two_body_machine& machine, const way_of_reading& way,
                                       std::mt19937_64& random) {
  auto out = usual_heat_run();
  for (int i = 0; i < way.count; ++i) {
    const double minutes = way.end_min * i / (way.count - 1);
    const double rise = machine.at(minutes) + anything(random, -way.limit_K, way.limit_K);
    out.readings.push_back(
        {units::seconds(60.0 * minutes), units::kelvins(rise), units::kelvins(way.limit_K / std::sqrt(3.0))});
  }
  return out;
}

}  // namespace rewound::testing
