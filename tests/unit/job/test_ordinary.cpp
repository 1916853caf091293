// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <string>

#include <judged.hpp>
#include <rewound/job/judge.hpp>
#include <rewound/report/view.hpp>

namespace job = rewound::job;
namespace verdict = rewound::verdict;
using rewound::testing::good;

namespace {

job::result judged(const rewound::record::visit_record& in) { return job::judge(in, {}, job::default_policy()); }

}  // namespace

TEST_CASE("a machine that starts after a push only is not released, and its capacitor is looked at first") {
  auto in = good.record();
  REQUIRE(judged(in).decision.decision == verdict::decision::release);
  for (auto& starts : in.starts) starts.needed_push = true;
  const auto result = judged(in);
  CHECK(result.decision.decision != verdict::decision::release);
  CHECK(result.causes.front().cause == verdict::cause::weak_capacitor);
}

TEST_CASE("what the person has no meter for comes last, and who can measure it is said") {
  auto in = good.record();
  in.visit.have = {"voltmeter", "ammeter", "ohmmeter"};
  in.insulation.clear();
  in.resistance.clear();
  const auto result = judged(in);
  const auto shown = rewound::report::view_of(result);
  REQUIRE(shown.next.size() >= 2);
  CHECK(shown.next.back().find("insulation tester") != std::string::npos);
  CHECK(shown.next.back().find("ask a shop") != std::string::npos);
  CHECK(shown.next.front().find("ask a shop") == std::string::npos);
  const auto& telling = result.next_steps.get();
  CHECK(std::none_of(telling.begin(), telling.end(),
                     [](const auto& each) { return each.measurement == verdict::measurement_kind::insulation; }));
}
