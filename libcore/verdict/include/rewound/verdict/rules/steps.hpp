// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/steps.hpp>
#include <rewound/machine/speed_control.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// What is known of the steps: the result where every speed has a curve, and how the speeds are made.
struct steps_facts {
  std::vector<std::string> speeds;               ///< as listed, fastest first
  std::vector<std::string> without_curve;        ///< speeds whose current is not known
  std::optional<checks::steps_result> result;    ///< absent with fewer than two curves
  std::optional<double> common_voltage_V;        ///< where the speeds were compared
  machine::speed_control control = machine::speed_control::unknown;
  bool shaft_bare = false;
};

namespace detail {

inline statement steps_statement(checks::step_flag flag) {
  switch (flag) {
    case checks::step_flag::in_order: return statement::steps_in_order;
    case checks::step_flag::swapped: return statement::steps_swapped;
    case checks::step_flag::reversed: return statement::steps_reversed;
    case checks::step_flag::merged: return statement::steps_merged;
    case checks::step_flag::unclear: return statement::steps_unclear;
  }
  return statement::steps_unclear;
}

}  // namespace detail

/// The order of the speeds. "Faster draws more" is a tendency of the trade's designs (no standard); where the
/// arrangement does not promise it, nothing is decided from currents.
inline std::vector<finding> steps(const steps_facts& facts, const policy& rules) {
  finding f{.check = check::steps, .quantity = "order_probability",
            .source = "common practice, no source (the faster speed draws more at one voltage)"};
  if (facts.speeds.size() < 2) {
    f.bearing = bearing::does_not_apply;
    f.says = statement::steps_single_speed;
    return {f};
  }
  if (!facts.without_curve.empty()) {
    f.says = statement::steps_speed_missing;
    f.outcome = outcome::undecided;
    std::string missing;
    for (const auto& speed : facts.without_curve) missing += (missing.empty() ? "" : ", ") + speed;
    f.texts.emplace_back("missing", missing);
    return {f};
  }
  const bool promised = machine::promised_order(facts.control) != machine::order_promise::none;
  f.says = promised ? detail::steps_statement(facts.result->flag) : statement::steps_not_promised;
  f.outcome = outcome::undecided;
  if (promised && facts.result->flag == checks::step_flag::in_order) f.outcome = outcome::conforms;
  else if (promised && facts.result->flag != checks::step_flag::unclear) f.outcome = outcome::fails;
  set_value(f, facts.result->certainty, 0.0, "1");
  f.low.reset();
  f.high.reset();
  f.limit_low = rules.practice("conforming_probability").value;
  std::string order;
  for (const auto place : facts.result->best_order) order += (order.empty() ? "" : ", ") + facts.speeds[place];
  f.texts.emplace_back("best_order", order);
  if (facts.common_voltage_V) f.numbers.push_back({"voltage", *facts.common_voltage_V, 0.3});
  return {f};
}

}  // namespace rewound::verdict::rules
