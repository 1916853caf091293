// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>
#include <thread>
#include <vector>

#include <judged.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/report/json.hpp>

#include "evidence/pooled_references.hpp"
#include "evidence/prepared_designs.hpp"

namespace job = rewound::job;
namespace record = rewound::record;
using rewound::testing::good;

// What is kept from one judgement to the next, and what is worked out only when asked for, changes no answer.
namespace {

std::vector<record::visit_record> cohort() {
  std::vector<record::visit_record> out;
  for (int i = 0; i < 5; ++i)
    out.push_back(good.replaced("id = \"GH-07\"", "id = \"GH-" + std::to_string(20 + i) + "\"").record());
  return out;
}

void forget_all() {
  job::forget_prepared_designs();
  job::forget_pooled_references();
}

}  // namespace

TEST_CASE("a reference that was pooled before is the same as one pooled anew, to the last digit") {
  const auto policy = job::default_policy();
  const auto learnt = job::learn(cohort(), policy);
  const auto prior = job::between_machines(policy);
  forget_all();
  const auto anew = job::pool_reference(learnt, prior);
  const auto kept = job::pool_reference(learnt, prior);
  CHECK(anew.population.mean == kept.population.mean);
  CHECK(anew.population.between == kept.population.between);
  auto wider = prior;
  wider.level *= 2.0;
  CHECK(job::pool_reference(learnt, wider).population.between != kept.population.between);
  auto fewer = learnt;
  fewer.machines.pop_back();
  CHECK(job::pool_reference(fewer, prior).population.units == 4);
}

TEST_CASE("a judgement beside good machines does not depend on what was judged before") {
  const auto policy = job::default_policy();
  const auto learnt = job::learn(cohort(), policy);
  auto fewer = learnt;
  fewer.machines.pop_back();
  const auto judged = [&](const job::reference& beside) {
    return rewound::report::json_report(job::judge(good.record(), {{}, beside}, policy));
  };
  forget_all();
  const auto first = judged(learnt);
  CHECK(judged(learnt) == first);
  const auto other = judged(fewer);
  forget_all();
  CHECK(judged(fewer) == other);
  CHECK(judged(learnt) == first);
  CHECK(other != first);
}

TEST_CASE("what to measure next may be asked for late, in a copy and by several threads") {
  const auto policy = job::default_policy();
  const auto ask = [](const job::result& of) {
    std::string out;
    for (const auto& step : of.next_steps.get())
      out += std::string(name(step.measurement)) + " " + std::to_string(step.bits) + "\n";
    return out;
  };
  // A draw that leaves the likeliest cause open: what changes no answer is not proposed.
  const auto doubtful = good.replaced("0.381, 0.421, 0.442]", "0.465, 0.514, 0.539]");
  const auto at_once = ask(job::judge(doubtful.record(), {}, policy));
  CHECK(!at_once.empty());
  job::result late;
  {
    const auto record = doubtful.record();
    const auto first = job::judge(record, {}, policy);
    late = first;
  }
  forget_all();
  std::vector<std::string> found(4);
  std::vector<std::thread> threads;
  for (auto& each : found) threads.emplace_back([&] { each = ask(late); });
  for (auto& thread : threads) thread.join();
  for (const auto& each : found) CHECK(each == at_once);
  CHECK(job::result{}.next_steps.get().empty());
}
