// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <near.hpp>
#include <rewound/verdict/rules/insulation.hpp>
#include <told.hpp>

namespace checks = rewound::checks;
namespace units = rewound::units;
namespace record = rewound::record;
using namespace rewound::verdict;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;

// Each limit one digit either side, with a tester and a thermometer without error; then with them.
namespace {

struct bench {
  double winding_C = 40.0;
  double tester_percent = 0.0;
  double temperature_u_K = 0.0;
  double divisor = 1.0;
};

struct read_circuit {
  record::visit_record in;
  record::insulation_section entry;
  rules::circuit_insulation found;

  std::vector<finding> judged(const policy& by = {}) const { return rules::insulation({in, entry, found}, by); }
};

read_circuit circuit_of(const std::vector<std::pair<double, double>>& read, const bench& with = {}) {
  checks::insulation_input in{{},
                              units::celsius(with.winding_C),
                              units::kelvins(with.temperature_u_K),
                              {"", with.tester_percent / 100.0, units::ohms(0.0), 0.0}};
  in.divisor = with.divisor;
  for (const auto& [seconds, megohm] : read) in.readings.push_back({units::seconds(seconds), units::megohms(megohm)});
  read_circuit out;
  out.found.result = checks::insulation(in);
  out.found.winding_standard_uncertainty_K = with.temperature_u_K;
  out.entry.circuit = "winding to frame";
  out.entry.test_voltage_V = 500.0;
  out.entry.winding_C = with.winding_C;
  out.in.visit.day.year = 2020;
  out.in.machine.rated_voltage_V = 230.0;
  out.in.machine.insulation_system = record::insulation_system::thermosetting;
  out.in.machine.insulation_class = record::insulation_class::class_130;
  out.in.machine.wound_year = 2020;
  return out;
}

finding finding_in(const read_circuit& test, const std::string& quantity) {
  for (const auto& f : test.judged())
    if (f.quantity == quantity) return f;
  FAIL("no finding of " << quantity);
  return {};
}

outcome minimum(const read_circuit& test) { return finding_in(test, "insulation_at_40_C").outcome; }

}  // namespace

TEST_CASE("the minimum of each era and kind, one digit either side") {
  struct row {
    double below, at;
    record::winding_kind kind;
    int year;
    double rated_V;
  };
  using enum record::winding_kind;
  for (const auto& [below, at, kind, year, rated] :
       {row{4.99, 5.0, random_wound, 1970, 230.0}, row{1.22, 1.23, random_wound, 1969, 230.0},
        row{1.47, 1.48, field, 2020, 480.0}, row{4.99, 5.0, armature, 2020, 230.0},
        row{99.9, 100.0, form_wound, 2020, 1000.0}, row{4.99, 5.0, form_wound, 2020, 999.0}}) {
    const auto at_shown = at;
    CAPTURE(at_shown);
    for (const double megohm : {below, at}) {
      auto test = circuit_of({{60.0, megohm}});
      test.in.machine.winding_kind = kind;
      test.in.machine.wound_year = year;
      test.in.machine.rated_voltage_V = rated;
      CHECK(minimum(test) == (megohm == at ? outcome::conforms : outcome::fails));
    }
  }
}

TEST_CASE("what is not stated never fails a winding: where the readings of the standard disagree it is undecided") {
  auto test = circuit_of({{60.0, 3.0}});
  test.in.machine.wound_year.reset();
  CHECK(minimum(test) == outcome::undecided);  // 3 Mohm: enough before about 1970, too little after
  test.in.machine.wound_year = 2000;
  CHECK(minimum(test) == outcome::fails);
  test.in.machine.wound_year = 1950;
  CHECK(minimum(test) == outcome::conforms);
  auto low = circuit_of({{60.0, 0.3}});
  low.in.machine.wound_year.reset();
  low.in.machine.insulation_system.reset();
  CHECK(minimum(low) == outcome::fails);  // by every reading
  test.in.machine.wound_year.reset();
  test.in.machine.rated_voltage_V = 1000.0;
  CHECK(finding_in(test, "insulation_at_40_C").limit_low.value() == 100.0);
  for (const double winding_C : {20.0, 60.0}) {
    auto unknown = circuit_of({{60.0, 12.0}}, {.winding_C = winding_C});
    unknown.in.machine.insulation_system.reset();
    const auto found = finding_in(unknown, "insulation_at_40_C");
    // 12 Mohm: 9.15 and 3.00 at 20 degC, 27.0 and 48.0 at 60 degC
    CHECK(near_relative(found.value.value(), winding_C == 20.0 ? 3.0 : 27.02, 1e-3));
    CHECK(found.outcome == (winding_C == 20.0 ? outcome::undecided : outcome::conforms));
  }
}

TEST_CASE("a winding that is new today is looked into below a stated value, an older one is not") {
  auto test = circuit_of({{60.0, 12.0}}, {.winding_C = 40.0});
  CHECK(minimum(test) == outcome::conforms);
  test.in.visit.state = record::visit_state::after_repair;
  CHECK(minimum(test) == outcome::undecided);
  CHECK(finding_in(test, "insulation_at_40_C").says == statement::insulation_fresh_low);
  auto good = circuit_of({{60.0, 300.0}}, {.winding_C = 40.0});
  good.in.visit.state = record::visit_state::after_repair;
  CHECK(minimum(good) == outcome::conforms);
}

TEST_CASE("what is asked for is the fact that settles, and only where one of its values would") {
  auto test = circuit_of({{60.0, 12.0}}, {.winding_C = 20.0});  // 9.15 Mohm as thermosetting, 3.00 as thermoplastic
  test.in.machine.insulation_system.reset();
  const auto asked = [&] {
    const auto found = finding_in(test, "insulation_at_40_C");
    CHECK(found.outcome == outcome::undecided);
    for (const auto& [key, text] : found.texts)
      if (key == "unstated") return text;
    return std::string();
  };
  test.in.machine.wound_year = 1990;
  CHECK(asked() == "system");
  test.in.machine.wound_year.reset();
  CHECK(asked() == "both");
  // New today, by either system less than a new winding shows: no entry settles it, drying may.
  test.in.machine.wound_year = test.in.visit.day.year;
  test.in.visit.state = record::visit_state::after_repair;
  CHECK(asked().empty());
  CHECK(finding_in(test, "insulation_at_40_C").says == statement::insulation_fresh_low);
}

TEST_CASE("the polarization index of thousands of megohms is not judged while a system is possible that has them") {
  auto flat = circuit_of({{60.0, 8000.0}, {600.0, 8000.0}}, {.winding_C = 21.0});
  flat.in.machine.winding_kind = record::winding_kind::form_wound;
  flat.in.machine.insulation_system.reset();  // 6187 Mohm at 40 degC as thermosetting, 2144 as thermoplastic
  CHECK(finding_in(flat, "polarization_index").says == statement::polarization_ends);
  flat.in.machine.insulation_system = record::insulation_system::thermoplastic;
  CHECK(finding_in(flat, "polarization_index").says != statement::polarization_ends);
}

TEST_CASE("an index below that of every class fails without asking for the class") {
  auto low = circuit_of({{60.0, 300.0}, {600.0, 330.0}}, {.winding_C = 40.0});
  low.in.machine.winding_kind = record::winding_kind::form_wound;
  low.in.machine.insulation_class.reset();
  const auto found = finding_in(low, "polarization_index");
  CHECK(found.outcome == outcome::fails);
  CHECK(found.says == statement::polarization_minimum);
  CHECK(found.limit_low.value() == 1.5);
}

TEST_CASE("a winding's temperature known to 5 K matters") {
  // Thermoplastic, 13 Mohm at 25 degC: 4.6 Mohm at 40 degC. 5 K, rectangular, is 22 % of that.
  auto known = circuit_of({{60.0, 13.0}}, {.winding_C = 25.0});
  auto roughly = circuit_of({{60.0, 13.0}}, {.winding_C = 25.0, .temperature_u_K = 5.0 / 1.7320508});
  known.in.machine.insulation_system = roughly.in.machine.insulation_system = record::insulation_system::thermoplastic;
  CHECK(minimum(known) == outcome::fails);
  CHECK(minimum(roughly) == outcome::undecided);
  const auto found = finding_in(roughly, "insulation_at_40_C");
  CHECK(near_absolute(found.high.value() / found.value.value(), 1.48, 0.01));  // exp(1.96 * 0.2)
  CHECK(near_relative(found.high.value() * found.low.value(), found.value.value() * found.value.value(), 1e-9));
}

TEST_CASE("one phase of three is divided by two or three before it is judged") {
  for (const auto& [connection, reading] : {std::pair{record::winding_connection::others_grounded, 10.0},
                                            std::pair{record::winding_connection::others_guarded, 15.0}}) {
    const double divisor = rules::connection_divisor(connection);
    for (const double off : {0.0, 0.01}) {
      auto test = circuit_of({{60.0, reading - off}}, {.divisor = divisor});
      test.entry.connection = connection;
      CHECK(minimum(test) == (off == 0.0 ? outcome::conforms : outcome::fails));
    }
  }
}

TEST_CASE("outside 10 to 85 degC a thermosetting winding can only fail cold and only conform hot") {
  const auto says_outside = [](const read_circuit& test) {
    return finding_in(test, "insulation_at_40_C").says == statement::insulation_outside_correction;
  };
  CHECK_FALSE(says_outside(circuit_of({{60.0, 300.0}}, {.winding_C = 10.0})));
  CHECK_FALSE(says_outside(circuit_of({{60.0, 300.0}}, {.winding_C = 85.0})));
  struct row {
    double winding_C, megohm;
    outcome expected;
  };
  for (const auto& [winding_C, megohm, expected] :
       {row{9.9, 300.0, outcome::undecided}, row{9.9, 4.9, outcome::fails}, row{85.1, 4.9, outcome::undecided},
        row{85.1, 5.0, outcome::conforms}}) {
    const auto winding_C_shown = winding_C;
    CAPTURE(winding_C_shown);
    const auto megohm_shown = megohm;
    CAPTURE(megohm_shown);
    const auto test = circuit_of({{60.0, megohm}}, {.winding_C = winding_C});
    CHECK(says_outside(test));
    CHECK(minimum(test) == expected);
  }
  auto plastic = circuit_of({{60.0, 300.0}}, {.winding_C = 5.0});
  plastic.in.machine.insulation_system = record::insulation_system::thermoplastic;
  CHECK_FALSE(says_outside(plastic));
  CHECK(minimum(plastic) == outcome::conforms);
}

TEST_CASE("the appliance's own minimum, one digit either side") {
  using enum record::appliance_class;
  for (const auto& [appliance, below, at] :
       {std::tuple{class_I, 0.99, 1.0}, std::tuple{class_0, 0.99, 1.0}, std::tuple{class_0I, 0.99, 1.0},
        std::tuple{class_II, 1.99, 2.0}, std::tuple{class_III, 0.24, 0.25}})
    for (const double megohm : {below, at}) {
      auto test = circuit_of({{60.0, megohm}});
      test.in.machine.appliance_class = appliance;
      CHECK(finding_in(test, "insulation_as_read").outcome == (megohm == at ? outcome::conforms : outcome::fails));
    }
  // Of a class that is not stated class I's is asked.
  CHECK(finding_in(circuit_of({{60.0, 0.99}}), "insulation_as_read").outcome == outcome::fails);
}

TEST_CASE("the index by class, its ceiling and its end, one digit either side") {
  const auto judged = [](double megohm, double index, record::insulation_class thermal_class, int wound = 2020) {
    auto test = circuit_of({{60.0, megohm}, {600.0, megohm * index}});
    test.in.machine.winding_kind = record::winding_kind::form_wound;
    test.in.machine.insulation_class = thermal_class;
    test.in.machine.wound_year = wound;
    return finding_in(test, "polarization_index");
  };
  using enum record::insulation_class;
  CHECK(judged(100.0, 1.49, class_105).outcome == outcome::fails);
  CHECK(judged(100.0, 1.50, class_105).outcome == outcome::conforms);
  CHECK(judged(100.0, 1.99, class_130).outcome == outcome::fails);
  CHECK(judged(100.0, 2.00, class_130).outcome == outcome::conforms);
  CHECK(judged(100.0, 1.0, class_120).bearing == bearing::does_not_apply);
  CHECK(judged(100.0, 8.0, class_130).says == statement::polarization_minimum);
  CHECK(judged(100.0, 8.1, class_130).says == statement::polarization_minimum);  // a modern resin
  CHECK(judged(100.0, 8.1, class_130, 1969).says == statement::polarization_high);
  CHECK(judged(5000.0, 1.0, class_130).outcome == outcome::fails);
  CHECK(judged(5001.0, 1.0, class_130).says == statement::polarization_ends);
}

TEST_CASE("without a class the index conforms from the highest minimum on and fails below the lowest") {
  const auto judged = [](double index) {
    auto test = circuit_of({{60.0, 100.0}, {600.0, 100.0 * index}});
    test.in.machine.winding_kind = record::winding_kind::form_wound;
    test.in.machine.insulation_class.reset();
    return finding_in(test, "polarization_index").outcome;
  };
  CHECK(judged(1.49) == outcome::fails);
  CHECK(judged(1.51) == outcome::undecided);
  CHECK(judged(1.99) == outcome::undecided);
  CHECK(judged(2.01) == outcome::conforms);
}

TEST_CASE("a test voltage below the table's is in the way, one above is told, and more than twice it cannot be") {
  const auto at = [](double volts, double rated_V = 230.0) {
    auto test = circuit_of({{60.0, 100.0}});
    test.entry.test_voltage_V = volts;
    test.in.machine.rated_voltage_V = rated_V;
    return finding_in(test, "test_voltage");
  };
  CHECK(at(500.0).outcome == outcome::conforms);
  CHECK(at(500.0).bearing == bearing::informs);
  CHECK(at(499.0).outcome == outcome::undecided);
  CHECK(at(499.0).bearing == bearing::decides);
  CHECK(at(501.0).outcome == outcome::not_tested);
  CHECK(at(501.0).bearing == bearing::informs);
  CHECK(at(1000.0).outcome == outcome::not_tested);
  const auto impossible = at(1001.0);
  CHECK(impossible.outcome == outcome::undecided);
  CHECK(impossible.bearing == bearing::decides);
  CHECK(impossible.says == statement::insulation_test_voltage_impossible);
  CHECK(near_relative(*impossible.limit_high, 1000.0, 1e-12));
  CHECK(impossible.source.find("; ") != std::string::npos);  // the table's and practice's
  CHECK(at(1000.0, 2500.0).outcome == outcome::conforms);
  CHECK(at(1000.0, 2501.0).outcome == outcome::conforms);
  CHECK(at(999.0, 2501.0).outcome == outcome::undecided);
}

TEST_CASE("a fall since the earlier visit is told beyond a factor of 1.5, and in the way beyond 10 where it ends low") {
  const auto fallen = [](double now_Mohm, double factor, double u = 0.0) -> std::optional<finding> {
    auto test = circuit_of({{60.0, now_Mohm}});
    test.found.earlier_at_40 = {units::megohms(now_Mohm * factor), units::megohms(now_Mohm * factor * u)};
    for (const auto& f : test.judged())
      if (f.quantity == "fall_since_earlier") return f;
    return std::nullopt;
  };
  CHECK_FALSE(fallen(50.0, 1.499).has_value());
  REQUIRE(fallen(50.0, 1.501).has_value());
  CHECK(fallen(50.0, 1.501)->bearing == bearing::informs);
  CHECK(near_relative(*fallen(50.0, 3.0)->value, 3.0, 1e-9));
  CHECK(fallen(50.0, 9.99)->bearing == bearing::informs);
  CHECK(fallen(50.0, 10.01)->bearing == bearing::decides);
  CHECK(fallen(50.0, 10.01)->outcome == outcome::undecided);
  CHECK(fallen(99.9, 10.01)->bearing == bearing::decides);
  CHECK(fallen(100.1, 10.01)->bearing == bearing::informs);
  // Certain by 95 %: a factor of 1.65 with a tenth of uncertainty might be 1.5 still.
  CHECK_FALSE(fallen(50.0, 1.5 * std::exp(1.959964 * 0.1 - 0.001), 0.1).has_value());
  CHECK(fallen(50.0, 1.5 * std::exp(1.959964 * 0.1 + 0.001), 0.1).has_value());
}

TEST_CASE("on a small random-wound winding a low index is not judged once the absorption is seen to have died") {
  const auto judged = [](double ratio_30, double late, double power_W) {
    auto test = circuit_of({{30.0, 310.0 / ratio_30}, {60.0, 310.0}, {120.0, 330.0}, {600.0, 330.0 * late}});
    test.in.machine.winding_kind = record::winding_kind::random_wound;
    test.in.machine.rated_power_W = power_W;
    test.found.late_ratio = late;
    policy asking;
    asking.polarization_index_informs_only = false;
    for (const auto& f : test.judged(asking))
      if (f.quantity == "polarization_index") return f;
    FAIL("no index");
    return finding{};
  };
  CHECK(judged(1.16, 1.05, 75.0).says == statement::polarization_absorption_died);
  CHECK(judged(1.16, 1.05, 75.0).bearing == bearing::does_not_apply);
  CHECK(judged(1.14, 1.05, 75.0).outcome == outcome::fails);   // no absorption to begin with: leakage
  CHECK(judged(1.16, 1.11, 75.0).outcome == outcome::fails);   // still rising
  CHECK(judged(1.16, 1.05, 750.0).outcome == outcome::fails);  // no longer small
}

TEST_CASE("a predicted index is told and neither releases nor holds") {
  auto test = circuit_of({{60.0, 310.0}});
  test.found.longest_time_s = 120.0;
  test.found.index = {1.2, {1.1, 1.3}};
  test.found.ten_minutes = {units::megohms(372.0), {units::megohms(341.0), units::megohms(403.0)}};
  const auto found = finding_in(test, "polarization_index");
  CHECK(found.says == statement::polarization_predicted);
  CHECK(found.outcome == outcome::not_tested);
  CHECK(found.bearing == bearing::informs);
  CHECK(found.limit_low.value() == 2.0);
}

TEST_CASE("an unusual curve leaves the test undecided, and a fall below 5 % is passed over") {
  auto test = circuit_of({{60.0, 310.0}});
  test.found.curve = {checks::insulation_curve_shape::falling, 3, 0.94};
  CHECK(finding_in(test, "insulation_time_curve").outcome == outcome::undecided);
  CHECK(finding_in(test, "insulation_time_curve").bearing == bearing::decides);
  test.found.curve.change = 0.96;
  for (const auto& f : test.judged()) CHECK(f.quantity != "insulation_time_curve");
}

TEST_CASE("a winding not clearly above the dew point leaves the test undecided") {
  auto test = circuit_of({{60.0, 310.0}});
  CHECK(finding_in(test, "above_dew_point").says == statement::insulation_humidity_not_given);
  for (const double margin : {-0.1, 0.1}) {
    test.found.dew_point = {units::celsius(15.0), {units::kelvins(margin), units::kelvins(0.0)}};
    CHECK(finding_in(test, "above_dew_point").outcome == (margin > 0.0 ? outcome::conforms : outcome::undecided));
  }
  test.found.dew_point = {units::celsius(15.0), {units::kelvins(2.0), units::kelvins(2.0)}};
  CHECK(finding_in(test, "above_dew_point").says == statement::insulation_near_dew_point);
}

TEST_CASE("under what assumptions a winding was judged is told") {
  const auto told = [](const read_circuit& test, const char* key) {
    return std::string(rewound::testing::told_text(finding_in(test, "insulation_at_40_C"), key));
  };
  auto test = circuit_of({{60.0, 310.0}});
  CHECK(told(test, "system") == "thermosetting");
  CHECK(told(test, "era") == "stated");
  test.in.machine.rated_power_W = 749.0;
  CHECK(told(test, "borrowed") == "yes");
  test.in.machine.rated_power_W = 750.0;
  CHECK(told(test, "borrowed") == "no");
  test.in.machine.insulation_system = record::insulation_system::thermoplastic;
  CHECK(told(test, "system") == "thermoplastic");
  test.in.machine.winding_kind = record::winding_kind::armature;
  CHECK(told(test, "era") == "armature");
  test.in.machine.winding_kind = record::winding_kind::field;
  test.in.machine.wound_year.reset();
  CHECK(told(test, "era") == "stated");  // of a field winding the year does not matter
  test.in.machine.winding_kind = record::winding_kind::random_wound;
  CHECK(told(test, "era") == "unstated");
}

TEST_CASE("a warm winding conforms only where it would at the air's temperature, 20 degC where that is not read") {
  auto test = circuit_of({{60.0, 310.0}});
  const auto at_air = [&](double megohm) {
    test.found.if_at_air = {units::megohms(megohm), units::megohms(0.0)};
    return finding_in(test, "insulation_at_40_C");
  };
  CHECK(at_air(5.01).outcome == outcome::conforms);
  CHECK(at_air(4.99).outcome == outcome::undecided);
  CHECK(at_air(4.99).says == statement::insulation_winding_warm);
  CHECK(rewound::testing::told_number(at_air(4.99), "air_C").value == 20.0);
  CHECK(rewound::testing::told_text(at_air(4.99), "air") == "taken");
  test.in.visit.ambient_C = 15.0;
  CHECK(rewound::testing::told_number(at_air(4.99), "air_C").value == 15.0);
  auto bad = circuit_of({{60.0, 3.0}});
  bad.found.if_at_air = {units::megohms(1.0), units::megohms(0.0)};
  CHECK(minimum(bad) == outcome::fails);
}

TEST_CASE("between two windings a good value informs and a bad one decides") {
  for (const auto& [megohm, does] : {std::pair{310.0, bearing::informs}, {3.0, bearing::decides}}) {
    auto test = circuit_of({{60.0, megohm}});
    test.found.to_frame = false;
    CHECK(finding_in(test, "insulation_at_40_C").bearing == does);
    test.found.to_frame = true;
    CHECK(finding_in(test, "insulation_at_40_C").bearing == bearing::decides);
  }
}

TEST_CASE("an unusual curve is told by its change in percent, and by the reading, counted from one") {
  auto test = circuit_of({{60.0, 310.0}});
  test.found.curve = {checks::insulation_curve_shape::dipping, 3, 0.9};
  const auto f = finding_in(test, "insulation_time_curve");
  CHECK(near_relative(*f.value, -10.0, 1e-12));
  CHECK(rewound::testing::told_number(f, "number").value == 4.0);
}

TEST_CASE("leakage and absorption are told where they were fitted, in microamperes") {
  auto test = circuit_of({{60.0, 310.0}});
  test.found.split.emplace();
  test.found.split->leakage = units::amperes(2e-6);
  test.found.split->absorption = units::amperes(3e-6);
  test.found.split->exponent = 0.8;
  test.found.split->covariance.setZero();
  test.found.split->covariance(0, 0) = 1e-14;
  for (const auto& f : test.judged()) CHECK(f.says != statement::insulation_current_split);
  test.found.split->status = checks::absorption_status::fitted;
  const auto f = finding_in(test, "leakage_current");
  CHECK(near_relative(*f.value, 2.0, 1e-12));
  CHECK(near_relative(*f.high - *f.low, 2.0 * 1.959964 * 0.1, 1e-6));
  CHECK(near_relative(rewound::testing::told_number(f, "absorption").value, 3.0, 1e-12));
}

TEST_CASE("what is told of an index has the digits that it is known to") {
  using rewound::testing::told_number;
  auto test = circuit_of({{60.0, 310.0}});
  test.found.index = {1.2, {1.1, 1.3}};
  test.found.ten_minutes = {units::megohms(372.0), {units::megohms(341.0), units::megohms(403.0)}};
  // Half of the half-width of a 95 % interval is about one standard uncertainty.
  CHECK(near_relative(told_number(finding_in(test, "polarization_index"), "ten").standard_uncertainty, 15.5, 1e-12));
  auto beyond = circuit_of({{60.0, 6000.0}, {600.0, 6600.0}});
  CHECK(
      near_relative(told_number(finding_in(beyond, "polarization_index"), "at_40").standard_uncertainty, 300.0, 1e-9));
  CHECK(told_number(finding_in(beyond, "polarization_index"), "ends").standard_uncertainty == 100.0);
  auto died = circuit_of({{30.0, 310.0 / 1.16}, {60.0, 310.0}, {600.0, 325.0}});
  died.in.machine.winding_kind = record::winding_kind::random_wound;
  died.in.machine.rated_power_W = 75.0;
  died.found.late_ratio = 1.05;
  policy asking;
  asking.polarization_index_informs_only = false;
  bool told = false;
  for (const auto& f : died.judged(asking)) {
    if (f.says != statement::polarization_absorption_died) continue;
    told = true;
    CHECK(told_number(f, "late").value == 1.05);
    CHECK(told_number(f, "late").standard_uncertainty == 0.01);
  }
  CHECK(told);
}

TEST_CASE("where half of a reading and more is its meter's digits, they are taken off it, not divided into it") {
  // 4 Mohm against 5: by factors ln(4 / 5) / u, by sums 1 Mohm over 4 u.
  for (const auto& [megohm, u, came_to] : {std::tuple{1.0, 0.49, outcome::fails},  // ln(1 / 5) = -1.61: 3.3 of 0.49
                                           {1.0, 1.2, outcome::fails},             // 4 Mohm are 3.3 of 1.2
                                           {1.0, 2.6, outcome::undecided},         // and 1.5 of 2.6
                                           {50.0, 1.2, outcome::conforms},         // ln(10) = 2.3: 1.92 of 1.2
                                           {50.0, 1.5, outcome::undecided}}) {     // 1.54 of 1.5
    auto test = circuit_of({{60.0, megohm}});
    test.found.result.thermosetting_at_40->standard_uncertainty = units::megohms(megohm * u);
    CHECK(minimum(test) == came_to);
    const auto f = finding_in(test, "insulation_at_40_C");
    const double wide = 1.959964 * u;
    CHECK(near_relative(*f.low, megohm / std::exp(wide), 1e-6));
    CHECK(near_relative(*f.high, u < 0.5 ? megohm * std::exp(wide) : megohm * (1.0 + wide), 1e-6));
  }
}

TEST_CASE("a winding of no stated kind is random-wound below a kilovolt, and may be brittle when wound before 1970") {
  const auto index = [](double rated_V, int year) {
    auto test = circuit_of({{60.0, 100.0}, {600.0, 810.0}});
    test.in.machine.rated_voltage_V = rated_V;
    test.in.machine.wound_year = year;
    policy asking;
    for (const auto& f : test.judged(asking))
      if (f.quantity == "polarization_index") return f;
    FAIL("no index");
    return finding{};
  };
  CHECK(rewound::testing::told_text(index(999.0, 2000), "random_wound") == "yes");
  CHECK(rewound::testing::told_text(index(1000.0, 2000), "random_wound") == "no");
  CHECK(index(1100.0, 1970).says == statement::polarization_minimum);
  CHECK(index(1100.0, 1969).says == statement::polarization_high);
}
