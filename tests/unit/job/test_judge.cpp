// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include <judged.hpp>
#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/report/view.hpp>

using rewound::job::result;
using rewound::testing::findings_of;
using rewound::testing::good;
using rewound::testing::near_absolute;
using rewound::testing::policy_of;
using rewound::testing::record_text;
using rewound::testing::says;
using rewound::verdict::check;
using rewound::verdict::decision;
using rewound::verdict::outcome;
using rewound::verdict::statement;

// The paragraph on the decision, and what an earlier visit and a shop's own policy change.
namespace {

const std::string high = "current_A = [0.214, 0.268, 0.325, 0.381, 0.421, 0.442]";
const std::string medium = "current_A = [0.188, 0.235, 0.284, 0.332, 0.366, 0.383]";
const std::string low = "current_A = [0.159, 0.198, 0.238, 0.278, 0.305, 0.319]";

/// The three speeds' currents given other places: the names stay, the currents move.
record_text with_currents(const std::string& first, const std::string& second, const std::string& third) {
  return good.replaced(high, "first")
      .replaced(medium, "second")
      .replaced(low, "third")
      .replaced("first", first)
      .replaced("second", second)
      .replaced("third", third);
}

}  // namespace

TEST_CASE("any fail holds, also of a check that the policy does not need") {
  CHECK(good.replaced("switch_opens_line = true", "switch_opens_line = false").judged().decision.decision ==
        decision::hold);
  CHECK(good.replaced("continuity_ohm = 0.08", "continuity_ohm = 0.9").judged().decision.decision == decision::hold);
}

TEST_CASE("mains of another frequency is no fault: on which one it was run up is asked, then it is a condition") {
  const auto asked = good.replaced("supply_frequency_Hz = 50", "supply_frequency_Hz = 60");
  CHECK(asked.judged().decision.decision == decision::undecided);
  const auto said = asked.replaced("supply_frequency_Hz = 60", "supply_frequency_Hz = 60\nrun_up_frequency_Hz = 50");
  CHECK(said.judged().decision.decision == decision::release);
}

TEST_CASE("a fail outweighs what is undecided") {
  const result judged =
      good.replaced("continuity_ohm = 0.08", "continuity_ohm = 0.9").without("rated_current_A = 0.42\n").judged();
  CHECK(judged.decision.decision == decision::hold);
  CHECK_FALSE(judged.decision.open.empty());
}

TEST_CASE("an undecided machine is told what to measure next, and a released one carries its conditions") {
  const auto open = rewound::report::view_of(good.without("[earth]\ncontinuity_ohm = 0.08\n").judged());
  REQUIRE_FALSE(open.next.empty());
  CHECK(open.next.front() == "measure the resistance from the frame to the earth pin or terminal");
  CHECK(open.conditions.empty());
  const auto released = rewound::report::view_of(good.judged());
  CHECK(released.decision == "release");
  CHECK_FALSE(released.conditions.empty());
}

TEST_CASE("no sentence, advice or condition is left with a hole in it") {
  const auto earlier = good.replaced("date = 2026-05-14", "date = 2025-05-14").record();
  for (const auto& judged : {good.judged(), good.judged(earlier), with_currents(medium, high, low).judged(),
                             with_currents(low, low, low).judged(), good.without("rated_current_A = 0.42\n").judged(),
                             good.replaced("0.325, 0.381", "3.25, 0.381").judged(),
                             good.replaced("winding_C = 21\ntime_s", "winding_C = 5\ntime_s").judged(),
                             good.replaced("insulation_class = \"130\"\n", "").judged(),
                             good.without("expected_ohm = 18.2\n").judged(earlier),
                             good.replaced("test_voltage_V = 500", "test_voltage_V = 250").judged(),
                             good.without("appliance_class = \"I\"\nframe_earthed = true\n").judged()}) {
    const auto shown = rewound::report::view_of(judged);
    auto lines = shown.next;
    lines.insert(lines.end(), shown.conditions.begin(), shown.conditions.end());
    for (const auto& line : shown.findings) lines.push_back(line.sentence);
    CHECK(lines.size() > 10);
    for (const auto& line : lines) CHECK_MESSAGE(line.find('{') == std::string::npos, line);
  }
}

TEST_CASE("speeds whose currents are exchanged are swapped and fail") {
  const result judged = with_currents(medium, high, low).judged();
  CHECK(judged.decision.decision == decision::hold);
  CHECK(judged.steps.outcome == outcome::fails);
  CHECK(judged.steps.flag == "swapped");
  CHECK(judged.steps.best_order == std::vector<std::string>{"medium", "high", "low"});
}

TEST_CASE("speeds whose currents run the other way are reversed and fail") {
  const result judged = with_currents(low, medium, high).judged();
  CHECK(judged.steps.outcome == outcome::fails);
  CHECK(judged.steps.flag == "reversed");
}

TEST_CASE("two speeds of one current are merged and fail once that is certain enough") {
  const result judged =
      with_currents(high, medium, medium).judged({}, policy_of("[limits]\nrepeatability_speed_percent = 0.1\n"));
  CHECK(judged.steps.flag == "merged");
  CHECK(judged.steps.outcome == outcome::fails);
  CHECK(judged.decision.decision == decision::hold);
}

TEST_CASE("two speeds of one current are never called in order") {
  const result judged = with_currents(high, medium, medium).judged();
  CHECK(judged.steps.outcome != outcome::conforms);
  CHECK(judged.decision.decision != decision::release);
}

TEST_CASE("where the speed control promises no order, steps are undecided") {
  const result judged = good.replaced("\"series_reactor\"", "\"pole_change\"").judged();
  CHECK(judged.steps.outcome == outcome::undecided);
  CHECK(judged.decision.decision == decision::undecided);
}

TEST_CASE("a rotor that stands still near the rated voltage holds the machine") {
  const result judged = good.replaced(high, high + "\nturning = [true, true, true, true, true, false]").judged();
  CHECK(judged.decision.decision == decision::hold);
  CHECK(says(judged, statement::stalled_near_rating));
}

TEST_CASE("stalled readings at low voltage are kept out of the curve and said to be") {
  const result judged =
      good.replaced("[0.214, 0.268", "[0.514, 0.268")
          .replaced("0.381, 0.421, 0.442]", "0.381, 0.421, 0.442]\nturning = [false, true, true, true, true, true]")
          .judged();
  CHECK(judged.decision.decision == decision::release);
  CHECK(says(judged, statement::readings_stalled_kept_out));
  CHECK(near_absolute(judged.draw[0].exponent->value, 1.05, 0.1));
}

TEST_CASE("insulation within its uncertainty of the minimum is undecided, below it fails") {
  const std::string read = "[180, 240, 310, 420, 590, 720]";
  // At 21 degC a thermosetting winding has 0.77 of its resistance at 40 degC.
  CHECK(good.replaced(read, "[4, 5, 6.5, 9, 13, 16]").judged().decision.decision == decision::undecided);
  CHECK(good.replaced(read, "[1, 1.5, 2, 3, 4, 5]").judged().decision.decision == decision::hold);
}

TEST_CASE(
    "a polarization index below its minimum fails on a form-wound winding, and on a random-wound one where the policy "
    "asks") {
  const auto flat = good.replaced("[180, 240, 310, 420, 590, 720]", "[290, 300, 310, 320, 330, 340]");
  CHECK(flat.judged().decision.decision == decision::release);  // random-wound
  CHECK(flat.replaced("random_wound", "form_wound").judged().decision.decision == decision::hold);
  const auto judged = flat.judged({}, policy_of("polarization_index_informs_only = false\n"));
  CHECK(judged.decision.decision == decision::hold);
}

TEST_CASE("the machine's own earlier visit outranks the nameplate") {
  const auto earlier = good.replaced("date = 2026-05-14", "date = 2025-05-14").record();
  const result same = good.judged(earlier);
  CHECK(same.decision.decision == decision::release);
  for (const auto& row : same.draw) {
    CHECK(row.judged_by == rewound::verdict::expectation::earlier);
    CHECK(near_absolute(row.level_percent->value, 0.0, 0.01));
  }
  // The share of drawn healthy machines that look as faulty, all of them counted: at least seven of ten.
  CHECK(same.abnormality.value() < -std::log10(0.7));
}

TEST_CASE("a draw a quarter above the earlier visit is high and holds, though the nameplate would allow it") {
  const auto earlier = good.replaced(high, "current_A = [0.171, 0.214, 0.260, 0.305, 0.337, 0.354]").record();
  const result judged = good.judged(earlier);
  CHECK(judged.decision.decision == decision::hold);
  CHECK(judged.draw[0].flag == rewound::verdict::draw_flag::high);
  CHECK(near_absolute(judged.draw[0].level_percent->value, 25.0, 1.0));
  CHECK(judged.abnormality.value() > 2.0);
}

TEST_CASE("a curve read on a bare shaft never judges a loaded one") {
  const result judged = good.judged(good.replaced("shaft = \"loaded\"", "shaft = \"bare\"").record());
  CHECK(says(judged, statement::earlier_shaft_differs));
  CHECK(judged.draw[0].judged_by == rewound::verdict::expectation::nameplate);
}

TEST_CASE("an earlier record of another machine or rating is refused") {
  using rewound::base::error;
  for (const auto& other : {good.replaced("id = \"GH-07\"", "id = \"GH-08\""),
                            good.replaced("rated_voltage_V = 230", "rated_voltage_V = 115")}) {
    try {
      good.judged(other.record());
      FAIL("no error");
    } catch (const error& trouble) {
      CHECK(trouble.code() == rewound::base::error_code::records_do_not_match);
    }
  }
}

TEST_CASE("a shop's policy may need less, ask for more, and set its own limits") {
  const auto no_earth = good.without("[earth]\ncontinuity_ohm = 0.08\n");
  CHECK(no_earth.judged({}, policy_of("needed = [\"draw\"]\n")).decision.decision == decision::release);
  CHECK(good.judged({}, policy_of("required_checks = [\"fan_runs_quietly\"]\n")).decision.decision ==
        decision::undecided);
  CHECK(good.judged({}, policy_of("needed = [\"withstand\"]\n")).decision.decision == decision::undecided);
  CHECK(good.judged({}, policy_of("[limits]\nearth_maximum_ohm = 0.01\n")).decision.decision == decision::hold);
}

TEST_CASE("no policy passes over a suspect reading") {
  const auto judged = good.replaced("0.325, 0.381", "0.235, 0.381").judged({}, policy_of("needed = [\"draw\"]\n"));
  CHECK(judged.decision.decision == decision::undecided);
}
