// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>

#include <judged.hpp>
#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/report/json.hpp>
#include <rewound/report/text.hpp>

using rewound::job::result;
using rewound::testing::finding_saying;
using rewound::testing::good;
using rewound::testing::near_absolute;
using rewound::testing::policy_of;
using rewound::testing::record_text;
using rewound::testing::says;
using rewound::testing::stands_in_the_way;
using rewound::verdict::check;
using rewound::verdict::decision;
using rewound::verdict::outcome;
using rewound::verdict::statement;

namespace {

const std::string design = "expected_ohm = 18.2\n";

record_text wound_with(const std::string& lines) { return good.replaced(design, lines); }

record_text withstood(const std::string& volts, const std::string& more = "") {
  return good.with("[[withstand]]\ncircuit = \"winding to frame\"\nvoltage_V = " + volts +
                   "\nkind = \"ac\"\nduration_s = 60\nwinding_state = \"new\"\n" + more);
}

std::string section(const std::string& name, const std::string& ohm, const std::string& more) {
  return "[[resistance]]\nsection = \"" + name + "\"\nresistance_ohm = " + ohm + "\nwinding_C = 21\n" + more;
}

record_text class_zero() {
  return good.replaced("appliance_class = \"I\"\nframe_earthed = true\n", "appliance_class = \"0\"\n")
      .without("[earth]\ncontinuity_ohm = 0.08\n");
}

std::string leakage(const std::string& way, const std::string& more) {
  return "[[leakage]]\ncondition = \"" + way + "\"\ncurrent_mA = 0.05\n" + more;
}

/// Text and JSON of a judgement, so that a sentence with a hole in it is seen.
void whole_sentences(const result& judged) {
  const auto text = rewound::report::full_text_report(judged);
  CHECK(text.find('{') == std::string::npos);
  CHECK(text.find('}') == std::string::npos);
  CHECK(text.find("not known") == std::string::npos);
}

}  // namespace

TEST_CASE("the wire alone gives an expectation, beside a design value it only informs") {
  const std::string wire = "wire_diameter_mm = 0.315\nturns = 640\nmean_turn_mm = 130\n";
  auto judged = wound_with(wire).judged();
  auto found = finding_saying(judged, statement::resistance_against_wire);
  CHECK(found.outcome == outcome::conforms);
  CHECK(judged.decision.decision == decision::release);
  // 640 turns of 0.130 m at 0.21935 ohm/m (IEC 60317-0-1): 18.25 ohm; 18.40 ohm at 21 degC are 18.328 at 20.
  CHECK(near_absolute(found.value.value(), 100.0 * (18.40 * 254.5 / 255.5 / 18.250 - 1.0), 0.01));
  whole_sentences(judged);
  judged = wound_with(design + wire).judged();
  CHECK(says(judged, statement::resistance_against_expected));
  CHECK(finding_saying(judged, statement::resistance_beside_wire).outcome == outcome::not_tested);
  whole_sentences(judged);
}

TEST_CASE("a winding of the wrong wire fails against its wire, and the finding names the wire that it speaks for") {
  // One gauge thinner has 26 % more ohms.
  const auto judged = wound_with("wire_awg = 27\nturns = 640\nmean_turn_mm = 135\n").judged();
  CHECK(judged.decision.decision == decision::hold);
  CHECK(finding_saying(judged, statement::resistance_against_wire).outcome == outcome::fails);
  const auto told = finding_saying(judged, statement::resistance_explained);
  const auto gauge =
      std::find_if(told.numbers.begin(), told.numbers.end(), [](const auto& n) { return n.key == "awg"; });
  REQUIRE(gauge != told.numbers.end());
  CHECK(near_absolute(gauge->value, 28.0, 0.1));
  whole_sentences(judged);
}

TEST_CASE("turns alone name a wire, a wire alone names turns") {
  const auto by_turns = wound_with(design + "turns = 640\nmean_turn_mm = 130\n").judged();
  CHECK(finding_saying(by_turns, statement::resistance_explained).unit == "mm");
  whole_sentences(by_turns);
  const auto by_wire = wound_with(design + "wire_diameter_mm = 0.315\nmean_turn_mm = 130\n").judged();
  CHECK(finding_saying(by_wire, statement::resistance_explained).unit == "1");
  whole_sentences(by_wire);
  CHECK_FALSE(says(wound_with(design + "turns = 640\n").judged(), statement::resistance_explained));
}

TEST_CASE("leads of a low-ohmic section are assumed and said, unless the record states them") {
  const auto low = [](const std::string& more) {
    return good
        .replaced("resistance_ohm = 18.40\nwinding_C = 21\n" + design,
                  "resistance_ohm = 2.00\nwinding_C = 20\nexpected_ohm = 1.95\n" + more)
        .replaced("section = \"main\"", "section = \"speed coil\"");  // a main winding of 230 V has more ohms
  };
  auto judged = low("").judged();
  CHECK(says(judged, statement::resistance_leads_assumed));
  whole_sentences(judged);
  for (const auto& stated : {"four_wire = true\n", "lead_resistance_ohm = 0.05\n", "lead_resistance_ohm = 0\n"})
    CHECK_FALSE(says(low(stated).judged(), statement::resistance_leads_assumed));
  CHECK_FALSE(says(good.judged(), statement::resistance_leads_assumed));
  const auto exact =
      finding_saying(low("lead_resistance_ohm = 0.05\n").judged(), statement::resistance_against_expected);
  CHECK(near_absolute(exact.value.value(), 0.0, 1e-9));
  // What may be nothing but leads is no winding.
  const auto tiny =
      good.replaced("resistance_ohm = 18.40\nwinding_C = 21\n" + design, "resistance_ohm = 0.09\nwinding_C = 20\n");
  CHECK(tiny.judged().decision.decision == decision::undecided);
  CHECK(says(tiny.judged(), statement::resistance_leads_assumed));
  // 0.15 ohm of leads in 2 ohm hide a fault of 5 percent, which the design value's own uncertainty covers; by a limit
  // of the shop's own it is not settled.
  const auto strict = policy_of("[limits]\nresistance_percent = 5\n");
  CHECK(low("lead_resistance_ohm = 0.15\n").judged({}, strict).decision.decision == decision::undecided);
  CHECK(low("lead_resistance_ohm = 0.15\n").judged().decision.decision == decision::release);
}

TEST_CASE("the policy's constant for copper decides how a resistance is brought to 20 degC") {
  const auto hot = good.replaced("resistance_ohm = 18.40\nwinding_C = 21\n" + design,
                                 "resistance_ohm = 24.0\nwinding_C = 90\nexpected_ohm = 18.8\n");
  const auto by = [&](const std::string& policy) {
    return finding_saying(hot.judged({}, policy_of(policy)), statement::resistance_against_expected).value.value();
  };
  CHECK(near_absolute(by(""), 100.0 * (24.0 * 254.5 / 324.5 / 18.8 - 1.0), 1e-9));
  CHECK(near_absolute(by("[limits]\ncopper_constant_K = 235\n"), 100.0 * (24.0 * 255.0 / 325.0 / 18.8 - 1.0), 1e-9));
}

TEST_CASE("equal sections are held together, by their group or as the three phases") {
  const auto poles = [](const std::string& ohm) {
    return wound_with("equal_group = \"poles\"\n").with(section("pole 2", ohm, "equal_group = \"poles\"\n")).judged();
  };
  CHECK(finding_saying(poles("18.5"), statement::resistance_balance).outcome == outcome::conforms);
  CHECK(poles("19.9").decision.decision == decision::hold);
  whole_sentences(poles("19.9"));
  CHECK_FALSE(says(good.with(section("b", "30", "")).judged(), statement::resistance_balance));
}

TEST_CASE("speed sections have to rise as the speed control implies") {
  const auto speeds = [](const std::string& medium, const std::string& low) {
    return good.with(section("h", "18.4", "speed = \"high\"\n") + section("l", low, "speed = \"low\"\n") +
                     section("m", medium, "speed = \"medium\"\n"));
  };
  CHECK(finding_saying(speeds("21", "24").judged(), statement::resistance_order).outcome == outcome::conforms);
  const auto exchanged = speeds("24", "21").judged();
  CHECK(exchanged.decision.decision == decision::hold);
  CHECK(finding_saying(exchanged, statement::resistance_order).subject == "low");
  whole_sentences(exchanged);
  const auto pole_change = speeds("24", "21").replaced("series_reactor", "pole_change").judged();
  CHECK(says(pole_change, statement::resistance_order_not_promised));
  whole_sentences(pole_change);
}

TEST_CASE("a withstand test is judged by the standard of the policy, and both are printed") {
  CHECK(withstood("1500").judged().decision.decision == decision::release);
  const auto less = withstood("1000", "leakage_mA = 1.2\n").judged();
  CHECK(less.decision.decision == decision::undecided);
  CHECK(stands_in_the_way(less, check::withstand));
  whole_sentences(less);
  CHECK(withstood("1000").judged({}, policy_of("withstand_standard = \"NEMA\"\n")).decision.decision ==
        decision::release);
  const auto text = rewound::report::full_text_report(less);
  CHECK(text.find("IEC 1500, NEMA 1000") != std::string::npos);
  CHECK(text.find("two qualified people") != std::string::npos);
}

TEST_CASE("the current of a withstand test is compared with the earlier visit's") {
  const auto earlier = withstood("1500", "leakage_mA = 0.9\n").record();
  const auto judged = withstood("1500", "leakage_mA = 1.2\n").judged(earlier);
  const auto found = finding_saying(judged, statement::withstand_leakage);
  const auto before =
      std::find_if(found.numbers.begin(), found.numbers.end(), [](const auto& n) { return n.key == "earlier"; });
  REQUIRE(before != found.numbers.end());
  CHECK(near_absolute(before->value, 0.6, 1e-12));
  whole_sentences(judged);
}

TEST_CASE("leakage says which polarities and switch positions are missing, and the policy can ask for all") {
  const std::string normal_on = "polarity = \"normal\"\nswitch = \"on\"\n";
  const std::string both_on = leakage("a", normal_on) + leakage("b", "polarity = \"reversed\"\nswitch = \"on\"\n");
  auto judged = class_zero().with(both_on).judged();
  CHECK(judged.decision.decision == decision::release);
  CHECK(says(judged, statement::leakage_combinations_missing));
  CHECK(says(judged, statement::frame_without_earth));
  whole_sentences(judged);
  const auto strict = policy_of("leakage_all_combinations = true\n");
  const auto one = class_zero().with(leakage("a", normal_on)).judged();
  CHECK(one.decision.decision == decision::undecided);
  CHECK(says(one, statement::leakage_ways_needed));
  whole_sentences(one);
  CHECK(class_zero().with(leakage("a", normal_on)).judged({}, strict).decision.decision == decision::undecided);
  const auto all =
      class_zero().with(leakage("a", normal_on) + leakage("b", "polarity = \"normal\"\nswitch = \"off\"\n") +
                        leakage("c", "polarity = \"reversed\"\nswitch = \"on\"\n") +
                        leakage("d", "polarity = \"reversed\"\nswitch = \"off\"\n"));
  CHECK(all.judged({}, strict).decision.decision == decision::release);
  CHECK_FALSE(says(all.judged(), statement::leakage_combinations_missing));
  CHECK(says(class_zero().with(leakage("a", "")).judged(), statement::leakage_ways_needed));
  CHECK(says(good.with(leakage("a", "")).judged(), statement::leakage_conditions_unstated));
}

TEST_CASE("leakage read below 1.06 times the rated voltage is brought up to it") {
  const auto judged = class_zero().with(leakage("a", "voltage_V = 230\n")).judged();
  const auto found = finding_saying(judged, statement::leakage_brought_up);
  CHECK(near_absolute(found.value.value(), 0.05 * 1.06, 1e-12));
  whole_sentences(judged);
  // Half the voltage says little of the insulation under the whole.
  const auto half = class_zero().with(leakage("a", "voltage_V = 121.9\n")).judged();
  CHECK(near_absolute(finding_saying(half, statement::leakage_low_voltage).value.value(), 0.1, 1e-12));
  whole_sentences(half);
}

TEST_CASE("portable or stationary settles which limit of class I applies") {
  const auto leaking = [](const std::string& more) {
    return good.replaced("frame_earthed = true\n", "frame_earthed = true\n" + more)
        .with("[[leakage]]\ncondition = \"frame\"\ncurrent_mA = 2.0\n")
        .judged()
        .decision.decision;
  };
  CHECK(leaking("") == decision::undecided);
  CHECK(leaking("portable = true\n") == decision::hold);
  CHECK(leaking("portable = false\n") == decision::release);
}

TEST_CASE("the cord's length raises the earth limit, wherever it stands") {
  const auto earthed = [](const std::string& more) {
    return good.replaced("continuity_ohm = 0.08\n", "continuity_ohm = 0.36\n" + more).judged().decision.decision;
  };
  CHECK(earthed("") == decision::hold);
  CHECK(earthed("cord_length_m = 14\n") == decision::release);
  CHECK(earthed("[cord]\nconductor_mm2 = 0.75\nlength_m = 14\n") == decision::release);
  CHECK(earthed("cord_length_m = 3\n[cord]\nconductor_mm2 = 0.75\nlength_m = 14\n") == decision::hold);
}

TEST_CASE("a cord too thin for the marked current holds the machine") {
  const auto corded = [](const std::string& cord) { return good.with("[cord]\n" + cord).judged(); };
  CHECK(corded("conductor_mm2 = 0.75\n").decision.decision == decision::release);
  CHECK(corded("conductor_mm2 = 0.4\n").decision.decision == decision::hold);
  CHECK(corded("conductor_mm2 = 0.5\n").decision.decision == decision::undecided);
  CHECK(corded("conductor_awg = 18\n").decision.decision == decision::release);
  CHECK(corded("conductor_awg = 20\n").decision.decision == decision::hold);
  CHECK(corded("conductor_awg = 18\nconductors = 3\n").decision.decision == decision::release);
  CHECK(corded("conductor_awg = 18\nconductors = 2\n").decision.decision == decision::hold);
  for (const auto& cord : {"conductor_mm2 = 0.5\n", "conductor_awg = 18\nconductors = 2\n",
                           "conductor_awg = 18\nlength_m = 3\n", "conductor_awg = 20\n"})
    whole_sentences(corded(cord));
}

TEST_CASE("limits of the shop's own stand with the finding, on top of the text and in the JSON") {
  const auto policy = policy_of(
      "[limits]\nresistance_percent = { value = 0.1, source = \"bench rule 4\" }\n"
      "[limits.earth_continuity_maximum.cord_up_to_5_m]\nmaximum_ohm = 0.05\nsource = \"bench rule 5\"\n");
  const auto judged = good.judged({}, policy);
  CHECK(judged.decision.decision == decision::hold);
  CHECK(finding_saying(judged, statement::earth_limit).source == "the shop's own limit bench rule 5");
  CHECK(finding_saying(judged, statement::resistance_against_expected).source == "the shop's own limit bench rule 4");
  const auto text = rewound::report::full_text_report(judged);
  CHECK(text.find("Judged with limits of the shop's own") < text.find("Why"));
  const auto json = rewound::report::json_report(judged);
  CHECK(json.find("\"earth_continuity_maximum.cord_up_to_5_m.maximum_ohm\"") != std::string::npos);
  CHECK(rewound::report::json_report(good.judged()).find("\"own_limits\": []") != std::string::npos);
}

TEST_CASE("a known bench check is worded, any other stands as it was written") {
  const auto text =
      rewound::report::full_text_report(good.with("frobnicated = true\npolarity_correct = false\n").judged());
  CHECK(text.find("the switch opens the line conductor") != std::string::npos);
  CHECK(text.find("checked and not right: line and neutral") != std::string::npos);
  CHECK(text.find("noted and not judged: frobnicated = true") != std::string::npos);
}
