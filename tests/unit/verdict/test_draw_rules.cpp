// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <near.hpp>
#include <rewound/verdict/rules/draw.hpp>

using namespace rewound;
using testing::near_relative;
using verdict::draw_flag;
using verdict::outcome;
using verdict::statement;

// The rules of the draw, each at its limit: just above, just below, and to both sides.
namespace {

constexpr double exact = 1e-9;  // uncertainty of a current where only the limit is asked for

verdict::draw_row speed_drawing(double amperes, double u = exact, const std::string& name = "high") {
  verdict::draw_row row{.speed = name};
  row.at_rated = {units::amperes(amperes), units::amperes(u)};
  return row;
}

record::visit_record record_of(const verdict::rules::compared_draw& compared) {
  record::visit_record in;
  in.machine.phases = 1;
  for (const auto& row : compared.rows) {
    in.machine.speeds.push_back(row.speed);
    in.run_up.emplace_back().speed = row.speed;
  }
  return in;
}

struct judged_draw {
  std::vector<verdict::finding> findings;
  std::vector<verdict::draw_row> rows;
  const verdict::finding& one() const { return findings.front(); }
  const verdict::draw_row& row() const { return rows.front(); }
};

judged_draw judge(const record::visit_record& in, const verdict::rules::compared_draw& compared) {
  const auto out = verdict::rules::draw(in, compared, verdict::policy{});
  return {out.findings, out.rows};
}

/// One speed beside a mark of 2 A, whose tolerance both ways the record states, or does not.
judged_draw beside_mark(double amperes, std::optional<double> tolerance_percent, double u = exact) {
  verdict::rules::compared_draw compared;
  compared.rows = {speed_drawing(amperes, u)};
  auto in = record_of(compared);
  in.machine.rated_current_A = 2.0;
  in.machine.rated_tolerance_percent = tolerance_percent;
  return judge(in, compared);
}

double number(const verdict::finding& f, const std::string& key) {
  for (const auto& each : f.numbers)
    if (each.key == key) return each.value;
  FAIL("no number " << key);
  return 0.0;
}

std::string text(const verdict::finding& f, const std::string& key) {
  for (const auto& [name, value] : f.texts)
    if (name == key) return value;
  return "";
}

/// How well a number is told to be known, which sets the decimals shown.
double digits(const verdict::finding& f, const std::string& key) {
  for (const auto& each : f.numbers)
    if (each.key == key) return each.standard_uncertainty;
  FAIL("no number " << key);
  return 0.0;
}

}  // namespace

TEST_CASE("a mark with a stated tolerance holds both ways, by so many percent of it and no more") {
  for (const double sign : {-1.0, 1.0}) {
    const auto within = beside_mark(2.0 * (1.0 + 0.0999 * sign), 10.0);
    CHECK(within.one().outcome == outcome::conforms);
    CHECK(within.one().says == statement::draw_against_nameplate);
    CHECK(within.row().flag == draw_flag::none);
    const auto beyond = beside_mark(2.0 * (1.0 + 0.1001 * sign), 10.0);
    CHECK(beyond.one().outcome == outcome::fails);
    CHECK(beyond.row().outcome == outcome::fails);
    CHECK(beyond.row().flag == (sign > 0.0 ? draw_flag::high : draw_flag::low));
    CHECK(beyond.one().says == (sign > 0.0 ? statement::draw_against_nameplate : statement::draw_far_below_nameplate));
    CHECK(near_relative(*beyond.one().limit_low, 1.8, 1e-12));
    CHECK(near_relative(*beyond.one().limit_high, 2.2, 1e-12));
  }
}

TEST_CASE("beside a stated tolerance prior and measurement decide together (JCGM 106:2012, clause 6)") {
  // P(within | reading) = a share of 0.9 spread evenly over 20 %, times the part of the reading's distribution within;
  // a share of 0.1 with 25 % standard deviation, times the part outside. Worked out by hand for a reading on the limit:
  // inside = 0.9 / 20 * 0.5, outside = 0.1 * 0.3989423 / 25 * exp(-0.08) * 0.5, probability 0.96832.
  CHECK(beside_mark(2.2, 10.0, 0.002).one().outcome == outcome::conforms);
  // The reading 1 % of the mark beyond, known to so much: 0.92 to 0.05 lies between.
  CHECK(beside_mark(2.22, 10.0, 0.010).one().outcome == outcome::undecided);
  CHECK(beside_mark(2.22, 10.0, 0.002).one().outcome == outcome::fails);
  CHECK(beside_mark(1.78, 10.0, 0.010).one().outcome == outcome::undecided);
  CHECK(beside_mark(1.78, 10.0, 0.010).one().says == statement::draw_far_below_nameplate);
  CHECK(beside_mark(1.78, 10.0, 0.002).one().outcome == outcome::fails);
}

TEST_CASE("the probability beside a stated tolerance is the one written out") {
  verdict::policy rules;
  const auto decided = [&](double percent, double u, double tolerance) {
    const auto& practice = rules.practice;
    const double kept = 0.5 * (std::erf((tolerance - percent) / (u * std::sqrt(2.0))) +
                               std::erf((tolerance + percent) / (u * std::sqrt(2.0))));
    const double spread = practice.fault_spread_percent.value;
    const double inside = practice.healthy_share.value * kept / (2.0 * tolerance);
    const double outside = (1.0 - practice.healthy_share.value) * (1.0 - kept) *
                           std::exp(-percent * percent / (2.0 * spread * spread)) / (spread * std::sqrt(2.0 * M_PI));
    const double p = inside / (inside + outside);
    return p >= 0.95 ? outcome::conforms : p <= 0.05 ? outcome::fails : outcome::undecided;
  };
  int counts[3] = {};
  for (double percent = -60.0; percent <= 60.0; percent += 0.25)
    for (const double u : {0.5, 2.0, 8.0})
      for (const double tolerance : {5.0, 20.0}) {
        const auto found = beside_mark(2.0 * (1.0 + percent / 100.0), tolerance, 2.0 * u / 100.0).one().outcome;
        CHECK_MESSAGE(found == decided(percent, u, tolerance), percent << " +- " << u << ", " << tolerance);
        ++counts[found == outcome::conforms ? 0 : found == outcome::fails ? 1 : 2];
      }
  for (const int count : counts) CHECK(count > 50);
}

TEST_CASE("the shop's own percentage over the mark stands for the standard's") {
  verdict::policy rules;
  rules.replaced.nameplate_upper_percent = verdict::limit{25.0, "our own"};
  verdict::rules::compared_draw compared;
  const auto judged_at = [&](double amperes) {
    compared.rows = {speed_drawing(amperes)};
    auto in = record_of(compared);
    in.machine.rated_current_A = 2.0;
    return verdict::rules::draw(in, compared, rules).findings.front();
  };
  CHECK(judged_at(2.499).outcome == outcome::conforms);
  CHECK(judged_at(2.501).outcome == outcome::fails);
  CHECK(near_relative(*judged_at(2.499).limit_high, 2.5, 1e-12));
}

TEST_CASE("without a stated tolerance too much fails, and far too little is looked into") {
  const double ceiling = *beside_mark(2.0, {}).one().limit_high;
  CHECK(ceiling > 2.0);
  CHECK(beside_mark(ceiling * 0.9999, {}).one().outcome == outcome::conforms);
  CHECK(beside_mark(ceiling * 1.0001, {}).one().outcome == outcome::fails);
  CHECK(beside_mark(ceiling * 1.0001, {}).row().flag == draw_flag::high);
  // nameplate_low_percent: 40 % under the mark
  CHECK(beside_mark(1.2001, {}).one().outcome == outcome::conforms);
  CHECK(beside_mark(1.2001, {}).row().flag == draw_flag::none);
  const auto low = beside_mark(1.1999, {});
  CHECK(low.one().outcome == outcome::undecided);
  CHECK(low.row().flag == draw_flag::low);
  CHECK(near_relative(*low.one().limit_low, 1.2, 1e-12));
  CHECK(near_relative(low.row().level_percent->value, -40.005, 1e-9));
  CHECK(near_relative(beside_mark(2.0, {}, 0.01).row().level_percent->standard_uncertainty, 0.5, 1e-12));
}

TEST_CASE("a slower speed that draws less than a quarter of the next faster one is looked into") {
  const auto slower = [](double amperes) {
    verdict::rules::compared_draw compared;
    compared.rows = {speed_drawing(2.0), speed_drawing(amperes, exact, "low")};
    auto in = record_of(compared);
    in.machine.rated_current_A = 2.0;
    const auto out = judge(in, compared);
    return std::pair{out.findings.at(1), out.rows.at(1)};
  };
  CHECK(slower(0.5001).first.outcome == outcome::conforms);
  CHECK(slower(0.5001).first.says == statement::draw_under_nameplate_ceiling);
  const auto [small, row] = slower(0.4999);
  CHECK(small.outcome == outcome::undecided);
  CHECK(small.says == statement::draw_far_below_faster);
  CHECK(row.flag == draw_flag::low);
  CHECK(row.outcome == outcome::undecided);
  CHECK(near_relative(*small.limit_low, 0.5, 1e-12));
  CHECK(near_relative(number(small, "faster"), 2.0, 1e-12));
}

TEST_CASE("the usual step to slower speeds is told: 0.18 in the logarithm, 0.2 about it, by the root of the steps") {
  verdict::rules::compared_draw compared;
  compared.rows = {speed_drawing(2.0), speed_drawing(1.6, exact, "medium"), speed_drawing(1.4, exact, "low")};
  auto in = record_of(compared);
  in.machine.rated_current_A = 2.0;
  const auto out = judge(in, compared);
  for (const int steps : {1, 2}) {
    const auto& f = out.findings.at(static_cast<std::size_t>(steps));
    const double middle = 2.0 * std::exp(-0.18 * steps), wide = 1.959964 * 0.2 * std::sqrt(steps);
    CHECK(near_relative(number(f, "usual"), middle, 1e-6));
    CHECK(near_relative(number(f, "usual_low"), middle * std::exp(-wide), 1e-6));
    CHECK(near_relative(number(f, "usual_high"), middle * std::exp(wide), 1e-6));
    CHECK(text(f, "usually") == "told");
  }
  CHECK(text(out.one(), "usually") == "not");
}

TEST_CASE("a plate of watts alone: the fastest speed by its watts, both ways") {
  const auto watts = [](double read) {
    verdict::rules::compared_draw compared;
    compared.rows = {speed_drawing(0.4)};
    compared.watts = {measurement::uncertain<double>{read, 1e-6}};
    auto in = record_of(compared);
    in.machine.rated_power_W = 100.0;
    return judge(in, compared);
  };
  const double ceiling = *watts(100.0).one().limit_high;
  CHECK(ceiling > 100.0);
  CHECK(watts(ceiling - 0.01).one().outcome == outcome::conforms);
  CHECK(watts(ceiling - 0.01).row().flag == draw_flag::none);
  CHECK(watts(ceiling + 0.01).one().outcome == outcome::fails);
  CHECK(watts(ceiling + 0.01).row().flag == draw_flag::high);
  CHECK(watts(60.01).one().outcome == outcome::conforms);
  const auto low = watts(59.99);
  CHECK(low.one().outcome == outcome::undecided);
  CHECK(low.row().outcome == outcome::undecided);
  CHECK(low.row().flag == draw_flag::low);
  CHECK(near_relative(*low.one().limit_low, 60.0, 1e-12));
}

TEST_CASE("a plate of watts alone: a slower speed by its own watts, or by drawing no more than the fastest") {
  const auto slower = [](double amperes, std::optional<double> read, double u = exact) {
    verdict::rules::compared_draw compared;
    compared.rows = {speed_drawing(0.5, u), speed_drawing(amperes, u, "low")};
    compared.watts = {measurement::uncertain<double>{100.0, 1e-6}, std::nullopt};
    if (read) compared.watts[1] = measurement::uncertain<double>{*read, 1e-6};
    auto in = record_of(compared);
    in.machine.rated_power_W = 100.0;
    const auto out = judge(in, compared);
    return std::pair{out.findings.at(1), out.rows.at(1)};
  };
  const double ceiling = *slower(0.4, 80.0).first.limit_high;
  CHECK(slower(0.4, 10.0).first.outcome == outcome::conforms);  // no lower limit of a slower speed's watts
  CHECK(slower(0.4, ceiling - 0.01).second.flag == draw_flag::none);
  CHECK(slower(0.4, ceiling + 0.01).first.outcome == outcome::fails);
  CHECK(slower(0.4, ceiling + 0.01).second.flag == draw_flag::high);
  CHECK(slower(0.4999, {}).first.outcome == outcome::conforms);
  CHECK(slower(0.4999, {}).first.says == statement::draw_below_fastest);
  CHECK(slower(0.5001, {}).first.outcome == outcome::fails);
  // Both currents' uncertainties count: 0.01 below, each known to 0.005, together 0.0071: 1.41 of them.
  CHECK(slower(0.49, {}, 0.005).first.outcome == outcome::undecided);
  CHECK(slower(0.488, {}, 0.005).first.outcome == outcome::conforms);
  CHECK(slower(0.1251, {}).first.outcome == outcome::conforms);
  CHECK(slower(0.1249, {}).first.says == statement::draw_far_below_faster);
}

TEST_CASE("a plate of watts alone whose watts were not read leaves each speed open") {
  verdict::rules::compared_draw compared;
  compared.rows = {speed_drawing(0.5), speed_drawing(0.4, exact, "low")};
  compared.watts = {std::nullopt, std::nullopt};
  auto in = record_of(compared);
  in.machine.rated_power_W = 100.0;
  for (const auto& f : judge(in, compared).findings) {
    CHECK(f.outcome == outcome::undecided);
    CHECK(f.says == statement::draw_watts_not_read);
  }
  // The fastest speed's watts without its current say nothing of a slower speed.
  compared.watts[0] = measurement::uncertain<double>{100.0, 1.0};
  compared.rows[0].at_rated.reset();
  CHECK(judge(in, compared).findings.at(1).says == statement::draw_watts_not_read);
}

TEST_CASE("by its ohms alone a speed is never released, and flagged outside the 95 % interval, both ways") {
  const auto by_ohms = [](double amperes) {
    verdict::rules::compared_draw compared;
    compared.rows = {speed_drawing(amperes)};
    compared.log_current_by_winding = measurement::uncertain<double>{std::log(0.5), 0.1};
    return judge(record_of(compared), compared);
  };
  const double factor = std::exp(1.959964 * 0.1);
  CHECK(by_ohms(0.5 * factor * 0.999).row().flag == draw_flag::none);
  CHECK(by_ohms(0.5 * factor * 1.001).row().flag == draw_flag::high);
  CHECK(by_ohms(0.5 / factor * 1.001).row().flag == draw_flag::none);
  const auto low = by_ohms(0.5 / factor * 0.999);
  CHECK(low.row().flag == draw_flag::low);
  CHECK(low.one().outcome == outcome::undecided);
  CHECK(near_relative(*low.one().limit_low, 0.5 / factor, 1e-6));
  CHECK(near_relative(*low.one().limit_high, 0.5 * factor, 1e-6));
  CHECK(near_relative(*low.row().expected_spread_percent, 10.0, 1e-12));
  CHECK(text(low.one(), "against_winding") == "outside");
  const auto inside = by_ohms(0.5).one();
  CHECK(inside.outcome == outcome::undecided);
  CHECK(inside.says == statement::draw_needs_heat);
  CHECK(near_relative(number(inside, "winding_low"), 0.5 / factor, 1e-6));
  CHECK(near_relative(number(inside, "winding_high"), 0.5 * factor, 1e-6));
}

TEST_CASE("without any mark a heat run to its end settles the draw, but a slower speed far below is looked into") {
  verdict::rules::compared_draw compared;
  compared.heat_settles = true;
  compared.rows = {speed_drawing(1.0), speed_drawing(0.2501, exact, "low")};
  auto out = judge(record_of(compared), compared);
  CHECK(out.one().outcome == outcome::conforms);
  CHECK(out.one().says == statement::draw_by_heat);
  CHECK(out.findings.at(1).outcome == outcome::conforms);
  compared.rows[1] = speed_drawing(0.2499, exact, "low");
  out = judge(record_of(compared), compared);
  CHECK(out.findings.at(1).outcome == outcome::undecided);
  CHECK(out.rows.at(1).flag == draw_flag::low);
  compared.heat_settles = false;
  CHECK(judge(record_of(compared), compared).findings.at(1).says == statement::draw_needs_heat);
}

TEST_CASE("the joint test fails below the accepted false alarms, with a reading in doubt below a tenth of them") {
  const auto joint = [](double p, bool doubt) {
    verdict::rules::compared_draw compared;
    for (const double level : {1.0, -4.0, 2.0}) {
      auto row = speed_drawing(0.4, 0.001, "speed " + std::to_string(compared.rows.size()));
      row.judged_by = verdict::expectation::reference;
      row.expected_at_rated = units::amperes(0.4);
      row.level_percent = {level, 1.0};
      compared.rows.push_back(row);
    }
    compared.good_machines = 8;
    compared.joint_p_value = p;
    compared.reading_in_doubt = doubt;
    auto out = judge(record_of(compared), compared);
    const auto found = std::find_if(out.findings.begin(), out.findings.end(),
                                    [](const auto& f) { return f.says == statement::draw_joint_reference; });
    REQUIRE(found != out.findings.end());
    return std::pair{*found, out.rows};
  };
  CHECK(joint(0.01, false).first.outcome == outcome::conforms);
  CHECK(joint(0.0099, false).first.outcome == outcome::fails);
  CHECK(joint(0.0099, true).first.outcome == outcome::undecided);
  CHECK(joint(0.0010, true).first.outcome == outcome::undecided);
  CHECK(joint(0.00099, true).first.outcome == outcome::fails);
  CHECK(near_relative(*joint(0.5, false).first.limit_low, 0.01, 1e-12));
  CHECK(near_relative(number(joint(0.5, false).first, "machines"), 8.0, 1e-12));
  // The speed farthest off in its own uncertainty carries the flag, with its sign.
  const auto rows = joint(0.001, false).second;
  CHECK(rows.at(0).flag == draw_flag::none);
  CHECK(rows.at(1).flag == draw_flag::low);
  CHECK(rows.at(2).flag == draw_flag::none);
  for (const auto& row : joint(0.01, false).second) CHECK(row.flag == draw_flag::none);
}

TEST_CASE("by its nameplate alone a machine is held by ten times the evidence, and only where its kind is stated") {
  const auto joint = [](double p, bool doubt, auto&& state) -> std::optional<verdict::finding> {
    verdict::rules::compared_draw compared;
    compared.rows.push_back(speed_drawing(0.4, 0.001));
    compared.nameplate_p_value = p;
    compared.reading_in_doubt = doubt;
    auto in = record_of(compared);
    in.machine.running_circuit = rewound::record::running_circuit::permanent_capacitor;
    in.machine.speed_control = rewound::record::speed_control::series_reactor;
    state(in.machine);
    auto out = judge(in, compared);
    const auto found = std::find_if(out.findings.begin(), out.findings.end(),
                                    [](const auto& f) { return f.says == statement::draw_joint_nameplate; });
    if (found == out.findings.end()) return std::nullopt;
    return *found;
  };
  const auto as_it_is = [](auto&) {};
  CHECK_FALSE(joint(0.001, false, as_it_is));
  CHECK(joint(0.00099, false, as_it_is).value().outcome == outcome::fails);
  CHECK(joint(0.00099, true, as_it_is).value().outcome == outcome::undecided);
  CHECK(joint(0.0001, true, as_it_is).value().outcome == outcome::undecided);
  CHECK(joint(0.000099, true, as_it_is).value().outcome == outcome::fails);
  CHECK(near_relative(*joint(1e-5, false, as_it_is).value().limit_low, 0.001, 1e-12));
  CHECK_FALSE(joint(1e-9, false, [](auto& of) { of.running_circuit = rewound::record::running_circuit::unknown; }));
  const auto unknown_control = [](auto& of) { of.speed_control = rewound::record::speed_control::unknown; };
  CHECK(joint(1e-9, false, unknown_control));  // one speed needs none
  CHECK_FALSE(joint(1e-9, false, [&](auto& of) {
    unknown_control(of);
    of.speeds.push_back("low");
  }));
  // Half of what is marked: the plate may be another machine's.
  CHECK_FALSE(joint(1e-9, false, [](auto& of) { of.rated_current_A = 0.8; }));
}

TEST_CASE("what settles an undecided level: further readings, a better meter, more machines or nothing") {
  // 12 % allowed (practice); 1.5 % away from it a probability of 0.95 needs 1.5 / 1.6449 = 0.912 % of uncertainty.
  const auto told = [](verdict::level_uncertainty parts, int readings, double level = 10.5,
                       verdict::expectation by = verdict::expectation::earlier) {
    verdict::rules::compared_draw compared;
    auto row = speed_drawing(0.4, 0.001);
    row.judged_by = by;
    row.expected_at_rated = units::amperes(0.4);
    row.level_percent = {level, std::hypot(parts.readings, std::hypot(parts.gain, parts.expectation))};
    row.uncertainty = parts;
    row.readings = readings;
    compared.rows = {row};
    return judge(record_of(compared), compared).one();
  };
  const double allowed = verdict::policy{}.practice.level_percent.value;
  const double enough = 1.5 / 1.644854;
  const double level = allowed - 1.5;
  // readings alone: 6 readings of 2 % in all need 6 (2 / 0.912)^2 = 28.9, 23 more
  const auto more = told({.readings = 2.0}, 6, level);
  REQUIRE(more.outcome == outcome::undecided);
  CHECK(text(more, "settled_by") == "readings");
  CHECK(near_relative(number(more, "more"), std::ceil(6.0 * std::pow(2.0 / enough, 2) - 6.0), 1e-12));
  CHECK(text(told({.readings = 2.0}, 6, -level), "settled_by") == "readings");
  CHECK(near_relative(number(told({.readings = 2.0}, 6, -level), "more"), number(more, "more"), 1e-12));
  // 2.1 % need 32 readings: nobody reads on beyond 30
  CHECK(text(told({.readings = 2.1}, 6, level), "settled_by") == "nothing");
  // the meter: what readings and expectation leave of 0.912 %, as the limit of a rectangular error
  const auto meter = told({.readings = 0.3, .gain = 1.5, .expectation = 0.2}, 6, level);
  CHECK(text(meter, "settled_by") == "meter");
  CHECK(near_relative(number(meter, "accuracy"), std::sqrt(3.0 * (enough * enough - 0.09 - 0.04)), 1e-5));
  CHECK(near_relative(digits(meter, "accuracy"), 0.05 * number(meter, "accuracy"), 1e-12));
  // the expectation, of an earlier visit or of good machines
  CHECK(text(told({.readings = 0.3, .gain = 0.2, .expectation = 1.5}, 6, level), "settled_by") == "earlier");
  CHECK(text(told({.readings = 0.3, .gain = 0.2, .expectation = 1.5}, 6, level, verdict::expectation::reference),
             "settled_by") == "machines");
  // each part alone is too large
  CHECK(text(told({.readings = 0.3, .gain = 1.0, .expectation = 1.0}, 6, level), "settled_by") == "nothing");
  // what is decided has nothing to settle
  CHECK(text(told({.readings = 0.5}, 6, 0.0), "settled_by") == "again");
}

TEST_CASE("an earlier visit shows change, and the marked current stands beside it with its flag") {
  const auto flagged = [](double amperes) {
    verdict::rules::compared_draw compared;
    auto row = speed_drawing(amperes);
    row.judged_by = verdict::expectation::earlier;
    row.expected_at_rated = units::amperes(amperes);
    row.level_percent = {0.0, 0.1};
    compared.rows = {row};
    auto in = record_of(compared);
    in.machine.rated_current_A = 2.0;
    const auto out = judge(in, compared);
    REQUIRE(out.findings.size() == 2);
    return std::pair{out.findings.at(1), out.row()};
  };
  CHECK(flagged(2.0).first.outcome == outcome::conforms);
  CHECK(flagged(4.0).first.outcome == outcome::fails);
  CHECK(flagged(4.0).second.flag == draw_flag::high);
  CHECK(flagged(1.0).second.flag == draw_flag::low);
}

TEST_CASE("today's mains: told by ratio, flux and heat; a steeper rise than nearly all machines asks for heat") {
  record::visit_record in;
  in.machine.rated_voltage_V = 230.0;
  in.machine.speeds = {"high", "low"};
  in.visit.supply_voltage_V = 253.0;
  auto row = speed_drawing(0.5, 0.001);
  row.at_supply = {units::amperes(0.6), units::amperes(0.002)};
  const auto told = [&](double read_V, std::optional<checks::rise_result> rise, bool heat) {
    return verdict::rules::draw_on_mains(in, row, read_V, rise, heat, verdict::policy{});
  };
  const auto f = told(253.0, {}, false);
  CHECK(f.outcome == outcome::conforms);
  CHECK(near_relative(number(f, "rise"), 20.0, 1e-9));
  CHECK(near_relative(number(f, "flux"), 10.0, 1e-9));
  CHECK(near_relative(number(f, "copper"), 44.0, 1e-9));
  CHECK(digits(f, "copper") == 3.0);
  const double rarely = verdict::policy{}.practice.mains_rise_percent.value / 100.0;
  const auto rising = [&](double p) {
    checks::rise_result out;
    out.exponent = {3.0, 0.1};
    out.probability = p;
    return out;
  };
  CHECK(told(253.0, rising(rarely * 1.01), false).outcome == outcome::conforms);
  CHECK(told(253.0, rising(rarely * 0.99), false).outcome == outcome::undecided);
  CHECK(told(253.0, rising(rarely * 0.99), false).bearing == verdict::bearing::decides);
  CHECK(told(253.0, rising(rarely * 0.99), true).bearing == verdict::bearing::informs);
  const double unread = 253.0 * (1.0 - verdict::policy{}.practice.mains_unread_percent.value / 100.0);
  CHECK(told(unread + 0.01, {}, false).says == statement::draw_on_mains);
  CHECK(told(unread - 0.01, {}, false).says == statement::draw_unread_on_mains);
  CHECK(told(unread - 0.01, {}, false).outcome == outcome::undecided);
  CHECK(told(unread - 0.01, rising(0.5), false).outcome == outcome::not_tested);
  row.speed = "low";
  CHECK(told(unread - 0.01, {}, false).outcome == outcome::not_tested);
}

TEST_CASE("a step between speeds is held to its limit both ways") {
  const verdict::policy rules;
  const double most = rules.practice.step_ratio_percent.value;
  for (const double sign : {-1.0, 1.0}) {
    const auto judged = [&](double percent) {
      return verdict::rules::step_size({"high", "low", {sign * percent, 1e-6}, {}}, rules);
    };
    CHECK(judged(most - 0.001).outcome == outcome::conforms);
    CHECK(judged(most + 0.001).outcome == outcome::fails);
    CHECK(near_relative(*judged(0.0).limit_low, -most, 1e-12));
    CHECK(near_relative(*judged(0.0).limit_high, most, 1e-12));
  }
}

TEST_CASE("beside good machines the outcome is that of two normal populations written out") {
  // Of machines a share of 0.9 lies about 0 as good ones do, the others within 25 %; each judged by its reading.
  const verdict::policy rules;
  const auto probability = [](double percent, double u, double good, double limit) {
    double within = 0.0, all = 0.0;
    for (double true_percent = -200.0; true_percent <= 200.0; true_percent += 0.01) {
      const auto normal = [](double z, double s) { return std::exp(-0.5 * z * z / (s * s)) / s; };
      const double density =
          (0.9 * normal(true_percent, good) + 0.1 * normal(true_percent, 25.0)) * normal(percent - true_percent, u);
      all += density;
      if (std::abs(true_percent) <= limit) within += density;
    }
    return within / all;
  };
  int undecided = 0;
  for (const double u : {0.7, 3.0})
    for (const double good : {2.0, 6.0})
      for (double percent = -30.0; percent <= 30.0; percent += 1.7) {
        const double limit = rules.practice.step_ratio_percent.value;
        const double p = probability(percent, u, good, limit);
        if (std::abs(p - 0.95) < 1e-3 || std::abs(p - 0.05) < 1e-3) continue;
        const auto expected = p >= 0.95 ? outcome::conforms : p <= 0.05 ? outcome::fails : outcome::undecided;
        CHECK(verdict::rules::step_size({"high", "low", {percent, u}, good}, rules).outcome == expected);
        undecided += expected == outcome::undecided;
      }
  CHECK(undecided > 3);
}

TEST_CASE("in the other market the mark of one phase is held as a fan's, of three as a motor's") {
  verdict::policy rules;
  rules.sold_in = verdict::market::north_america;
  for (const auto& [phases, quantity] : {std::pair{1, "ul_current_A"}, {3, "nema_current_A"}}) {
    verdict::rules::compared_draw compared;
    compared.rows = {speed_drawing(2.0)};
    auto in = record_of(compared);
    in.machine.phases = phases;
    in.machine.rated_current_A = 2.0;
    const auto f = verdict::rules::draw(in, compared, rules).findings.front();
    const auto row =
        std::find_if(verdict::tables::nameplate_deviation.begin(), verdict::tables::nameplate_deviation.end(),
                     [&, wanted = quantity](const auto& each) { return each.quantity == wanted; });
    CHECK(f.source == row->source);
    CHECK(near_relative(*f.limit_high, 2.2, 1e-12));
  }
}

TEST_CASE("beside an earlier visit the readings alone decide, beside good machines their spread as well") {
  const auto level = [](verdict::expectation by) {
    verdict::rules::compared_draw compared;
    auto row = speed_drawing(0.4, 0.001);
    row.judged_by = by;
    row.expected_at_rated = units::amperes(0.4);
    row.level_percent = {8.8, 0.8};
    row.expected_spread_percent = 3.0;
    compared.rows = {row};
    return judge(record_of(compared), compared).one();
  };
  // 1.2 % to the limit are 1.5 of 0.8 %: 0.933. Good machines lie within 2.9 %: 0.964, as two populations written out.
  const auto earlier = level(verdict::expectation::earlier), good = level(verdict::expectation::reference);
  CHECK(earlier.says == statement::draw_against_earlier);
  CHECK(earlier.outcome == outcome::undecided);
  CHECK(good.says == statement::draw_against_reference);
  CHECK(good.outcome == outcome::conforms);
  CHECK(near_relative(*earlier.limit_low, -10.0, 1e-12));
  CHECK(near_relative(*earlier.limit_high, 10.0, 1e-12));
}

TEST_CASE("a joint test against an earlier visit alone speaks of no machines") {
  verdict::rules::compared_draw compared;
  auto row = speed_drawing(0.4, 0.001);
  row.judged_by = verdict::expectation::earlier;
  row.expected_at_rated = units::amperes(0.4);
  row.level_percent = {0.0, 1.0};
  compared.rows = {row};
  compared.joint_p_value = 0.5;
  const auto out = judge(record_of(compared), compared);
  REQUIRE(out.findings.size() >= 2);
  CHECK(out.findings.at(1).says == statement::draw_joint_test);
  CHECK(out.findings.at(1).numbers.empty());
}

TEST_CASE("a speed that was run without a usable reading is open, one that was not run is not tested") {
  verdict::rules::compared_draw compared;
  compared.rows = {verdict::draw_row{.speed = "high"}, verdict::draw_row{.speed = "low"}};
  auto in = record_of(compared);
  in.run_up.pop_back();
  const auto out = judge(in, compared);
  CHECK(out.findings.at(0).says == statement::speed_without_usable_reading);
  CHECK(out.rows.at(0).outcome == outcome::undecided);
  CHECK(out.findings.at(1).says == statement::speed_not_run);
  CHECK(out.rows.at(1).outcome == outcome::not_tested);
}

TEST_CASE("what is told beside a draw has the digits that it is known to") {
  CHECK(digits(beside_mark(2.0, {}).one(), "marked") == 0.005);
  verdict::rules::compared_draw compared;
  compared.rows = {speed_drawing(1.0), speed_drawing(0.8, exact, "low")};
  compared.log_current_by_winding = measurement::uncertain<double>{0.0, 0.1};
  auto out = judge(record_of(compared), compared);
  CHECK(near_relative(digits(out.one(), "winding_high"), 0.05 * number(out.one(), "winding_high"), 1e-12));
  CHECK(near_relative(digits(out.findings.at(1), "usual"), 0.02 * number(out.findings.at(1), "usual"), 1e-12));
  compared.rows[0] = speed_drawing(2.0);
  out = judge(record_of(compared), compared);
  CHECK(near_relative(number(out.one(), "expected"), 1.0, 1e-12));
  CHECK(near_relative(digits(out.one(), "expected"), 0.05, 1e-12));
}
