// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>

#include <judged.hpp>

using rewound::job::result;
using rewound::testing::finding_saying;
using rewound::testing::findings_of;
using rewound::testing::good;
using rewound::testing::record_text;
using rewound::testing::says;
using rewound::testing::stands_in_the_way;
using rewound::verdict::check;
using rewound::verdict::decision;
using rewound::verdict::outcome;
using rewound::verdict::statement;

// One test for each sentence of the default policy, on the good record altered in one place.
namespace {

const std::string low_run_up =
    "[[run_up]]\n"
    "speed = \"low\"\n"
    "voltage_V = [119.8, 150.1, 180.2, 210.0, 229.8, 240.1]\n"
    "current_A = [0.159, 0.198, 0.238, 0.278, 0.305, 0.319]\n";

const std::string starts = "position = \"upright\"\nattempts = 10\nsuccesses = 10\n";

record_text started(const std::string& attempts, const std::string& successes) {
  return good.replaced(starts, "position = \"upright\"\nattempts = " + attempts + "\nsuccesses = " + successes + "\n");
}

record_text of_class(const std::string& name) {
  return good.replaced("appliance_class = \"I\"\nframe_earthed = true\n", "appliance_class = \"" + name + "\"\n")
      .without("[earth]\ncontinuity_ohm = 0.08\n");
}

std::string leakage_on(const std::string& polarity) {
  return "[[leakage]]\ncondition = \"" + polarity + "\"\ncurrent_mA = 0.05\nswitch = \"on\"\npolarity = \"" + polarity +
         "\"\n";
}

void needs(const record_text& record, check which) {
  const result judged = record.judged();
  CHECK(judged.decision.decision == decision::undecided);
  CHECK(stands_in_the_way(judged, which));
}

}  // namespace

TEST_CASE("the good record is released with every needed check conforming") {
  const result judged = good.judged();
  CHECK(judged.decision.decision == decision::release);
  CHECK(judged.decision.failing.empty());
  CHECK(judged.decision.open.empty());
  CHECK(judged.decision.absent.empty());
  CHECK(judged.draw.size() == 3);
  CHECK(judged.suspects.empty());
}

TEST_CASE("a speed without a run-up leaves draw and steps undecided") {
  needs(good.without(low_run_up), check::draw);
  needs(good.without(low_run_up), check::steps);
}

TEST_CASE("no insulation circuit at all is not a release") {
  needs(good.without("[[insulation]]\ncircuit = \"winding to frame\"\ntest_voltage_V = 500\nwinding_C = 21\n"
                     "time_s = [15, 30, 60, 120, 300, 600]\nresistance_Mohm = [180, 240, 310, 420, 590, 720]\n"),
        check::insulation);
}

TEST_CASE("an insulation circuit without a reading at 60 s is not a release") {
  const result judged = good.replaced("[15, 30, 60, 120, 300, 600]", "[15, 30, 50, 120, 300, 600]").judged();
  CHECK(judged.decision.decision == decision::undecided);
  CHECK(says(judged, statement::insulation_no_one_minute));
}

TEST_CASE("no winding resistance is not a release, and one without an expectation is enough") {
  needs(
      good.without("[[resistance]]\nsection = \"main\"\nresistance_ohm = 18.40\nwinding_C = 21\nexpected_ohm = 18.2\n"),
      check::resistance);
  CHECK(good.without("expected_ohm = 18.2\n").judged().decision.decision == decision::release);
}

TEST_CASE("five starts in some position are needed") {
  CHECK(started("5", "5").judged().decision.decision == decision::release);
  needs(started("4", "4"), check::starting);
  needs(good.without("[[starts]]\n" + starts), check::starting);
}

TEST_CASE("five starts have to be in one position, and one such position is enough") {
  const std::string flat = "[[starts]]\nposition = \"flat\"\nattempts = 3\nsuccesses = 3\n";
  CHECK(started("5", "5").with(flat).judged().decision.decision == decision::release);
  needs(started("3", "3").with(flat), check::starting);
}

TEST_CASE("starting conforms with no failure in the attempts and tells the reliability they prove") {
  const auto found = finding_saying(good.judged(), statement::starts_clean);
  CHECK(found.outcome == outcome::conforms);
  // 0.05^(1/10) = 0.7411 at 95 % confidence.
  CHECK(found.low.value() > 0.741);
  CHECK(found.low.value() < 0.742);
}

TEST_CASE("one start that fails holds the machine, however many succeed") {
  for (const auto& successes : {"9", "0"}) {
    const result judged = started("10", successes).judged();
    CHECK(judged.decision.decision == decision::hold);
    CHECK(says(judged, statement::starts_failed));
  }
  CHECK(started("100", "99").judged().decision.decision == decision::hold);
}

TEST_CASE("leakage is needed where the frame is not earthed, and earth continuity is not") {
  for (const auto& name : {"0", "0I", "II"}) {
    CAPTURE(name);
    needs(of_class(name), check::leakage);
    // Switch on, both polarities; a terminal for an earth, which class 0I has, is measured too.
    const bool terminal = name == std::string("0I");
    const auto one = of_class(name).with(leakage_on("normal"));
    CHECK(one.judged().decision.decision == decision::undecided);
    const auto both = one.with(leakage_on("reversed"));
    CHECK(stands_in_the_way(both.judged(), check::earth) == terminal);
    const auto measured = terminal ? both.with("[earth]\ncontinuity_ohm = 0.08\n") : both;
    CHECK(measured.judged().decision.decision == decision::release);
  }
}

TEST_CASE("earth continuity is needed on class I, and leakage is not") {
  needs(good.without("[earth]\ncontinuity_ohm = 0.08\n"), check::earth);
  CHECK(findings_of(good.judged(), check::leakage).front().says == statement::leakage_not_needed);
}

TEST_CASE("neither class nor earthing stated leaves the protection against shock undecided") {
  const auto unstated =
      good.without("appliance_class = \"I\"\nframe_earthed = true\n").without("[earth]\ncontinuity_ohm = 0.08\n");
  needs(unstated, check::leakage);
  needs(unstated, check::earth);
}

TEST_CASE("withstand, heat run and coast-down are listed as not tested when absent and do not stand in the way") {
  const result judged = good.judged();
  for (const auto which : {check::withstand, check::heat_run, check::coast_down}) {
    const auto found = findings_of(judged, which);
    REQUIRE(found.size() == 1);
    CHECK(found.front().outcome == outcome::not_tested);
    CHECK_FALSE(stands_in_the_way(judged, which));
  }
}

TEST_CASE("a winding that broke down under the withstand test is not released") {
  const result judged = good.with(
                                "[[withstand]]\ncircuit = \"winding to frame\"\nvoltage_V = 1500\nkind = \"ac\"\n"
                                "duration_s = 60\nbroke_down = true\nwinding_state = \"new\"\n")
                            .judged();
  CHECK(judged.decision.decision == decision::hold);
}

TEST_CASE("with the nameplate alone the fastest speed is judged against its current and the others by that ceiling") {
  using rewound::verdict::expectation;
  const result judged = good.judged();
  CHECK(judged.draw[0].judged_by == expectation::nameplate);
  CHECK(judged.draw[1].judged_by == expectation::nameplate_ceiling);
  CHECK(judged.draw[2].judged_by == expectation::nameplate_ceiling);
  CHECK(finding_saying(judged, statement::draw_against_nameplate).subject == "high");
  CHECK(finding_saying(judged, statement::draw_under_nameplate_ceiling).subject == "medium");
}

TEST_CASE("a fastest speed above what its nameplate allows holds the machine") {
  // Allowed is 20 % over the marked current: 0.36 A for a marked 0.30 A, against 0.42 A read.
  const result judged = good.replaced("rated_current_A = 0.42", "rated_current_A = 0.30").judged();
  CHECK(judged.decision.decision == decision::hold);
  CHECK(judged.draw[0].flag == rewound::verdict::draw_flag::high);
}

TEST_CASE("a draw far below the nameplate is looked into before it is called right") {
  const result judged = good.replaced("rated_current_A = 0.42", "rated_current_A = 0.80").judged();
  CHECK(judged.decision.decision == decision::undecided);
  CHECK(judged.draw[0].flag == rewound::verdict::draw_flag::low);
}

TEST_CASE("with no expectation at all the draw is undecided") {
  const result judged = good.without("rated_current_A = 0.42\n").judged();
  CHECK(judged.decision.decision == decision::undecided);
  for (const auto& row : judged.draw) CHECK(row.outcome == outcome::undecided);
  CHECK(says(judged, statement::draw_watts_not_read));
}

TEST_CASE("a suspect reading makes the readings undecided until it is taken again, and is not dropped in silence") {
  const result judged = good.replaced("0.325, 0.381", "0.235, 0.381").judged();
  CHECK(judged.decision.decision == decision::undecided);
  CHECK(stands_in_the_way(judged, check::readings));
  REQUIRE(judged.suspects.size() == 1);
  CHECK(judged.suspects.front().speed == "high");
  CHECK(judged.suspects.front().reading.index == 2);
  CHECK(judged.suspects.front().reading.set_aside);
}
