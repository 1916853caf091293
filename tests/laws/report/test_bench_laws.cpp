// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <string>

#include <generated.hpp>
#include <judged.hpp>
#include <rewound/job/simulate.hpp>
#include <simulation_size.hpp>

using rewound::record::visit_record;
using rewound::testing::between;
using rewound::testing::factor;
using rewound::testing::finding_saying;
using rewound::testing::good;
using rewound::testing::judged;
using rewound::testing::numbers;
using rewound::testing::one_of;
using rewound::testing::released;
using rewound::testing::says;
using rewound::testing::simulated;
using rewound::verdict::bearing;
using rewound::verdict::check;
using rewound::verdict::decision;
using rewound::verdict::outcome;
using rewound::verdict::statement;

// Laws of what a person brings besides readings: meters and their ranges, protectors, names of sections, wire.
namespace {

/// The good record's run-ups read on a range that ends at a factor of the largest current.
visit_record on_range(double of_largest) {
  auto in = good.record();
  double most = 0.0;
  for (const auto& run : in.run_up)
    for (const auto& row : run.rows) most = std::max(most, row.current_A);
  in.instruments["ammeter"].full_scale = of_largest * most;
  return in;
}

visit_record wound(double wire_factor) {
  auto in = good.record();
  in.machine.rated_current_A.reset();
  in.machine.rated_power_W.reset();
  in.resistance.resize(1);
  auto& main = in.resistance.front();
  main.section = "main";
  main.expected_ohm.reset();
  main.wire_diameter_mm = 0.25 * wire_factor;
  main.turns = 900;
  main.mean_turn_mm = 200;
  return in;
}

}  // namespace

TEST_CASE("a reading beyond the end of its range is never released, one far down on it is told and holds nothing") {
  numbers random(901);
  for (int i = 0; i < simulated(100); ++i) {
    const auto beyond = judged(on_range(between(random, 0.2, 0.99)));
    CHECK(beyond.decision.decision != decision::release);
    CHECK(says(beyond, statement::entries_contradict));
    const auto low = judged(on_range(factor(random, 30.0, 1000.0)));
    CHECK(low.decision.decision == decision::release);
    CHECK(finding_saying(low, statement::readings_low_on_range).bearing == bearing::informs);
    CHECK_FALSE(says(judged(on_range(between(random, 1.01, 1.5))), statement::readings_low_on_range));
  }
}

TEST_CASE("an ammeter that is not true-rms makes currents wider, and never turns a hold into a release") {
  numbers random(902);
  for (int i = 0; i < simulated(100); ++i) {
    auto in = good.record();
    for (auto& run : in.run_up)
      for (auto& row : run.rows) row.current_A *= 1.0;
    *in.machine.rated_current_A *= factor(random, 0.6, 1.4);
    auto averaging = in;
    in.instruments["ammeter"].true_rms = true;
    averaging.instruments["ammeter"].true_rms = false;
    const auto plain = judged(in), wide = judged(averaging);
    CHECK(says(wide, statement::ammeter_averages));
    CHECK_FALSE(says(plain, statement::ammeter_averages));
    CHECK(wide.draw.front().at_rated->standard_uncertainty > plain.draw.front().at_rated->standard_uncertainty);
    if (plain.decision.decision == decision::hold) CHECK(wide.decision.decision != decision::release);
  }
}

TEST_CASE("a meter of which true_rms or its range alone is stated reads as well as one of which nothing is stated") {
  numbers random(911);
  for (int i = 0; i < simulated(60); ++i) {
    auto in = good.record();
    *in.machine.rated_current_A *= factor(random, 0.8, 1.25);
    for (auto& run : in.run_up)
      for (auto& row : run.rows) row.current_A *= between(random, 0.995, 1.005);
    in.instruments.erase("ammeter");
    auto stated = in;
    auto& ammeter = stated.instruments["ammeter"];
    if (i % 2 == 0) ammeter.true_rms = true;
    else ammeter.full_scale = 10.0 * in.run_up.front().rows.back().current_A;
    const auto without = judged(in), with = judged(stated);
    CHECK(with.decision.decision == without.decision.decision);
    for (std::size_t k = 0; k < with.draw.size(); ++k)
      CHECK(with.draw[k].at_rated->standard_uncertainty == without.draw[k].at_rated->standard_uncertainty);
  }
}

TEST_CASE("a part of a meter's accuracy that is stated stands, what is not is what is usual") {
  auto in = good.record();
  in.instruments["ammeter"] = {};
  const auto usual = judged(in).draw.front().at_rated->standard_uncertainty;
  in.instruments["ammeter"].reading_percent = 0.2;
  const auto better = judged(in).draw.front().at_rated->standard_uncertainty;
  in.instruments["ammeter"].reading_percent = 6.0;
  CHECK(better < usual);
  CHECK(judged(in).draw.front().at_rated->standard_uncertainty > usual);
}

TEST_CASE("sections that bear the names of speeds are judged in their order, and fail nothing by their names alone") {
  numbers random(912);
  for (int i = 0; i < simulated(60); ++i) {
    auto in = good.record();
    in.machine.speed_control = rewound::record::speed_control::tapped_winding;
    auto section = in.resistance.front();
    section.expected_ohm.reset();
    in.resistance.clear();
    for (const auto& speed : in.machine.speeds) {
      section.section =
          i % 2 == 0 ? speed : std::string(1, static_cast<char>(std::toupper(speed[0]))) + speed.substr(1);
      in.resistance.push_back(section);
      section.resistance_ohm *= between(random, 1.1, 1.6);
    }
    const auto rising = judged(in);
    CHECK(finding_saying(rising, statement::resistance_order).outcome == outcome::conforms);
    std::swap(in.resistance[0].resistance_ohm, in.resistance[1].resistance_ohm);
    const auto falling = judged(in);
    CHECK(finding_saying(falling, statement::resistance_order_by_name).outcome == outcome::undecided);
    CHECK(falling.decision.decision != decision::release);
    for (std::size_t k = 0; k < in.resistance.size(); ++k) in.resistance[k].speed = in.machine.speeds[k];
    CHECK(finding_saying(judged(in), statement::resistance_order).outcome == outcome::fails);
  }
}

TEST_CASE("a section of a speed's name of which something else is said belongs to no speed by its name") {
  auto in = good.record();
  in.machine.speed_control = rewound::record::speed_control::tapped_winding;
  auto section = in.resistance.front();
  in.resistance.clear();
  for (const auto& speed : in.machine.speeds) {
    section.section = speed;
    section.to_speed = speed == in.machine.speeds.front() ? in.machine.speeds[1] : in.machine.speeds.front();
    section.speed = speed;
    in.resistance.push_back(section);
  }
  CHECK_FALSE(says(judged(in), statement::resistance_order));  // from lead to lead, none from common
  for (auto& each : in.resistance) each.speed.reset(), each.to_speed.reset(), each.equal_group = "coils";
  CHECK_FALSE(says(judged(in), statement::resistance_order));
}

TEST_CASE("a thermal protector that opens too late for its winding stands in the way, a lower one never does") {
  numbers random(903);
  for (int i = 0; i < simulated(100); ++i) {
    auto in = good.record();
    in.machine.thermal_protector = rewound::record::thermal_protector::manual_reset;
    in.machine.insulation_class = rewound::record::insulation_class::class_130;
    in.machine.protector_C = between(random, 80.0, 174.0);
    CHECK(released(in));
    in.machine.protector_C = between(random, 176.0, 300.0);
    CHECK(judged(in).decision.decision == decision::undecided);
    in.machine.thermal_protector = rewound::record::thermal_protector::self_resetting;
    in.machine.protector_C = 120.0;
    CHECK(finding_saying(judged(in), statement::protector_resets).bearing == bearing::informs);
    CHECK(released(in));
  }
}

TEST_CASE("ohms of the start winding that no winding has beside the main one are never released") {
  numbers random(904);
  for (int i = 0; i < simulated(100); ++i) {
    auto in = good.record();
    in.resistance.resize(1);
    in.resistance.front().section = "main";
    auto start = in.resistance.front();
    start.section = "start";
    start.expected_ohm.reset();
    const double main = in.resistance.front().resistance_ohm;
    start.resistance_ohm = main * between(random, 0.7, 6.0);
    in.resistance.push_back(start);
    CHECK(released(in));
    in.resistance.back().resistance_ohm = main * one_of(random, std::vector<double>{0.001, 0.05, 0.2});
    CHECK_FALSE(released(in));
  }
}

TEST_CASE("a section that was renamed between visits is matched by its marks, its leads or its part, or told") {
  numbers random(905);
  for (int i = 0; i < simulated(60); ++i) {
    auto before = good.record();
    before.visit.day.year -= 1;
    before.resistance.resize(1);
    before.resistance.front().section = "main winding";
    auto now = good.record();
    now.resistance.resize(1);
    now.resistance.front().expected_ohm.reset();
    before.resistance.front().expected_ohm.reset();
    now.resistance.front().section = one_of(random, std::vector<std::string>{"Main-Winding", "main", "run winding"});
    now.resistance.front().resistance_ohm = before.resistance.front().resistance_ohm * factor(random, 1.5, 1.9);
    const auto changed = judged(now, before);
    CHECK(says(changed, statement::resistance_against_earlier));
    CHECK_FALSE(says(changed, statement::resistance_without_counterpart));
    CHECK(changed.decision.decision != decision::release);
    now.resistance.front().section = "coil 3";
    CHECK(says(judged(now, before), statement::resistance_without_counterpart));
  }
}

TEST_CASE(
    "wire, turns and mean turn give an expected current where nothing is marked, and never release by themselves") {
  numbers random(906);
  for (int i = 0; i < simulated(40); ++i) {
    const double thicker = factor(random, 1.02, 1.3);
    const auto thin = judged(wound(1.0)), thick = judged(wound(thicker));
    const auto expected = [](const auto& of) { return of.draw.front().expected_at_rated; };
    REQUIRE(expected(thin));
    REQUIRE(expected(thick));
    // Ohms all scaled alike scale the current: the area of the wire is what counts.
    CHECK(std::abs(expected(thick)->value() / expected(thin)->value() / (thicker * thicker) - 1.0) < 1e-9);
    CHECK(thin.decision.decision != decision::release);
    CHECK(thin.draw.front().expected_spread_percent.value() > 10.0);
  }
}

TEST_CASE(
    "without an earth and without a leakage meter a voltmeter and a resistor are the way on, at the limit's volts") {
  for (const bool meter : {false, true}) {
    auto in = good.record();
    in.machine.appliance_class = rewound::record::appliance_class::class_II;
    in.machine.frame_earthed = false;
    in.earth.reset();
    in.cord.reset();
    in.leakage.clear();
    in.visit.have = {"multimeter", "insulation_tester"};
    if (meter) in.visit.have.emplace_back("leakage_meter");
    const auto result = judged(in);
    CHECK(result.decision.decision == decision::undecided);
    const auto f = finding_saying(result, statement::leakage_not_measured);
    CHECK(rewound::verdict::meter_for(f) == (meter ? "leakage_meter" : "voltmeter"));
    const auto volts =
        std::find_if(f.numbers.begin(), f.numbers.end(), [](const auto& n) { return n.key == "most_V"; });
    REQUIRE(volts != f.numbers.end());
    CHECK(std::abs(volts->value - 2.0 * *f.limit_high) < 1e-12);
  }
}

TEST_CASE("a rotor that pulls in during its run-up does not exchange the leads of a healthy fan") {
  for (const auto* model : {"wall-30", "desk-25"}) {
    const auto machine = rewound::job::simulated_machine_named(model);
    for (int seed = 1; seed <= simulated(60); ++seed) {
      CAPTURE(seed);
      const auto record =
          rewound::job::simulate(machine, {.seed = static_cast<unsigned>(seed), .watts = true, .rpm = true});
      for (const auto& f : judged(record).findings)
        if (f.check == check::steps) CHECK(f.outcome != rewound::verdict::outcome::fails);
    }
  }
}
