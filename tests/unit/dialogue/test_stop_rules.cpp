// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <judged.hpp>
#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/job/expected_reading.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/job/policy_file.hpp>

#include "dialogue/steps/remark.hpp"
#include "dialogue/steps/stop_rules.hpp"

namespace dialogue = rewound::tool::dialogue;
namespace job = rewound::job;
namespace units = rewound::units;
namespace verdict = rewound::verdict;
using rewound::testing::good;
using rewound::testing::near_relative;

namespace {

const verdict::policy rules = job::default_policy();

job::sources beside_itself() { return {{}, job::learn({good.record()}, rules)}; }

dialogue::reading_facts at(double volts, double amperes) {
  dialogue::reading_facts out;
  out.speed = "high";
  out.voltage_V = volts;
  out.current_A = amperes;
  out.rated_V = 230.0;
  out.rated_current_A = 0.42;
  return out;
}

verdict::finding insulation(verdict::outcome outcome) {
  verdict::finding out{.check = verdict::check::insulation,
                       .subject = "winding to frame",
                       .outcome = outcome,
                       .says = verdict::statement::insulation_minimum};
  out.value = 3.0;
  out.quantity = "insulation_at_40_C";
  return out;
}

}  // namespace

TEST_CASE("the expectation of one reading is the one that the judgement uses") {
  const auto record = good.record();
  const auto by = beside_itself();
  const auto expected = job::expect_reading(record, by, rules, "high", units::volts(record.machine.rated_voltage_V));
  REQUIRE(expected);
  const auto judged = job::judge(record, by, rules);
  CHECK(near_relative(units::in_amperes(expected->value), units::in_amperes(*judged.draw.front().expected_at_rated),
                      1e-6));  // the shape functions at 1 are not 0 to the last digit
  CHECK(expected->by == verdict::expectation::reference);
  CHECK(expected->low < expected->value);
  CHECK(expected->value < expected->high);
  CHECK(expected->high < expected->far_high);
  const auto lower = job::expect_reading(record, by, rules, "high", units::volts(150.0));
  CHECK(near_relative(units::in_amperes(lower->value), 0.268, 0.02));
}

TEST_CASE("without a source, or of another speed, nothing is expected; no voltage is no question") {
  const auto record = good.record();
  CHECK_FALSE(job::expect_reading(record, {}, rules, "high", units::volts(150.0)).has_value());
  CHECK_FALSE(job::expect_reading(record, beside_itself(), rules, "turbo", units::volts(150.0)).has_value());
  CHECK_THROWS_AS(job::expect_reading(record, {}, rules, "high", units::volts(0.0)), rewound::base::error);
  const auto earlier = job::expect_reading(record, {record, {}}, rules, "low", units::volts(150.0));
  REQUIRE(earlier);
  CHECK(earlier->by == verdict::expectation::earlier);
}

TEST_CASE("a draw far above what is expected stops only at low voltage") {
  const auto judged = job::judge(good.record(), {}, rules);
  CHECK(dialogue::stops_after(at(115, 0.9), judged, rules).front().why == dialogue::stop_reason::far_above);
  CHECK(dialogue::stops_after(at(115, 0.6), judged, rules).empty());
  CHECK(dialogue::stops_after(at(200, 0.9), judged, rules).empty());
  auto facts = at(115, 0.6);
  facts.expected = job::expected_reading{verdict::expectation::reference, units::amperes(0.2), units::amperes(0.18),
                                         units::amperes(0.22), units::amperes(0.25)};
  CHECK(dialogue::stops_after(facts, judged, rules).front().line.find("expected 0.2 A") != std::string::npos);
  facts.expected->far_high = units::amperes(0.7);  // good machines spread that far
  CHECK(dialogue::stops_after(facts, judged, rules).empty());
}

TEST_CASE("a current that outgrows the voltage stops, one that bends with saturation does not") {
  const auto judged = job::judge(good.record(), {}, rules);
  auto facts = at(207, 0.376);
  facts.before_V = 184.0;
  facts.before_A = 0.331;
  CHECK(dialogue::stops_after(facts, judged, rules).empty());
  facts.current_A = 0.60;
  CHECK(dialogue::stops_after(facts, judged, rules).front().why == dialogue::stop_reason::not_following);
  facts.before_V = 206.0;  // too small a step to say
  CHECK(dialogue::stops_after(facts, judged, rules).empty());
}

TEST_CASE("nothing is energised before insulation was judged, nor where a cold test fails") {
  job::result judged;
  CHECK(dialogue::may_energise(judged).permission == dialogue::permission::refused);
  judged.findings = {insulation(verdict::outcome::conforms)};
  CHECK(dialogue::may_energise(judged).permission == dialogue::permission::granted);
  judged.findings.push_back(insulation(verdict::outcome::undecided));
  CHECK(dialogue::may_energise(judged).permission == dialogue::permission::ask);
  judged.findings.push_back(insulation(verdict::outcome::fails));
  CHECK(dialogue::may_energise(judged).permission == dialogue::permission::refused);
  judged.findings = {insulation(verdict::outcome::conforms)};
  judged.findings.push_back(
      {.check = verdict::check::earth, .outcome = verdict::outcome::fails, .says = verdict::statement::not_recorded});
  CHECK(dialogue::may_energise(judged).permission == dialogue::permission::refused);
  judged.findings = {insulation(verdict::outcome::not_tested)};
  judged.findings[0].value.reset();
  CHECK(dialogue::may_energise(judged).permission == dialogue::permission::refused);
}

TEST_CASE("a remark says inside and outside as the judgement does") {
  auto judged = job::judge(good.record(), {}, rules);
  const auto remark = dialogue::run_up_remark(judged, {}, "high", 0.42, 230.0);
  CHECK(remark.find("marked 0.42 A") != std::string::npos);
  CHECK(remark.ends_with(": inside"));
  judged.draw.front().outcome = verdict::outcome::fails;
  CHECK(dialogue::run_up_remark(judged, {}, "high", 0.42, 230.0).ends_with(": OUTSIDE"));
  judged.draw.front().far_from_rated = true;
  CHECK(dialogue::run_up_remark(judged, {}, "high", 0.2, 230.0).find("not enough yet") != std::string::npos);
  CHECK(dialogue::cold_remark(judged, verdict::check::insulation, "winding to frame").find("at least 5: inside") !=
        std::string::npos);
  CHECK(dialogue::cold_remark(judged, verdict::check::withstand, "") == "not enough yet");
}
