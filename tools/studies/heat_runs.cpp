// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <random>

#include <rewound/verdict/rules/heat_run.hpp>

#include "simulate.hpp"
#include "two_bodies.hpp"

// Heat runs of two-body machines: what share of the projection's 95 % intervals holds the truth, on which side it lies
// otherwise, and what the rule makes of machines under and over their class, by the length of the run and the meter.
namespace rewound::study {

namespace {

constexpr double limit_K = 95.0;  // class 130, an appliance: reference/limits/heat_rise.table

verdict::outcome judged(const checks::heat_run_result& heating) {
  record::visit_record in;
  in.machine.rated_voltage_V = rated_voltage;
  in.machine.insulation_class = record::insulation_class::class_130;
  in.machine.appliance_class = record::appliance_class::class_I;
  in.heat_run.emplace().resistance_ohm = {1.0};  // a run by resistance
  in.heat_run->ambient_C = 22.0;
  return verdict::rules::heat_run(in, {heating, 0.3}, {}).front().outcome;
}

struct heat_tally {
  int runs = 0, held = 0, above = 0, hot = 0, hot_released = 0, cool = 0, cool_held = 0, cool_released = 0;
  double width = 0.0;
};

void count(const testing::two_body_machine& machine, const testing::way_of_reading& way, std::mt19937_64& random,
           heat_tally& into) {
  const auto found = checks::heat_run(testing::read_run(machine, way, random));
  if (found.status != checks::heat_run_status::projected) return;
  const double low = found.final_rise.quantile(0.025), high = found.final_rise.quantile(0.975);
  ++into.runs;
  if (machine.final_K > high) ++into.above;
  else if (machine.final_K >= low) ++into.held;
  into.width += (high - low) / machine.final_K;
  const auto outcome = judged(found);
  const bool hot = machine.final_K > limit_K;
  ++(hot ? into.hot : into.cool);
  if (hot && outcome == verdict::outcome::conforms) ++into.hot_released;
  if (!hot && outcome == verdict::outcome::fails) ++into.cool_held;
  if (!hot && outcome == verdict::outcome::conforms) ++into.cool_released;
}

double percent(int part, int of) { return of > 0 ? 100.0 * part / of : 0.0; }

}  // namespace

void print_heat_runs(const options& asked) {
  std::printf(
      "\nHeat runs of two-body machines (fast 1 to 10 min with 5 to 40 %% of the rise, slow 20 to 120 min, 25 to 160 "
      "K), "
      "seed %llu\n"
      "run: in slow time constants; held: 95 %% intervals with the truth in them; above: truth over them; hot "
      "machines\n"
      "are over 95 K: conforms is a false release; cool ones: fails is a false hold\n"
      "%5s %8s %6s %6s %6s %6s %14s %10s %14s\n",
      static_cast<unsigned long long>(asked.seed), "run", "meter, K", "runs", "held", "above", "width", "hot conforms",
      "cool fails", "cool conforms");
  for (const double of_slow : {0.15, 0.25, 0.5, 0.75, 1.0, 1.5, 2.5, 4.0})
    for (const double meter_K : {0.1, 0.5, 1.5}) {
      std::mt19937_64 random(asked.seed);
      heat_tally sum;
      const int runs = std::max(1, static_cast<int>(2000.0 * asked.scale));
      for (int i = 0; i < runs; ++i) {
        const auto machine = testing::any_two_bodies(random);
        const int readings = static_cast<int>(testing::anything(random, 6.0, 26.0));
        count(machine, {of_slow * machine.slow_min, readings, meter_K}, random, sum);
      }
      std::printf("%5.2f %8.1f %6d %6.1f %6.1f %6.2f %14.2f %10.2f %14.1f\n", of_slow, meter_K, sum.runs,
                  percent(sum.held, sum.runs), percent(sum.above, sum.runs), sum.width / std::max(1, sum.runs),
                  percent(sum.hot_released, sum.hot), percent(sum.cool_held, sum.cool),
                  percent(sum.cool_released, sum.cool));
    }
}

}  // namespace rewound::study
