// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <optional>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/supply.hpp>
#include <rewound/verdict/draw_row.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/supply.hpp>

namespace rewound::verdict::rules {

namespace detail {

/// A deviation both ways in percent, and what is allowed.
struct deviation {
  double percent, low, high;

  /// Rounding of a quotient must not put 39.6 V on a rating of 36 V outside its 10 %.
  bool within() const { return percent >= low - 1e-9 && percent <= high + 1e-9; }
};

/// Mains outside the window is no fault of the machine: another supply sets it right, and that is a condition.
inline finding window(statement inside, statement outside, std::string quantity, const deviation& of,
                      std::string_view source) {
  finding f{.check = check::supply, .says = inside, .quantity = std::move(quantity)};
  set_value(f, of.percent, 0.0, "%");
  f.limit_low = of.low;
  f.limit_high = of.high;
  f.source = source;
  f.outcome = outcome::conforms;
  if (of.within()) return f;
  f.bearing = bearing::informs;
  f.outcome = outcome::not_tested;
  f.says = outside;
  return f;
}

inline finding frequency_not_given(double rated_Hz) {
  finding f{.check = check::supply,
            .bearing = bearing::informs,
            .says = statement::supply_frequency_not_given,
            .quantity = "supply_frequency"};
  f.numbers.push_back({"rated", rated_Hz, 5.0});
  return f;
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> supply(const record::visit_record& in,
                                           const std::optional<checks::supply_result>& result, const policy& rules) {
  const finding not_given{.check = check::supply,
                          .bearing = bearing::informs,
                          .says = statement::supply_not_given,
                          .quantity = "supply_voltage"};
  if (!result) return {not_given};
  const auto& row = rules.supply_window(in.machine);
  std::vector<finding> out{
      detail::window(statement::supply_voltage_window, statement::supply_voltage_outside, "voltage_deviation",
                     {result->voltage_percent, -row.voltage_percent, row.voltage_percent}, row.source)};
  if (result->frequency_percent != 0.0) {
    out.push_back(detail::window(
        statement::supply_frequency_window, statement::supply_frequency_outside, "frequency_deviation",
        {result->frequency_percent, -row.frequency_low_percent, row.frequency_high_percent}, row.source));
    out.back().numbers = {{"rated", in.machine.rated_frequency_Hz}, {"mains", *in.visit.supply_frequency_Hz}};
    // Whoever runs a machine up on such mains reads it on another frequency: that has to be said, and is no fault of
    // it.
    if (out.back().says == statement::supply_frequency_outside && !in.visit.run_up_frequency_Hz && !in.run_up.empty()) {
      out.back().says = statement::supply_frequency_of_run_up;
      out.back().bearing = bearing::decides;
      out.back().outcome = outcome::undecided;
    }
    const bool single = out[0].says == statement::supply_voltage_window &&
                        out[1].says == statement::supply_frequency_window;  // each alone is inside
    out.push_back(detail::window(statement::supply_combined_window,
                                 single ? statement::supply_combined_outside : statement::supply_combined_window,
                                 "combined_deviation", {result->combined_percent, 0.0, row.combined_percent},
                                 row.source));
    out.back().limit_low.reset();
    out.back().numbers = {{"rated", in.machine.rated_voltage_V, 5.0}, {"rated_Hz", in.machine.rated_frequency_Hz}};
  }
  if (!in.visit.supply_voltage_V) {
    out.front() = not_given;
    return out;
  }
  out.front().numbers = {{"flux_ratio", result->flux_ratio, 0.005},
                         {"transformer_ratio", 1.0 / (1.0 + result->voltage_percent / 100.0), 0.005},
                         {"rated", in.machine.rated_voltage_V, 5.0}};
  if (!in.visit.supply_frequency_Hz) out.push_back(detail::frequency_not_given(in.machine.rated_frequency_Hz));
  return out;
}

REWOUND_INLINE std::vector<finding> supply_draw(const std::vector<draw_row>& rows, units::voltage mains) {
  std::vector<finding> out;
  for (const auto& row : rows) {
    if (!row.at_supply || row.at_supply->value.value() < 2.0 * row.at_supply->standard_uncertainty.value()) continue;
    finding f{.check = check::supply,
              .subject = row.speed,
              .outcome = outcome::not_tested,
              .bearing = bearing::informs,
              .says = statement::supply_draw,
              .quantity = "current_at_supply",
              .source = "this visit's run-up"};
    set_value(f, units::in_amperes(row.at_supply->value), units::in_amperes(row.at_supply->standard_uncertainty), "A");
    f.numbers.push_back({"supply_V", units::in_volts(mains), 0.5});
    out.push_back(std::move(f));
  }
  return out;
}

REWOUND_INLINE std::vector<finding> supply_power(const std::string& speed, const measurement::uncertain<double>& watts,
                                                 units::voltage mains) {
  if (watts.value < 2.0 * watts.standard_uncertainty) return {};
  finding f{.check = check::supply,
            .subject = speed,
            .outcome = outcome::not_tested,
            .bearing = bearing::informs,
            .says = statement::supply_power,
            .quantity = "power_at_supply",
            .source = "this visit's run-up"};
  set_value(f, watts.value, watts.standard_uncertainty, "W");
  f.numbers.push_back({"supply_V", units::in_volts(mains), 0.5});
  return {f};
}

}  // namespace rewound::verdict::rules
