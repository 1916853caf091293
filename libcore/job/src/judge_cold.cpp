// SPDX-License-Identifier: MIT
#include <rewound/verdict/rules/bench_checks.hpp>

#include "judge_parts.hpp"

namespace rewound::job {

void judge_cold(const visit_facts& now, const std::optional<visit_facts>& before, const verdict::policy& policy,
                result& out) {
  judge_insulation(now, before, policy, out);
  judge_resistance(now, before, policy, out);
  judge_starting(now, policy, out);
  judge_touch(now, before, policy, out);
  append(out.findings, verdict::rules::bench_checks(now.in.checks, policy));
}

}  // namespace rewound::job
