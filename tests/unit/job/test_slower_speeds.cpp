// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <judged.hpp>
#include <near.hpp>
#include <rewound/job/simulate.hpp>
#include <simulation_size.hpp>

namespace job = rewound::job;
namespace record = rewound::record;
namespace verdict = rewound::verdict;

namespace {

struct told_range {
  double value, usual, low, high;
};

/// What is told of each slower speed beside its own reading.
std::vector<told_range> told_of(const record::visit_record& in) {
  std::vector<told_range> out;
  const auto result = job::judge(in, {}, job::default_policy());
  for (const auto& f : result.findings) {
    const auto number = [&](const char* key) {
      const auto found = std::find_if(f.numbers.begin(), f.numbers.end(), [&](const auto& n) { return n.key == key; });
      return found == f.numbers.end() ? std::nullopt : std::optional(found->value);
    };
    if (f.check == verdict::check::draw && number("usual"))
      out.push_back({f.value.value(), *number("usual"), *number("usual_low"), *number("usual_high")});
  }
  return out;
}

record::visit_record simulated(const std::string& model, std::uint64_t seed, bool rpm) {
  job::simulate_options options;
  options.seed = seed;
  options.rpm = rpm;
  return job::simulate(job::simulated_machine_named(model), options);
}

void without_plate(record::visit_record& in) {
  in.machine.rated_current_A.reset();
  in.machine.rated_power_W.reset();
}

double width(const std::vector<told_range>& all) {
  double out = 0.0;
  for (const auto& each : all) out += std::log(each.high / each.low) / static_cast<double>(all.size());
  return out;
}

}  // namespace

TEST_CASE("slower speeds of healthy machines draw what is told of them by the fastest speed, with a plate or without") {
  constexpr int machines = rewound::testing::simulated(24);
  int held = 0, all = 0;
  for (const auto& model : job::simulated_models())
    for (int i = 0; i < machines; ++i) {
      auto in = simulated(model, static_cast<std::uint64_t>(100 + i), i % 2 == 0);
      if (in.machine.speeds.size() < 2 || in.machine.phases == 3) continue;
      if (i % 3 == 0) without_plate(in);
      const auto told = told_of(in);
      CAPTURE(model);
      CHECK(told.size() == in.machine.speeds.size() - 1);
      for (const auto& each : told) {
        CHECK(each.low < each.usual);
        CHECK(each.usual < each.high);
        held += each.low <= each.value && each.value <= each.high ? 1 : 0;
        ++all;
      }
    }
  CAPTURE(all);
  CHECK(held >= 0.9 * all);
}

TEST_CASE("rpm narrow what is told of a slower speed, and more amperes on the fastest raise it alike") {
  auto in = simulated("circulator-40", 7, true);
  const auto with = told_of(in);
  auto more = in;
  for (auto& run : more.run_up)
    for (auto& row : run.rows) row.current_A *= 1.02;
  const auto raised = told_of(more);
  for (auto& run : in.run_up)
    for (auto& row : run.rows) row.speed_rpm.reset();
  const auto without = told_of(in);
  REQUIRE(with.size() == 2);
  REQUIRE(without.size() == 2);
  REQUIRE(raised.size() == 2);
  CHECK(width(with) < width(without));
  for (std::size_t i = 0; i < with.size(); ++i) {
    CHECK(raised[i].usual / with[i].usual > 1.005);
    CHECK(raised[i].usual / with[i].usual < 1.035);
  }
}

TEST_CASE("nothing is told of slower speeds where the fastest was not read") {
  auto in = simulated("circulator-40", 7, true);
  in.run_up.erase(in.run_up.begin());
  CHECK(told_of(in).empty());
}
