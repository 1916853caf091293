// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <string_view>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/verdict/decision.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict {

namespace detail {

inline bool satisfied(const finding& f) {
  return f.bearing == bearing::does_not_apply || f.bearing == bearing::noted ||
         (f.bearing == bearing::decides && f.outcome == outcome::conforms);
}

/// What is settled first: a shaky reading undermines every other finding, and nothing is energised before the tests
/// that are made cold.
constexpr int precedence(check which) {
  switch (which) {
    case check::readings: return 0;
    case check::insulation:
    case check::polarization_index:
    case check::resistance:
    case check::withstand: return 1;
    case check::earth:
    case check::leakage: return 2;
    default: return 3;
  }
}

}  // namespace detail

REWOUND_INLINE decided decide(const std::vector<finding>& findings, const policy& rules) {
  decided out{decision::release, {}, {}, {}};
  for (std::size_t i = 0; i < findings.size(); ++i) {
    const auto& f = findings[i];
    if (f.outcome == outcome::fails) out.failing.push_back(i);
    if (f.bearing != bearing::decides) continue;
    // What was measured and came out undecided stands in the way whether or not the policy asked for it.
    if (f.outcome == outcome::undecided || (f.outcome == outcome::not_tested && rules.needs(f.check)))
      out.open.push_back(i);
  }
  for (const check needed : rules.needed) {
    const bool met = std::any_of(findings.begin(), findings.end(),
                                 [&](const finding& f) { return f.check == needed && detail::satisfied(f); });
    const bool listed = std::any_of(findings.begin(), findings.end(), [&](const finding& f) {
      return f.check == needed && f.bearing != bearing::informs;
    });
    if (!met && !listed) out.absent.push_back(needed);
  }
  std::stable_sort(out.open.begin(), out.open.end(), [&](std::size_t a, std::size_t b) {
    return detail::precedence(findings[a].check) < detail::precedence(findings[b].check);
  });
  if (!out.failing.empty()) out.decision = decision::hold;
  else if (!out.open.empty() || !out.absent.empty()) out.decision = decision::undecided;
  return out;
}

}  // namespace rewound::verdict
