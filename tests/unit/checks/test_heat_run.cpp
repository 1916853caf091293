// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include <heat_runs.hpp>
#include <near.hpp>
#include <rewound/checks/cooling.hpp>
#include <rewound/checks/heat_run.hpp>

namespace checks = rewound::checks;
namespace units = rewound::units;
using checks::heat_run_status;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

namespace {

template <class Curve>
checks::heat_run_input run_of(const Curve& rise, double end_min, int count, double u_K = 0.2) {
  auto out = rewound::testing::unread_heat_run();
  for (int i = 0; i < count; ++i) {
    const double minutes = end_min * i / (count - 1);
    out.readings.push_back({units::seconds(60 * minutes), units::kelvins(rise(minutes)), units::kelvins(u_K)});
  }
  return out;
}

double one(double minutes) { return 60.0 * (1.0 - std::exp(-minutes / 30.0)); }
double two(double minutes) {
  return 40.0 * (1.0 - std::exp(-minutes / 50.0)) + 20.0 * (1.0 - std::exp(-minutes / 4.0));
}
double half_width(const checks::heat_run_result& in) {
  return 0.5 * (in.final_rise.quantile(0.975) - in.final_rise.quantile(0.025));
}

}  // namespace

TEST_CASE("a longer run knows its final rise better, and the time it still asks for is enough") {
  const auto early = checks::heat_run(run_of(one, 32, 9, 0.5));
  REQUIRE(early.status == heat_run_status::projected);
  REQUIRE(early.known_after.has_value());
  CHECK(early.known_after->value() > 0.0);
  const double more = early.known_after->value() / 60.0;
  const auto later = checks::heat_run(run_of(one, 32 + more, 9 + static_cast<int>(std::lround(more / 4.0)), 0.5));
  CHECK(half_width(later) < half_width(early));
  CHECK(half_width(later) < 3.0);  // 2 K by the linearised forecast
  CHECK(near_absolute(later.final_rise.quantile(0.5), 60.0, 1.0));
  CHECK(checks::heat_run(run_of(one, 180, 37)).known_after->value() == 0.0);
}

TEST_CASE("steady is when the last half hour changes it by 1 K or less") {
  // 60 exp(-t / 30 min) (e - 1) = 1 at 139 min.
  const auto early = checks::heat_run(run_of(one, 90, 19));
  REQUIRE(early.steady_after.has_value());
  CHECK(near_absolute(90.0 + early.steady_after->value() / 60.0, 139.0, 4.0));
  const auto late = checks::heat_run(run_of(one, 150, 31));
  CHECK(late.steady_after->value() == 0.0);
  CHECK(late.change_in_30_min.value() < 1.0);
}

TEST_CASE("a fast and a slow part are both found when the readings carry them") {
  const auto result = checks::heat_run(run_of(two, 100, 26));
  REQUIRE(result.time_constants.size() == 2);
  CHECK(near_relative(result.time_constants[0].value() / 60.0, 50.0, 0.1));
  CHECK(near_relative(result.time_constants[1].value() / 60.0, 4.0, 0.1));
  CHECK(near_absolute(result.final_rise.quantile(0.5), 60.0, 1.5));
  CHECK(checks::heat_run(run_of(one, 100, 26)).time_constants.size() == 1);
}

TEST_CASE("the rise does not depend on when the clock was started, nor the spread of the answer on the level") {
  auto in = run_of(one, 60, 13);
  const auto plain = checks::heat_run(in);
  for (auto& reading : in.readings) {
    reading.time += units::seconds(500.0);
    reading.rise += units::kelvins(10.0);
  }
  const auto moved = checks::heat_run(in);
  CHECK(near_absolute(moved.final_rise.quantile(0.9), plain.final_rise.quantile(0.9) + 10.0, 1e-6));
}

TEST_CASE("level, falling and too few readings end in a status and not in a crash") {
  CHECK(checks::heat_run(run_of([](double) { return 40.0; }, 60, 7)).status == heat_run_status::projected);
  CHECK(checks::heat_run(run_of([](double t) { return 40.0 - t; }, 60, 7)).status == heat_run_status::not_heating);
  CHECK(checks::heat_run(run_of(one, 60, 2)).status == heat_run_status::too_few_readings);
  const auto straight = checks::heat_run(run_of([](double t) { return 0.5 * t; }, 60, 7));
  REQUIRE(straight.status == heat_run_status::projected);
  CHECK(straight.final_rise.quantile(0.975) > 60.0);
}

TEST_CASE("cooling: noise widens, a winding that still warms is not extrapolated, and one that does not cool says so") {
  const auto cool = [](std::vector<double> ohms) {
    checks::cooling_input in{{}, units::ohms(10.0), units::ohms(0.005)};
    for (std::size_t i = 0; i < ohms.size(); ++i)
      in.readings.push_back({units::seconds(30.0 * static_cast<double>(i + 1)), units::ohms(ohms[i])});
    return checks::cooling(in);
  };
  const auto fell = cool({12.4, 12.2826, 12.1710, 12.0648});
  CHECK(fell.status == checks::cooling_status::extrapolated);
  CHECK(near_absolute(fell.at_switch_off.value.value(), 12.5233, 0.002));
  CHECK(fell.at_switch_off.standard_uncertainty.value() > 0.005);
  CHECK(cool({12.0, 12.2, 12.1, 12.0}).status == checks::cooling_status::highest_taken);
  CHECK(cool({12.0}).status == checks::cooling_status::first_taken);
  CHECK(cool({9.8, 9.8}).status == checks::cooling_status::not_cooling);
  CHECK(cool({12.0, 12.005}).status == checks::cooling_status::not_cooling);
}
