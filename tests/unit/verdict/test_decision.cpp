// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <vector>

#include <rewound/verdict/decision.hpp>

using namespace rewound::verdict;

namespace {

finding of(check which, outcome came_to, bearing does = bearing::decides) {
  return {.check = which, .outcome = came_to, .bearing = does};
}

policy needing(std::vector<check> needed) {
  policy out;
  out.needed = std::move(needed);
  return out;
}

decision decided_on(const std::vector<finding>& findings) {
  return decide(findings, needing({check::draw, check::earth})).decision;
}

}  // namespace

TEST_CASE("every needed check conforming releases") {
  CHECK(decided_on({of(check::draw, outcome::conforms), of(check::earth, outcome::conforms)}) == decision::release);
}

TEST_CASE("nothing found at all never releases") {
  const auto out = decide({}, needing({check::draw, check::earth}));
  CHECK(out.decision == decision::undecided);
  CHECK(out.absent == std::vector{check::draw, check::earth});
}

TEST_CASE("a needed check that left no finding, or only one that informs, is absent") {
  const auto out = decide({of(check::draw, outcome::conforms), of(check::earth, outcome::conforms, bearing::informs)},
                          needing({check::draw, check::earth}));
  CHECK(out.decision == decision::undecided);
  CHECK(out.absent == std::vector{check::earth});
}

TEST_CASE("a needed finding undecided or not tested leaves the machine undecided, whatever else conforms") {
  for (const auto open : {outcome::undecided, outcome::not_tested}) {
    const auto out =
        decide({of(check::draw, outcome::conforms), of(check::draw, open), of(check::earth, outcome::conforms)},
               needing({check::draw, check::earth}));
    CHECK(out.decision == decision::undecided);
    CHECK(out.open == std::vector<std::size_t>{1});
  }
}

TEST_CASE("what is not needed may stay open") {
  CHECK(decided_on({of(check::draw, outcome::conforms), of(check::earth, outcome::conforms),
                    of(check::withstand, outcome::not_tested)}) == decision::release);
}

TEST_CASE("a needed check that does not apply is met") {
  CHECK(decided_on({of(check::draw, outcome::conforms),
                    of(check::earth, outcome::not_tested, bearing::does_not_apply)}) == decision::release);
}

TEST_CASE("any fail holds, needed or not, deciding or informing") {
  for (const auto does : {bearing::decides, bearing::informs})
    for (const auto which : {check::draw, check::supply})
      CHECK(decided_on({of(check::draw, outcome::conforms), of(check::earth, outcome::conforms),
                        of(which, outcome::fails, does)}) == decision::hold);
}

TEST_CASE("a suspect reading is named before everything else that is open") {
  const auto out = decide({of(check::draw, outcome::undecided), of(check::readings, outcome::undecided)},
                          needing({check::draw, check::readings}));
  CHECK(out.open == std::vector<std::size_t>{1, 0});
}

TEST_CASE(
    "no step under power is proposed while insulation, earth or leakage fail or are missing; leakage is the first") {
  const auto needs = needing({check::draw, check::insulation, check::earth, check::leakage, check::resistance});
  const auto steps_of = [&](const std::vector<finding>& findings) {
    std::vector<check> out;
    for (const auto place : decide(findings, needs).steps) out.push_back(findings[place].check);
    return out;
  };
  const auto missing = [](check which) { return of(which, outcome::not_tested); };
  const auto good = [](check which) { return of(which, outcome::conforms); };
  const std::vector all{missing(check::draw), missing(check::insulation), missing(check::earth),
                        missing(check::leakage), missing(check::resistance)};
  CHECK(steps_of(all) == std::vector{check::insulation, check::resistance, check::earth});
  CHECK_FALSE(decide(all, needs).may_energise);
  CHECK(steps_of({missing(check::draw), good(check::insulation), good(check::earth), missing(check::leakage),
                  good(check::resistance)}) == std::vector{check::leakage});
  CHECK(steps_of({of(check::draw, outcome::fails), good(check::insulation), of(check::earth, outcome::fails),
                  good(check::leakage), good(check::resistance)}) == std::vector{check::earth});
  CHECK(steps_of({missing(check::draw), good(check::insulation), good(check::earth), good(check::leakage),
                  missing(check::resistance)}) == std::vector{check::resistance, check::draw});
}

TEST_CASE("each open finding asks for the meter that would settle it") {
  const auto meter = [](check which, statement says = statement::not_recorded, const char* subject = "") {
    return meter_for({.check = which, .subject = subject, .says = says});
  };
  CHECK(meter(check::capacitor, statement::capacitor_not_measured) == "capacitance_meter");
  CHECK(meter(check::capacitor) == "");
  CHECK(meter(check::commutator, statement::not_recorded, "armature") == "ohmmeter");
  CHECK(meter(check::commutator, statement::not_recorded, "brushes") == "");
  CHECK(meter(check::draw) == "ammeter");
  CHECK(meter(check::draw, statement::draw_watts_not_read) == "wattmeter");
  CHECK(meter(check::steps, statement::steps_equal) == "ohmmeter");
  CHECK(meter(check::steps, statement::steps_swapped) == "");
  finding leak{.check = check::leakage};
  CHECK(meter_for(leak) == "leakage_meter");
  leak.texts = {{"leakage_by", "resistor"}};
  CHECK(meter_for(leak) == "voltmeter");
}

TEST_CASE("what fails is settled before what is open, even where the open needs no power") {
  const auto out = decide({of(check::resistance, outcome::not_tested), of(check::draw, outcome::fails)},
                          needing({check::draw, check::resistance}));
  CHECK(out.may_energise);
  CHECK(out.steps == std::vector<std::size_t>{1, 0});
}

TEST_CASE("a needed check is not absent once anything but information is found of it, whatever it came to") {
  for (const auto came_to : {outcome::conforms, outcome::fails, outcome::undecided, outcome::not_tested})
    for (const auto does : {bearing::decides, bearing::noted, bearing::does_not_apply, bearing::informs}) {
      const auto out = decide({of(check::draw, came_to, does)}, needing({check::draw}));
      CHECK(out.absent.empty() == (does != bearing::informs));
    }
}
