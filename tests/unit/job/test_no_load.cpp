// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>

#include <judged.hpp>
#include <near.hpp>
#include <rewound/report/wording.hpp>

using namespace rewound::testing;
using rewound::verdict::bearing;
using rewound::verdict::check;
using rewound::verdict::decision;
using rewound::verdict::outcome;
using rewound::verdict::statement;

namespace {

const std::string high_run_up =
    "voltage_V = [120.0, 150.2, 180.1, 209.8, 230.1, 240.2]\ncurrent_A = [0.214, 0.268, 0.325, 0.381, 0.421, 0.442]\n";

/// 6 W of friction, 22 W of core loss at 230 V, and 23.4 ohm (18.4 and a quarter of 20): rounded to a tenth of a watt.
const std::string bare_run_up =
    "voltage_V = [75, 90, 105, 120, 150.2, 180.1, 209.8, 230.1, 240.2]\n"
    "current_A = [0.140, 0.164, 0.189, 0.214, 0.268, 0.325, 0.381, 0.421, 0.442]\n"
    "power_W = [8.8, 10.0, 11.4, 13.1, 17.1, 22.0, 27.7, 32.2, 34.6]\nwinding_C = 21\n";

record_text bare(const std::string& run_up = bare_run_up) {
  return good.replaced("shaft = \"loaded\"", "shaft = \"bare\"")
      .replaced("\"permanent_capacitor\"", "\"start_winding_switched\"\nrotor_resistance_ohm = 20")
      .replaced(high_run_up, run_up);
}

std::string said(const rewound::job::result& result, statement what) {
  return rewound::report::sentence(finding_saying(result, what));
}

}  // namespace

TEST_CASE("a bare shaft parts core loss from friction, for information") {
  const auto result = bare().judged();
  const auto friction = finding_saying(result, statement::no_load_friction);
  CHECK(friction.bearing == bearing::informs);
  CHECK(friction.check == check::draw);
  CHECK(*friction.low <= 6.0);
  CHECK(*friction.high >= 6.0);
  const auto core = finding_saying(result, statement::no_load_core);
  CHECK(near_absolute(*friction.value + *core.value, 32.2 - 0.421 * 0.421 * 23.4, 0.005));
  CHECK(said(result, statement::no_load_core).find("rotor's I^2 R") == std::string::npos);
  CHECK(result.decision.decision == decision::release);
}

TEST_CASE("what stays in the core loss is said") {
  const auto no_rotor = bare().without("rotor_resistance_ohm = 20").judged();
  CHECK(said(no_rotor, statement::no_load_core).find("rotor's resistance is not stated") != std::string::npos);
  const auto capacitor = bare().replaced("\"start_winding_switched\"", "\"permanent_capacitor\"").judged();
  CHECK(said(capacitor, statement::no_load_core).find("second winding") != std::string::npos);
}

TEST_CASE("a loaded shaft is not separated, and where it cannot be told the reason is given") {
  CHECK_FALSE(says(bare().replaced("shaft = \"bare\"", "shaft = \"loaded\"").judged(), statement::no_load_friction));
  const auto few = bare(high_run_up + "power_W = [13.1, 17.1, 22.0, 27.7, 32.2, 34.6]\n")
                       .replaced("120.0, 150.2, 180.1", "175.0, 180.2, 190.1")
                       .judged();
  CHECK(said(few, statement::no_load_not_separated).find("three readings of watts or more") != std::string::npos);
  const auto other = bare().replaced("section = \"main\"", "section = \"main\"\nspeed = \"low\"").judged();
  CHECK(said(other, statement::no_load_not_separated).find("not in the record") != std::string::npos);
}

TEST_CASE("keys and limits of the no-load test are checked") {
  using rewound::base::error;
  CHECK_THROWS_AS(bare().replaced("rotor_resistance_ohm = 20", "rotor_resistance_ohm = 0").record(), error);
  CHECK_THROWS_AS(bare().replaced("rotor_resistance_ohm = 20", "rotor_resistence_ohm = 20").record(), error);
  CHECK_THROWS_AS(policy_of("[limits]\ncore_exponent_low = 0\n"), error);
  CHECK_THROWS_AS(policy_of("[limits]\nno_load_straight_percent = 0\n"), error);
}

TEST_CASE("power factor near the rated voltage") {
  const auto found = finding_saying(bare().judged(), statement::power_factor);
  CHECK(near_absolute(*found.value, 32.2 / (230.1 * 0.421), 1e-9));
  CHECK(found.bearing == bearing::informs);
}

TEST_CASE("watts above volts times amperes are suspect, kept out, and stand in the way of a release") {
  const auto wrong = good.replaced(high_run_up, high_run_up + "power_W = [20, 31, 45, 62, 120, 82]\n").judged();
  const auto found = finding_saying(wrong, statement::watts_impossible);
  CHECK(found.check == check::readings);
  CHECK(found.outcome == outcome::undecided);
  CHECK(said(wrong, statement::watts_impossible).find("reading 5: 120 W is above") != std::string::npos);
  CHECK_FALSE(says(wrong, statement::readings_plain));
  CHECK(wrong.decision.decision == decision::undecided);
  const auto right = good.replaced(high_run_up, high_run_up + "power_W = [20, 31, 45, 62, 75, 82]\n").judged();
  CHECK(says(right, statement::readings_plain));
  CHECK_FALSE(says(right, statement::watts_impossible));
  CHECK(right.decision.decision == decision::release);
  // Left out of the watts at the rated voltage too: 120 W there would fail the marked 75 W.
  for (const auto& f : findings_of(wrong, check::draw)) CHECK(f.outcome != outcome::fails);
}
