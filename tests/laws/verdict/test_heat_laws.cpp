// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include <rewound/checks/heat_run.hpp>
#include <rewound/verdict/rules/heat_run.hpp>
#include <simulation_size.hpp>

#include "two_bodies.hpp"

namespace checks = rewound::checks;
namespace rules = rewound::verdict::rules;
namespace units = rewound::units;
using checks::heat_run_status;
using rewound::testing::any_factor;
using rewound::testing::any_two_bodies;
using rewound::testing::anything;
using rewound::testing::read_run;
using rewound::testing::simulated;
using rewound::testing::simulation_slack;
using rewound::testing::two_body_machine;
using rewound::testing::way_of_reading;
using rewound::verdict::outcome;

namespace {

constexpr double limit_K = 95.0;  // class 130, an appliance: reference/limits/heat_rise.table

way_of_reading any_way(std::mt19937_64& random, double end_min) {
  return {end_min, static_cast<int>(anything(random, 6.0, 26.0)), any_factor(random, 0.1, 2.0)};
}

outcome judged(const checks::heat_run_result& heating) {
  rewound::record::visit_record in;
  in.machine.rated_voltage_V = 230.0;
  in.machine.insulation_class = rewound::record::insulation_class::class_130;
  in.machine.appliance_class = rewound::record::appliance_class::class_I;
  in.heat_run.emplace().resistance_ohm = {1.0};  // a run by resistance
  in.heat_run->ambient_C = 22.0;
  return rules::heat_run(in, {heating, 0.3}, {}).front().outcome;
}

struct held_share {
  double held;
  double above;  ///< the truth lies over the interval: the side that would release
};

held_share coverage(double of_slow, int runs, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  int held = 0, above = 0;
  for (int i = 0; i < runs; ++i) {
    const auto machine = any_two_bodies(random);
    const auto found = checks::heat_run(read_run(machine, any_way(random, of_slow * machine.slow_min), random));
    REQUIRE(found.status == heat_run_status::projected);
    if (machine.final_K > found.final_rise.quantile(0.975)) ++above;
    else if (machine.final_K >= found.final_rise.quantile(0.025)) ++held;
  }
  return {100.0 * held / runs, 100.0 * above / runs};
}

}  // namespace

TEST_CASE("the 95 % interval of two-body machines of all kinds holds the truth, however early the run is stopped") {
  constexpr std::uint64_t seed = 20261130;
  for (const double of_slow : {0.25, 0.5, 1.0, 2.0}) {
    const auto share = coverage(of_slow, simulated(250), seed);
    MESSAGE("seed " << seed << ", run of " << of_slow << " slow time constants: held " << share.held
                    << " %, truth above " << share.above << " %");
    CHECK(share.held >= 91.0 - 100.0 * simulation_slack);  // 95 less three standard deviations of 250 runs
    CHECK(share.above <= 6.0 + 100.0 * simulation_slack);
  }
}

TEST_CASE("a machine that ends a tenth or more over its class is not released by a run of any length") {
  constexpr std::uint64_t seed = 7;
  std::mt19937_64 random(seed);
  int released = 0, held = 0;
  const int runs = simulated(500);
  for (int i = 0; i < runs; ++i) {
    auto machine = any_two_bodies(random);
    machine.final_K = limit_K * any_factor(random, 1.1, 2.0);
    const auto found =
        judged(checks::heat_run(read_run(machine, any_way(random, anything(random, 5.0, 240.0)), random)));
    if (found == outcome::conforms) ++released;
    if (found == outcome::fails) ++held;
  }
  MESSAGE("seed " << seed << ": released " << released << ", held " << held << " of " << runs);
  CHECK(released == 0);
  CHECK(held > runs / 5);
}

TEST_CASE("no release before the slow body has shown itself, nor by fewer readings than the curve has unknowns") {
  constexpr std::uint64_t seed = 11;
  std::mt19937_64 random(seed);
  int early = 0, few = 0, enough = 0;
  const int runs = simulated(200);
  for (int i = 0; i < runs; ++i) {
    auto machine = any_two_bodies(random);
    machine.final_K = anything(random, 20.0, 50.0);
    const double limit = any_factor(random, 0.1, 0.5);
    const auto verdict = [&](double end, int count) {
      return judged(checks::heat_run(read_run(machine, {end, count, limit}, random)));
    };
    if (verdict(20.0, 11) == outcome::conforms) ++early;
    if (verdict(3.0 * machine.slow_min, 5) == outcome::conforms) ++few;
    if (verdict(3.0 * machine.slow_min, 16) == outcome::conforms) ++enough;
  }
  MESSAGE("seed " << seed << ", of " << runs << " cool machines released: after 20 min " << early << ", by 5 readings "
                  << few << ", by a full run " << enough);
  CHECK(early == 0);
  CHECK(few == 0);
  CHECK(enough == runs);  // a sound machine run long enough is never stopped by this
}

TEST_CASE("the run of the audit, 15 K in 3 min and 100 K in 60 min, read for 20 min, has its 115 K in the interval") {
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    CAPTURE(seed);
    std::mt19937_64 random(seed);
    const two_body_machine machine{115.0, 60.0, 3.0, 15.0 / 115.0};
    const auto found = checks::heat_run(read_run(machine, {20.0, 11, 0.5}, random));
    CHECK(found.final_rise.quantile(0.975) > 115.0);
    CHECK(judged(found) != outcome::conforms);
  }
}

TEST_CASE("a hotter machine, read by the same meter at the same times, never looks cooler") {
  constexpr std::uint64_t seed = 23;
  std::mt19937_64 random(seed);
  for (int i = 0; i < simulated(100); ++i) {
    CAPTURE(i);
    auto machine = any_two_bodies(random);
    const auto way = any_way(random, any_factor(random, 10.0, 240.0));
    const auto same_errors = random();
    std::mt19937_64 first(same_errors), second(same_errors);
    const auto cool = checks::heat_run(read_run(machine, way, first));
    machine.final_K *= 1.2;
    const auto hot = checks::heat_run(read_run(machine, way, second));
    if (cool.status != heat_run_status::projected) continue;
    CHECK(hot.final_rise.quantile(0.5) > 0.98 * cool.final_rise.quantile(0.5));  // of two fits to one set of errors
  }
}

TEST_CASE("a resistance that does not move while the machine runs is told as such, and never conforms") {
  constexpr std::uint64_t seed = 31;
  std::mt19937_64 random(seed);
  for (int i = 0; i < 200; ++i) {
    const two_body_machine standing{0.0, 30.0, 3.0, 0.2};
    const auto way = way_of_reading{any_factor(random, 5.0, 240.0), static_cast<int>(anything(random, 3.0, 26.0)),
                                    any_factor(random, 0.01, 2.0)};
    const auto found = checks::heat_run(read_run(standing, way, random));
    CHECK(found.status == heat_run_status::not_moving);
    CHECK(judged(found) == outcome::undecided);
  }
}
