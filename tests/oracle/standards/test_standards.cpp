// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include <oracle_table.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/measurement/rounding.hpp>
#include <rewound/verdict/rules/draw.hpp>
#include <rewound/verdict/rules/insulation.hpp>
#include <rewound/verdict/rules/supply.hpp>
#include <rewound/verdict/rules/touch_safety.hpp>

namespace checks = rewound::checks;
namespace machine = rewound::machine;
namespace rules = rewound::verdict::rules;
namespace record = rewound::record;
namespace units = rewound::units;
namespace verdict = rewound::verdict;
using inputs = rewound::testing::row_inputs;
using rewound::record::insulation_system;

namespace {

double factor(const inputs& in, insulation_system system) {
  return checks::factor_to_40_C(units::celsius(in("T")), system);
}

struct read_circuit {
  record::visit_record in;
  record::insulation_section entry;
  rules::circuit_insulation found;
};

/// One circuit read at these times, in a random-wound machine of 230 V, class 130.
read_circuit circuit(const std::vector<checks::insulation_reading>& readings, double winding_C,
                     insulation_system system) {
  read_circuit out;
  out.found.result =
      checks::insulation({readings, units::celsius(winding_C), units::kelvins(0.0), {"", 0.0, units::ohms(1.0), 0.0}});
  out.entry.test_voltage_V = 500.0;
  out.entry.winding_C = winding_C;
  auto& machine = out.in.machine;
  machine.rated_voltage_V = 230.0;
  machine.wound_year = 2026;
  machine.winding_kind = record::winding_kind::random_wound;
  machine.insulation_system = system;
  machine.insulation_class = record::insulation_class::class_130;
  return out;
}

read_circuit one_minute(double megohm, double winding_C, insulation_system system) {
  return circuit({{units::seconds(60.0), units::megohms(megohm)}}, winding_C, system);
}

verdict::finding finding_of(const read_circuit& test, const char* quantity) {
  for (const auto& f : rules::insulation({test.in, test.entry, test.found}, {}))
    if (f.quantity == quantity) return f;
  FAIL("no finding of " << quantity);
  return {};
}

double corrected(const inputs& in, insulation_system system) {
  return finding_of(one_minute(in("R_Mohm"), in("T"), system), "insulation_at_40_C").value.value();
}

double conforms(const inputs& in, insulation_system system) {
  const auto outcome = finding_of(one_minute(in("R_Mohm"), in("T"), system), "insulation_at_40_C").outcome;
  CHECK((outcome == verdict::outcome::conforms || outcome == verdict::outcome::fails));
  return outcome == verdict::outcome::conforms ? 1.0 : 0.0;
}

double minimum(const inputs& in, record::winding_kind kind, int year) {
  auto test = one_minute(100.0, 40.0, insulation_system::thermosetting);
  test.in.machine.rated_voltage_V = in("U");
  test.in.machine.winding_kind = kind;
  test.in.machine.wound_year = year;
  return finding_of(test, "insulation_at_40_C").limit_low.value();
}

verdict::finding test_voltage(const inputs& in) {
  auto test = one_minute(100.0, 40.0, insulation_system::thermosetting);
  test.in.machine.rated_voltage_V = in("U");
  return finding_of(test, "test_voltage");
}

verdict::finding index(double at_one_minute_Mohm, double ratio, double thermal_class) {
  auto test = circuit({{units::seconds(60.0), units::megohms(at_one_minute_Mohm)},
                       {units::seconds(600.0), units::megohms(ratio * at_one_minute_Mohm)}},
                      40.0, insulation_system::thermosetting);
  test.in.machine.insulation_class = static_cast<record::insulation_class>(static_cast<int>(thermal_class));
  // A form-wound winding, where the index decides, of a system that dries out, which the ceiling is written for.
  test.in.machine.winding_kind = record::winding_kind::form_wound;
  test.in.machine.insulation_system = insulation_system::thermoplastic;
  return finding_of(test, "polarization_index");
}

/// Leakage and power-law absorption, t in minutes: megohms of volts over microamperes.
read_circuit model(const inputs& in) {
  std::vector<checks::insulation_reading> readings;
  for (const double seconds : {30.0, 60.0, 600.0}) {
    const double microamperes = in("leak_uA") + in("K_uA") * std::pow(seconds / 60.0, -in("n"));
    readings.push_back({units::seconds(seconds), units::megohms(in("E") / microamperes)});
  }
  return circuit(readings, 40.0, insulation_system::thermosetting);
}

/// What the curve through the first two minutes says of the rest: the ten-minute value, its index and the short ratio.
checks::absorption_result first_two_minutes(const inputs& in) {
  checks::absorption_input out{{}, units::volts(in("E"))};
  for (const double seconds : {15.0, 45.0, 90.0, 120.0}) {
    const double microamperes = in("leak_uA") + in("K_uA") * std::pow(seconds / 60.0, -in("n"));
    out.readings.push_back({units::seconds(seconds), units::megohms(in("E") / microamperes), 0.01});
  }
  return checks::absorption(out);
}

double predicted_ratio(const inputs& in, double later, double earlier) {
  return checks::predicted_ratio(first_two_minutes(in), units::seconds(later), units::seconds(earlier)).value;
}

double part_of_winding(const inputs& in, record::winding_connection connection) {
  const double divisor = rules::connection_divisor(connection);
  checks::insulation_input tested{{{units::seconds(60.0), units::megohms(in("R_Mohm"))}},
                                  units::celsius(40.0),
                                  units::kelvins(0.0),
                                  {"", 0.0, units::ohms(1.0), 0.0}};
  tested.divisor = divisor;
  return units::in_megohms(checks::insulation(tested).at_one_minute->value);
}

double short_ratio_conforms(const inputs& in) {
  const auto test = circuit({{units::seconds(10.0), units::megohms(in("ten_Mohm"))},
                             {units::seconds(60.0), units::megohms(in("sixty_Mohm"))}},
                            40.0, insulation_system::thermosetting);
  return finding_of(test, "ratio_60_s_to_10_s").outcome == verdict::outcome::conforms ? 1.0 : 0.0;
}

double appliance_minimum(const inputs& in) {
  using enum record::appliance_class;
  auto test = one_minute(100.0, 40.0, insulation_system::thermosetting);
  test.in.machine.appliance_class = in("class") == 1.0 ? class_I : in("class") == 2.0 ? class_II : class_III;
  return finding_of(test, "insulation_as_read").limit_low.value();
}

double model_value(const inputs& in, const char* quantity) { return finding_of(model(in), quantity).value.value(); }

rewound::testing::oracle_quantities insulation_quantities() {
  using enum record::winding_kind;
  constexpr auto setting = insulation_system::thermosetting;
  constexpr auto plastic = insulation_system::thermoplastic;
  return {{"factor_thermoplastic", [](const inputs& in) { return factor(in, plastic); }},
          {"factor_thermosetting", [](const inputs& in) { return factor(in, setting); }},
          {"factor_thermosetting_to_one_decimal",
           [](const inputs& in) { return rewound::measurement::rounded(factor(in, setting), 1); }},
          {"corrected_thermoplastic_Mohm", [](const inputs& in) { return corrected(in, plastic); }},
          {"corrected_thermosetting_Mohm", [](const inputs& in) { return corrected(in, setting); }},
          {"conforms_thermoplastic", [](const inputs& in) { return conforms(in, plastic); }},
          {"conforms_thermosetting", [](const inputs& in) { return conforms(in, setting); }},
          {"minimum_before_1970_Mohm", [](const inputs& in) { return minimum(in, random_wound, 1960); }},
          {"minimum_field_Mohm", [](const inputs& in) { return minimum(in, field, 2026); }},
          {"minimum_random_wound_Mohm", [](const inputs& in) { return minimum(in, random_wound, 2026); }},
          {"minimum_form_wound_Mohm", [](const inputs& in) { return minimum(in, form_wound, 2026); }},
          {"minimum_armature_Mohm", [](const inputs& in) { return minimum(in, armature, 2026); }},
          {"test_voltage_low_V", [](const inputs& in) { return test_voltage(in).limit_low.value(); }},
          {"test_voltage_high_V", [](const inputs& in) { return test_voltage(in).limit_high.value(); }},
          {"index_minimum", [](const inputs& in) { return index(100.0, 3.0, in("class")).limit_low.value(); }},
          {"index_is_judged",
           [](const inputs& in) {
             return index(in("R40_Mohm"), 3.0, 130.0).says == verdict::statement::polarization_minimum ? 1.0 : 0.0;
           }},
          {"index_flagged_high",
           [](const inputs& in) {
             return index(100.0, in("PI"), 130.0).says == verdict::statement::polarization_high ? 1.0 : 0.0;
           }},
          {"discharge_s",
           [](const inputs& in) { return verdict::policy{}.practice.discharge_factor.value * in("applied_s"); }},
          {"model_one_minute_Mohm", [](const inputs& in) { return model_value(in, "insulation_at_40_C"); }},
          {"model_index", [](const inputs& in) { return model_value(in, "polarization_index"); }},
          {"model_absorption_ratio", [](const inputs& in) { return model_value(in, "absorption_ratio"); }},
          {"model_ten_minutes_predicted_Mohm",
           [](const inputs& in) {
             return units::in_megohms(checks::predicted_resistance(first_two_minutes(in), units::seconds(600.0)).value);
           }},
          {"model_index_predicted", [](const inputs& in) { return predicted_ratio(in, 600.0, 60.0); }},
          {"model_absorption_ratio_predicted", [](const inputs& in) { return predicted_ratio(in, 60.0, 30.0); }},
          {"others_grounded_Mohm",
           [](const inputs& in) { return part_of_winding(in, record::winding_connection::others_grounded); }},
          {"others_guarded_Mohm",
           [](const inputs& in) { return part_of_winding(in, record::winding_connection::others_guarded); }},
          {"whole_winding_Mohm",
           [](const inputs& in) { return part_of_winding(in, record::winding_connection::whole_winding); }},
          {"short_ratio_conforms", short_ratio_conforms},
          {"appliance_minimum_Mohm", appliance_minimum}};
}

double brought(const inputs& in, record::conductor_material material) {
  return units::in_ohms(
      machine::at_temperature(units::ohms(in("R")), units::celsius(in("from")), units::celsius(in("to")), material));
}

/// Edge of the window in volts: the percentage of the supply finding laid round the rating.
double window(const inputs& in, double verdict::tables::supply_window_row::*side, double sign) {
  return in("rated") + sign * in("rated") * verdict::tables::supply_window.front().*side / 100.0;
}

double inside(const inputs& in) {
  record::visit_record read;
  read.machine.rated_voltage_V = in("rated");
  read.machine.rated_frequency_Hz = in("rated_Hz");
  read.visit.supply_voltage_V = in("volts");
  read.visit.supply_frequency_Hz = in("Hz");
  const auto findings = rules::supply(read,
                                      checks::supply({units::volts(in("rated")), units::hertz(in("rated_Hz")),
                                                      units::volts(in("volts")), units::hertz(in("Hz"))}),
                                      {});
  const bool all_conform = std::all_of(findings.begin(), findings.end(),
                                       [](const auto& f) { return f.outcome == verdict::outcome::conforms; });
  return all_conform ? 1.0 : 0.0;
}

double power_ceiling(const inputs& in) {
  return rules::power("high", in("marked"), {in("marked"), 0.0}, {}).limit_high.value();
}

double current_ceiling(const inputs& in) {
  record::visit_record read;
  read.machine.rated_current_A = in("marked");
  read.run_up.push_back({.speed = "high", .rows = {}, .winding_C = {}});
  rules::compared_draw compared;
  compared.rows.push_back({.speed = "high"});
  compared.rows.back().at_rated = {units::amperes(in("marked")), units::amperes(0.0)};
  return rules::draw(read, compared, {}).findings.front().limit_high.value();
}

verdict::finding leakage(const inputs& in) {
  using enum record::appliance_class;
  const double written = in("class");
  rewound::record::visit_record read;
  read.machine.appliance_class = written == 0.5 ? class_0I : written == 1.0 ? class_I : class_II;
  read.leakage.emplace_back();
  return rules::leakage(read, {{1.0}, {}, {0.0}}, {}, {}).front();
}

double earth_maximum(const inputs&) {
  rewound::record::visit_record read;
  read.earth.emplace().continuity_ohm = 0.1;
  return rules::earth(read, {}, 0.0, {}).front().limit_high.value();
}

}  // namespace

TEST_CASE("insulation: every row of the oracle table is met") {
  rewound::testing::check_table("standards/insulation.csv", insulation_quantities());
}

TEST_CASE("dew point: every row of the oracle table is met") {
  rewound::testing::check_table("standards/dew_point.csv", {{"dew_point_C", [](const inputs& in) {
                                                               return units::in_celsius(checks::dew_point_of(
                                                                   units::celsius(in("T")), in("RH") / 100.0));
                                                             }}});
}

TEST_CASE("conductors: every row of the oracle table is met") {
  using enum record::conductor_material;
  rewound::testing::check_table(
      "standards/conductor.csv",
      {{"copper_ohm", [](const inputs& in) { return brought(in, copper); }},
       {"copper_235_ohm",
        [](const inputs& in) {
          return units::in_ohms(machine::at_temperature(units::ohms(in("R")), units::celsius(in("from")),
                                                        units::celsius(in("to")), copper, 235.0));
        }},
       {"aluminium_ohm", [](const inputs& in) { return brought(in, aluminium); }},
       {"slope_copper_per_K",
        [](const inputs& in) { return machine::relative_slope_per_K(units::celsius(in("T")), copper); }}});
}

TEST_CASE("the mains: every row of the oracle table is met") {
  using row = verdict::tables::supply_window_row;
  rewound::testing::check_table(
      "standards/supply.csv",
      {{"window_low_V", [](const inputs& in) { return window(in, &row::voltage_percent, -1.0); }},
       {"window_high_V", [](const inputs& in) { return window(in, &row::voltage_percent, 1.0); }},
       {"inside", inside}});
}

TEST_CASE("nameplate, leakage and earth: every row of the oracle table is met") {
  rewound::testing::check_table(
      "standards/nameplate_and_touch.csv",
      {{"power_ceiling_W", power_ceiling},
       {"current_ceiling_A", current_ceiling},
       {"leakage_strict_mA", [](const inputs& in) { return leakage(in).limit_high.value(); }},
       {"leakage_lenient_mA", [](const inputs& in) { return leakage(in).numbers.front().value; }},
       {"earth_maximum_ohm", earth_maximum}});
}
