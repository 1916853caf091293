// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <optional>
#include <string>
#include <vector>

#include <near.hpp>
#include <rewound/verdict/rules/touch_safety.hpp>
#include <told.hpp>

using namespace rewound::verdict;
namespace checks = rewound::checks;
namespace record = rewound::record;
namespace units = rewound::units;
using record::leakage_kind;
using rewound::testing::near_relative;
using rules::earthing;
using enum rewound::record::appliance_class;

// The limits of what a hand may meet, each just below and just above, by class, market and kind of reading.
namespace {

record::visit_record machine_of(std::optional<record::appliance_class> of, double hertz = 50.0) {
  record::visit_record out;
  out.machine.appliance_class = of;
  out.machine.rated_voltage_V = 230.0;
  out.machine.rated_frequency_Hz = hertz;
  return out;
}

finding leaking(record::visit_record in, double mA, leakage_kind kind = leakage_kind::appliance, double factor = 1.0,
                double u_mA = 0.0, std::optional<double> volts = {}, const policy& by = {}) {
  in.leakage.emplace_back();
  in.leakage.front().current_mA = mA;
  in.leakage.front().kind = kind;
  in.leakage.front().voltage_V = volts;
  rewound::measurement::instrument<units::current> meter{};
  meter.resolution = units::milliamperes(u_mA);
  meter.digits = std::sqrt(3.0);  // a standard uncertainty of one digit
  return rules::leakage(in, {{factor}, {}, {3.0}}, meter, by).front();
}

/// Conforms up to `strict` and fails from `lenient` on.
void holds(const record::visit_record& in, leakage_kind kind, double strict, double lenient, const policy& by = {}) {
  CHECK(leaking(in, strict * 0.999, kind, 1.0, 0.0, {}, by).outcome == outcome::conforms);
  CHECK(leaking(in, lenient * 1.001, kind, 1.0, 0.0, {}, by).outcome == outcome::fails);
  const auto above = leaking(in, strict * 1.001, kind, 1.0, 0.0, {}, by).outcome;
  CHECK(above == (lenient > strict ? outcome::undecided : outcome::fails));
  if (lenient > strict) CHECK(leaking(in, lenient * 0.999, kind, 1.0, 0.0, {}, by).outcome == outcome::undecided);
}

}  // namespace

TEST_CASE("leakage is held to its class and to where the machine stands, and to the strictest without a class") {
  // IEC 60335-1 13.2, as reference/limits/leakage_maximum.table has it.
  holds(machine_of(class_0), leakage_kind::appliance, 0.5, 0.5);
  holds(machine_of(class_0I), leakage_kind::appliance, 0.5, 0.5);
  holds(machine_of(class_II), leakage_kind::appliance, 0.25, 0.25);
  holds(machine_of(class_III), leakage_kind::appliance, 0.5, 0.5);
  holds(machine_of({}), leakage_kind::appliance, 0.25, 0.5);
  auto in = machine_of(class_I);
  holds(in, leakage_kind::appliance, 0.75, 3.5);
  in.machine.portable = true;
  holds(in, leakage_kind::appliance, 0.75, 0.75);
  in.machine.portable = false;
  holds(in, leakage_kind::appliance, 3.5, 3.5);
}

TEST_CASE("in the other market leakage is held by wires: two, three, portable or not; class III and touch stay") {
  auto in = machine_of(class_II, 60.0);
  holds(in, leakage_kind::appliance, 0.5, 0.5);
  in = machine_of(class_I, 60.0);
  holds(in, leakage_kind::appliance, 0.5, 0.75);
  in.machine.portable = true;
  holds(in, leakage_kind::appliance, 0.5, 0.5);
  in.machine.portable = false;
  holds(in, leakage_kind::appliance, 0.75, 0.75);
  in = machine_of({}, 60.0);
  in.machine.portable = false;  // whether there is an earth conductor is not known
  holds(in, leakage_kind::appliance, 0.5, 0.75);
  in = machine_of(class_III, 60.0);
  in.machine.rated_voltage_V = 24.0;
  CHECK(*leaking(in, 0.1).limit_high == 0.5);
  // Touch: the class's own limit there too, and 0.5 mA at most.
  CHECK(*leaking(machine_of(class_II, 60.0), 0.1, leakage_kind::touch).limit_high == 0.25);
}

TEST_CASE("what a hand meets is held to the stricter of class and touch, a conductor's current to its own limit") {
  holds(machine_of(class_II), leakage_kind::touch, 0.25, 0.5);
  holds(machine_of(class_I), leakage_kind::touch, 0.5, 0.5);
  holds(machine_of(class_0), leakage_kind::touch, 0.5, 0.5);
  holds(machine_of(class_I), leakage_kind::protective_conductor, 3.5, 3.5);
  // Without an earth conductor there is no current of one.
  holds(machine_of(class_II), leakage_kind::protective_conductor, 0.25, 0.25);
}

TEST_CASE("the shop's own leakage limit stands for all of them") {
  policy by;
  by.replaced.leakage_maximum_mA = limit{0.4, "our own"};
  for (const auto kind : {leakage_kind::appliance, leakage_kind::touch, leakage_kind::protective_conductor})
    holds(machine_of(class_I), kind, 0.4, 0.4, by);
}

TEST_CASE("a reading below the full voltage is brought up, its uncertainty with it") {
  const auto f = leaking(machine_of(class_II), 0.2, leakage_kind::appliance, 1.3, 0.001, 187.0);
  CHECK(f.says == statement::leakage_brought_up);
  CHECK(near_relative(*f.value, 0.26, 1e-12));
  CHECK(near_relative(*f.high - *f.value, 1.959964 * 1.3 * 0.001, 1e-6));
  CHECK(f.outcome == outcome::fails);
  CHECK(leaking(machine_of(class_II), 0.2, leakage_kind::appliance, 1.0, 0.001).says != statement::leakage_brought_up);
}

TEST_CASE("leakage read below nine tenths of the rated voltage shows nothing good, though it may fail") {
  const auto at = [](double volts, double mA) {
    return leaking(machine_of(class_II), mA, leakage_kind::appliance, 1.0, 0.0, volts);
  };
  CHECK(at(207.01, 0.1).outcome == outcome::conforms);
  CHECK(at(206.99, 0.1).outcome == outcome::undecided);
  CHECK(at(206.99, 0.1).says == statement::leakage_low_voltage);
  CHECK(at(100.0, 0.3).outcome == outcome::fails);
}

TEST_CASE("less current than 20 pF let through means that nothing was connected") {
  // 2 pi f U C = 2 pi 50 230 20e-12 A = 1.445 uA
  const double least_mA = 1e3 * 2.0 * std::numbers::pi * 50.0 * 230.0 * 20e-12;
  const auto read = [](double mA, double u_mA = 0.0) {
    return leaking(machine_of(class_II), mA, leakage_kind::appliance, 1.0, u_mA);
  };
  CHECK(read(least_mA * 1.001).outcome == outcome::conforms);
  CHECK(read(least_mA * 0.999).outcome == outcome::undecided);
  CHECK(read(least_mA * 0.999).says == statement::leakage_nothing_flows);
  CHECK(near_relative(*read(0.0).limit_low, least_mA, 1e-9));
  CHECK(read(least_mA * 0.9, 0.06 * least_mA).outcome == outcome::conforms);  // its uncertainty reaches there
  CHECK(read(least_mA * 0.9, 0.04 * least_mA).outcome == outcome::undecided);
}

TEST_CASE("leakage that is needed counts only with the switch on in both polarities") {
  const auto found = [](std::optional<record::appliance_class> of, std::vector<checks::leakage_combination> missing) {
    auto in = machine_of(of);
    in.leakage.emplace_back().current_mA = 0.1;
    for (const auto& f : rules::leakage(in, {{1.0}, missing, {3.0}}, {}, {}))
      if (f.quantity == "leakage_combinations") return f;
    return finding{};
  };
  CHECK(found(class_II, {{true, true}}).says == statement::leakage_ways_needed);
  CHECK(found(class_II, {{true, true}}).outcome == outcome::undecided);
  CHECK(*found(class_II, {{true, true}, {false, false}, {false, true}}).value == 2.0);
  CHECK(found({}, {{true, true}}).says == statement::leakage_ways_needed);
  CHECK(found(class_II, {{true, false}}).bearing == bearing::informs);
  CHECK(found(class_I, {{true, true}}).bearing == bearing::informs);
  CHECK(found(class_II, {}).quantity.empty());
}

TEST_CASE("a frame without earth is told to its user, but for class II, whose insulation is doubled") {
  const auto told = [](std::optional<record::appliance_class> of, std::optional<bool> earthed = {}) {
    auto in = machine_of(of);
    in.machine.frame_earthed = earthed;
    for (const auto& f : rules::leakage(in, {}, {}, {}))
      if (f.says == statement::frame_without_earth) return true;
    return false;
  };
  CHECK(told(class_0));
  CHECK(told(class_0I));
  CHECK(told({}, false));
  CHECK_FALSE(told(class_II));
  CHECK_FALSE(told(class_I));
  CHECK_FALSE(told({}));
}

TEST_CASE("leakage that was not read is due where the frame is not earthed, and open where that is not known") {
  const auto found = [](std::optional<record::appliance_class> of) {
    auto in = machine_of(of);
    if (of == class_III) in.machine.rated_voltage_V = 24.0;
    return rules::leakage(in, {}, {}, {}).front();
  };
  CHECK(found(class_II).says == statement::leakage_not_measured);
  CHECK(found(class_II).bearing == bearing::decides);
  CHECK(*found(class_II).limit_high == 0.25);
  // A body of 2000 ohm: 0.25 mA are 0.5 V across it.
  for (const auto& [key, value, u] : found(class_II).numbers)
    CHECK(near_relative(value, key == "resistor" ? 2000.0 : key == "kilohm" ? 2.0 : 0.5, 1e-12));
  CHECK(found(class_I).says == statement::leakage_not_needed);
  CHECK(found(class_I).bearing == bearing::does_not_apply);
  CHECK(found(class_III).says == statement::leakage_not_due);
  CHECK(found({}).says == statement::earthing_unknown);
}

TEST_CASE("class III lives from 50 V at most, and a frame is earthed as its class has it or not") {
  const auto of = [](std::optional<record::appliance_class> what, std::optional<bool> earthed, double volts = 230.0) {
    auto in = machine_of(what);
    in.machine.frame_earthed = earthed;
    in.machine.rated_voltage_V = volts;
    return rules::earthing_of(in.machine);
  };
  CHECK(of(class_III, {}, 50.0) == earthing::low_voltage);
  CHECK(of(class_III, {}, 50.1) == earthing::contradiction);
  for (const auto what : {class_0, class_II}) CHECK(of(what, true) == earthing::contradiction);
  CHECK(of(class_0I, true) == earthing::not_earthed);  // through its terminal
  CHECK(of(class_I, true) == earthing::earthed);
}

TEST_CASE("the earth's limit is 0.3 ohm up to 5 m of cord, 0.1 more for each whole 7.5 m, and 1 ohm at most") {
  const auto limit_at = [](std::optional<double> metres) {
    auto in = machine_of(class_I);
    in.earth.emplace().continuity_ohm = 0.05;
    in.earth->cord_length_m = metres;
    return *rules::earth(in, {}, 0.0, {}).front().limit_high;
  };
  CHECK(near_relative(limit_at({}), 0.3, 1e-12));
  CHECK(near_relative(limit_at(5.0), 0.3, 1e-12));
  CHECK(near_relative(limit_at(12.49), 0.3, 1e-12));
  CHECK(near_relative(limit_at(12.5), 0.4, 1e-12));
  CHECK(near_relative(limit_at(20.0), 0.5, 1e-12));
  CHECK(near_relative(limit_at(57.5), 1.0, 1e-12));
  CHECK(near_relative(limit_at(200.0), 1.0, 1e-12));
  auto in = machine_of(class_I);
  in.earth.emplace();
  policy by;
  by.replaced.earth_maximum_ohm = limit{0.2, "our own"};
  in.earth->continuity_ohm = 0.199;
  CHECK(rules::earth(in, {}, 1e-6, by).front().outcome == outcome::conforms);
  in.earth->continuity_ohm = 0.201;
  CHECK(rules::earth(in, {}, 1e-6, by).front().outcome == outcome::fails);
}

TEST_CASE("two entries of a cord's length may differ by a tenth of the longer; else the shorter counts") {
  const auto found = [](double beside, double of_cord) {
    auto in = machine_of(class_I);
    in.earth.emplace().continuity_ohm = 0.05;
    in.earth->cord_length_m = beside;
    in.cord.emplace().length_m = of_cord;
    return rules::earth(in, {}, 0.0, {});
  };
  CHECK(found(20.0, 18.01).size() == 1);
  CHECK(found(18.01, 20.0).size() == 1);
  REQUIRE(found(20.0, 17.99).size() == 2);
  CHECK(found(20.0, 17.99).back().says == statement::earth_cord_contradiction);
  CHECK(found(20.0, 17.99).back().outcome == outcome::undecided);
  CHECK(near_relative(*found(21.0, 12.4).front().limit_high, 0.3, 1e-12));
  CHECK(near_relative(*found(12.4, 21.0).front().limit_high, 0.3, 1e-12));
}

TEST_CASE("what is left without the cord's core has a limit of 0.1 ohm, which decides in one market alone") {
  const auto left = [](double ohm, double hertz) {
    auto in = machine_of(class_I, hertz);
    in.earth.emplace().continuity_ohm = 0.2;
    return rules::earth(in, {units::ohms(0.05), units::ohms(ohm)}, 1e-6, {}).at(1);
  };
  CHECK(left(0.0999, 50.0).outcome == outcome::conforms);
  CHECK(left(0.1001, 50.0).outcome == outcome::undecided);
  CHECK(left(0.1001, 50.0).bearing == bearing::informs);
  CHECK(left(0.1001, 60.0).bearing == bearing::decides);
}

TEST_CASE("an earth that was read where there is none is not expected, and one not read is due by class and terminal") {
  const auto found = [](std::optional<record::appliance_class> of, std::optional<bool> earthed,
                        std::optional<double> ohm) {
    auto in = machine_of(of);
    in.machine.frame_earthed = earthed;
    if (of == class_III) in.machine.rated_voltage_V = 24.0;
    if (ohm) in.earth.emplace().continuity_ohm = *ohm;
    return rules::earth(in, {}, 1e-6, {}).front();
  };
  for (const auto of : {class_0, class_II, class_III}) {
    CHECK(found(of, {}, 0.1).says == statement::earth_not_expected);
    CHECK(found(of, {}, 0.1).outcome == outcome::undecided);
    CHECK(found(of, {}, 0.4).outcome == outcome::fails);
    CHECK(found(of, {}, {}).says == statement::earth_not_due);
    CHECK(found(of, {}, {}).bearing == bearing::does_not_apply);
  }
  CHECK(found({}, false, 0.1).says == statement::earth_not_expected);
  CHECK(found(class_0I, {}, 0.1).says == statement::earth_limit);
  CHECK(found(class_0I, {}, {}).says == statement::earth_not_measured);
  CHECK(found(class_0I, false, {}).says == statement::earth_not_due);
  CHECK(found(class_I, {}, {}).says == statement::earth_not_measured);
  CHECK(found({}, {}, {}).says == statement::earthing_unknown);
  CHECK(found(class_II, true, 0.1).outcome == outcome::fails);
}

TEST_CASE("what is told beside leakage and earth has the digits that it is known to") {
  using rewound::testing::told_number;
  using rewound::testing::told_text;
  auto f = leaking(machine_of(class_I), 0.6, leakage_kind::appliance, 1.3, 0.001, 100.0);
  CHECK(told_number(f, "lenient").value == 3.5);
  CHECK(told_number(f, "lenient").standard_uncertainty == 0.01);
  CHECK(told_number(f, "nanofarad").value == 3.0);
  CHECK(near_relative(told_number(f, "nanofarad").standard_uncertainty, 0.15, 1e-12));
  CHECK(near_relative(told_number(f, "full").value, 1.06 * 230.0, 1e-12));
  CHECK(told_number(f, "full").standard_uncertainty == 0.1);
  CHECK(told_text(f, "capacitance") == "yes");
  CHECK(told_text(f, "settle") == "class");
  f = leaking(machine_of(class_II), 0.1, leakage_kind::appliance, 1.0, 0.001, 100.0);
  CHECK(f.says == statement::leakage_low_voltage);
  CHECK(told_text(f, "settle") == "no");
  CHECK(told_number(f, "full").standard_uncertainty == 0.1);
  CHECK(near_relative(told_number(f, "least").value, 207.0, 1e-12));
  auto in = machine_of(class_II);
  in.leakage.emplace_back().current_mA = 0.1;
  CHECK(told_text(rules::leakage(in, {{1.0}, {}, {0.0}}, {}, {}).front(), "capacitance") == "no");
  in = machine_of(class_I);
  in.leakage.emplace_back().current_mA = 0.1;
  const auto missing = rules::leakage(in, {{1.0}, {{false, false}}, {0.0}}, {}, {});
  CHECK(told_number(missing.at(1), "full").standard_uncertainty == 0.1);
  in.earth = record::earth_section{0.08, 2.0};
  const auto split = rules::earth(in, {units::ohms(0.05), units::ohms(0.03)}, 0.0, {});
  CHECK(told_number(split.at(1), "core").standard_uncertainty == 0.001);
}

TEST_CASE("how leakage would be measured is told where it is due") {
  using rewound::testing::told_text;
  CHECK(told_text(rules::leakage(machine_of(class_II), {}, {}, {}).front(), "leakage_by") == "either");
  CHECK(told_text(rules::leakage(machine_of(class_I), {}, {}, {}).front(), "leakage_by") == "(none)");
}
