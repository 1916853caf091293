// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>

#include <oracle_table.hpp>
#include <rewound/checks/coast_down.hpp>
#include <rewound/checks/cooling.hpp>
#include <rewound/checks/heat_run.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/verdict/limit_tables.hpp>

namespace checks = rewound::checks;
namespace machine = rewound::machine;
namespace record = rewound::record;
namespace units = rewound::units;
using inputs = rewound::testing::row_inputs;

namespace {

double rise_of(const inputs& in, double hot_ohm, record::conductor_material material, double k) {
  return units::in_kelvins(machine::rise_by_resistance(units::ohms(in("cold")), units::celsius(in("cold_C")),
                                                       units::ohms(hot_ohm), units::celsius(in("coolant_C")), material,
                                                       k));
}

double rise(const inputs& in) { return rise_of(in, in("hot"), record::conductor_material::copper, in("k")); }
double rise_aluminium(const inputs& in) { return rise_of(in, in("hot"), record::conductor_material::aluminium, 234.5); }

const rewound::verdict::tables::heat_rise_row& limits(const inputs& in) {
  const auto wanted = std::to_string(static_cast<int>(in("class")));
  for (const auto& row : rewound::verdict::tables::heat_rise)
    if (row.class_C == wanted) return row;
  throw std::runtime_error("no such class");
}

/// Three exact readings: the best fit goes through them.
checks::heat_run_result projected(const inputs& in) {
  checks::heat_run_input run{{}, units::seconds(3600.0), 3.0, 12.0, units::kelvins(2.0), units::kelvins(1.0)};
  for (const std::string number : {"1", "2", "3"})
    run.readings.push_back(
        {units::seconds(60.0 * in("t" + number)), units::kelvins(in("r" + number)), units::kelvins(1e-3)});
  return checks::heat_run(run);
}

double at_ambient(const inputs& in) { return in("cold") * (234.5 + in("ambient_C")) / (234.5 + in("cold_C")); }

double switch_off(const inputs& in) {
  const auto result = checks::cooling(
      {{{units::seconds(in("t1")), units::ohms(in("R1"))}, {units::seconds(in("t2")), units::ohms(in("R2"))}},
       units::ohms(at_ambient(in)),
       units::ohms(1e-4)});
  CHECK(result.status == checks::cooling_status::extrapolated);
  return result.at_switch_off.value.value();
}

double rise_at(const inputs& in, double ohm) {
  return units::in_kelvins(machine::rise_by_resistance(units::ohms(in("cold")), units::celsius(in("cold_C")),
                                                       units::ohms(ohm), units::celsius(in("ambient_C")),
                                                       record::conductor_material::copper));
}

checks::friction_terms terms(const inputs& in) { return {in("c0"), in("c1"), in("c2")}; }

}  // namespace

TEST_CASE("heat runs: every row of the oracle table is met") {
  rewound::testing::check_table(
      "running/heat.csv",
      {{"rise", rise},
       {"rise_aluminium", rise_aluminium},
       {"limit_from_600", [](const inputs& in) { return limits(in).machine_from_600_W_K; }},
       {"limit_below_600", [](const inputs& in) { return limits(in).machine_below_600_W_K; }},
       {"limit_appliance", [](const inputs& in) { return limits(in).appliance_K; }},
       {"final_rise", [](const inputs& in) { return projected(in).final_rise.quantile(0.5); }},
       {"time_constant",
        [](const inputs& in) { return units::in_seconds(projected(in).time_constants.front()) / 60.0; }},
       {"switch_off_ohm", switch_off},
       {"switch_off_rise", [](const inputs& in) { return rise_at(in, switch_off(in)); }},
       {"raw_rise", [](const inputs& in) { return rise_at(in, in("R")); }}});
}

TEST_CASE("coast-downs: every row of the oracle table is met") {
  rewound::testing::check_table(
      "running/coast_down.csv",
      {{"stop_time", [](const inputs& in) { return checks::coasting_time(in("w0"), terms(in)); }},
       {"speed", [](const inputs& in) { return checks::coasting_speed(in("w0"), terms(in), in("t")); }}});
}
