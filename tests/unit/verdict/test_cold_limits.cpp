// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <rewound/verdict/rules/cord.hpp>
#include <rewound/verdict/rules/resistance.hpp>
#include <rewound/verdict/rules/resistance_sections.hpp>
#include <rewound/verdict/rules/touch_safety.hpp>
#include <rewound/verdict/rules/withstand.hpp>
#include <told.hpp>

// Each limit with one digit of the last place on either side, read without uncertainty; the limits themselves stand in
// reference/oracles/standards.
using namespace rewound::verdict;
namespace checks = rewound::checks;
namespace machine = rewound::machine;
namespace units = rewound::units;
namespace record = rewound::record;
using rewound::record::leakage_kind;
using enum rewound::record::appliance_class;

namespace {

record::visit_record touched(std::optional<record::appliance_class> appliance) {
  record::visit_record out;
  out.machine.appliance_class = appliance;
  out.machine.rated_voltage_V = 230.0;
  return out;
}

record::visit_record leaking(std::optional<record::appliance_class> appliance, double mA) {
  auto out = touched(appliance);
  out.leakage.emplace_back();
  out.leakage.back().current_mA = mA;
  return out;
}

const checks::leakage_result as_read{{1.0}, {}, {0.0}};

outcome leak(std::optional<record::appliance_class> appliance, std::optional<bool> portable, leakage_kind kind,
             double mA) {
  auto in = leaking(appliance, mA);
  in.machine.portable = portable;
  in.leakage.back().kind = kind;
  return rules::leakage(in, as_read, {}, {}).front().outcome;
}

finding earthed_by(record::visit_record in, double ohm, std::optional<double> cord_m = {}) {
  in.earth = record::earth_section{ohm, cord_m};
  return rules::earth(in, {}, 0.0, {}).front();
}

outcome earthed_by(double ohm, std::optional<double> cord_m) {
  return earthed_by(touched(class_I), ohm, cord_m).outcome;
}

record::visit_record fan(double volts = 0.0, double seconds = 60.0, record::test_kind kind = record::test_kind::ac) {
  record::visit_record out;
  out.machine.rated_voltage_V = 230.0;
  out.machine.rated_frequency_Hz = 50.0;
  out.machine.rated_power_W = 75.0;
  out.machine.winding_kind = record::winding_kind::random_wound;
  out.withstand.emplace_back();
  out.withstand.front().circuit = "winding to frame";
  out.withstand.front().voltage_V = volts;
  out.withstand.front().duration_s = seconds;
  out.withstand.front().kind = kind;
  return out;
}

outcome tested(double volts, double seconds, record::test_kind kind = record::test_kind::ac) {
  return rules::withstand(fan(volts, seconds, kind), {}, {}).front().outcome;
}

outcome minute(double volts, double hertz, const policy& rules) {
  auto in = fan(volts);
  in.machine.rated_frequency_Hz = hertz;
  return rules::withstand(in, {}, rules).front().outcome;
}

finding corded(std::optional<double> mm2, std::optional<int> awg, std::optional<double> length, double amperes) {
  const auto result = checks::cord({mm2, awg, {}, units::amperes(amperes), units::volts(230.0)});
  return rules::cord({mm2, awg, length, {}}, {}, result, {{amperes, 0.0}}, {}).front();
}

}  // namespace

TEST_CASE("leakage: one digit on either side of each limit") {
  using enum leakage_kind;
  CHECK(leak(class_I, true, appliance, 0.75) == outcome::conforms);
  CHECK(leak(class_I, true, appliance, 0.751) == outcome::fails);
  CHECK(leak(class_I, false, appliance, 3.5) == outcome::conforms);
  CHECK(leak(class_I, false, appliance, 3.501) == outcome::fails);
  CHECK(leak(class_I, {}, appliance, 0.751) == outcome::undecided);
  for (const auto appliance_class : {class_0, class_0I, class_III}) {
    CHECK(leak(appliance_class, {}, appliance, 0.5) == outcome::conforms);
    CHECK(leak(appliance_class, {}, appliance, 0.501) == outcome::fails);
  }
  CHECK(leak(class_II, {}, appliance, 0.25) == outcome::conforms);
  CHECK(leak(class_II, {}, appliance, 0.251) == outcome::fails);
  CHECK(leak(class_I, {}, protective_conductor, 3.5) == outcome::conforms);
  CHECK(leak(class_I, {}, protective_conductor, 3.501) == outcome::fails);
  CHECK(leak(class_I, {}, touch, 0.5) == outcome::conforms);
  CHECK(leak(class_I, {}, touch, 0.501) == outcome::fails);
}

TEST_CASE("a touch current between the product's and the after-repair limit stays open") {
  CHECK(leak(class_II, {}, leakage_kind::touch, 0.25) == outcome::conforms);
  CHECK(leak(class_II, {}, leakage_kind::touch, 0.4) == outcome::undecided);
  CHECK(leak(class_II, {}, leakage_kind::touch, 0.501) == outcome::fails);
}

TEST_CASE("a reading called the earth conductor's meets no softer limit where there is no earth conductor") {
  CHECK(leak(class_0, {}, leakage_kind::protective_conductor, 0.501) == outcome::fails);
  CHECK(leak(class_II, {}, leakage_kind::protective_conductor, 0.251) == outcome::fails);
  CHECK(leak({}, {}, leakage_kind::protective_conductor, 0.501) == outcome::fails);
}

TEST_CASE("the worst leakage decides, after it was brought up to the full voltage") {
  auto in = leaking(class_0, 0.1);
  in.leakage.push_back(in.leakage.front());
  in.leakage.back().current_mA = 0.48;
  in.leakage.back().voltage_V = 230.0;
  const auto found = rules::leakage(in, {{1.0, 1.06}, {}, {0.0, 0.0}}, {}, {});
  CHECK(found[0].outcome == outcome::conforms);
  CHECK(found[1].outcome == outcome::fails);
  CHECK(found[1].says == statement::leakage_brought_up);
}

TEST_CASE("missing ways of reading leakage are told, and stand in the way only where the policy asks for all") {
  auto in = leaking(class_0, 0.1);
  in.leakage.back().reversed = false;
  in.leakage.back().switched_on = true;
  const checks::leakage_result open_missing{{1.0}, {{true, false}}, {0.0}};
  CHECK(rules::leakage(in, {{1.0}, {{true, true}}, {0.0}}, {}, {}).at(1).outcome ==
        outcome::undecided);  // switch on: needed without an earth
  auto told = rules::leakage(in, open_missing, {}, {}).at(1);
  CHECK(told.says == statement::leakage_combinations_missing);
  CHECK(told.bearing == bearing::informs);
  policy strict;
  strict.leakage_all_combinations = true;
  told = rules::leakage(in, open_missing, {}, strict).at(1);
  CHECK(told.bearing == bearing::decides);
  CHECK(told.outcome == outcome::undecided);
}

TEST_CASE("earth: one digit on either side, with the length of the cord") {
  CHECK(earthed_by(0.3, {}) == outcome::conforms);
  CHECK(earthed_by(0.301, {}) == outcome::fails);
  CHECK(earthed_by(0.301, 12.4) == outcome::fails);
  CHECK(earthed_by(0.4, 12.5) == outcome::conforms);
  CHECK(earthed_by(0.401, 12.5) == outcome::fails);
  CHECK(earthed_by(1.0, 900.0) == outcome::conforms);
  CHECK(earthed_by(1.001, 900.0) == outcome::fails);
}

TEST_CASE("an earth connection on a class that has none is a question, not a pass") {
  for (const auto appliance_class : {class_0, class_II}) {
    CHECK(earthed_by(touched(appliance_class), 0.05).outcome == outcome::undecided);
    CHECK(earthed_by(touched(appliance_class), 0.5).outcome == outcome::fails);
  }
  auto unearthed = touched({});
  unearthed.machine.frame_earthed = false;
  CHECK(earthed_by(unearthed, 0.05).says == statement::earth_not_expected);
  CHECK(earthed_by(touched(class_0I), 0.05).outcome == outcome::conforms);
}

TEST_CASE("withstand: one volt and one tenth of a second on either side of what is asked") {
  CHECK(tested(1500.0, 60.0) == outcome::conforms);
  CHECK(tested(1499.0, 60.0) == outcome::undecided);
  CHECK(tested(1500.0, 59.9) == outcome::undecided);
  CHECK(tested(1800.0, 1.0) == outcome::conforms);
  CHECK(tested(1799.0, 1.0) == outcome::undecided);
  CHECK(tested(5000.0, 0.9) == outcome::undecided);
  CHECK(tested(2550.0, 60.0, record::test_kind::dc) == outcome::conforms);
  CHECK(tested(2549.0, 60.0, record::test_kind::dc) == outcome::undecided);
}

TEST_CASE("IEC decides at 50 Hz and NEMA at 60 Hz unless the policy says whose voltage it is") {
  CHECK(minute(1000.0, 60.0, {}) == outcome::conforms);
  CHECK(minute(1000.0, 50.0, {}) == outcome::undecided);
  policy chosen;
  chosen.withstand_by = withstand_standard::nema;
  CHECK(minute(1000.0, 50.0, chosen) == outcome::conforms);
  for (const auto strict : {withstand_standard::stricter, withstand_standard::iec}) {
    chosen.withstand_by = strict;
    CHECK(minute(1000.0, 60.0, chosen) == outcome::undecided);
    CHECK(minute(1500.0, 60.0, chosen) == outcome::conforms);
  }
}

TEST_CASE("an unknown rating is taken as the larger one") {
  policy nema;
  nema.withstand_by = withstand_standard::nema;
  for (const auto& [volts, found] : {std::pair{1459.0, outcome::undecided}, {1460.0, outcome::conforms}}) {
    auto unknown = fan(volts);
    unknown.machine.rated_power_W.reset();
    CHECK(rules::withstand(unknown, {}, nema).front().outcome == found);
  }
}

TEST_CASE("a breakdown fails however high the voltage, and no test tells what would be asked") {
  auto broken = fan(9000.0);
  broken.withstand.front().broke_down = true;
  CHECK(rules::withstand(broken, {}, {}).front().outcome == outcome::fails);
  auto untested = fan();
  untested.withstand.clear();
  const auto none = rules::withstand(untested, {}, {});
  REQUIRE(none.size() == 1);
  CHECK(none.front().says == statement::withstand_not_tested);
  CHECK(none.front().outcome == outcome::not_tested);
}

TEST_CASE("a withstand current is told beside that of the same circuit and kind of voltage at the earlier visit") {
  auto now = fan(1500.0), then = fan(1000.0);
  now.withstand.front().leakage_mA = 3.0;
  then.withstand.front().leakage_mA = 1.0;
  const auto told = rules::withstand(now, then.withstand, {}).at(1);
  CHECK(told.numbers.at(0).value == 2.0);  // mA per kV
  CHECK(told.numbers.at(1).value == 1.0);
  CHECK(rewound::testing::told_text(told, "since") == "yes");
  CHECK(rewound::testing::told_text(rules::withstand(now, {}, {}).at(1), "since") == "no");
  then.withstand.front().kind = record::test_kind::dc;
  CHECK(rules::withstand(now, then.withstand, {}).at(1).numbers.size() == 1);
}

TEST_CASE("cord: one digit on either side of the current and of the cross-section") {
  CHECK(corded(0.5, {}, 2.0, 3.0).outcome == outcome::conforms);
  CHECK(corded(0.5, {}, 2.01, 3.0).outcome == outcome::fails);
  CHECK(corded(0.5, {}, {}, 3.0).outcome == outcome::undecided);
  CHECK(corded(0.75, {}, {}, 3.0).outcome == outcome::conforms);
  CHECK(corded(0.74, {}, {}, 3.0).outcome == outcome::undecided);
  CHECK(corded(0.49, {}, {}, 3.0).outcome == outcome::fails);
  CHECK(corded(0.5, {}, 2.0, 3.01).outcome == outcome::fails);
  CHECK(corded(0.75, {}, {}, 6.0).outcome == outcome::conforms);
  CHECK(corded(0.75, {}, {}, 6.01).outcome == outcome::fails);
  CHECK(corded(0.99, {}, {}, 6.01).outcome == outcome::fails);
  CHECK(corded(1.0, {}, {}, 6.01).outcome == outcome::conforms);
  CHECK(corded(4.0, {}, {}, 32.01).outcome == outcome::undecided);
  CHECK(corded({}, 18, {}, 10.0).outcome == outcome::conforms);
  CHECK(corded({}, 18, {}, 10.01).outcome == outcome::fails);
  CHECK(corded({}, 19, {}, 0.4).outcome == outcome::fails);
  CHECK(corded({}, 10, {}, 25.0).outcome == outcome::conforms);
  CHECK(rules::cord({}, {}, {0.75, {}}, {}, {}).front().bearing == bearing::informs);
}

TEST_CASE("a cord has an earth conductor where the frame is earthed: three, or four with three phases") {
  const auto conductors = [](int count, record::machine_section of) {
    record::cord_section cord;
    cord.conductors = count;
    for (const auto& f : rules::cord(cord, of, {}, {}, {}))
      if (f.says == statement::cord_earth_conductor) return f.outcome;
    return outcome::not_tested;
  };
  record::machine_section of;
  of.appliance_class = class_I;
  CHECK(conductors(2, of) == outcome::fails);
  CHECK(conductors(3, of) == outcome::conforms);
  of.phases = 3;
  CHECK(conductors(3, of) == outcome::fails);
  CHECK(conductors(4, of) == outcome::conforms);
  of.frame_earthed = false;
  CHECK(conductors(2, of) == outcome::not_tested);
  of = {};
  of.appliance_class = class_II;
  CHECK(conductors(2, of) == outcome::not_tested);
  of.frame_earthed = true;
  CHECK(conductors(2, of) == outcome::fails);
}

TEST_CASE("what a cord takes of the voltage is told to hundredths of a percent") {
  const auto result = checks::cord({0.75, {}, units::metres(20.0), units::amperes(3.0), units::volts(230.0)});
  const auto f = rules::cord({0.75, {}, 20.0, {}}, {}, result, {{3.0, 0.0}}, {}).front();
  CHECK(rewound::testing::told_number(f, "drop").value == *result.drop_percent);
  CHECK(rewound::testing::told_number(f, "drop").standard_uncertainty == 0.02);
}

TEST_CASE("balance: one digit on either side of two percent, one for form-wound coils") {
  const auto balance = [](double percent, record::winding_kind kind) {
    return rules::resistance_balance("poles", "b", {units::ohms(10.0), 1, {percent, 0.0}}, kind, {}).outcome;
  };
  const auto held = rules::resistance_balance("poles", "b", {units::ohms(10.0), 1, {0.0, 0.0}}, {}, {});
  CHECK(*held.limit_low == -2.0);
  CHECK(*held.limit_high == 2.0);
  using enum record::winding_kind;
  CHECK(balance(2.0, random_wound) == outcome::conforms);
  CHECK(balance(-2.01, random_wound) == outcome::fails);
  CHECK(balance(1.0, form_wound) == outcome::conforms);
  CHECK(balance(1.01, form_wound) == outcome::fails);
}

TEST_CASE("the order of speed sections fails only where the control implies one") {
  const auto order = [](double rise, double u, record::speed_control control) {
    return rules::resistance_order({"high", "low"}, {{{rise, u}}}, control, {});
  };
  using enum record::speed_control;
  CHECK(order(5.0, 0.5, tapped_winding).outcome == outcome::conforms);
  CHECK(order(-5.0, 0.5, tapped_winding).outcome == outcome::fails);
  CHECK(order(0.5, 0.5, series_reactor).outcome == outcome::undecided);
  CHECK(order(-5.0, 0.5, pole_change).outcome == outcome::not_tested);
  CHECK(order(-5.0, 0.5, pole_change).bearing == bearing::informs);
}

TEST_CASE("the shop's own row lies over ours, only where it says so, and its source goes with it") {
  policy shop;
  shop.own_rows.push_back(
      {"leakage_maximum", "class_0", {{"strict_mA", 0.3}, {"lenient_mA", 0.3}}, "the shop's own limit 7"});
  const auto held = rules::leakage(leaking(class_0, 0.4), as_read, {}, shop).front();
  CHECK(held.outcome == outcome::fails);
  CHECK(held.source == "the shop's own limit 7");
  CHECK(rules::leakage(leaking(class_0I, 0.4), as_read, {}, shop).front().outcome == outcome::conforms);
  CHECK(shop.own_numbers().size() == 2);
  CHECK_THROWS_AS(shop.row(tables::heat_rise, "90"), rewound::base::error);
}

TEST_CASE("every table that may be laid over is one of reference/limits") {
  for (const auto name : layable_tables) {
    bool known = false;
    tables::for_each_table([&](const auto& table) {
      using row = typename std::decay_t<decltype(table)>::value_type;
      known = known || tables::table_of<row>::name == name;
    });
    CHECK_MESSAGE(known, name);
  }
}
