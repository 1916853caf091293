// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <oracle_table.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/machine/wire.hpp>
#include <rewound/verdict/rules/cord.hpp>
#include <rewound/verdict/rules/resistance_sections.hpp>
#include <rewound/verdict/rules/touch_safety.hpp>
#include <rewound/verdict/rules/withstand.hpp>

namespace checks = rewound::checks;
namespace machine = rewound::machine;
namespace rules = rewound::verdict::rules;
namespace record = rewound::record;
namespace units = rewound::units;
namespace verdict = rewound::verdict;
using inputs = rewound::testing::row_inputs;
using enum record::winding_state;

namespace {

double ohms_of(units::length diameter, double metres, machine::wire_standard standard) {
  return units::in_ohms(machine::wound_resistance(
      {diameter, 1.0, units::metres(metres), 1, record::conductor_material::copper, standard}));
}

constexpr double thousand_feet_m = 304.8;

double per_kft(double gauge) {
  return ohms_of(machine::awg_diameter(gauge), thousand_feet_m, machine::wire_standard::awg);
}

record::visit_record tested(double volts, double watts) {
  record::visit_record out;
  out.machine.rated_voltage_V = volts;
  out.machine.rated_frequency_Hz = 50.0;
  out.machine.rated_power_W = watts;
  out.withstand.emplace_back();
  out.withstand.front().voltage_V = 1.0;
  out.withstand.front().duration_s = 60.0;
  return out;
}

/// The voltage asked of a test, as its finding says.
double asked(record::visit_record of, bool direct, verdict::withstand_standard by) {
  verdict::policy policy;
  policy.withstand_by = by;
  if (direct) of.withstand.front().kind = record::test_kind::dc;
  return rules::withstand(of, {}, policy).front().limit_low.value();
}

using enum verdict::withstand_standard;

auto withstands(verdict::withstand_standard by, record::winding_state state, bool direct, double seconds) {
  return [=](const inputs& in) {
    auto of = tested(in("U"), in("W"));
    of.withstand.front().duration_s = seconds;
    of.withstand.front().state = state;
    return asked(std::move(of), direct, by);
  };
}

auto of_armature(bool direct) {
  return [=](const inputs& in) {
    auto of = tested(in("U"), in("W"));
    of.machine.winding_kind = record::winding_kind::armature;
    return asked(std::move(of), direct, nema);
  };
}

auto of_component(bool direct) {
  return [=](const inputs&) {
    auto of = tested(230.0, 75.0);
    of.withstand.front().component = true;
    return asked(std::move(of), direct, iec);
  };
}

record::visit_record class_one() {
  record::visit_record out;
  out.machine.appliance_class = record::appliance_class::class_I;
  out.earth.emplace().continuity_ohm = 0.1;
  return out;
}

auto leakage_limit(std::optional<bool> portable, record::leakage_kind kind) {
  return [=](const inputs&) {
    auto in = class_one();
    in.machine.portable = portable;
    in.leakage.emplace_back();
    in.leakage.front().kind = kind;
    return rules::leakage(in, {{1.0}, {}, {0.0}}, {}, {}).front().limit_high.value();
  };
}

double earth_limit(const inputs& in) {
  auto read = class_one();
  read.earth->cord_length_m = in("cord");
  return rules::earth(read, {}, 0.0, {}).front().limit_high.value();
}

double core(const inputs& in) {
  for (const auto& row : verdict::tables::cord_core)
    if (row.area_mm2 == in("mm2"))
      return units::in_ohms(*checks::earth({units::ohms(0.1), units::metres(in("m")), row.ohm_per_km / 1000.0}).core);
  FAIL("no such core");
  return 0.0;
}

double limit_without_cord(const inputs&) {
  return rules::earth(class_one(), {units::ohms(0.05), units::ohms(0.05)}, 0.0, {}).at(1).limit_high.value();
}

/// The thinnest of the listed cross-sections that conforms.
double least_area(const inputs& in) {
  record::cord_section cord;
  cord.length_m = in("m");
  for (const double area : {0.5, 0.75, 1.0, 1.5, 2.5, 4.0})
    if (rules::cord(cord, {}, {area, {}}, {{in("A"), 0.0}}, {}).front().outcome == verdict::outcome::conforms)
      return area;
  FAIL("no cross-section conforms");
  return 0.0;
}

double ampacity(const inputs& in, bool three) {
  record::cord_section cord;
  cord.conductor_awg = static_cast<int>(in("awg"));
  record::machine_section machine;
  machine.phases = three ? 3 : 1;
  return rules::cord(cord, machine, {1.0, {}}, {{1.0, 0.0}}, {}).front().limit_high.value();
}

double balance_limit(const inputs& in) {
  const auto kind = in("form") > 0.0 ? record::winding_kind::form_wound : record::winding_kind::random_wound;
  const auto one = rewound::measurement::uncertain<units::resistance>{units::ohms(1.0), units::ohms(0.001)};
  return rules::resistance_balance("phases", "a", checks::section_balance({{one, one}}), kind, {}).limit_high.value();
}

}  // namespace

TEST_CASE("wire: every row of the oracle table is met") {
  using machine::wire_standard;
  rewound::testing::check_table(
      "standards/wire.csv",
      {{"awg_mil", [](const inputs& in) { return units::in_millimetres(machine::awg_diameter(in("awg"))) / 0.0254; }},
       {"awg_ohm_per_kft", [](const inputs& in) { return per_kft(in("awg")); }},
       {"awg_step", [](const inputs& in) { return per_kft(in("awg") + 1.0) / per_kft(in("awg")); }},
       {"mil_ohm_per_kft",
        [](const inputs& in) {
          return ohms_of(units::millimetres(0.0254 * in("mil")), thousand_feet_m, wire_standard::awg);
        }},
       {"metric_ohm_per_m",
        [](const inputs& in) { return ohms_of(units::millimetres(in("d_mm")), 1.0, wire_standard::metric); }},
       {"copper_resistivity_ohm_mm2_per_m", [](const inputs&) {
          return 1e6 * machine::resistivity_ohm_m(record::conductor_material::copper, wire_standard::awg);
        }}});
}

TEST_CASE("withstand voltages: every row of the oracle table is met") {
  rewound::testing::check_table("standards/withstand.csv",
                                {{"iec_new_V", withstands(iec, as_new, false, 60.0)},
                                 {"iec_overhauled_V", withstands(iec, overhauled, false, 60.0)},
                                 {"iec_part_rewound_V", withstands(iec, part_rewound, false, 60.0)},
                                 {"iec_repeat_V", withstands(iec, repeat, false, 60.0)},
                                 {"iec_one_second_V", withstands(iec, as_new, false, 1.0)},
                                 {"nema_new_V", withstands(nema, as_new, false, 60.0)},
                                 {"nema_new_dc_V", withstands(nema, as_new, true, 60.0)},
                                 {"nema_one_second_V", withstands(nema, as_new, false, 1.0)},
                                 {"nema_overhauled_V", withstands(nema, overhauled, false, 60.0)},
                                 {"nema_overhauled_dc_V", withstands(nema, overhauled, true, 60.0)},
                                 {"nema_armature_V", of_armature(false)},
                                 {"nema_armature_dc_V", of_armature(true)},
                                 {"component_ac_V", of_component(false)},
                                 {"component_dc_V", of_component(true)}});
}

TEST_CASE("leakage, earth, cord and balance: every row of the oracle table is met") {
  using rewound::record::leakage_kind;
  rewound::testing::check_table(
      "standards/touch.csv", {{"leakage_portable_mA", leakage_limit(true, leakage_kind::appliance)},
                              {"leakage_stationary_mA", leakage_limit(false, leakage_kind::appliance)},
                              {"touch_mA", leakage_limit(false, leakage_kind::touch)},
                              {"protective_conductor_mA", leakage_limit({}, leakage_kind::protective_conductor)},
                              {"leakage_test_V",
                               [](const inputs& in) {
                                 return units::in_volts(rules::full_leakage_voltage(tested(in("U"), 0.0).machine, {}));
                               }},
                              {"capacitance_nF",
                               [](const inputs& in) {
                                 return checks::leaking_capacitance_nF(units::milliamperes(in("mA")),
                                                                       units::volts(in("U")), units::hertz(in("f")));
                               }},
                              {"earth_maximum_ohm", earth_limit},
                              {"without_cord_ohm", limit_without_cord},
                              {"cord_core_ohm", core},
                              {"cord_area_mm2", least_area},
                              {"cord_two_A", [](const inputs& in) { return ampacity(in, false); }},
                              {"cord_three_A", [](const inputs& in) { return ampacity(in, true); }},
                              {"balance_percent", balance_limit}});
}
