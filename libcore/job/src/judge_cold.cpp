// SPDX-License-Identifier: MIT
#include <rewound/verdict/rules/bench_checks.hpp>

#include "analysis.hpp"

namespace rewound::job {

finding_list judge_cold(const analysis& seen, const std::vector<verdict::draw_row>& rows) {
  auto out = judge_insulation(seen);
  append(out, judge_resistance(seen, rows));
  append(out, judge_starting(seen));
  append(out, judge_touch(seen, rows));
  append(out, verdict::rules::bench_checks(seen.record.checks, seen.policy));
  return out;
}

}  // namespace rewound::job
