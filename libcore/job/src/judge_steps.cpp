// SPDX-License-Identifier: MIT
#include "judge_steps.hpp"

#include <algorithm>
#include <cmath>

#include <rewound/checks/order.hpp>
#include <rewound/checks/steps.hpp>
#include <rewound/fit/curve_choice.hpp>
#include <rewound/verdict/rules/steps.hpp>

#include "reference_comparison.hpp"

namespace rewound::job {

namespace {

using curve = fit::current_curve;

/// The voltage, over the rated one, where all speeds are compared: the rated voltage, moved into the range that
/// all of them were read in where there is one.
double common_x(const std::vector<const curve*>& curves) {
  double low = 0.0;
  double high = 1e9;
  for (const auto* each : curves) {
    low = std::max(low, each->x_low);
    high = std::min(high, each->x_high);
  }
  return low <= high ? std::clamp(1.0, low, high) : 1.0;
}

void compare_currents(const std::vector<const curve*>& curves, double x, const verdict::policy& policy,
                      verdict::rules::steps_facts& facts) {
  checks::steps_input input{
      {}, policy.practice.step_merged_percent.value / 100.0, policy.practice.conforming_probability.value};
  const double drift = policy.practice.repeatability_within_percent.value / 100.0;
  for (std::size_t i = 0; i < curves.size(); ++i) {
    const auto log = fit::log_current(*curves[i], x);
    input.speeds.push_back({facts.speeds[i], log.value, std::hypot(log.standard_uncertainty, drift)});
  }
  facts.result = checks::steps(input);
}

/// Rpm of every speed at x; empty unless all were read.
std::vector<double> rotations(const std::vector<checks::summary_input>& channels,
                              const std::vector<std::string>& speeds, double x) {
  std::vector<double> out;
  for (const auto& speed : speeds)
    for (const auto& channel : channels) {
      if (channel.speed != speed || channel.what != fit::channel::rotation) continue;
      if (const auto fitted = fit::fit_current_curve(channel.readings))
        out.push_back(std::exp(fit::log_current(*fitted, x).value));
    }
  if (out.size() != speeds.size()) out.clear();
  return out;
}

/// Every way in which the runs may belong to the speeds, weighed by the good machines; absent unless they know all.
std::optional<checks::order_result> order_beside(const pooled_reference& model, const reference& good,
                                                 const visit_facts& now,
                                                 const std::vector<checks::summary_input>& channels) {
  checks::order_input input{{}, {}, {}, model.population, 0.0, 0.95};
  for (const auto& speed : now.in.machine.speeds)
    for (std::size_t i = 0; i < model.blocks.size(); ++i) {
      if (model.blocks[i].speed != speed || model.blocks[i].what != fit::channel::current) continue;
      for (const auto& channel : channels) {
        if (channel.speed != speed || channel.what != fit::channel::current) continue;
        input.runs.push_back(checks::summarise(channel).information);
        input.shapes.push_back(model.shapes[i]);
        input.places.push_back(static_cast<Eigen::Index>(3 * i));
      }
    }
  constexpr std::size_t most = 6;  // 720 ways; more speeds than that are not met on small machines
  if (input.runs.size() != now.in.machine.speeds.size() || input.runs.size() < 2 || input.runs.size() > most)
    return std::nullopt;
  input.common_uncertainty = remaining_current_gain(now, good);
  return checks::order(input);
}

void tell(const verdict::rules::steps_facts& facts, const verdict::rules::steps_judgement& judged, result& out) {
  out.steps.outcome = judged.finding.outcome;
  out.steps.voltage_V = facts.common_voltage_V;
  for (const auto place : judged.best_order) out.steps.best_order.push_back(facts.speeds[place]);
  if (judged.flag) switch (*judged.flag) {
      case checks::step_flag::in_order: break;
      case checks::step_flag::swapped: out.steps.flag = "swapped"; break;
      case checks::step_flag::reversed: out.steps.flag = "reversed"; break;
      case checks::step_flag::merged: out.steps.flag = "merged"; break;
      case checks::step_flag::unclear: out.steps.flag = "unclear"; break;
    }
  out.findings.push_back(judged.finding);
}

}  // namespace

void judge_steps(const visit_facts& now, const run_up_analysis& today, const std::shared_ptr<const reference>& good,
                 const std::optional<pooled_reference>& model, const std::vector<verdict::rules::step_ratio>& ratios,
                 const verdict::policy& policy, result& out) {
  verdict::rules::steps_facts facts;
  facts.speeds = now.in.machine.speeds;
  facts.control = now.in.machine.speed_control;
  std::vector<const curve*> curves;
  for (const auto& speed : facts.speeds) {
    const curve* found = today.curve_of(speed);
    if (found == nullptr) facts.without_curve.push_back(speed);
    else curves.push_back(found);
  }
  if (facts.without_curve.empty() && curves.size() >= 2) {
    const double x = common_x(curves);
    const auto channels = channels_of(now, today);
    compare_currents(curves, x, policy, facts);
    facts.rotation_rpm = rotations(channels, facts.speeds, x);
    if (model) facts.beside_good = order_beside(*model, *good, now, channels);
    facts.common_voltage_V = x * now.in.machine.rated_voltage_V;
  }
  const auto judged = verdict::rules::steps(facts, policy);
  tell(facts, judged, out);
  for (const auto& ratio : ratios) out.findings.push_back(verdict::rules::step_size(ratio, policy));
}

}  // namespace rewound::job
