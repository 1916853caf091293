// SPDX-License-Identifier: MIT
#include <array>
#include <cmath>
#include <cstdio>
#include <optional>
#include <string>
#include <vector>

#include <rewound/job/judge.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/job/policy_file.hpp>

#include "simulate.hpp"

namespace rewound::study {

namespace {

constexpr double alarm = 2.0;  // -log10 of the false-alarm rate of 1 % that the design sets

/// Drift of a machine between two visits, as the policy states it: alike on all speeds, and each speed by itself.
constexpr double common_drift = 0.015;
constexpr double speed_drift = 0.010;

struct fault {
  const char* name;
  double shift;
  bool all_speeds;
};

constexpr std::array<fault, 9> faults{{{"healthy", 0.0, true},
                                       {"+5 % all", 0.05, true},
                                       {"+10 % all", 0.10, true},
                                       {"+15 % all", 0.15, true},
                                       {"+25 % all", 0.25, true},
                                       {"+5 % one", 0.05, false},
                                       {"+10 % one", 0.10, false},
                                       {"+15 % one", 0.15, false},
                                       {"+25 % one", 0.25, false}}};

using alarms = std::array<tally, faults.size()>;

std::array<double, speed_count> offsets_of(const fault& what) {
  const double log = std::log1p(what.shift);
  return what.all_speeds ? std::array{log, log, log} : std::array{0.0, log, 0.0};
}

bool raised(const record::visit_record& now, const job::sources& beside, const verdict::policy& policy) {
  const auto judged = job::judge(now, beside, policy);
  return judged.abnormality.value_or(0.0) > alarm;
}

/// Judged by a reference of `machines` good ones, read by the same meters or by others.
alarms with_reference(shape kind, std::size_t machines, bool same_meters, std::size_t references, std::size_t each,
                      generator& random) {
  const auto policy = job::default_policy();
  alarms out;
  for (std::size_t r = 0; r < references; ++r) {
    const auto model = random_design(kind, random);
    const auto meters = random_meters("shop", random);
    std::vector<record::visit_record> records;
    for (std::size_t i = 0; i < machines; ++i)
      records.push_back(visit("unit" + std::to_string(i), random_unit(model, {}, random), meters, {}, random));
    const auto learnt = job::learn(records, policy);
    for (std::size_t t = 0; t < each; ++t) {
      const auto machine = random_unit(model, {}, random);
      const auto now = same_meters ? meters : random_meters("other", random);
      for (std::size_t f = 0; f < faults.size(); ++f)
        out[f].add(raised(visit("new", machine, now, offsets_of(faults[f]), random), {{}, learnt}, policy));
    }
    for (auto& each_fault : out) each_fault.close_group();
  }
  return out;
}

/// Judged by the machine's own earlier visit, with drift between the two.
alarms with_earlier(shape kind, bool same_meters, std::size_t trials, generator& random) {
  const auto policy = job::default_policy();
  alarms out;
  for (std::size_t t = 0; t < trials; ++t) {
    const auto machine = random_unit(random_design(kind, random), {}, random);
    const auto meters = random_meters("shop", random);
    const auto earlier = visit("unit", machine, meters, {}, random);
    const auto now = same_meters ? meters : random_meters("other", random);
    const double common = normal(common_drift, random);
    std::array<double, speed_count> drift{};
    for (auto& each : drift) each = common + normal(speed_drift, random);
    for (std::size_t f = 0; f < faults.size(); ++f) {
      auto offsets = offsets_of(faults[f]);
      for (std::size_t i = 0; i < speed_count; ++i) offsets[i] += drift[i];
      out[f].add(raised(visit("unit", machine, now, offsets, random), {earlier, {}}, policy));
    }
    for (auto& each : out) each.close_group();
  }
  return out;
}

void print_row(shape kind, const char* beside, bool same_meters, const alarms& seen) {
  std::printf("  %-16s %-10s %-6s %5.1f (%.1f)", name_of(kind), beside, same_meters ? "same" : "other",
              seen[0].percent(), seen[0].standard_error_percent());
  for (std::size_t f = 1; f < faults.size(); ++f) std::printf(" %9.1f", seen[f].percent());
  std::printf("\n");
  std::fflush(stdout);
}

}  // namespace

void print_judgement(const options& asked) {
  generator random(asked.seed + 2);
  std::printf("\nJoint test at 1 %%: percent of machines for which it fails (standard error of the healthy ones)\n");
  std::printf("  %-16s %-10s %-6s %11s", "curves", "beside", "meter", faults[0].name);
  for (std::size_t f = 1; f < faults.size(); ++f) std::printf(" %9s", faults[f].name);
  std::printf("\n");
  struct size {
    std::size_t machines;
    double references;
    std::size_t each;
  };
  for (const auto kind : {shape::power, shape::saturating, shape::fan_quadratic, shape::fan_table}) {
    for (const auto& [machines, references, each] : {size{1, 150, 2}, size{3, 60, 3}, size{10, 15, 8}, size{30, 6, 12}})
      for (const bool same : {true, false}) {
        char label[40];
        std::snprintf(label, sizeof label, "K = %zu", machines);
        print_row(kind, label, same, with_reference(kind, machines, same, cases(asked, references), each, random));
      }
    for (const bool same : {true, false})
      print_row(kind, "earlier", same, with_earlier(kind, same, cases(asked, 300), random));
  }
}

}  // namespace rewound::study
