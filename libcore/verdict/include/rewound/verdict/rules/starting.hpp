// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include <rewound/checks/starting.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// Start attempts in one position of the machine.
struct starts_facts {
  std::string position;
  int attempts;
  int successes;
  checks::starting_result result;
};

/// A reading near the rating at which the rotor stood still.
struct stall_facts {
  std::string speed;
  double voltage_V;
};

namespace detail {

inline finding starts_in(const starts_facts& facts, int most_attempts, const policy& rules) {
  const auto minimum = rules.practice("minimum_starts");
  finding f{.check = check::starting, .subject = facts.position, .quantity = "starts", .unit = "1",
            .source = minimum.source};
  f.value = facts.result.share;
  f.low = facts.result.reliability_low;
  f.high = 1.0;
  f.limit_low = 1.0;
  f.numbers = {{"attempts", static_cast<double>(facts.attempts), 1.0},
               {"successes", static_cast<double>(facts.successes), 1.0},
               {"reliability_percent", 100.0 * facts.result.reliability_low, 1.0},
               {"minimum", minimum.value, 1.0},
               {"for_95", static_cast<double>(facts.result.attempts_for_95_percent), 1.0}};
  if (facts.successes < facts.attempts) {
    f.says = statement::starts_failed;
    f.outcome = outcome::fails;
  } else if (most_attempts < minimum.value) {
    f.says = statement::starts_too_few;
    f.outcome = outcome::undecided;
  } else {
    f.says = statement::starts_clean;
    f.outcome = outcome::conforms;
  }
  return f;
}

}  // namespace detail

/// Every position must start every time; the minimum number of attempts must be reached in some position.
inline std::vector<finding> starting(const std::vector<starts_facts>& positions, const std::vector<stall_facts>& stalls,
                                     const policy& rules) {
  std::vector<finding> out;
  int most = 0;
  for (const auto& facts : positions) most = std::max(most, facts.attempts);
  for (const auto& facts : positions) out.push_back(detail::starts_in(facts, most, rules));
  if (positions.empty())
    out.push_back({.check = check::starting, .says = statement::starts_not_tried, .quantity = "starts",
                   .numbers = {{"minimum", rules.practice("minimum_starts").value, 1.0}}});
  for (const auto& stall : stalls) {
    finding f{.check = check::starting, .subject = stall.speed, .outcome = outcome::fails,
              .says = statement::stalled_near_rating, .quantity = "stalled_at",
              .source = "NEMA MG 1 12.44.1 (runs at 90 % of the rated voltage)"};
    set_value(f, stall.voltage_V, 0.0, "V");
    out.push_back(std::move(f));
  }
  return out;
}

}  // namespace rewound::verdict::rules
