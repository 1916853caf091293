// SPDX-License-Identifier: MIT
#include <rewound/verdict/rules/readings.hpp>

#include "analysis/analysis.hpp"

namespace rewound::job {

std::vector<verdict::rules::named_suspect> suspects_of(const analysis& seen) {
  std::vector<verdict::rules::named_suspect> out;
  for (const auto& suspect : seen.run_ups.suspects.readings)
    out.push_back({seen.run_ups.as_read[suspect.run].speed, suspect});
  return out;
}

finding_list judge_readings(const analysis& seen) {
  int stalled = 0;
  for (const auto& run : seen.run_ups.as_read)
    for (const auto& reading : run.readings) stalled += reading.turning ? 0 : 1;
  return verdict::rules::readings(suspects_of(seen), impossible_watts_of(seen.today()),
                                  contradictions_of(seen.record, seen.policy), stalled,
                                  seen.today().instruments.assumed);
}

}  // namespace rewound::job
