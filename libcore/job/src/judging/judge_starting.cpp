// SPDX-License-Identifier: MIT
#include <algorithm>
#include <numbers>

#include <rewound/checks/repeated_tries.hpp>
#include <rewound/checks/standstill.hpp>
#include <rewound/checks/starting.hpp>
#include <rewound/verdict/rules/starting.hpp>

#include "analysis/analysis.hpp"
#include "analysis/turning.hpp"

namespace rewound::job {

namespace {

using verdict::rules::position_tries;

std::vector<position_tries> by_position(const std::vector<record::starts_section>& entries) {
  std::vector<position_tries> out;
  for (const auto& entry : entries) {
    auto found = std::find_if(out.begin(), out.end(), [&](const auto& one) { return one.position == entry.position; });
    if (found == out.end()) found = out.insert(out.end(), position_tries{entry.position, 0, 0, {}, {}});
    found->attempts += entry.attempts;
    found->successes += entry.successes;
    if (entry.lowest_starting_V) found->lowest_V.push_back(*entry.lowest_starting_V);
    if (entry.time_to_speed_s) found->to_speed_s.push_back(*entry.time_to_speed_s);
  }
  return out;
}

/// Speeds on which the rotor stood still where others turned. Near the rating a standstill tells by itself.
finding_list stood_still(const analysis& seen) {
  if (!seen.population) return {};
  const auto& in = seen.today().in;
  finding_list out;
  for (const auto& run : in.run_up) {
    checks::standstill_input input;
    for (const double volts : stood_at(in, run)) input.stood.push_back(units::volts(volts));
    for (const auto& machine : seen.population->machines->machines)
      for (const auto& block : machine.blocks)
        if (block.speed == run.speed && block.what == fit::channel::current && block.lowest_share)
          input.turned_from.push_back(units::volts(*block.lowest_share * in.machine.rated_voltage_V));
    if (const auto found = checks::standstill(input))
      append(out, verdict::rules::standing_still(
                      run.speed, *found, seen.population->of_good_machines() ? "reference" : "earlier", seen.policy));
  }
  return out;
}

}  // namespace

finding_list judge_starting(const analysis& seen) {
  const auto& now = seen.today();
  const auto& policy = seen.policy;
  const auto positions = by_position(now.in.starts);
  const double confidence = policy.practice.starting_confidence.value;
  const double claimed = policy.practice.starting_reliability.value;
  std::vector<checks::starting_result> proved;
  for (const auto& one : positions)
    proved.push_back(checks::starting({one.attempts, one.successes, confidence, claimed}));
  auto out = verdict::rules::starting(now.in, positions, proved, policy);
  for (auto& each : stood_still(seen))
    if (std::none_of(out.begin(), out.end(), [&](const auto& told) {
          return told.says == verdict::statement::stalled_near_rating && told.subject == each.subject;
        }))
      out.push_back(std::move(each));
  append(out, verdict::rules::start_positions(positions, policy));
  const auto& meter = now.instruments.voltmeter;
  const double stopwatch_s = policy.practice.stopwatch_s.value / std::numbers::sqrt3;  // rectangular
  for (const auto& one : positions) {
    if (!one.lowest_V.empty()) {
      const double highest = *std::max_element(one.lowest_V.begin(), one.lowest_V.end());
      append(out, verdict::rules::starting_voltage(
                      now.in, one, meter.standard_uncertainty(units::volts(highest)).value(),
                      checks::repeated_tries({one.lowest_V, meter.digit_uncertainty().value()}), policy));
    }
    if (!one.to_speed_s.empty())
      append(out, verdict::rules::time_to_speed(one, checks::repeated_tries({one.to_speed_s, stopwatch_s}), policy));
  }
  return out;
}

}  // namespace rewound::job
