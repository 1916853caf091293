// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <string>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/bench_checks.hpp>

namespace rewound::verdict::rules {

REWOUND_INLINE std::vector<finding> bench_checks(const std::map<std::string, bool>& ticked, const policy& rules) {
  std::vector<finding> out;
  for (const auto& [key, passed] : ticked)
    out.push_back({.check = check::checks,
                   .subject = key,
                   .outcome = passed ? outcome::conforms : outcome::fails,
                   .says = passed ? statement::check_passed : statement::check_failed,
                   .quantity = "checked",
                   .source = "the record's own entry",
                   .texts = {{"what", key}}});
  for (const auto& key : rules.required_checks)
    if (!ticked.contains(key))
      out.push_back({.check = check::checks,
                     .subject = key,
                     .says = statement::check_required_missing,
                     .quantity = "checked",
                     .source = "the shop's own policy",
                     .texts = {{"what", key}}});
  return out;
}

REWOUND_INLINE finding not_made(check which) {
  return {.check = which,
          .bearing = bearing::informs,
          .says = statement::not_recorded,
          .quantity = std::string(name(which))};
}

}  // namespace rewound::verdict::rules
