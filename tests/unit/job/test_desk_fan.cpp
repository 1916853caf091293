// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include <judged.hpp>
#include <near.hpp>
#include <rewound/report/wording.hpp>

// A three-speed desk fan of 110 V as the bench knows it (common practice, no source): 0.61, 0.56 and 0.49 A from the
// fastest speed to the slowest, and 0.67 A on the fastest at 120 V.
using rewound::job::result;
using rewound::testing::finding_saying;
using rewound::testing::findings_of;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;
using rewound::testing::record_text;
using rewound::testing::stands_in_the_way;
using rewound::verdict::check;
using rewound::verdict::decision;
using rewound::verdict::outcome;

namespace {

const record_text desk_fan(R"(format = "rewound-record/1"
[machine]
id = "DESK-1"
phases = 1
rated_voltage_V = 110
rated_frequency_Hz = 60
rated_current_A = 0.60
speeds = ["3", "2", "1"]
speed_control = "series_reactor"
running_circuit = "permanent_capacitor"
insulation_system = "thermosetting"
insulation_class = "130"
appliance_class = "I"
[visit]
date = 2026-05-14
state = "after_repair"
supply_voltage_V = 120
[[run_up]]
speed = "3"
voltage_V = [110, 120]
current_A = [0.61, 0.67]
[[run_up]]
speed = "2"
voltage_V = [110]
current_A = [0.56]
[[run_up]]
speed = "1"
voltage_V = [110]
current_A = [0.49]
[[insulation]]
circuit = "winding to frame"
test_voltage_V = 500
winding_C = 21
time_s = [15, 30, 60]
resistance_Mohm = [180, 240, 310]
[[resistance]]
section = "main"
resistance_ohm = 60.2
winding_C = 21
[[starts]]
position = "upright"
attempts = 10
successes = 10
[earth]
continuity_ohm = 0.08
)");

/// Not released, and the reading suspect with 0.61 A as what would fit, also in the words of the report.
void is_caught(const result& judged) {
  CHECK(judged.decision.decision != decision::release);
  CHECK(stands_in_the_way(judged, check::readings));
  REQUIRE(judged.suspects.size() == 1);
  CHECK(judged.suspects.front().speed == "3");
  CHECK(judged.suspects.front().reading.read == 0.16);
  CHECK(near_relative(judged.suspects.front().reading.would_fit.value(), 0.61, 1e-9));
  const auto told = finding_saying(judged, rewound::verdict::statement::reading_suspect);
  CHECK(rewound::report::sentence(told).find("0.61") != std::string::npos);
}

}  // namespace

TEST_CASE("the desk fan draws in order of its speeds and is released") {
  const result judged = desk_fan.judged();
  CHECK(judged.decision.decision == decision::release);
  CHECK(judged.steps.outcome == outcome::conforms);
  CHECK(judged.steps.best_order == std::vector<std::string>{"3", "2", "1"});
  CHECK(judged.suspects.empty());
}

TEST_CASE("the desk fan's exponent is about 1.08 on the speed read at two voltages and unknown on the others") {
  const result judged = desk_fan.judged();
  // ln(0.67 / 0.61) / ln(120 / 110) = 1.0782
  CHECK(near_absolute(judged.draw[0].exponent->value, 1.0782, 1e-3));
  CHECK_FALSE(judged.draw[1].exponent.has_value());
  CHECK(near_relative(rewound::units::in_amperes(judged.draw[0].at_supply->value), 0.67, 1e-3));
}

TEST_CASE("a mains of 120 V is inside the desk fan's window and one of 125 V asks for a transformer") {
  const auto window = [](const result& judged) { return findings_of(judged, check::supply).front(); };
  CHECK(window(desk_fan.judged()).outcome == outcome::conforms);
  const result high = desk_fan.replaced("supply_voltage_V = 120", "supply_voltage_V = 125").judged();
  CHECK(window(high).outcome == outcome::not_tested);
  CHECK(window(high).says == rewound::verdict::statement::supply_voltage_outside);
  CHECK(rewound::report::condition(window(high)).find("transformer to 110 V") != std::string::npos);
  CHECK(high.decision.decision == decision::release);
  CHECK(window(desk_fan.replaced("supply_voltage_V = 120", "supply_voltage_V = 121").judged()).outcome ==
        outcome::conforms);
}

TEST_CASE("0.61 misread as 0.16 is caught beside the reading at 120 V") {
  const auto misread = desk_fan.replaced("[0.61, 0.67]", "[0.16, 0.67]");
  is_caught(misread.judged());
  is_caught(misread.without("rated_current_A = 0.60\n").judged());
}

TEST_CASE("0.61 misread as 0.16 is caught without the reading at 120 V") {
  const auto misread =
      desk_fan.replaced("voltage_V = [110, 120]\ncurrent_A = [0.61, 0.67]", "voltage_V = [110]\ncurrent_A = [0.16]");
  is_caught(misread.judged());
  is_caught(misread.without("rated_current_A = 0.60\n").judged());
}
