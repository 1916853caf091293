// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include <near.hpp>
#include <rewound/verdict/rules/bench_checks.hpp>
#include <rewound/verdict/rules/capacitor.hpp>
#include <rewound/verdict/rules/commutator.hpp>
#include <rewound/verdict/rules/no_load.hpp>
#include <rewound/verdict/rules/readings.hpp>
#include <rewound/verdict/rules/resistance.hpp>
#include <rewound/verdict/rules/resistance_sections.hpp>
#include <rewound/verdict/rules/trend.hpp>
#include <rewound/verdict/rules/withstand.hpp>
#include <told.hpp>

// Ohms, withstand tests, capacitors and what is ticked off, each limit a hair to either side.
namespace winding_rules {

using namespace rewound;
using testing::near_absolute;
using testing::near_relative;
using testing::saying;
using testing::told_number;
using testing::told_text;
using verdict::bearing;
using verdict::outcome;
using verdict::policy;
using verdict::statement;
using measured = measurement::uncertain<double>;
using ohms = measurement::uncertain<units::resistance>;

checks::resistance_result at_20(double ohm, double u = 1e-9) {
  checks::resistance_result out;
  out.at_20_C = {units::ohms(ohm), units::ohms(u)};
  out.at_25_C = {units::ohms(1.02 * ohm), units::ohms(u)};
  return out;
}

std::vector<verdict::finding> section_of(const checks::resistance_result& result, std::optional<double> running_A = {},
                                         const std::string& name = "main", int phases = 1,
                                         const verdict::rules::wire_explanation& wire = {}) {
  record::resistance_section of;
  of.section = name;
  of.resistance_ohm = units::in_ohms(result.at_20_C.value);
  record::machine_section machine;
  machine.rated_voltage_V = 230.0;
  machine.phases = phases;
  return verdict::rules::resistance(of, machine, result, wire, running_A, policy{});
}

TEST_CASE("ohms are held to the design within 7.6 %, to the earlier visit within 5, to the wire within 10, both ways") {
  // Of a design value 5 % and 1.96 of hypot(4, 3) % / sqrt(3), rectangular, in quadrature: 7.55, told to tenths.
  using checks::resistance_basis;
  for (const auto& [basis, limit, says] :
       {std::tuple{resistance_basis::design, 7.6, statement::resistance_against_expected},
        {resistance_basis::earlier, 5.0, statement::resistance_against_earlier},
        {resistance_basis::wire, 10.0, statement::resistance_against_wire}}) {
    const auto limit_shown = limit;
    CAPTURE(limit_shown);
    for (const double sign : {-1.0, 1.0})
      for (const auto& [beyond, came_to] : {std::pair{-0.001, outcome::conforms}, {0.001, outcome::fails}}) {
        auto result = at_20(20.0);
        result.basis = basis;
        result.expected_at_20_C = units::ohms(21.0);
        result.deviation_percent = measured{sign * (limit + beyond), 1e-9};
        const auto f = section_of(result).front();
        CHECK(f.says == says);
        CHECK(f.outcome == came_to);
        CHECK(near_relative(*f.limit_high, limit, 1e-12));
        CHECK(near_relative(*f.limit_low, -limit, 1e-12));
        CHECK(told_number(f, "expected").value == 21.0);
        CHECK(told_number(f, "ohm").value == 20.0);
        CHECK(near_relative(told_number(f, "ohm_25").value, 20.4, 1e-12));
      }
  }
  policy own;
  for (const auto& number : verdict::practice_list)
    if (number.row.name == "resistance_percent") own.lay(number, 6.0, "ours");
  auto result = at_20(20.0);
  result.basis = checks::resistance_basis::design;
  result.expected_at_20_C = units::ohms(20.0);
  result.deviation_percent = measured{0.0, 1e-9};
  CHECK(*verdict::rules::resistance({.section = "main"}, {}, result, {}, {}, own).front().limit_high == 6.0);
}

TEST_CASE("a winding that carries the current has 1 to 100 % of the machine's impedance, another twice at most") {
  struct {
    const char* section;
    int phases;
    double ohm;
    bool plausible;
  } const rows[] = {{"main", 1, 459.9, true},   {"main", 1, 460.1, false},
                    {"main", 1, 4.61, true},    {"main", 1, 4.59, false},
                    {"start", 1, 919.9, true},  {"start", 1, 920.1, false},
                    {"start", 1, 0.01, true},   {"main", 3, 919.9, true},
                    {"main", 3, 0.01, true},    {"auxiliary winding", 1, 0.01, true},
                    {"stator", 1, 4.59, false}, {"choke", 1, 4.59, true}};
  for (const auto& row : rows) {  // 230 V at 0.5 A: 460 ohm
    CAPTURE(row.section);
    CAPTURE(row.ohm);
    const auto f = section_of(at_20(row.ohm), 0.5, row.section, row.phases).front();
    CHECK(f.says == (row.plausible ? statement::resistance_alone : statement::resistance_implausible));
    CHECK(f.outcome == (row.plausible ? outcome::not_tested : outcome::undecided));
    CHECK(*f.value == row.ohm);
  }
  // A reading counts by its 95 % interval, both ways, and one that reaches nothing shows nothing.
  const double half = 1.959964;
  CHECK(section_of(at_20(461.0, 1.01 / half), 0.5).front().says == statement::resistance_alone);
  CHECK(section_of(at_20(461.0, 0.99 / half), 0.5).front().says == statement::resistance_implausible);
  CHECK(section_of(at_20(4.5, 0.11 / half), 0.5).front().says == statement::resistance_alone);
  CHECK(section_of(at_20(4.5, 0.09 / half), 0.5).front().says == statement::resistance_implausible);
  CHECK(section_of(at_20(1.0, 0.99 / half)).front().says == statement::resistance_alone);
  CHECK(section_of(at_20(1.0, 1.01 / half)).front().says == statement::resistance_implausible);
  CHECK(told_text(section_of(at_20(500.0), 0.5).front(), "bounds") == "both");
  CHECK(told_text(section_of(at_20(1000.0), 0.5, "start").front(), "bounds") == "most");
  CHECK(told_text(section_of(at_20(0.0)).front(), "bounds") == "none");
}

TEST_CASE("a comparison beside the one that decides is told, and what the wire would explain") {
  auto result = at_20(20.0);
  result.basis = checks::resistance_basis::design;
  result.expected_at_20_C = units::ohms(20.0);
  result.deviation_percent = measured{0.0, 1e-9};
  result.against_earlier = checks::resistance_comparison{{units::ohms(19.0), units::ohms(0.1)}, {5.26, 0.5}};
  result.against_wire = checks::resistance_comparison{{units::ohms(25.0), units::ohms(0.7)}, {-20.0, 3.0}};
  auto all = section_of(result);
  const auto* beside = saying(all, statement::resistance_beside_earlier);
  REQUIRE(beside != nullptr);
  CHECK(*beside->value == 5.26);
  CHECK(told_number(*beside, "expected").value == 19.0);
  CHECK(saying(all, statement::resistance_beside_wire) != nullptr);
  CHECK(saying(all, statement::resistance_explained) == nullptr);
  result.basis = checks::resistance_basis::earlier;
  all = section_of(result);
  CHECK(saying(all, statement::resistance_beside_earlier) == nullptr);
  CHECK(saying(all, statement::resistance_beside_wire) != nullptr);
  result.basis = checks::resistance_basis::wire;
  all = section_of(result, {}, "main", 1, {.diameter_mm = {}, .awg = {}, .turns = measured{900.0, 9.0}});
  CHECK(saying(all, statement::resistance_beside_earlier) != nullptr);
  CHECK(saying(all, statement::resistance_beside_wire) == nullptr);
  CHECK(*saying(all, statement::resistance_explained)->value == 900.0);
  CHECK(told_text(*saying(all, statement::resistance_explained), "by_turns") == "alone");
  all = section_of(result, {}, "main", 1,
                   {.diameter_mm = measured{0.2, 0.01}, .awg = 32.0, .turns = measured{900.0, 9.0}});
  CHECK(*saying(all, statement::resistance_explained)->value == 0.2);
  CHECK(told_number(*saying(all, statement::resistance_explained), "awg").standard_uncertainty == 0.3);
  CHECK(told_text(*saying(all, statement::resistance_explained), "by_turns") == "too");
}

TEST_CASE("below 10 ohm leads that nobody stated are taken to be 0.1 ohm at most, or all of it") {
  const policy rules;
  const auto leads = [&](double ohm, bool four_wire = false, std::optional<double> stated = {}) {
    record::resistance_section of;
    of.resistance_ohm = ohm;
    of.four_wire = four_wire;
    of.lead_resistance_ohm = stated;
    return verdict::rules::assumed_leads_ohm(of, rules);
  };
  CHECK(leads(9.999) == 0.1);
  CHECK_FALSE(leads(10.0).has_value());
  CHECK(leads(0.06) == 0.06);
  CHECK_FALSE(leads(5.0, true).has_value());
  CHECK_FALSE(leads(5.0, false, 0.02).has_value());
  const auto all = section_of(at_20(5.0));
  const auto* f = saying(all, statement::resistance_leads_assumed);
  REQUIRE(f != nullptr);
  CHECK(*f->value == 0.05);
  CHECK(told_number(*f, "most").value == 0.1);
  CHECK(told_number(*f, "taken_off").value == 0.05);
}

TEST_CASE("of several speeds the step that is least surely a rise is judged") {
  const std::vector<std::string> speeds{"high", "medium", "low"};
  const auto order = [&](measured first, measured second) {
    return verdict::rules::resistance_order(speeds, {{first, second}}, record::speed_control::tapped_winding, policy{});
  };
  const auto f = order({10.0, 2.0}, {6.0, 1.0});  // 5 and 6 standard uncertainties
  CHECK(f.subject == "medium");
  CHECK(told_text(f, "faster") == "high");
  CHECK(*f.value == 10.0);
  CHECK(*f.limit_low == 0.0);
  CHECK(order({10.0, 2.0}, {4.0, 1.0}).subject == "low");
  CHECK(told_text(order({10.0, 2.0}, {4.0, 1.0}), "faster") == "medium");
  CHECK(order({10.0, 2.0}, {5.0, 1.0}).subject == "medium");  // alike: the first
}

record::visit_record tested_at(double volts, std::optional<double> leakage_mA = {}) {
  record::visit_record out;
  out.machine.rated_voltage_V = 230.0;
  out.machine.rated_frequency_Hz = 50.0;
  auto& test = out.withstand.emplace_back();
  test.circuit = "winding to frame";
  test.voltage_V = volts;
  test.duration_s = 60.0;
  test.leakage_mA = leakage_mA;
  return out;
}

TEST_CASE("a withstand test is doubted from 10 mA and broken down from 100 mA, and above twice the volts asked") {
  const auto judged = [](double volts, std::optional<double> leakage_mA = {}) {
    return verdict::rules::withstand(tested_at(volts, leakage_mA), {}, policy{}).front();
  };
  // IEC 60034-1: 1000 V and twice 230 V are less than 1500 V.
  CHECK(judged(1500.0, 10.0).outcome == outcome::conforms);
  CHECK(judged(1500.0, 10.001).outcome == outcome::undecided);
  CHECK(*judged(1500.0, 10.001).limit_high == 10.0);
  CHECK_FALSE(judged(1500.0, 10.001).limit_low.has_value());
  CHECK(judged(1500.0, 100.0).outcome == outcome::undecided);
  CHECK(judged(1500.0, 100.001).outcome == outcome::fails);
  CHECK(*judged(1500.0, 100.001).limit_high == 100.0);
  CHECK(*judged(1500.0, 100.001).value == 100.001);
  CHECK(judged(3000.0).outcome == outcome::conforms);
  CHECK(judged(3000.1).says == statement::withstand_voltage_impossible);
  CHECK(judged(3000.1).outcome == outcome::undecided);
  CHECK(*judged(3000.1).limit_high == 3000.0);
  CHECK(told_number(judged(3000.1), "asked").value == 1500.0);
  CHECK(judged(1400.0).says == statement::withstand_less);
  CHECK(told_text(judged(1800.0), "over") == "no");
  CHECK(told_text(judged(1800.1), "over") == "yes");
  CHECK(judged(1499.9991).outcome == outcome::conforms);  // volts are compared to a millivolt
  CHECK(judged(1499.9989).outcome == outcome::undecided);
}

TEST_CASE("a withstand test tells what both standards ask, in alternating and in direct volts") {
  auto in = tested_at(2600.0);
  in.withstand.front().kind = record::test_kind::dc;
  const auto f = verdict::rules::withstand(in, {}, policy{}).front();
  CHECK(near_relative(*f.limit_low, 1.7 * 1500.0, 1e-12));
  CHECK(near_relative(told_number(f, "alternating").value, 2600.0 / 1.7, 1e-12));
  CHECK(near_relative(told_number(f, "iec").value, 1.7 * 1500.0, 1e-12));
  CHECK(near_relative(told_number(f, "nema").value, 1.7 * 1460.0, 1e-12));
  CHECK(near_relative(told_number(f, "full").value, 2550.0, 1e-12));
  CHECK(told_number(f, "full_seconds").value == 60.0);
  in.withstand.front().duration_s = 1.0;
  const auto brief = verdict::rules::withstand(in, {}, policy{}).front();
  CHECK(near_relative(*brief.limit_low, 1.2 * 2550.0, 1e-12));
  CHECK(told_text(brief, "brief") == "yes");
  in.withstand.front().component = true;
  in.withstand.front().circuit = "protector";
  in.withstand.front().duration_s = 60.0;
  const auto part = verdict::rules::withstand(in, {}, policy{});
  CHECK(*part.front().limit_low == 2600.0);
  CHECK(part.front().outcome == outcome::conforms);
  CHECK(part.back().says == statement::withstand_component_only);
}

TEST_CASE("a winding was rewound where the work says so, or where its year is that of the visit after repair") {
  record::visit_record in;
  in.visit.day.year = 2024;
  in.visit.state = record::visit_state::after_repair;
  CHECK_FALSE(verdict::rules::rewound_now(in));
  for (const int year : {2023, 2025}) {
    in.machine.wound_year = year;
    CHECK_FALSE(verdict::rules::rewound_now(in));
  }
  in.machine.wound_year = 2024;
  CHECK(verdict::rules::rewound_now(in));
  in.visit.state = record::visit_state::recheck;
  CHECK_FALSE(verdict::rules::rewound_now(in));
  in.visit.work = {"bearings", "Main REWOUND"};
  CHECK(verdict::rules::rewound_now(in));
  in.visit.state = record::visit_state::as_found;
  CHECK_FALSE(verdict::rules::rewound_now(in));
}

TEST_CASE("an overhauled winding that is new today is asked the new one's volts, and a winding is no component") {
  auto in = tested_at(1200.0);
  in.withstand.front().state = record::winding_state::overhauled;
  in.withstand.front().component = true;
  // 1.5 times 230 V, at least 1000 V (IEC 60034-1 9.2 b)
  CHECK(*verdict::rules::withstand(in, {}, policy{}).front().limit_low == 1000.0);
  in.visit.work = {"rewound"};
  in.visit.state = record::visit_state::after_repair;
  CHECK(*verdict::rules::withstand(in, {}, policy{}).front().limit_low == 1500.0);
  in.withstand.clear();
  const auto none = verdict::rules::withstand(in, {}, policy{}).front();
  CHECK(none.says == statement::withstand_skipped);
  CHECK(none.bearing == bearing::informs);
  CHECK(told_number(none, "iec").value == 1500.0);
  CHECK(told_number(none, "nema").value == 1460.0);
  CHECK(told_number(none, "iec_old").value == 1000.0);
  CHECK(near_relative(told_number(none, "nema_old").value, 0.65 * 1460.0, 1e-12));
  CHECK(told_number(none, "decides").value == 1500.0);
}

TEST_CASE("below 100 V and 1 kW, or 35 V, or half a horsepower and 250 V, less is asked of a new winding") {
  struct {
    double volts;
    std::optional<double> watts, amperes;
    int phases;
    double iec, nema;
  } const rows[] = {{99.9, 999.9, {}, 1, 699.8, 1199.8},   {99.9, 1000.0, {}, 1, 1500.0, 1199.8},
                    {100.0, 10.0, {}, 1, 1500.0, 1000.0},  {99.9, {}, {}, 1, 1500.0, 1199.8},
                    {99.9, {}, 10.0, 1, 699.8, 1199.8},    {99.9, {}, 10.1, 1, 1500.0, 1199.8},
                    {99.9, {}, 5.77, 3, 699.8, 1199.8},    {99.9, {}, 5.79, 3, 1500.0, 1199.8},
                    {35.0, 10.0, {}, 1, 570.0, 500.0},     {35.1, 10.0, {}, 1, 570.2, 1000.0},
                    {250.0, 373.0, {}, 1, 1500.0, 1000.0}, {250.0, 373.1, {}, 1, 1500.0, 1500.0},
                    {251.0, 373.0, {}, 1, 1502.0, 1502.0}};
  for (const auto& row : rows) {
    CAPTURE(row.volts);
    CAPTURE(row.iec);
    record::machine_section of;
    of.rated_voltage_V = row.volts;
    of.rated_power_W = row.watts;
    of.rated_current_A = row.amperes;
    of.phases = row.phases;
    CHECK(near_relative(verdict::rules::iec_withstand(of, record::winding_state::as_new, policy{}).volts, row.iec,
                        1e-12));
    CHECK(near_relative(verdict::rules::nema_withstand(of, record::winding_state::as_new, policy{}).volts, row.nema,
                        1e-12));
  }
  record::machine_section armature;
  armature.winding_kind = record::winding_kind::armature;
  armature.rated_power_W = 100.0;
  for (const auto& [volts, asked] : {std::pair{240.0, 1000.0}, {241.0, 1482.0}}) {
    armature.rated_voltage_V = volts;
    CHECK(verdict::rules::nema_withstand(armature, record::winding_state::as_new, policy{}).volts == asked);
  }
  record::machine_section low;
  low.rated_voltage_V = 99.9;
  CHECK(verdict::rules::iec_withstand(low, record::winding_state::overhauled, policy{}).volts == 500.0);
  policy strict;
  strict.withstand_by = verdict::withstand_standard::stricter;
  low.rated_power_W = 10.0;
  CHECK(near_relative(verdict::rules::deciding_withstand(low, record::winding_state::as_new, strict).volts, 1000.0,
                      1e-12));
  low.rated_voltage_V = 230.0;
  CHECK(verdict::rules::deciding_withstand(low, record::winding_state::as_new, strict).volts == 1500.0);
}

TEST_CASE("a capacitor lies within what is marked on it, or its kind's tolerance, its loss and volts below theirs") {
  const auto judged = [](double percent, record::capacitor_kind kind, std::optional<double> marked = {}) {
    record::capacitor_section of;
    of.kind = kind;
    of.marked_uF = 4.0;
    of.marked_tolerance_percent = marked;
    checks::capacitor_result read{{units::farads(4e-6 * (1.0 + percent / 100.0)), units::farads(1e-9)},
                                  {percent, 1e-9}};
    return verdict::rules::capacitor(of, read, policy{}).front();
  };
  struct {
    double low, high;
    record::capacitor_kind kind;
    std::optional<double> marked;
  } const rows[] = {{-10.0, 10.0, record::capacitor_kind::run, {}},
                    {-20.0, 30.0, record::capacitor_kind::start, {}},
                    {-5.0, 5.0, record::capacitor_kind::start, 5.0}};
  for (const auto& row : rows) {
    CAPTURE(row.high);
    CHECK(judged(row.low + 0.001, row.kind, row.marked).outcome == outcome::conforms);
    CHECK(judged(row.low - 0.001, row.kind, row.marked).outcome == outcome::fails);
    CHECK(judged(row.high - 0.001, row.kind, row.marked).outcome == outcome::conforms);
    CHECK(judged(row.high + 0.001, row.kind, row.marked).outcome == outcome::fails);
    CHECK(*judged(0.0, row.kind, row.marked).limit_low == row.low);
    CHECK(*judged(0.0, row.kind, row.marked).limit_high == row.high);
    CHECK(near_relative(told_number(judged(0.0, row.kind, row.marked), "microfarads").value, 4.0, 1e-12));
  }
  const auto in_circuit = [](std::optional<double> loss, std::optional<double> volts) {
    record::capacitor_section of;
    of.loss = loss;
    of.voltage_V = volts;
    of.marked_V = 400.0;
    return verdict::rules::capacitor(of, {}, policy{}).back();
  };
  CHECK(in_circuit(0.02, {}).outcome == outcome::conforms);
  CHECK(in_circuit(0.0201, {}).outcome == outcome::fails);
  CHECK(in_circuit({}, 439.9).outcome == outcome::conforms);
  CHECK(in_circuit({}, 440.1).outcome == outcome::fails);
  CHECK(near_relative(*in_circuit({}, 400.0).limit_high, 440.0, 1e-12));
}

TEST_CASE("a trend's slope is told in percent a year, a fall leaves its step open, the forecast says what it is") {
  checks::trend_result result;
  result.slope_per_year = measured{std::log(0.8), 0.1};
  result.steps = {{1, 0.5, {0.4, 0.6}}, {2, 1.6, {1.5, 1.7}}};
  verdict::rules::dated_line line;
  line.visits = 4;
  line.years = 3.5;
  line.steps = {{"2020-01-01", "2021-01-01", ""}, {"2021-01-01", "2022-01-01", "dried"}};
  line.crosses = "2031-04";
  const auto told = [&](checks::trend_forecast forecast) {
    result.forecast = forecast;
    return verdict::rules::trend("winding", result, line, {5.0, "here"}, policy{});
  };
  const auto all = told(checks::trend_forecast::one_point);
  REQUIRE(all.size() == 4);
  CHECK(near_relative(*all[0].value, -20.0, 1e-9));
  CHECK(near_relative(*all[0].low, 100.0 * (0.8 * std::exp(-0.1959964) - 1.0), 1e-6));
  CHECK(near_relative(*all[0].high, 100.0 * (0.8 * std::exp(0.1959964) - 1.0), 1e-6));
  CHECK(told_number(all[0], "visits").value == 4.0);
  CHECK(told_number(all[0], "years").value == 3.5);
  CHECK(told_number(all[0], "years").standard_uncertainty == 0.05);
  CHECK(told_number(all[0], "repeat").value == 20.0);
  CHECK(all[1].outcome == outcome::undecided);
  CHECK(told_text(all[1], "work") == "none");
  CHECK(all[2].outcome == outcome::not_tested);
  CHECK(told_text(all[2], "work_done") == "dried");
  CHECK_FALSE(all[3].limit_low.has_value());
  using enum checks::trend_forecast;
  result.crosses_in_years = 4.0;
  result.earliest_years = 2.0;
  result.latest_years = 9.0;
  for (const auto& [forecast, says, came_to] :
       {std::tuple{below_now, statement::insulation_trend_below_now, outcome::fails},
        {crosses, statement::insulation_trend_crosses, outcome::undecided},
        {not_within, statement::insulation_trend_not_within, outcome::conforms},
        {cannot_tell, statement::insulation_trend_cannot_tell, outcome::undecided}}) {
    const auto f = told(forecast).back();
    CHECK(f.says == says);
    CHECK(f.outcome == came_to);
    CHECK(*f.limit_low == 5.0);
    CHECK(told_number(f, "horizon").value == 10.0);
    CHECK(f.low.has_value() == (forecast == crosses || forecast == cannot_tell));
  }
  CHECK(*told(crosses).back().value == 4.0);
}

TEST_CASE("what was ticked off counts as its table has it, or as the shop requires it, and other entries are noted") {
  std::map<std::string, bool> ticked;
  policy shop;
  const auto judged = [&](const std::string& key, bool entered) {
    return verdict::rules::bench_checks({{key, entered}}, shop).front();
  };
  for (const auto& row : verdict::tables::bench_checks) {
    const bool good = row.good != 0.0;
    CHECK(judged(std::string(row.name), good).outcome == outcome::conforms);
    CHECK(judged(std::string(row.name), !good).outcome == outcome::fails);
    CHECK(judged(std::string(row.name), !good).says == statement::check_failed);
  }
  CHECK(judged("painted green", false).bearing == bearing::informs);
  CHECK(judged("painted green", false).outcome == outcome::not_tested);
  shop.required_checks = {"painted green"};
  CHECK(judged("painted green", false).outcome == outcome::fails);
  CHECK(judged("painted green", true).outcome == outcome::conforms);
  const auto missing = verdict::rules::bench_checks({}, shop);
  REQUIRE(missing.size() == 1);
  CHECK(missing.front().says == statement::check_required_missing);
  CHECK(verdict::rules::bench_checks({{"painted green", true}}, shop).size() == 1);
}

TEST_CASE("readings are named by their number, counted from one; those that stalled are counted") {
  measurement::suspect_reading suspect;
  suspect.index = 2;
  suspect.read = 0.54;
  suspect.would_fit = 0.45;
  auto all = verdict::rules::readings({{"high", suspect}}, {{"low", 3, 2, 6, 90.0, 80.0}}, {}, 4, {"a", "b"});
  REQUIRE(all.size() == 4);
  CHECK(told_number(all[0], "number").value == 3.0);
  CHECK(told_number(all[0], "would_fit").value == 0.45);
  CHECK(all[0].unit == "A");
  CHECK(told_number(all[1], "number").value == 4.0);
  CHECK(told_number(all[1], "count").value == 2.0);
  CHECK(told_number(all[1], "of").value == 6.0);
  CHECK(told_number(all[2], "count").value == 4.0);
  CHECK(told_text(all[3], "instruments") == "a, b");
  all = verdict::rules::readings({}, {}, {}, 0, {});
  REQUIRE(all.size() == 1);
  CHECK(all.front().outcome == outcome::conforms);
  const auto low = verdict::rules::meters({{"ammeter", "high", 0.05, 2.0, "A"}}, true, policy{});
  REQUIRE(low.size() == 2);
  CHECK(*low.front().value == 2.5);
  CHECK(*low.front().limit_low == 10.0);
}

TEST_CASE("brushes may wear to their shortest length, and bars lie within 10 % of their mean") {
  record::commutator_section of;
  of.brush_shortest_mm = 8.0;
  for (const auto& [mm, came_to] : {std::pair{8.0, outcome::conforms}, {7.99, outcome::fails}}) {
    of.brush_length_mm = mm;
    CHECK(verdict::rules::commutator(of, {}, policy{}).front().outcome == came_to);
  }
  of = {};
  of.bar_ohm = {0.0};
  CHECK(verdict::rules::commutator(of, {}, policy{}).empty());
  of.bar_ohm = {0.0, 0.0};
  CHECK(verdict::rules::commutator(of, {}, policy{}).front().says == statement::bars_without_resistance);
  of.bar_ohm = {1.0, 1.0, 1.0};
  for (const double sign : {-1.0, 1.0})
    for (const auto& [percent, came_to] : {std::pair{9.999, outcome::conforms}, {10.001, outcome::fails}}) {
      checks::section_balance_result bars{units::ohms(1.0), 1, {sign * percent, 1e-9}};
      const auto f = verdict::rules::commutator(of, bars, policy{}).front();
      CHECK(f.outcome == came_to);
      CHECK(told_number(f, "number").value == 2.0);
      CHECK(told_number(f, "of").value == 3.0);
      CHECK(*f.limit_low == -10.0);
      CHECK(*f.limit_high == 10.0);
    }
}

TEST_CASE("losses at no load are told where they are parted, and else why they are not") {
  record::machine_section of;
  checks::no_load_result result;
  result.status = checks::no_load_status::separated;
  result.used = 4;
  result.from = units::volts(60.0);
  result.to = units::volts(180.0);
  result.friction_and_windage = {units::watts(7.0), units::watts(0.5)};
  auto all = verdict::rules::no_load("high", of, result, policy{});
  REQUIRE(all.size() == 1);
  CHECK(*all[0].value == 7.0);
  CHECK(told_number(all[0], "used").value == 4.0);
  CHECK(told_number(all[0], "to").value == 180.0);
  result.core = measurement::uncertain<units::power>{units::watts(9.0), units::watts(1.0)};
  result.core_at = units::volts(228.0);
  const auto holds = [&] {
    return std::string(told_text(verdict::rules::no_load("high", of, result, policy{}).at(1), "core_holds"));
  };
  CHECK(holds() == "rotor");
  of.rotor_resistance_ohm = 20.0;
  CHECK(holds() == "core");
  of.rotor_resistance_ohm.reset();
  of.phases = 3;
  CHECK(holds() == "core");
  of.running_circuit = record::running_circuit::shaded_pole;
  CHECK(holds() == "second_winding");
  of.running_circuit = record::running_circuit::permanent_capacitor;
  CHECK(holds() == "second_winding");
  all = verdict::rules::no_load("high", of, {}, policy{});
  CHECK(told_text(all.at(0), "why_not_separated") == "no_resistance");
  CHECK(*all.at(0).value == 0.0);
  CHECK(all.at(0).quantity == "straight_readings");
  result.status = checks::no_load_status::below_nothing;
  all = verdict::rules::no_load("high", of, result, policy{});
  CHECK(told_text(all.at(0), "why_not_separated") == "below_nothing");
  CHECK(*all.at(0).value == 7.0);
  CHECK(told_number(all.at(0), "highest").value == 80.0);
}

}  // namespace winding_rules
