// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/rolled_leads.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/limit_tables.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/unbalance.hpp>

namespace rewound::verdict::rules {

REWOUND_INLINE std::optional<double> voltage_unbalance_derating(double percent) {
  const auto& rows = tables::voltage_unbalance_derating;
  if (percent <= rows.front().unbalance_percent) return rows.front().factor;
  for (std::size_t i = 1; i < rows.size(); ++i) {
    if (percent > rows.at(i).unbalance_percent) continue;
    const double part =
        (percent - rows[i - 1].unbalance_percent) / (rows[i].unbalance_percent - rows[i - 1].unbalance_percent);
    return rows[i - 1].factor + part * (rows[i].factor - rows[i - 1].factor);
  }
  return std::nullopt;
}

namespace detail {

/// The supply of the bench: it does not fail the machine, but beyond the table nothing can be said of the machine on
/// it.
inline finding voltage_unbalance(const std::string& speed, double voltage_V,
                                 const measurement::uncertain<double>& unbalance, const policy& rules) {
  const auto& rows = tables::voltage_unbalance_derating;
  const auto& [percent, u] = unbalance;
  finding f{.check = check::unbalance,
            .subject = speed,
            .says = statement::voltage_unbalance_small,
            .quantity = "voltage_unbalance",
            .source = "NEMA MG 1 12.45, 14.36, Figure 14-1"};
  set_value(f, percent, u, "%");
  f.limit_high = rows.back().unbalance_percent;
  f.outcome = rules.judge(percent, u, {{}, f.limit_high});
  f.bearing = bearing::informs;
  f.numbers = {{"volts", voltage_V}, {"free", rows.front().unbalance_percent}};
  const auto share = voltage_unbalance_derating(percent);
  if (f.outcome != outcome::conforms || !share) {
    f.outcome = outcome::undecided;
    f.bearing = bearing::decides;
    f.says = statement::voltage_unbalance_beyond;
  } else if (percent > rows.front().unbalance_percent) {
    f.says = statement::voltage_unbalance_derates;
    constexpr double read_off = 0.02 / 1.7320508075688772;  // how well the curve can be read
    f.numbers.push_back({"share_percent", 100.0 * *share, 100.0 * read_off});
    f.numbers.push_back({"hotter", std::round(2.0 * percent * percent)});
  }
  return f;
}

inline std::string seat_of(const checks::rolled_leads_result& rolled) {
  const double apart = rolled.winding_percent.value - rolled.line_percent.value;
  const double sure = measurement::coverage_95 *
                      std::hypot(rolled.winding_percent.standard_uncertainty, rolled.line_percent.standard_uncertainty);
  return apart > sure ? "winding" : apart < -sure ? "line" : "both";
}

/// With the leads rolled, what stays with the windings is the machine's own; what stays with the lines is not, but a
/// large one leaves the machine unjudged.
inline finding unbalance_of_winding(const std::string& speed, const compared_lines& lines,
                                    const practice_limit& allowed, const policy& rules) {
  const auto& rolled = *lines.rolled;
  finding f{.check = check::unbalance,
            .subject = speed,
            .says = statement::unbalance_of_winding,
            .quantity = "winding_unbalance",
            .source = std::string(allowed.source)};
  set_value(f, rolled.winding_percent.value, rolled.winding_percent.standard_uncertainty, "%");
  f.limit_high = allowed.value;
  f.outcome =
      rules.judge(rolled.winding_percent.value, rolled.winding_percent.standard_uncertainty, {{}, allowed.value});
  const auto of_lines =
      rules.judge(rolled.line_percent.value, rolled.line_percent.standard_uncertainty, {{}, allowed.value});
  if (f.outcome == outcome::conforms && of_lines != outcome::conforms) f.outcome = outcome::undecided;
  f.numbers = {{"together", lines.current_percent.value, lines.current_percent.standard_uncertainty},
               {"line", rolled.line_percent.value, rolled.line_percent.standard_uncertainty}};
  f.texts.emplace_back("seat", seat_of(rolled));
  return f;
}

inline finding unbalance_of_lines(const std::string& speed, const compared_lines& lines, const practice_limit& allowed,
                                  const policy& rules) {
  const auto& [percent, u] = lines.current_percent;
  finding f{.check = check::unbalance,
            .subject = speed,
            .says = statement::unbalance_of_lines,
            .quantity = "current_unbalance",
            .source = std::string(allowed.source)};
  set_value(f, percent, u, "%");
  f.limit_high = allowed.value;
  f.outcome = rules.judge(percent, u, {{}, allowed.value});
  if (f.outcome != outcome::fails || !lines.voltage_percent) return f;
  const auto times = rules.practice.current_unbalance_per_voltage;
  const double explained = times.value * lines.voltage_percent->value;
  if (percent > explained) return f;
  f.outcome = outcome::undecided;
  f.says = statement::unbalance_by_supply;
  f.source += "; " + std::string(times.source);
  f.numbers = {{"voltage", lines.voltage_percent->value, lines.voltage_percent->standard_uncertainty},
               {"explained", explained, times.value * lines.voltage_percent->standard_uncertainty}};
  return f;
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> unbalance(const std::string& speed, double voltage_V, const compared_lines& lines,
                                              const policy& rules) {
  const auto allowed = rules.practice.current_unbalance_percent;
  std::vector<finding> out{lines.rolled ? detail::unbalance_of_winding(speed, lines, allowed, rules)
                                        : detail::unbalance_of_lines(speed, lines, allowed, rules)};
  if (lines.rolled_elsewhere)
    out.push_back({.check = check::unbalance,
                   .subject = speed,
                   .bearing = bearing::informs,
                   .says = statement::rolled_elsewhere,
                   .quantity = "voltage",
                   .value = voltage_V,
                   .unit = "V",
                   .source = "common practice, no source (rolling the leads)"});
  if (lines.voltage_percent) out.push_back(detail::voltage_unbalance(speed, voltage_V, *lines.voltage_percent, rules));
  return out;
}

}  // namespace rewound::verdict::rules
