// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <optional>
#include <string>
#include <vector>

#include <near.hpp>
#include <rewound/verdict/rules/coast_down.hpp>
#include <rewound/verdict/rules/supply.hpp>
#include <rewound/verdict/rules/unbalance.hpp>
#include <told.hpp>

// Coasting down, lines out of balance, and the mains, each limit a hair to either side.
namespace running_rules {

using namespace rewound;
using testing::near_absolute;
using testing::near_relative;
using testing::saying;
using testing::told_number;
using testing::told_text;
using verdict::bearing;
using verdict::outcome;
using verdict::statement;
using measured = measurement::uncertain<double>;

/// Friction of 10 rad/s2 in all at 100 rad/s, unless said otherwise, of which the bearing has 5, drag 2 and air 3.
checks::coast_down_result coasting(double constant = 5.0, double u = 1e-9) {
  checks::coast_down_result out;
  out.status = checks::coast_down_status::fitted;
  out.compare_at = 100.0;
  out.deceleration = {constant + 5.0, u};
  out.parts = {measured{constant, u}, {2.0, u}, {3.0, u}};
  out.fitted = {true, false, true};
  out.stop_s = 12.0;
  return out;
}

std::vector<verdict::finding> coasted(const verdict::rules::compared_coast_downs& compared,
                                      std::optional<double> inertia = {}) {
  record::coast_down_section of;
  of.inertia_kgm2 = inertia;
  return verdict::rules::coast_down(of, compared, verdict::policy{});
}

const verdict::finding& of_term(const std::vector<verdict::finding>& all, std::string_view term) {
  for (const auto& f : all)
    if (f.subject == term) return f;
  static const verdict::finding none{.says = statement::not_recorded};
  return none;
}

TEST_CASE("a deceleration is told in rpm per second, its parts in percent of it, whole at least") {
  const auto all = coasted({coasting(5.0, 0.02), {}, false, {}, 0});
  REQUIRE(all.size() == 1);
  const auto& f = all.front();
  CHECK(f.bearing == bearing::informs);
  CHECK(near_relative(*f.value, 10.0 * 60.0 / (2.0 * std::numbers::pi), 1e-12));
  CHECK(near_relative(told_number(f, "rpm").value, 100.0 * 60.0 / (2.0 * std::numbers::pi), 1e-12));
  CHECK(told_number(f, "stop").value == 12.0);
  CHECK(told_number(f, "stop").standard_uncertainty == 0.05);
  CHECK(f.numbers.size() == 5);
  CHECK(near_relative(told_number(f, "constant").value, 50.0, 1e-12));
  CHECK(near_relative(told_number(f, "linear").value, 20.0, 1e-12));
  CHECK(near_relative(told_number(f, "quadratic").value, 30.0, 1e-12));
  CHECK(near_relative(told_number(f, "constant").standard_uncertainty, 0.2, 1e-12));
  CHECK(told_number(coasted({coasting(5.0, 2.0), {}, false, {}, 0}).front(), "constant").standard_uncertainty == 0.5);
  CHECK(told_text(f, "stops") == "yes");
  auto never = coasting();
  never.stop_s = std::numeric_limits<double>::infinity();
  CHECK(told_text(coasted({never, {}, false, {}, 0}).front(), "stops") == "no");
}

TEST_CASE("with the inertia a deceleration is a torque, and with the speed watts") {
  const auto all = coasted({coasting(5.0, 0.1), {}, false, {}, 0}, 0.002);
  const auto* f = saying(all, statement::coast_down_torque);
  REQUIRE(f != nullptr);
  CHECK(near_relative(*f->value, 0.02, 1e-12));
  CHECK(near_relative(*f->high - *f->low, 2.0 * 1.959964 * 0.0002, 1e-6));
  CHECK(near_relative(told_number(*f, "quadratic").value, 0.006, 1e-12));
  CHECK(near_relative(told_number(*f, "quadratic").standard_uncertainty, 0.1 * 0.0002, 1e-12));
  CHECK(f->numbers.size() == 5);
  CHECK(near_relative(told_number(*f, "watts").value, 2.0, 1e-12));
  CHECK(near_relative(told_number(*f, "watts").standard_uncertainty, 0.02, 1e-12));
  CHECK(near_relative(told_number(*f, "rpm").value, 3000.0 / std::numbers::pi, 1e-12));
}

TEST_CASE("friction grown by more than half of the earlier total is looked into, and less friction never") {
  for (const auto& [constant, total] :
       {std::pair{9.999, outcome::conforms}, {10.001, outcome::fails}, {0.0, outcome::conforms}}) {
    const auto all = coasted({coasting(constant), coasting(), false, {}, 0});
    const auto& f = of_term(all, "total");
    CHECK(f.says == statement::coast_down_growth);
    CHECK(near_absolute(*f.value, 10.0 * (constant - 5.0), 1e-9));
    CHECK(*f.limit_high == 50.0);
    CHECK(f.outcome == total);
    CHECK(f.bearing == bearing::decides);
    CHECK(of_term(all, "constant").outcome == total);
    CHECK(of_term(all, "quadratic").outcome == outcome::conforms);
    CHECK(of_term(all, "linear").says == statement::not_recorded);  // fitted at neither visit
  }
  auto then = coasting();
  then.fitted = {false, true, false};
  auto now = coasting();
  now.fitted = {true, false, false};
  const auto all = coasted({now, then, false, {}, 0});
  CHECK(of_term(all, "constant").says == statement::coast_down_growth);
  CHECK(of_term(all, "linear").says == statement::coast_down_growth);
  CHECK(of_term(all, "quadratic").says == statement::not_recorded);
}

TEST_CASE("a term whose interval is wider than the limit is told and not judged, the total always") {
  // Both visits to u: 100 hypot(u, u) / 10 percent; the interval is 50 % wide at 12.7554 % of uncertainty.
  const double edge = 50.0 / (2.0 * 1.959964) / 100.0 * 10.0 / std::sqrt(2.0);
  for (const auto& [u, weighs] : {std::pair{edge * 0.999, bearing::decides}, {edge * 1.001, bearing::informs}}) {
    const auto all = coasted({coasting(5.0, u), coasting(5.0, u), false, {}, 0});
    CHECK(of_term(all, "constant").bearing == weighs);
    CHECK((of_term(all, "constant").outcome == outcome::not_tested) == (weighs == bearing::informs));
    CHECK(of_term(all, "total").bearing == bearing::decides);
    CHECK(near_relative(*of_term(all, "total").high, 1.959964 * 10.0 * std::sqrt(2.0) * u, 1e-6));
  }
}

TEST_CASE("an earlier visit with another shaft condition, or without a fit, is not compared with") {
  auto all = coasted({coasting(), coasting(), true, {}, 0});
  CHECK(saying(all, statement::coast_down_shaft_differs) != nullptr);
  CHECK(saying(all, statement::coast_down_growth) == nullptr);
  auto unfitted = coasting();
  unfitted.status = checks::coast_down_status::not_slowing;
  CHECK(coasted({coasting(), unfitted, false, {}, 0}).size() == 1);
  for (const auto& [status, says] :
       {std::pair{checks::coast_down_status::too_few_readings, statement::coast_down_too_few},
        {checks::coast_down_status::not_slowing, statement::coast_down_not_slowing}}) {
    auto now = coasting();
    now.status = status;
    all = coasted({now, {}, false, {}, 0});
    REQUIRE(all.size() == 1);
    CHECK(all.front().says == says);
    CHECK(all.front().outcome == outcome::undecided);
    CHECK(all.front().bearing == bearing::decides);
  }
}

TEST_CASE("beside good machines more friction than they keep below holds, unless the machine itself had it before") {
  const auto excess = [](double value, double u = 1e-9) {
    checks::friction_level_result good{10.0, {}};
    for (auto& each : good.excess) each = {0.0, 1e-9, 0.4};
    good.excess[0] = {value, u, 0.4};
    good.excess[3] = {-value, u, 0.4};
    return good;
  };
  for (const auto& [value, came_to] : {std::pair{0.3999, outcome::conforms}, {0.4001, outcome::fails}}) {
    const auto all = coasted({coasting(), {}, false, excess(value), 3});
    const auto& f = of_term(all, "total");
    CHECK(f.says == statement::coast_down_beside_good);
    CHECK(f.outcome == came_to);
    CHECK(f.bearing == bearing::decides);
    CHECK(near_relative(*f.value, 100.0 * value, 1e-12));
    CHECK(near_relative(*f.limit_high, 40.0, 1e-12));
    CHECK(told_number(f, "machines").value == 3.0);
    const auto& practice = verdict::policy{}.practice;
    CHECK(f.source.ends_with(practice.friction_spread_percent.source));
    CHECK(of_term(all, "linear").source.ends_with(practice.friction_term_spread_percent.source));
    CHECK(near_relative(*of_term(all, "quadratic").value, -100.0 * value, 1e-12));
    CHECK(of_term(all, "quadratic").outcome == outcome::conforms);
    const auto beside = coasted({coasting(), coasting(), false, excess(value), 3});
    const auto* known =
        saying(beside, came_to == outcome::fails ? statement::coast_down_as_before : statement::coast_down_beside_good);
    REQUIRE(known != nullptr);
    CHECK(known->subject == "total");
    CHECK(known->bearing == bearing::informs);
    CHECK(known->outcome == (came_to == outcome::fails ? outcome::undecided : outcome::conforms));
  }
  auto unfitted = coasting();
  unfitted.status = checks::coast_down_status::too_few_readings;
  CHECK(of_term(coasted({coasting(), unfitted, false, excess(0.5), 3}), "total").outcome == outcome::fails);
  // A term that its readings do not tell is not in the way; the total, or one that fails all the same, is.
  const double edge = 0.4 / (2.0 * 1.959964);
  for (const auto& [u, came_to] : {std::pair{edge * 0.99, outcome::undecided}, {edge * 1.01, outcome::not_tested}}) {
    const auto all = coasted({coasting(), {}, false, excess(-0.4, u), 3});
    CHECK(of_term(all, "quadratic").outcome == came_to);
    CHECK(of_term(coasted({coasting(), {}, false, excess(0.4, u), 3}), "total").outcome == outcome::undecided);
    CHECK(of_term(coasted({coasting(), {}, false, excess(-1.2, u), 3}), "quadratic").outcome == outcome::fails);
  }
}

/// Unbalance of the lines' currents and voltages, in percent.
std::vector<verdict::finding> lines(measured current, std::optional<measured> voltage,
                                    std::optional<checks::rolled_leads_result> rolled = {}, bool elsewhere = false) {
  return verdict::rules::unbalance("high", 400.0, {current, voltage, rolled, elsewhere}, verdict::policy{});
}

TEST_CASE("lines out of balance by more than 10 % fail, unless ten times the voltages' unbalance explains it") {
  constexpr double u = 1e-9;
  CHECK(lines({9.999, u}, {}).front().outcome == outcome::conforms);
  CHECK(lines({10.001, u}, {}).front().outcome == outcome::fails);
  CHECK(*lines({9.0, u}, {}).front().limit_high == 10.0);
  CHECK(lines({10.0 - 1.6448, 1.0}, {}).front().outcome == outcome::undecided);
  CHECK(lines({10.0 - 1.6450, 1.0}, {}).front().outcome == outcome::conforms);
  const auto explained = lines({14.999, u}, measured{1.5, 0.1}).front();
  CHECK(explained.outcome == outcome::undecided);
  CHECK(explained.says == statement::unbalance_by_supply);
  CHECK(near_relative(told_number(explained, "explained").value, 15.0, 1e-12));
  CHECK(near_relative(told_number(explained, "explained").standard_uncertainty, 1.0, 1e-12));
  CHECK(told_number(explained, "voltage").value == 1.5);
  CHECK(lines({15.001, u}, measured{1.5, 0.1}).front().outcome == outcome::fails);
  CHECK(lines({9.0, u}, measured{1.5, 0.1}).front().says == statement::unbalance_of_lines);
}

TEST_CASE("unbalanced mains are free up to 1 %, derate up to 5 %, and leave the machine open beyond") {
  const auto mains = [](double percent, double u = 1e-9) { return lines({1.0, 1e-9}, measured{percent, u}).back(); };
  CHECK(mains(1.0).says == statement::voltage_unbalance_small);
  CHECK(mains(1.0).outcome == outcome::conforms);
  CHECK(mains(1.0).bearing == bearing::informs);
  CHECK(told_number(mains(1.0), "free").value == 1.0);
  const auto derated = mains(1.25);
  CHECK(derated.says == statement::voltage_unbalance_derates);
  // Between 1 at 1 % and 0.97 at 1.5 %.
  CHECK(near_relative(told_number(derated, "share_percent").value, 98.5, 1e-12));
  CHECK(near_relative(told_number(derated, "share_percent").standard_uncertainty, 2.0 / std::sqrt(3.0), 1e-9));
  // Twice the square of the percents, in percent of the rise.
  CHECK(told_number(mains(4.0), "hotter").value == 32.0);
  CHECK(near_relative(told_number(mains(4.0), "share_percent").value, 82.0, 1e-12));
  CHECK(near_relative(told_number(mains(4.75), "share_percent").value, 77.0, 1e-12));
  CHECK(mains(4.999).says == statement::voltage_unbalance_derates);
  const auto beyond = mains(5.001);
  CHECK(beyond.says == statement::voltage_unbalance_beyond);
  CHECK(beyond.outcome == outcome::undecided);
  CHECK(beyond.bearing == bearing::decides);
  CHECK(*beyond.limit_high == 5.0);
  CHECK(mains(4.9, 0.1).says == statement::voltage_unbalance_beyond);
  CHECK(verdict::rules::voltage_unbalance_derating(5.0) == 0.76);
  CHECK_FALSE(verdict::rules::voltage_unbalance_derating(5.001).has_value());
  CHECK(verdict::rules::voltage_unbalance_derating(0.0) == 1.0);
}

TEST_CASE("with rolled leads the winding's part is judged, and a large part of the lines leaves it open") {
  constexpr double u = 1e-9;
  const auto rolled = [](measured winding, measured line) {
    return lines({12.0, 0.5}, {}, checks::rolled_leads_result{{}, {}, winding, line}).front();
  };
  CHECK(rolled({9.999, u}, {1.0, u}).outcome == outcome::conforms);
  CHECK(rolled({10.001, u}, {1.0, u}).outcome == outcome::fails);
  CHECK(rolled({9.0, u}, {9.999, u}).outcome == outcome::conforms);
  CHECK(rolled({9.0, u}, {10.001, u}).outcome == outcome::undecided);
  CHECK(rolled({10.001, u}, {10.001, u}).outcome == outcome::fails);
  const auto f = rolled({8.0, 0.3}, {5.0, 0.4});  // 3 apart, known to 0.5: 6 of them
  CHECK(f.says == statement::unbalance_of_winding);
  CHECK(*f.value == 8.0);
  CHECK(told_number(f, "together").value == 12.0);
  CHECK(told_number(f, "line").value == 5.0);
  // Beyond 1.96 of the 0.5 % by which the two together are known, it is seated in one of them.
  const double sure = 1.959964 * 0.5;
  CHECK(told_text(rolled({5.0 + sure + 0.001, 0.3}, {5.0, 0.4}), "seat") == "winding");
  CHECK(told_text(rolled({5.0 + sure - 0.001, 0.3}, {5.0, 0.4}), "seat") == "both");
  CHECK(told_text(rolled({5.0 - sure + 0.001, 0.3}, {5.0, 0.4}), "seat") == "both");
  CHECK(told_text(rolled({5.0 - sure - 0.001, 0.3}, {5.0, 0.4}), "seat") == "line");
  CHECK(saying(lines({1.0, u}, {}, {}, true), statement::rolled_elsewhere) != nullptr);
  CHECK(saying(lines({1.0, u}, {}, {}, false), statement::rolled_elsewhere) == nullptr);
}

/// The mains of a machine of 230 V and 50 Hz.
std::vector<verdict::finding> on_mains(std::optional<double> volts, std::optional<double> hertz,
                                       double rated_Hz = 50.0) {
  record::visit_record in;
  in.machine.rated_voltage_V = 230.0;
  in.machine.rated_frequency_Hz = rated_Hz;
  in.visit.supply_voltage_V = volts;
  in.visit.supply_frequency_Hz = hertz;
  const checks::supply_input mains{units::volts(230.0), units::hertz(rated_Hz), units::volts(volts.value_or(230.0)),
                                   units::hertz(hertz.value_or(rated_Hz))};
  return verdict::rules::supply(in, checks::supply(mains), verdict::policy{});
}

TEST_CASE("mains outside 10 % of the voltage, or outside the market's frequencies, are a condition of another supply") {
  for (const auto& [volts, inside] : {std::pair{253.0, true}, {253.01, false}, {207.0, true}, {206.99, false}}) {
    const auto f = on_mains(volts, 50.0).front();
    CHECK(f.says == (inside ? statement::supply_voltage_window : statement::supply_voltage_outside));
    CHECK(f.outcome == (inside ? outcome::conforms : outcome::not_tested));
    CHECK(*f.limit_low == -10.0);
    CHECK(*f.limit_high == 10.0);
  }
  // IEC 60034-1 zone B: 5 % below and 3 % above; NEMA MG 1 12.44.1: 5 % both ways.
  for (const auto& [hertz, rated, inside] : {std::tuple{51.49, 50.0, true},
                                             {51.51, 50.0, false},
                                             {47.51, 50.0, true},
                                             {47.49, 50.0, false},
                                             {62.99, 60.0, true},
                                             {63.01, 60.0, false},
                                             {57.01, 60.0, true},
                                             {56.99, 60.0, false}}) {
    const auto hertz_shown = hertz;
    CAPTURE(hertz_shown);
    const auto f = on_mains(230.0, hertz, rated).at(1);
    CHECK(f.says == (inside ? statement::supply_frequency_window : statement::supply_frequency_outside));
    CHECK(told_number(f, "mains").value == hertz);
    CHECK(told_number(f, "rated").value == rated);
  }
}

TEST_CASE("voltage and frequency off together count by the sum of their sizes, which is said once") {
  // 2 % of frequency leave 8 % of voltage.
  for (const auto& [volts, says] : {std::pair{248.39, statement::supply_combined_window},
                                    {248.41, statement::supply_combined_outside},
                                    {211.61, statement::supply_combined_window},
                                    {211.59, statement::supply_combined_outside},
                                    {260.0, statement::supply_combined_window}}) {
    const auto volts_shown = volts;
    CAPTURE(volts_shown);
    const auto all = on_mains(volts, 51.0);
    REQUIRE(all.size() == 3);
    CHECK(all.at(2).says == says);
    CHECK_FALSE(all.at(2).limit_low.has_value());
    CHECK(*all.at(2).limit_high == 10.0);
  }
  CHECK(on_mains(230.0, 50.0).size() == 1);
}

TEST_CASE("mains are told by the flux, and by the transformer that would bring them to the rating") {
  const auto all = on_mains(241.5, {});  // 5 % above
  CHECK(near_relative(told_number(all.front(), "flux_ratio").value, 1.05, 1e-12));
  CHECK(near_relative(told_number(all.front(), "transformer_ratio").value, 1.0 / 1.05, 1e-12));
  CHECK(told_number(all.front(), "rated").value == 230.0);
  CHECK(all.back().says == statement::supply_frequency_not_given);
  CHECK(told_number(all.back(), "rated").value == 50.0);
  CHECK(on_mains({}, 51.0).front().says == statement::supply_not_given);
  // Volts and hertz as marked, to whole ones; ratios to hundredths.
  CHECK(told_number(all.front(), "flux_ratio").standard_uncertainty == 0.005);
  CHECK(told_number(all.front(), "transformer_ratio").standard_uncertainty == 0.005);
  CHECK(told_number(all.front(), "rated").standard_uncertainty == 5.0);
  CHECK(told_number(all.back(), "rated").standard_uncertainty == 5.0);
  CHECK(told_number(on_mains(230.0, 51.0).at(2), "rated").standard_uncertainty == 5.0);
}

TEST_CASE("what is drawn on the mains is told where it is known to a half of itself") {
  verdict::draw_row row{.speed = "high"};
  const auto told = [&](double amperes, double u) {
    row.at_supply = {units::amperes(amperes), units::amperes(u)};
    return verdict::rules::supply_draw({row}, units::volts(240.0));
  };
  CHECK(told(0.4, 0.2001).empty());
  REQUIRE(told(0.4, 0.1999).size() == 1);
  CHECK(*told(0.4, 0.1).front().value == 0.4);
  CHECK(told_number(told(0.4, 0.1).front(), "supply_V").value == 240.0);
  CHECK(verdict::rules::supply_power("high", {40.0, 20.01}, units::volts(240.0)).empty());
  const auto watts = verdict::rules::supply_power("high", {40.0, 19.99}, units::volts(240.0));
  REQUIRE(watts.size() == 1);
  CHECK(*watts.front().value == 40.0);
  CHECK(told_number(watts.front(), "supply_V").value == 240.0);
}

}  // namespace running_rules
