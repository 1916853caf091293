// SPDX-License-Identifier: MIT
#pragma once

#include <iterator>
#include <optional>
#include <vector>

#include <rewound/job/record.hpp>
#include <rewound/job/reference.hpp>
#include <rewound/job/result.hpp>
#include <rewound/verdict/policy.hpp>

#include "instruments.hpp"

namespace rewound::job {

/// One visit's record with its instruments worked out.
struct visit_facts {
  const record& in;
  bench_instruments instruments;
};

/// Run-up, draw, steps and supply: appends findings and fills the result's rows.
void judge_running(const visit_facts& now, const std::optional<visit_facts>& before,
                   const std::optional<reference>& good, const verdict::policy& policy, result& out);

/// Insulation: one circuit after another.
void judge_insulation(const visit_facts& now, const verdict::policy& policy, result& out);

/// Insulation, winding resistance, leakage and earth, starts, bench checks: appends findings.
void judge_cold(const visit_facts& now, const std::optional<visit_facts>& before, const verdict::policy& policy,
                result& out);

inline void append(std::vector<verdict::finding>& to, std::vector<verdict::finding> more) {
  to.insert(to.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end()));
}

}  // namespace rewound::job
