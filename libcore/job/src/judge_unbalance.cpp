// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>

#include <rewound/checks/rolled_leads.hpp>
#include <rewound/checks/unbalance.hpp>
#include <rewound/verdict/rules/unbalance.hpp>

#include "analysis.hpp"

namespace rewound::job {

namespace {

template <class Quantity>
std::array<Quantity, 3> lines_at(const std::vector<std::vector<double>>& lines, std::size_t reading) {
  return {Quantity::from_value(lines[0][reading]), Quantity::from_value(lines[1][reading]),
          Quantity::from_value(lines[2][reading])};
}

template <class Quantity>
double mean_of(const std::array<Quantity, 3>& lines) {
  return (lines[0].value() + lines[1].value() + lines[2].value()) / 3.0;
}

/// A meter that goes from line to line has one gain error, which leaves the unbalance alone.
template <class Quantity>
measurement::uncertain<double> unbalance_of(const std::array<Quantity, 3>& lines, Quantity digit_uncertainty) {
  return {checks::unbalance_percent(lines), 100.0 * digit_uncertainty.value() / mean_of(lines)};
}

/// The same speed with its leads rolled, at a reading whose voltage is near: `near` of it, the currents following it
/// alike on all lines.
void compare_rolled(const visit_facts& now, const record::run_up_section& run, std::size_t top, double near,
                    verdict::rules::unbalance_facts& facts) {
  for (const auto& rolled : now.in.rolled_run_up) {
    if (rolled.speed != run.speed || facts.rolled) continue;
    facts.rolled_elsewhere = true;
    for (std::size_t i = 0; i < rolled.voltage_V.size(); ++i) {
      if (std::abs(rolled.voltage_V[i] - run.voltage_V[top]) > near * run.voltage_V[top] || rolled.current_A[i] <= 0.0)
        continue;
      facts.rolled_elsewhere = false;
      facts.rolled = checks::rolled_leads({lines_at<units::current>(run.line_current_A, top),
                                           lines_at<units::current>(rolled.line_current_A, i), rolled.leads_rolled,
                                           now.instruments.ammeter.digit_uncertainty()});
      break;
    }
  }
}

}  // namespace

/// The mean of the lines says nothing of a line that is open; each speed's lines are compared at its highest voltage.
finding_list judge_unbalance(const analysis& seen) {
  const auto& now = seen.today();
  const auto& policy = seen.policy;
  finding_list out;
  for (const auto& run : now.in.run_up) {
    if (run.line_current_A.size() != 3) continue;
    const auto top =
        static_cast<std::size_t>(std::max_element(run.voltage_V.begin(), run.voltage_V.end()) - run.voltage_V.begin());
    if (run.current_A[top] <= 0.0) continue;
    verdict::rules::unbalance_facts facts{
        .speed = run.speed,
        .voltage_V = run.voltage_V[top],
        .current_percent = unbalance_of(lines_at<units::current>(run.line_current_A, top),
                                        now.instruments.ammeter.digit_uncertainty()),
        .voltage_percent = {},
        .rolled = {}};
    if (run.line_voltage_V.size() == 3) {
      const auto volts = lines_at<units::voltage>(run.line_voltage_V, top);
      if (mean_of(volts) > 0.0)
        facts.voltage_percent = unbalance_of(volts, now.instruments.voltmeter.digit_uncertainty());
    }
    compare_rolled(now, run, top, policy.practice.rolled_voltage_percent.value / 100.0, facts);
    append(out, verdict::rules::unbalance(facts, policy));
  }
  return out;
}

}  // namespace rewound::job
