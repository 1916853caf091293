// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include <rewound/job/learn.hpp>
#include <rewound/job/policy_file.hpp>

#include "simulate.hpp"

namespace rewound::study {

namespace {

constexpr std::size_t cohort_size = 10;

struct resisted {
  tally bad;   ///< the bad machine set aside
  tally good;  ///< some good machine set aside
};

/// Cohorts of ten in which the first machine draws `shift` times as much again on the speeds chosen.
resisted learn_cohorts(shape kind, double shift, bool all_speeds, std::size_t trials, generator& random) {
  const auto policy = job::default_policy();
  resisted out;
  for (std::size_t t = 0; t < trials; ++t) {
    const auto model = random_design(kind, random);
    const auto meters = random_meters("shop", random);
    std::vector<record::visit_record> records;
    for (std::size_t i = 0; i < cohort_size; ++i) {
      std::array<double, speed_count> offsets{};
      if (i == 0)
        offsets = {all_speeds ? std::log1p(shift) : 0.0, std::log1p(shift), all_speeds ? std::log1p(shift) : 0.0};
      records.push_back(visit("unit" + std::to_string(i), random_unit(model, {}, random), meters, offsets, random));
    }
    const auto learnt = job::learn(records, policy);
    bool bad = false;
    bool good = false;
    for (const auto& machine : learnt.set_aside) (machine.id == "unit0" ? bad : good) = true;
    out.bad.add(bad);
    out.good.add(good);
    out.bad.close_group();
    out.good.close_group();
  }
  return out;
}

}  // namespace

void print_learning(const options& asked) {
  generator random(asked.seed + 1);
  const auto trials = cases(asked, 40);
  std::printf("\nLearning from ten machines, the first one bad: percent of %zu cohorts a row (standard error)\n",
              trials);
  std::printf("  %-16s %-12s %8s %18s %20s\n", "curves", "bad on", "by", "bad set aside", "a good set aside");
  for (const auto kind : {shape::power, shape::saturating, shape::fan_quadratic}) {
    const auto healthy = learn_cohorts(kind, 0.0, true, trials, random);
    std::printf("  %-16s %-12s %8s %18s %12.1f (%.1f)\n", name_of(kind), "none", "", "",
                std::max(healthy.good.percent(), healthy.bad.percent()), healthy.good.standard_error_percent());
    for (const double shift : {0.15, 0.25, 0.40})
      for (const bool all : {true, false}) {
        const auto seen = learn_cohorts(kind, shift, all, trials, random);
        std::printf("  %-16s %-12s %+7.0f%% %11.1f (%.1f) %13.1f (%.1f)\n", name_of(kind),
                    all ? "all speeds" : "one speed", 100.0 * shift, seen.bad.percent(),
                    seen.bad.standard_error_percent(), seen.good.percent(), seen.good.standard_error_percent());
      }
  }
}

}  // namespace rewound::study
