// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <near.hpp>
#include <rewound/verdict/rules/starting.hpp>
#include <told.hpp>

// Starts, the voltages and times they took, each limit a hair to either side.
namespace starting_rules {

using namespace rewound;
using testing::near_absolute;
using testing::near_relative;
using testing::saying;
using testing::told_number;
using testing::told_text;
using verdict::bearing;
using verdict::outcome;
using verdict::statement;
using verdict::rules::position_tries;

std::vector<verdict::finding> started(const std::vector<position_tries>& tries,
                                      std::vector<checks::starting_result> proved) {
  proved.resize(tries.size(), {1.0, 0.5, {0.4, 1.0}, 59, 0});
  return verdict::rules::starting({}, tries, proved, verdict::policy{});
}

TEST_CASE("five starts without failure in one position are enough for all; one that failed fails its own") {
  auto all = started({{"shaft up", 4, 4}, {"shaft down", 1, 1}}, {});
  for (const auto& f : all) {
    CHECK(f.says == statement::starts_too_few);
    CHECK(f.outcome == outcome::undecided);
  }
  all = started({{"shaft up", 5, 5}, {"shaft down", 1, 1}}, {});
  for (const auto& f : all) {
    CHECK(f.says == statement::starts_clean);
    CHECK(f.outcome == outcome::conforms);
  }
  all = started({{"shaft up", 5, 4}, {"shaft down", 5, 5}}, {});
  CHECK(all.at(0).says == statement::starts_failed);
  CHECK(all.at(0).outcome == outcome::fails);
  CHECK(all.at(1).outcome == outcome::conforms);
  CHECK(started({}, {}).front().says == statement::starts_not_tried);
  CHECK(told_number(started({}, {}).front(), "minimum").value == 5.0);
}

TEST_CASE("a share of starts is told in percent, rounded down to two digits of what is short of certain") {
  struct {
    double share, percent;
    int decimals;
  } const rows[] = {{1.0, 100.0, 0},  {0.0, 0.0, 0},    {0.5, 50.0, 0},    {0.549, 54.0, 0},     {0.9507, 95.0, 1},
                    {0.953, 95.3, 1}, {0.991, 99.1, 2}, {0.00901, 0.9, 2}, {0.998749, 99.87, 2}, {0.00348, 0.34, 2},
                    {0.0345, 3.4, 1}, {0.009, 0.9, 2},  {0.9, 90, 0},      {0.9899, 98.9, 1},    {0.999891, 99.989, 3}};
  for (const auto& row : rows) {
    CAPTURE(row.share);
    const auto f = started({{"", 5, 5}}, {{1.0, row.share, {0.5, 0.9}, 59, 0}}).front();
    const auto told = told_number(f, "reliability_percent");
    CHECK(near_absolute(told.value, row.percent, 1e-9));
    // The text shows as many decimals as its 95 % interval of five of the last digit asks for.
    const double last = 5.0 / 1.959964 / std::pow(10.0, row.decimals);
    if (row.share < 1.0) CHECK(near_relative(told.standard_uncertainty, last, 1e-6));
    CHECK(*f.low == row.share);
    CHECK(told_number(f, "low_percent").value == 50.0);
    CHECK(told_number(f, "high_percent").value == 90.0);
  }
}

TEST_CASE("what starts prove is told with how many more would prove the claim") {
  auto f = started({{"", 5, 5}}, {{1.0, 0.5, {0.4, 1.0}, 59, 54}}).front();
  CHECK(*f.value == 1.0);
  CHECK(*f.high == 1.0);
  CHECK(*f.limit_low == 1.0);
  CHECK(told_number(f, "attempts").value == 5.0);
  CHECK(told_number(f, "needed").value == 59.0);
  CHECK(told_number(f, "further").value == 54.0);
  CHECK(told_number(f, "confidence_percent").value == 95.0);
  CHECK(told_number(f, "claimed_percent").value == 95.0);
  CHECK(told_text(f, "more") == "further");
  f = started({{"", 5, 3}}, {{0.6, 0.2, {0.1, 0.9}, 59, 120}}).front();
  CHECK(told_number(f, "successes").value == 3.0);
  CHECK(told_text(f, "more") == "further_failed");
  CHECK(told_text(started({{"", 5, 5}}, {{1.0, 0.5, {}, 59, 0}}).front(), "more") == "none");
  CHECK(told_text(started({{"", 5, 5}}, {{1.0, 0.5, {}, 59, {}}}).front(), "more") == "none");
}

TEST_CASE("a rotor that stands still at nine tenths of the rated voltage fails (NEMA MG 1 12.44.1)") {
  const auto stalled = [](double volts, bool turning, std::optional<double> rpm) {
    record::visit_record in;
    in.machine.rated_voltage_V = 230.0;
    in.run_up.emplace_back().speed = "high";
    auto& row = in.run_up.back().rows.emplace_back();
    row.voltage_V = volts;
    row.turning = turning;
    row.speed_rpm = rpm;
    const auto all = verdict::rules::starting(in, {}, {}, verdict::policy{});
    const auto* f = saying(all, statement::stalled_near_rating);
    if (f != nullptr) CHECK(*f->value == volts);
    return f == nullptr ? outcome::not_tested : f->outcome;
  };
  CHECK(stalled(207.01, false, {}) == outcome::fails);
  CHECK(stalled(206.99, false, {}) == outcome::not_tested);
  CHECK(stalled(230.0, true, 0.0) == outcome::fails);
  CHECK(stalled(230.0, true, 900.0) == outcome::not_tested);
  CHECK(stalled(230.0, true, {}) == outcome::not_tested);
}

TEST_CASE("a rotor that stands still where others turn fails beyond what starting voltages differ by") {
  const verdict::policy rules;
  const double margin = 1.0 + rules.practice.standstill_margin_percent.value / 100.0;
  const auto stood = [&](double ratio) {
    return verdict::rules::standing_still("low", {units::volts(ratio * 100.0), units::volts(100.0), ratio}, "reference",
                                          rules);
  };
  CHECK(stood(1.0).empty());
  CHECK(stood(margin - 1e-9).empty());
  const auto all = stood(margin + 1e-9);
  const auto* f = saying(all, statement::stalled_where_others_turn);
  REQUIRE(f != nullptr);
  CHECK(f->outcome == outcome::fails);
  CHECK(f->bearing == bearing::decides);
  CHECK(f->subject == "low");
  CHECK(near_relative(*f->value, 110.0, 1e-9));
  CHECK(near_relative(*f->limit_high, 100.0 * margin, 1e-12));
  CHECK(told_number(*f, "turned_from").value == 100.0);
  CHECK(told_text(*f, "turned_then") == "reference");
}

TEST_CASE("positions are compared by Fisher's exact test, and the difference has Newcombe's interval") {
  const auto compared = [](int successes) {
    return verdict::rules::start_positions({{"shaft up", 10, 10}, {"shaft down", 10, successes}}, verdict::policy{});
  };
  // All 5 failures among 10 of 20: 2 C(10, 5) / C(20, 5) = 2 * 252 / 15504.
  const auto differ = compared(5).at(0);
  CHECK(differ.says == statement::starts_differ);
  CHECK(differ.subject == "shaft down");
  CHECK(near_relative(*differ.value, 504.0 / 15504.0, 1e-12));
  CHECK(*differ.limit_low == 0.05);
  CHECK(told_number(differ, "attempts").value == 10.0);
  CHECK(told_number(differ, "successes").value == 5.0);
  CHECK(told_number(differ, "other_attempts").value == 10.0);
  CHECK(told_number(differ, "other_successes").value == 10.0);
  // Wilson's intervals by hand: 10 of 10 from 0.722467, 5 of 10 from 0.236593 to 0.763407.
  CHECK(near_relative(told_number(differ, "fewer_percent").value, 50.0, 1e-12));
  CHECK(near_absolute(told_number(differ, "fewer_low").value, 11.737, 2e-3));
  CHECK(near_absolute(told_number(differ, "fewer_high").value, 76.3407, 2e-3));
  CHECK(told_number(differ, "confidence_percent").value == 95.0);
  // 2 C(10, 4) / C(20, 4) = 420 / 4845
  const auto alike = compared(6).at(0);
  CHECK(alike.says == statement::starts_no_difference);
  CHECK(near_relative(*alike.value, 420.0 / 4845.0, 1e-12));
  CHECK(near_relative(told_number(alike, "fewer_percent").value, 40.0, 1e-12));
  CHECK(compared(10).empty());
}

/// The lowest starting voltages of a machine of 230 V.
std::vector<verdict::finding> lowest(std::vector<double> volts, std::optional<double> mains_V = {}, double u = 1e-6,
                                     std::optional<checks::repeated_tries_result> trend = {}) {
  record::visit_record in;
  in.machine.rated_voltage_V = 230.0;
  in.visit.supply_voltage_V = mains_V;
  position_tries tries;
  tries.lowest_V = std::move(volts);
  return verdict::rules::starting_voltage(in, tries, u, trend, verdict::policy{});
}

TEST_CASE("a lowest starting voltage conforms up to 90 % of the rating, and is a condition up to the rating") {
  struct {
    double volts;
    std::optional<double> mains_V;
    statement says;
    outcome came_to;
    bearing weighs;
  } const rows[] = {
      {22.99, {}, statement::starting_voltage_impossible, outcome::undecided, bearing::decides},
      {23.01, {}, statement::starting_voltage, outcome::conforms, bearing::informs},
      {206.99, {}, statement::starting_voltage, outcome::conforms, bearing::informs},
      {207.01, {}, statement::starting_voltage_high, outcome::undecided, bearing::informs},
      {229.99, {}, statement::starting_voltage_high, outcome::undecided, bearing::informs},
      // 1 % of the rating about the rating, or about the mains, was the voltage of the test.
      {232.29, {}, statement::starting_voltage_high, outcome::undecided, bearing::informs},
      {232.31, {}, statement::starting_voltage, outcome::fails, bearing::decides},
      {237.29, 235.0, statement::starting_voltage_high, outcome::undecided, bearing::informs},
      {237.31, 235.0, statement::starting_voltage, outcome::fails, bearing::decides},
      {237.71, 240.0, statement::starting_voltage_high, outcome::undecided, bearing::informs},
      {237.69, 240.0, statement::starting_voltage, outcome::fails, bearing::decides},
  };
  for (const auto& row : rows) {
    CAPTURE(row.volts);
    const auto f = lowest({100.0, row.volts, 20.0}, row.mains_V).front();
    if (row.volts < 100.0) continue;  // below, by itself
    CHECK(f.says == row.says);
    CHECK(f.outcome == row.came_to);
    CHECK(f.bearing == row.weighs);
    CHECK(near_relative(*f.value, row.volts / 2.3, 1e-12));
    CHECK(*f.limit_high == 90.0);
    CHECK(told_number(f, "volts").value == row.volts);
    CHECK(told_number(f, "tries").value == 3.0);
    CHECK(told_text(f, "worst") == "several");
  }
  for (const auto& row : rows) {
    CAPTURE(row.volts);
    const auto f = lowest({row.volts}, row.mains_V).front();
    CHECK(f.says == row.says);
    CHECK(f.outcome == row.came_to);
    CHECK(f.bearing == row.weighs);
    CHECK(told_text(f, "worst") == "one");
  }
  CHECK(*lowest({22.0}).front().limit_low == 10.0);
}

TEST_CASE("the voltmeter's uncertainty counts in percent of the rating") {
  const auto f = lowest({200.0}, {}, 2.3).front();
  CHECK(near_relative(*f.high - *f.low, 2.0 * 1.959964 * 1.0, 1e-6));
  CHECK(told_number(f, "volts").standard_uncertainty == 2.3);
  // 1.6449 % below 90 % a probability of 0.95 that the voltage lies below the limit.
  CHECK(lowest({2.3 * (90.0 - 1.6448)}, {}, 2.3).front().outcome == outcome::undecided);
  CHECK(lowest({2.3 * (90.0 - 1.6450)}, {}, 2.3).front().outcome == outcome::conforms);
}

TEST_CASE("a drift from try to try is told with its sign where it is certain") {
  struct {
    double slope, value;
    const char* trend;
  } const rows[] = {{3.0, 3.0, "rises"}, {-3.0, 3.0, "falls"}, {1.0, 1.0, "steady"}, {-1.0, -1.0, "steady"}};
  for (const auto& row : rows) {
    CAPTURE(row.slope);
    const auto all = lowest({200.0, 200.0, 200.0}, {}, 1e-6, checks::repeated_tries_result{row.slope, 2.0});
    REQUIRE(all.size() == 2);
    const auto& f = all.at(1);
    CHECK(f.says == statement::starting_voltage_trend);
    CHECK(*f.value == row.value);
    CHECK(*f.low == row.value - 2.0);
    CHECK(*f.high == row.value + 2.0);
    CHECK(told_text(f, "trend") == row.trend);
    CHECK(told_number(f, "tries").value == 3.0);
  }
  CHECK(lowest({200.0, 200.0, 200.0}).size() == 1);
}

TEST_CASE("the longest time to speed is told, and is in the way beyond half a minute") {
  const auto slowest = [](std::vector<double> seconds) {
    position_tries tries;
    tries.to_speed_s = std::move(seconds);
    return verdict::rules::time_to_speed(tries, {}, verdict::policy{}).front();
  };
  CHECK(*slowest({2.0, 5.0, 3.0}).value == 5.0);
  CHECK(told_text(slowest({2.0, 5.0}), "slowest") == "several");
  CHECK(told_text(slowest({2.0}), "slowest") == "one");
  CHECK(slowest({30.0}).bearing == bearing::informs);
  CHECK(slowest({30.0}).says == statement::time_to_speed);
  CHECK(slowest({30.001}).bearing == bearing::decides);
  CHECK(slowest({30.001}).outcome == outcome::undecided);
  CHECK(slowest({30.001}).says == statement::time_to_speed_long);
  CHECK(*slowest({30.001}).limit_high == 30.0);
}

}  // namespace starting_rules
