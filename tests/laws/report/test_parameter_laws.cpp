// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <random>
#include <string>
#include <string_view>

#include <generated.hpp>
#include <rewound/job/parameters.hpp>
#include <rewound/job/simulate.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/machine/named_parameter.hpp>
#include <rewound/machine/tables.hpp>
#include <simulation_size.hpp>

namespace job = rewound::job;
namespace machine = rewound::machine;
namespace testing = rewound::testing;
using testing::numbers;

// What `rewound parameters` claims, over simulated machines whose designs are known.
namespace {

/// Windings and rotor as warm as they ran; absent where the design has no such part.
std::optional<double> truth(const machine::fan_design& design, std::string_view name, double warm) {
  const auto& m = design.machine;
  const bool start_stays = m.auxiliary && !m.auxiliary->switched_out;
  if (name == "main_resistance") return warm * m.main_resistance_ohm;
  if (name == "main_leakage") return m.main_leakage_ohm;
  if (name == "rotor_resistance") return warm * m.rotor_resistance_ohm;
  if (name == "magnetising_reactance") return m.magnetising_ohm;
  if (name == "knee_voltage") return m.saturation.knee_V;
  if (name == "core_loss") return m.core_loss_W;
  if (name == "fan_torque_coefficient") return design.load.square_Nm_s2;
  if (name == "friction_torque") return design.load.friction_Nm;
  if (!start_stays) return std::nullopt;
  if (name == "turns_ratio") return m.auxiliary->turns_ratio;
  if (name == "start_winding_resistance") return warm * m.auxiliary->resistance_ohm;
  if (name == "capacitance" && m.auxiliary->capacitance_F) return 1e6 * *m.auxiliary->capacitance_F;
  return std::nullopt;
}

struct counted {
  int inside = 0, all = 0;
};

/// @param spread  of the models themselves, in those of the population; units of a model spread further about them
std::map<std::string, counted> coverage(int runs, double spread, bool start_read) {
  numbers random(701);
  std::normal_distribution<double> normal;
  std::map<std::string, counted> out;
  for (const auto& model : job::simulated_models())
    for (int run = 0; run < runs; ++run) {
      auto drawn = job::simulated_machine_named(model);
      for (const auto& row : machine::tables::population_spread)
        drawn.design = machine::moved_by_name(drawn.design, row.parameter, spread * row.spread * normal(random));
      job::simulate_options options;
      options.seed = 1000U + static_cast<unsigned>(run);
      options.watts = options.rpm = run % 2 == 1;
      auto visit = job::simulate(drawn, options);
      if (!start_read) std::erase_if(visit.resistance, [](const auto& each) { return each.section == "start"; });
      const double warm = machine::copper_constant_K + visit.run_up.front().winding_C.value_or(20.0);
      const auto design = job::simulated_design(drawn, options);
      for (const auto& each : job::machine_parameters(visit).parameters) {
        const auto value = truth(design, each.name, warm / (machine::copper_constant_K + 20.0));
        if (!value) continue;
        auto& count = out[std::string(each.name)];
        count.all += 1;
        count.inside += *value >= each.range.low && *value <= each.range.high ? 1 : 0;
        CHECK(each.range.low <= each.value);
        CHECK(each.value <= each.range.high);
      }
    }
  return out;
}

void expect_held(const std::map<std::string, counted>& by_name, double least) {
  CHECK(by_name.size() == 11);
  for (const auto& each : by_name) {
    const auto& count = each.second;
    CAPTURE(each.first);
    CAPTURE(count.inside);
    CHECK(count.inside >= (least - testing::simulation_slack) * count.all);
  }
}

}  // namespace

TEST_CASE("intervals of each parameter hold the truth nine times of ten, of units of the simulated models") {
  expect_held(coverage(testing::simulated(24), 0.0, true), 0.90);
  expect_held(coverage(testing::simulated(24), 0.0, false), 0.90);
}

TEST_CASE("intervals of each parameter hold the truth nine times of ten, of machines spread about the models") {
  expect_held(coverage(testing::simulated(24), 0.5, true), 0.90);
  expect_held(coverage(testing::simulated(24), 0.5, false), 0.90);
}

TEST_CASE("ohms of the start winding and a measured capacitor decide what is said of them") {
  auto visit = job::simulate(job::simulated_machine_named("circulator-40"), {.seed = 5});
  const auto of = [&](std::string_view name) {
    for (const auto& each : job::machine_parameters(visit).parameters)
      if (each.name == name) return each;
    throw std::runtime_error("no such parameter");
  };
  const auto ohms = std::find_if(visit.resistance.begin(), visit.resistance.end(),
                                 [](const auto& each) { return each.section == "start"; });
  REQUIRE(ohms != visit.resistance.end());
  const auto before = of("start_winding_resistance");
  CHECK(before.determined);
  ohms->resistance_ohm *= 1.3;
  CHECK(of("start_winding_resistance").value / before.value > 1.2);
  visit.resistance.erase(ohms);
  CHECK_FALSE(of("start_winding_resistance").determined);
  CHECK_FALSE(of("capacitance").determined);
  visit.capacitor = {{.name = "run", .marked_uF = 2.5, .measured_uF = 2.2}};
  const auto measured = of("capacitance");
  CHECK(measured.determined);
  CHECK(std::abs(measured.value / 2.2 - 1.0) < 0.05);
}
