// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include <heat_runs.hpp>
#include <near.hpp>
#include <rewound/checks/absorption.hpp>
#include <rewound/checks/heat_run.hpp>

// How a heat run goes on, and what nothing limits.
namespace heat_course {

namespace checks = rewound::checks;
namespace units = rewound::units;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

/// A body of 60 K and half an hour, read by a meter of 0.2 K whose readings scatter by so many of these.
checks::heat_run_input body_of(double end_min, int count, double scatter = 0.0) {
  auto out = rewound::testing::unread_heat_run();
  for (int i = 0; i < count; ++i) {
    const double minutes = end_min * i / (count - 1);
    const double off = 0.2 * scatter * (i % 2 == 0 ? 1.0 : -1.0);
    out.readings.push_back({units::seconds(60.0 * minutes),
                            units::kelvins(60.0 * (1.0 - std::exp(-minutes / 30.0)) + off), units::kelvins(0.2)});
  }
  return out;
}

TEST_CASE("the last half hour's change is that of the curve") {
  const auto run = checks::heat_run(body_of(90.0, 19));
  CHECK(near_relative(units::in_kelvins(run.change_in_30_min), 60.0 * (std::exp(-2.0) - std::exp(-3.0)), 1e-2));
  // Less than half an hour: since the first reading.
  const auto brief = checks::heat_run(body_of(24.0, 9));
  CHECK(near_relative(units::in_kelvins(brief.change_in_30_min), 60.0 * (1.0 - std::exp(-0.8)), 1e-2));
}

TEST_CASE("the final rise is known once half of its 95 % interval is as narrow as asked") {
  auto in = body_of(75.0, 16);
  const auto first = checks::heat_run(in);
  const double half = 0.5 * (first.final_rise.quantile(0.975) - first.final_rise.quantile(0.025));
  in.known_within = units::kelvins(half * 1.001);
  CHECK(checks::heat_run(in).known_after->value() == 0.0);
  in.known_within = units::kelvins(half * 0.999);
  const auto open = checks::heat_run(in);
  CHECK((!open.known_after || open.known_after->value() > 0.0));
}

TEST_CASE("scatter alone names no second body") {
  // Twenty-one readings each off by their uncertainty: chi-squared 21, and no body explains it.
  const auto run = checks::heat_run(body_of(120.0, 21, 1.0));
  CHECK(run.chi2 > 12.0);
  CHECK(run.time_constants.size() == 1);
}

checks::absorption_result charging() {
  checks::absorption_input in{{}, units::volts(500.0)};
  for (const double seconds : {15.0, 30.0, 45.0, 60.0, 120.0, 300.0}) {
    const double current = 1e-8 + 4e-8 * std::pow(seconds / 60.0, -0.8);
    in.readings.push_back({units::seconds(seconds), units::ohms(500.0 / current), 0.03});
  }
  return checks::absorption(in);
}

TEST_CASE("what nothing limits goes as far as e^40 from what is likely, and a current down to none") {
  const auto fit = charging();
  REQUIRE(fit.usable());
  const auto ohms = checks::predicted_resistance(fit, units::seconds(600.0), 1e26);
  CHECK(near_relative(std::log(ohms.range.high.value() / ohms.value.value()), 40.0, 1e-6));
  CHECK(near_relative(std::log(ohms.value.value() / ohms.range.low.value()), 40.0, 1e-6));
  const auto ranges = checks::parameter_ranges(fit, 1e26);
  CHECK(ranges.leakage.low.value() == 0.0);
  CHECK(near_relative(std::log(ranges.leakage.high.value() / fit.leakage.value()), 40.0, 1e-3));
  CHECK(near_relative(std::log(ranges.absorption.high.value() / fit.absorption.value()), 40.0, 1e-3));
}

TEST_CASE("an exact curve of leakage and absorption is fitted as both, and gives them back") {
  const auto fit = charging();
  CHECK(fit.status == checks::absorption_status::fitted);
  CHECK(near_relative(fit.leakage.value(), 1e-8, 1e-4));
  CHECK(near_relative(fit.absorption.value(), 4e-8, 1e-4));
  CHECK(near_relative(fit.exponent, 0.8, 1e-4));
}

}  // namespace heat_course
