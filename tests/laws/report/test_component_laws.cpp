// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <random>
#include <string>

#include <generated.hpp>
#include <judged.hpp>
#include <simulation_size.hpp>

using record = rewound::record::visit_record;
using rewound::record::running_circuit;
using rewound::testing::between;
using rewound::testing::good;
using rewound::testing::judged;
using rewound::testing::numbers;
using rewound::testing::released;
using rewound::testing::says;
using rewound::testing::simulated;
using rewound::verdict::decision;
using rewound::verdict::statement;

// Laws of capacitor, commutator, turning and what hand and ear find, each over many records made from the good one.
namespace {

record with_capacitor(double marked_uF, double measured_uF) {
  auto out = good.record();
  out.capacitor = {{.name = "run", .marked_uF = marked_uF, .measured_uF = measured_uF}};
  return out;
}

}  // namespace

TEST_CASE("a capacitor far from its mark holds the machine, near it does not, and more loss never helps") {
  numbers random(301);
  for (int i = 0; i < simulated(200); ++i) {
    const double marked = between(random, 0.5, 60.0);
    CAPTURE(marked);
    CHECK(released(with_capacitor(marked, marked * between(random, 0.96, 1.04))));
    CHECK(judged(with_capacitor(marked, marked * between(random, 0.0, 0.8))).decision.decision == decision::hold);
    CHECK(judged(with_capacitor(marked, marked * between(random, 1.2, 3.0))).decision.decision == decision::hold);
    auto lossy = with_capacitor(marked, marked);
    lossy.capacitor.front().loss = between(random, 0.03, 1.0);
    CHECK_FALSE(released(lossy));
  }
}

TEST_CASE("a marked tolerance decides, and volts with amperes stand for a meter") {
  numbers random(302);
  for (int i = 0; i < simulated(100); ++i) {
    auto in = with_capacitor(4.0, 4.0 * 1.08);
    in.capacitor.front().marked_tolerance_percent = 5.0;
    CHECK(judged(in).decision.decision != decision::release);
    in.capacitor.front().marked_tolerance_percent = 15.0;
    CHECK(released(in));
    const double volts = between(random, 200.0, 440.0);
    auto by_volts = good.record();
    by_volts.capacitor = {{.name = "run",
                           .marked_uF = 4.0,
                           .marked_V = 450.0,
                           .voltage_V = volts,
                           .current_A = 2.0 * 3.14159265358979 * 50.0 * 4e-6 * volts}};
    CHECK(released(by_volts));
    *by_volts.capacitor.front().current_A /= 2.0;
    CHECK(judged(by_volts).decision.decision == decision::hold);
    *by_volts.capacitor.front().current_A *= 2.0;
    by_volts.capacitor.front().marked_V = volts / between(random, 1.2, 3.0);
    CHECK(judged(by_volts).decision.decision == decision::hold);
    by_volts.capacitor.front().marked_V = volts / between(random, 0.5, 1.05);
    CHECK(released(by_volts));
    auto both = with_capacitor(4.0, 4.0);
    both.capacitor.front().voltage_V = volts;
    both.capacitor.front().current_A = 0.5 * 2.0 * 3.14159265358979 * 50.0 * 4e-6 * volts;
    CHECK(judged(both).decision.decision == decision::hold);
    CHECK(judged(both).causes.front().cause == rewound::verdict::cause::weak_capacitor);
  }
}

TEST_CASE("a capacitor that was not measured is told as a condition, with no other verdict") {
  auto in = good.record();
  in.machine.running_circuit = running_circuit::permanent_capacitor;
  const auto found = judged(in);
  CHECK((says(found, statement::capacitor_not_measured) || says(found, statement::capacitor_and_rotor_unseen)));
  auto measured = in;
  measured.capacitor = {{.name = "run", .marked_uF = 4.0, .measured_uF = 4.0}};
  CHECK_FALSE(says(judged(measured), statement::capacitor_not_measured));
  CHECK(judged(measured).decision.decision == found.decision.decision);
}

TEST_CASE("what hand, eye and ear find wrong never releases; found right it changes nothing") {
  using rewound::record::rotation_direction;
  using rewound::record::running_noise;
  const auto sound = good.record();
  REQUIRE(released(sound));
  auto turned = sound;
  turned.machine.rated_rotation = rotation_direction::clockwise;
  CHECK(released(turned));
  turned.visit.rotation = rotation_direction::clockwise;
  CHECK(released(turned));
  turned.visit.rotation = rotation_direction::counterclockwise;
  CHECK(judged(turned).decision.decision == decision::hold);

  auto pushed = sound;
  pushed.starts.front().needed_push = true;
  CHECK(judged(pushed).decision.decision == decision::hold);

  auto fast = sound;
  for (auto& entry : fast.starts) entry.speed = fast.machine.speeds.front();
  CHECK(released(fast));
  CHECK(says(judged(fast), statement::starts_not_on_slowest));
  fast.starts.front().speed = fast.machine.speeds.back();
  CHECK_FALSE(says(judged(fast), statement::starts_not_on_slowest));

  for (const auto noise : {running_noise::quiet, running_noise::hum}) {
    auto heard = sound;
    heard.visit.noise = noise;
    CHECK(released(heard));
  }
  for (const auto noise :
       {running_noise::rattle, running_noise::scraping, running_noise::knocking, running_noise::squeal}) {
    auto heard = sound;
    heard.visit.noise = noise;
    CHECK(judged(heard).decision.decision == decision::undecided);
  }
  numbers random(303);
  for (int i = 0; i < simulated(100); ++i) {
    auto loose = sound;
    loose.visit.end_play_mm = between(random, 0.0, 1.4);
    loose.visit.side_play_mm = between(random, 0.0, 0.2);
    CHECK(released(loose));
    loose.visit.side_play_mm = between(random, 0.21, 10.0);
    CHECK_FALSE(released(loose));
  }
}

TEST_CASE("brushes too short or off the neutral, and one bar unlike the others, never release") {
  numbers random(304);
  for (int i = 0; i < simulated(100); ++i) {
    auto in = good.record();
    in.machine.running_circuit = running_circuit::commutator;
    in.commutator = rewound::record::commutator_section{.brush_length_mm = 9.0, .brush_shortest_mm = 5.0};
    const double ohms = between(random, 0.3, 3.0);
    in.commutator->bar_ohm.assign(24, ohms);
    CHECK(released(in));
    auto none = in;
    none.commutator->bar_ohm.assign(24, 0.0);
    CHECK(says(judged(none), statement::bars_without_resistance));
    auto odd = in;
    auto& bar = odd.commutator->bar_ohm[static_cast<std::size_t>(between(random, 0.0, 23.9))];
    bar *= between(random, 1.3, 20.0);
    CHECK_FALSE(released(odd));
    bar = ohms * between(random, 0.0, 0.5);
    CHECK_FALSE(released(odd));
    in.commutator->brush_length_mm = between(random, 0.1, 4.99);
    CHECK(judged(in).decision.decision == decision::hold);
    in.commutator->brush_length_mm = 9.0;
    in.commutator->neutral = rewound::record::brush_neutral::off_neutral;
    CHECK(judged(in).decision.decision == decision::hold);
  }
}

TEST_CASE("each known check by eye and hand has one good answer; an unknown one is listed and judges nothing") {
  for (const auto& row : rewound::verdict::tables::bench_checks) {
    CAPTURE(row.name);
    for (const bool entered : {true, false}) {
      auto in = good.record();
      in.checks = {{std::string(row.name), entered}};
      CHECK(released(in) == (entered == (row.good != 0.0)));
    }
  }
  for (const bool entered : {true, false}) {
    auto in = good.record();
    in.checks = {{"cobwebs", entered}};
    const auto found = judged(in);
    CHECK(found.decision.decision == decision::release);
    CHECK(says(found, statement::check_noted));
    auto policy = rewound::job::default_policy();
    policy.required_checks = {"cobwebs"};
    const auto required = rewound::job::judge(in, {}, policy);
    CHECK((required.decision.decision == decision::release) == entered);
  }
}
