// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>

#include <rewound/checks/rolled_leads.hpp>
#include <rewound/checks/unbalance.hpp>
#include <rewound/verdict/rules/unbalance.hpp>

#include "analysis/analysis.hpp"

namespace rewound::job {

namespace {

template <class Quantity>
std::array<Quantity, 3> in_lines(const record::three_lines& lines) {
  return {Quantity::from_value(lines[0]), Quantity::from_value(lines[1]), Quantity::from_value(lines[2])};
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
void compare_rolled(const visit_facts& now, const std::string& speed, const record::run_up_row& top, double near,
                    verdict::rules::compared_lines& lines) {
  for (const auto& rolled : now.in.rolled_run_up) {
    if (rolled.speed != speed || lines.rolled) continue;
    lines.rolled_elsewhere = true;
    for (const auto& row : rolled.rows) {
      if (std::abs(row.voltage_V - top.voltage_V) > near * top.voltage_V || row.current_A <= 0.0 || !row.line_current_A)
        continue;
      lines.rolled_elsewhere = false;
      lines.rolled = checks::rolled_leads({in_lines<units::current>(*top.line_current_A),
                                           in_lines<units::current>(*row.line_current_A), rolled.leads_rolled,
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
  for (const auto& as_read : now.in.run_up) {
    const auto run = seen.run_ups.used(as_read);
    if (run.rows.empty()) continue;
    const auto& top = *std::max_element(run.rows.begin(), run.rows.end(),
                                        [](const auto& a, const auto& b) { return a.voltage_V < b.voltage_V; });
    if (!top.line_current_A || top.current_A <= 0.0) continue;
    verdict::rules::compared_lines lines{
        unbalance_of(in_lines<units::current>(*top.line_current_A), now.instruments.ammeter.digit_uncertainty()),
        {},
        {}};
    if (top.line_voltage_V) {
      const auto volts = in_lines<units::voltage>(*top.line_voltage_V);
      if (mean_of(volts) > 0.0)
        lines.voltage_percent = unbalance_of(volts, now.instruments.voltmeter.digit_uncertainty());
    }
    compare_rolled(now, run.speed, top, policy.practice.rolled_voltage_percent.value / 100.0, lines);
    append(out, verdict::rules::unbalance(run.speed, top.voltage_V, lines, policy));
  }
  return out;
}

}  // namespace rewound::job
