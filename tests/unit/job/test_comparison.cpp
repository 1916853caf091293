// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include <judged.hpp>
#include <near.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/report/wording.hpp>

using rewound::job::result;
using rewound::testing::finding_saying;
using rewound::testing::findings_of;
using rewound::testing::good;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;
using rewound::testing::record_text;
using rewound::testing::says;
using rewound::verdict::check;
using rewound::verdict::outcome;
using rewound::verdict::statement;

// Beside an earlier visit or good machines: meters, steps, and what would settle a doubt.
namespace {

const std::string medium_as_read = "current_A = [0.188, 0.235, 0.284, 0.332, 0.366, 0.383]";
const std::string ammeter_line = "name = \"bench ammeter 2\"\nreading_percent = 0.8";

record_text a_year_before(const record_text& text) { return text.replaced("date = 2026-05-14", "date = 2025-05-14"); }

}  // namespace

TEST_CASE("an ammeter of the same name cancels its gain error against the earlier visit, another one does not") {
  const auto same = good.judged(a_year_before(good).record());
  const auto other = good.judged(a_year_before(good).replaced("bench ammeter 2", "bench ammeter 3").record());
  for (std::size_t i = 0; i < 3; ++i) {
    const double known = same.draw[i].level_percent->standard_uncertainty;
    const double doubtful = other.draw[i].level_percent->standard_uncertainty;
    // Two gains of 0.8 % / sqrt 3 each come in with the other meter, and nothing else.
    CHECK(near_absolute(doubtful * doubtful - known * known, 2.0 * 0.8 * 0.8 / 3.0, 0.02));
    CHECK(same.draw[i].uncertainty->gain < 0.01);
  }
}

TEST_CASE("the same holds beside good machines: the share of them that this ammeter read cancels") {
  const auto gain_beside = [](int same, int other) {
    std::vector<rewound::record::visit_record> machines;
    const auto with_model = good.replaced("id = \"GH-07\"", "id = \"GH-NUMBER\"");
    for (int i = 0; i < same + other; ++i) {
      auto text = with_model.replaced("GH-NUMBER", "GH-" + std::to_string(20 + i));
      if (i >= same) text = text.replaced("bench ammeter 2", "field ammeter");
      machines.push_back(text.record());
    }
    const auto policy = rewound::job::default_policy();
    const auto judged = rewound::job::judge(good.record(), {{}, rewound::job::learn(machines, policy)}, policy);
    return judged.draw[0].uncertainty->gain;
  };
  const double one = 0.8 / std::sqrt(3.0);
  CHECK(near_absolute(gain_beside(4, 0), 0.0, 1e-9));
  CHECK(near_relative(gain_beside(0, 4), std::sqrt(2.0) * one, 1e-6));
  // Half and half: half of this meter's gain, half of the other's.
  CHECK(near_relative(gain_beside(2, 2), std::sqrt(0.5) * one, 1e-6));
}

TEST_CASE("a step that is not what it was fails, though all speeds together have drifted alike") {
  // Medium a fifth higher than a year ago, the others as they were.
  const auto earlier =
      a_year_before(good.replaced(medium_as_read, "current_A = [0.157, 0.196, 0.237, 0.277, 0.305, 0.319]"));
  const auto judged = good.judged(earlier.record());
  const auto step = finding_saying(judged, statement::step_against_expected);
  CHECK(step.subject == "high to medium");
  CHECK(step.outcome == outcome::fails);
  CHECK(near_absolute(step.value.value(), 100.0 * (0.305 / 0.366 - 1.0), 1.5));
  CHECK(judged.decision.decision == rewound::verdict::decision::hold);
}

TEST_CASE("an unchanged machine's steps are as expected, and meters of other names leave the ratio as certain") {
  const auto same = good.judged(a_year_before(good).record());
  const auto other =
      good.judged(a_year_before(good).replaced(ammeter_line, "name = \"field ammeter\"\nreading_percent = 3").record());
  for (std::size_t i = 0; i < findings_of(same, check::steps).size(); ++i) {
    const auto known = findings_of(same, check::steps)[i];
    const auto doubtful = findings_of(other, check::steps)[i];
    CHECK(known.outcome == outcome::conforms);
    CHECK(doubtful.outcome == outcome::conforms);
    if (known.says == statement::step_against_expected)
      CHECK(near_absolute(*known.high - *known.low, *doubtful.high - *doubtful.low, 1e-6));
  }
}

TEST_CASE("a level near its limit is undecided and says what would settle it") {
  // About 4 % above a year ago by an ammeter good to 8 %: it may well be beyond the limit of 10 %.
  const auto earlier = a_year_before(good.replaced("current_A = [0.214, 0.268, 0.325, 0.381, 0.421, 0.442]",
                                                   "current_A = [0.206, 0.258, 0.313, 0.366, 0.405, 0.425]"));
  const auto coarse = earlier.replaced(ammeter_line, "name = \"field ammeter\"\nreading_percent = 8");
  const auto judged = good.judged(coarse.record());
  const auto level = finding_saying(judged, statement::draw_against_earlier);
  REQUIRE(level.outcome == outcome::undecided);
  const auto advice = rewound::report::advice(level);
  CAPTURE(advice);
  CHECK(advice.find("ammeter good to") != std::string::npos);
  CHECK(advice.find('{') == std::string::npos);
}

TEST_CASE("watts at today's mains are told where watts were read") {
  const auto with_watts = good.replaced("current_A = [0.214, 0.268, 0.325, 0.381, 0.421, 0.442]",
                                        "current_A = [0.214, 0.268, 0.325, 0.381, 0.421, 0.442]\n"
                                        "power_W = [21.0, 33.0, 47.0, 62.0, 74.0, 80.0]");
  const auto told = finding_saying(with_watts.judged(), statement::supply_power);
  CHECK(told.subject == "high");
  CHECK(near_relative(told.value.value(), 80.0, 0.02));  // the mains of the record is 240 V, where 80 W were read
  CHECK_FALSE(says(good.judged(), statement::supply_power));
}

TEST_CASE("with the nameplate alone a machine far from it, or of a shape that no machine has, is abnormal") {
  const auto plain = good.judged();
  REQUIRE(plain.abnormality);
  CHECK(*plain.abnormality < 1.0);
  const auto half_as_much_again = good.replaced("rated_current_A = 0.42", "rated_current_A = 0.26").judged();
  CHECK(*half_as_much_again.abnormality > 2.0);
  // A low speed that draws a third of the high one is a wide step that fans have; with an eighth none is released.
  const auto wide_step = good.replaced("current_A = [0.159, 0.198, 0.238, 0.278, 0.305, 0.319]",
                                       "current_A = [0.073, 0.091, 0.110, 0.128, 0.140, 0.147]")
                             .judged();
  CHECK(*wide_step.abnormality < 1.0);
  const auto next_to_nothing = good.replaced("current_A = [0.159, 0.198, 0.238, 0.278, 0.305, 0.319]",
                                             "current_A = [0.029, 0.036, 0.043, 0.050, 0.055, 0.058]")
                                   .judged();
  CHECK(next_to_nothing.decision.decision == rewound::verdict::decision::undecided);
  CHECK_FALSE(good.without("rated_current_A = 0.42\n").judged().abnormality);
}

TEST_CASE("a visit that a reference was learnt from is not compared with itself where others remain") {
  const auto other = good.replaced("id = \"GH-07\"", "id = \"GH-08\"")
                         .replaced("current_A = [0.214, 0.268, 0.325, 0.381, 0.421, 0.442]",
                                   "current_A = [0.225, 0.281, 0.341, 0.400, 0.442, 0.464]");
  const auto policy = rewound::job::default_policy();
  const auto alone = rewound::job::judge(good.record(), {{}, rewound::job::learn({other.record()}, policy)}, policy);
  const auto both =
      rewound::job::judge(good.record(), {{}, rewound::job::learn({other.record(), good.record()}, policy)}, policy);
  CHECK(both.draw[0].level_percent->value == alone.draw[0].level_percent->value);
  CHECK(says(both, statement::visit_in_reference));
  CHECK_FALSE(says(alone, statement::visit_in_reference));
}
