// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <near.hpp>
#include <rewound/verdict/rules/steps.hpp>

using namespace rewound;
using checks::step_flag;
using enum record::speed_control;
using verdict::outcome;
using verdict::statement;

// Which witness of the speeds' order is believed: good machines, rpm, currents; and what an exchange then counts.
namespace {

struct told {
  outcome is;
  statement says;
  std::optional<step_flag> flag;
  std::vector<std::size_t> order;
  std::string text;
};

/// Currents of three speeds with such a flag, under such a control.
struct evidence {
  step_flag currents = step_flag::in_order;
  record::speed_control control = unknown;
  std::vector<double> rpm = {};
  double rise = 0.0;  ///< by which the logarithm of the current rises from the first to the second speed
  bool bare = false;
  bool falls = false;
  bool ohms = false;
  std::vector<std::size_t> equal = {};
  std::optional<checks::order_result> good = {};

  told judged() const {
    record::visit_record in;
    in.machine.speeds = {"high", "medium", "low"};
    in.machine.speed_control = control;
    if (bare) in.visit.shaft = record::shaft_condition::bare;
    verdict::rules::compared_steps compared;
    compared.result = {currents, {{-rise, 0.01, 0.0, 0.0, 1.0}, {0.2, 0.01, 1.0, 0.0, 0.0}}, {1, 0, 2}, 0.97};
    compared.rotation_rpm = rpm;
    compared.own_curve_falls = falls;
    compared.ohms_in_order = ohms;
    compared.equal = equal;
    compared.beside_good = good;
    const auto out = verdict::rules::steps(in, compared, verdict::policy{});
    std::string text;
    for (const auto& [key, value] : out.finding.texts)
      if (key == "equal") text = value;
    return {out.finding.outcome, out.finding.says, out.flag, out.best_order, text};
  }
};

checks::order_result by_good(std::vector<std::size_t> speed_of_run, double probability) {
  return {{{std::move(speed_of_run), probability}}};
}

}  // namespace

TEST_CASE("currents in order conform, merged ones fail, unclear ones are undecided") {
  CHECK(evidence{}.judged().is == outcome::conforms);
  CHECK(evidence{.currents = step_flag::merged}.judged().is == outcome::fails);
  CHECK(evidence{.currents = step_flag::unclear}.judged().is == outcome::undecided);
  CHECK(evidence{}.judged().order == std::vector<std::size_t>{1, 0, 2});
}

TEST_CASE("an exchange by currents fails where the control promises the order, and is a tendency otherwise") {
  for (const auto flag : {step_flag::swapped, step_flag::reversed}) {
    const auto with = [&](record::speed_control control) { return evidence{.currents = flag, .control = control}; };
    CHECK(with(autotransformer).judged().is == outcome::fails);
    for (const auto control : {series_reactor, series_resistor, tapped_winding, series_capacitor, unknown, none}) {
      CHECK(with(control).judged().is == outcome::undecided);
      CHECK(with(control).judged().says == statement::steps_tendency);
    }
    for (const auto control : {series_reactor, series_resistor, tapped_winding}) {
      auto bare = with(control);
      bare.bare = true;
      CHECK(bare.judged().is == outcome::fails);
    }
    for (const auto control : {series_reactor, series_resistor}) {
      auto falls = with(control);
      falls.falls = true;
      CHECK(falls.judged().is == outcome::fails);
    }
    auto taps = with(tapped_winding);
    taps.falls = true;
    CHECK(taps.judged().is == outcome::undecided);
    CHECK(with(pole_change).judged().says == statement::steps_not_promised);
    CHECK(with(pole_change).judged().is == outcome::undecided);
  }
}

TEST_CASE("taps may raise the current by 20 percent, no more") {
  const auto rising = [](double rise) {
    return evidence{.currents = step_flag::swapped, .control = tapped_winding, .rise = rise}.judged().is;
  };
  CHECK(rising(std::log(1.199)) == outcome::undecided);
  CHECK(rising(std::log(1.201)) == outcome::fails);
  CHECK(rising(-std::log(1.201)) == outcome::undecided);
}

TEST_CASE("rpm that fall from speed to speed by 2 percent outrank currents, and tell an exchange") {
  const auto turning = [](double first, double second, double third) {
    return evidence{.currents = step_flag::unclear, .rpm = {first, second, third}}.judged();
  };
  CHECK(turning(1400.0, 1300.0, 1200.0).is == outcome::conforms);
  CHECK(turning(1400.0, 1300.0, 1200.0).says == statement::steps_by_rotation);
  CHECK(turning(1300.0, 1400.0, 1200.0).is == outcome::fails);
  CHECK(turning(1300.0, 1400.0, 1200.0).flag == step_flag::swapped);
  CHECK(turning(1300.0, 1400.0, 1200.0).order == std::vector<std::size_t>{1, 0, 2});
  CHECK(turning(1200.0, 1300.0, 1400.0).flag == step_flag::reversed);
  // Steps below 2 percent say nothing, either way.
  CHECK(turning(1400.0, 1400.0 * std::exp(-0.0199), 1200.0).says != statement::steps_by_rotation);
  CHECK(turning(1400.0, 1400.0 * std::exp(-0.0201), 1200.0).says == statement::steps_by_rotation);
  CHECK(turning(1400.0, 1400.0 * std::exp(0.0199), 1200.0).is == outcome::undecided);
  CHECK(turning(1400.0, 1400.0 * std::exp(0.0201), 1200.0).is == outcome::fails);
  CHECK(evidence{.currents = step_flag::in_order, .rpm = {1400.0}}.judged().says == statement::steps_in_order);
}

TEST_CASE("where a slower speed has more in its path, rpm in order do not excuse that it takes more") {
  for (const auto control : {tapped_winding, series_reactor, series_resistor, series_capacitor, autotransformer})
    for (const auto flag : {step_flag::swapped, step_flag::reversed}) {
      const auto found = evidence{.currents = flag, .control = control, .rpm = {1400.0, 1300.0, 1200.0}}.judged();
      CHECK(found.says == statement::steps_currents_against_rotation);
      CHECK(found.is == outcome::undecided);
    }
  CHECK(evidence{.currents = step_flag::swapped, .control = unknown, .rpm = {1400.0, 1300.0, 1200.0}}.judged().is ==
        outcome::conforms);
  // Against each other only where rpm are in order.
  CHECK(evidence{.currents = step_flag::swapped, .control = series_reactor, .rpm = {1300.0, 1400.0, 1200.0}}
            .judged()
            .is == outcome::fails);
}

TEST_CASE("of an unknown control only a slower speed that takes far more is not excused by rpm") {
  const auto rising = [](double rise) {
    return evidence{.currents = step_flag::swapped, .control = unknown, .rpm = {1400.0, 1300.0, 1200.0}, .rise = rise}
        .judged();
  };
  CHECK(rising(std::log(1.19)).is == outcome::conforms);
  CHECK(rising(std::log(1.21)).is == outcome::undecided);
  CHECK(rising(std::log(1.21)).says == statement::steps_currents_against_rotation);
}

TEST_CASE("ohms that rise to the slower speeds and rpm in order clear a slower speed that takes somewhat more") {
  const auto with = [](double rise, bool ohms) {
    return evidence{.currents = step_flag::swapped,
                    .control = series_reactor,
                    .rpm = {1400.0, 1300.0, 1200.0},
                    .rise = rise,
                    .ohms = ohms}
        .judged()
        .is;
  };
  CHECK(with(std::log(1.1), false) == outcome::undecided);
  CHECK(with(std::log(1.1), true) == outcome::conforms);
  CHECK(with(std::log(1.3), true) == outcome::undecided);
}

TEST_CASE("windings of several pole numbers that take alike are told apart by rpm and not called one tap") {
  const auto alike = [](std::vector<double> rpm) {
    return evidence{.currents = step_flag::merged, .control = pole_change, .rpm = std::move(rpm), .equal = {0}}
        .judged();
  };
  CHECK(alike({1400.0, 900.0, 700.0}).is == outcome::conforms);
  CHECK(alike({}).is == outcome::undecided);
  CHECK(alike({}).says == statement::steps_not_promised);
}

TEST_CASE("good machines outrank currents from a probability of 0.95 on, but two taps of one current stay merged") {
  const auto beside = [](std::vector<std::size_t> runs, double p, step_flag currents = step_flag::swapped) {
    return evidence{.currents = currents, .control = autotransformer, .good = by_good(std::move(runs), p)}.judged();
  };
  CHECK(beside({0, 1, 2}, 0.95).is == outcome::conforms);
  CHECK(beside({0, 1, 2}, 0.95).says == statement::steps_as_good_machines);
  CHECK(beside({0, 1, 2}, 0.9499).says == statement::steps_swapped);
  const auto turned = beside({1, 2, 0}, 0.96, step_flag::in_order);
  CHECK(turned.is == outcome::fails);
  CHECK(turned.says == statement::steps_unlike_good_machines);
  CHECK(turned.order == std::vector<std::size_t>{2, 0, 1});  // run 2 is the fastest speed, run 0 the next
  CHECK(beside({2, 1, 0}, 0.96).flag == step_flag::reversed);
  CHECK(beside({0, 1, 2}, 0.99, step_flag::merged).is == outcome::fails);
}

TEST_CASE("amperes alike digit for digit leave the steps open, unless an exchange or a merger is told") {
  const auto alike = [](step_flag flag) {
    return evidence{.currents = flag, .control = autotransformer, .rpm = {1400.0, 1300.0, 1200.0}, .equal = {1}}
        .judged();
  };
  CHECK(alike(step_flag::in_order).says == statement::steps_equal);
  CHECK(alike(step_flag::in_order).is == outcome::undecided);
  CHECK(alike(step_flag::in_order).flag == step_flag::merged);
  CHECK(alike(step_flag::in_order).text == "medium and low");
  CHECK(alike(step_flag::reversed).says == statement::steps_equal);
  CHECK(alike(step_flag::swapped).says != statement::steps_equal);
  CHECK(alike(step_flag::merged).says == statement::steps_merged);
}

TEST_CASE("one speed has no steps, and a speed without current leaves them open by its name") {
  record::visit_record in;
  in.machine.speeds = {"high"};
  CHECK(verdict::rules::steps(in, {}, verdict::policy{}).finding.bearing == verdict::bearing::does_not_apply);
  in.machine.speeds = {"high", "medium", "low"};
  verdict::rules::compared_steps compared;
  compared.without_curve = {"medium", "low"};
  const auto found = verdict::rules::steps(in, compared, verdict::policy{});
  CHECK(found.finding.outcome == outcome::undecided);
  CHECK(found.finding.says == statement::steps_speed_missing);
  CHECK(found.finding.texts.front().second == "medium, low");
  CHECK_FALSE(found.flag.has_value());
}

TEST_CASE("two speeds are judged as three are, and their rpm told by themselves") {
  const auto two = [](std::vector<double> rpm) {
    record::visit_record in;
    in.machine.speeds = {"high", "low"};
    in.machine.speed_control = tapped_winding;
    verdict::rules::compared_steps compared;
    compared.result = {step_flag::unclear, {{0.0, 0.01, 0.5, 0.0, 0.5}}, {0, 1}, 0.5};
    compared.rotation_rpm = std::move(rpm);
    compared.rotation_rpm.pop_back();  // what a third speed turned at is none of theirs
    return verdict::rules::steps(in, compared, verdict::policy{}).finding;
  };
  CHECK(two({1400.0, 1200.0, 1300.0}).says == statement::steps_by_rotation);
  CHECK(two({1400.0, 1200.0, 1300.0}).outcome == outcome::conforms);
  CHECK(two({1200.0, 1400.0, 1000.0}).says == statement::steps_against_rotation);
  CHECK(two({1200.0, 1400.0, 1000.0}).outcome == outcome::fails);
}
