// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
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
  for (const auto& [key, entered] : ticked) {
    const auto known = std::find_if(tables::bench_checks.begin(), tables::bench_checks.end(),
                                    [&known_as = key](const auto& row) { return row.name == known_as; });
    const bool required =
        std::find(rules.required_checks.begin(), rules.required_checks.end(), key) != rules.required_checks.end();
    const bool listed = known != tables::bench_checks.end();
    if (!listed && !required) {
      out.push_back({.check = check::checks,
                     .subject = key,
                     .bearing = bearing::informs,
                     .says = statement::check_noted,
                     .quantity = "checked",
                     .source = "the record's own entry",
                     .texts = {{"what", key}, {"entered", entered ? "true" : "false"}}});
      continue;
    }
    const bool good = listed && !required ? entered == (known->good != 0.0) : entered;
    out.push_back({.check = check::checks,
                   .subject = key,
                   .outcome = good ? outcome::conforms : outcome::fails,
                   .says = good ? statement::check_passed : statement::check_failed,
                   .quantity = "checked",
                   .source = "the record's own entry",
                   .texts = {{"what", key}, {"entered", entered ? "true" : "false"}}});
  }
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
