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

inline finding window(statement says, std::string quantity, double percent, double allowed, std::string_view source) {
  finding f{.check = check::supply, .says = says, .quantity = std::move(quantity)};
  set_value(f, percent, 0.0, "%");
  f.limit_low = -allowed;
  f.limit_high = allowed;
  // Rounding of a quotient must not put 39.6 V on a rating of 36 V outside its 10 %.
  f.outcome = std::abs(percent) <= allowed + 1e-9 ? outcome::conforms : outcome::fails;
  f.source = source;
  return f;
}

/// Mains outside the window is no fault of the machine: a transformer sets it right, and that is a condition.
inline void make_condition(finding& f) {
  f.bearing = bearing::informs;
  f.outcome = outcome::not_tested;
  if (f.says == statement::supply_voltage_window) f.says = statement::supply_voltage_outside;
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
                                           const std::optional<checks::supply_result>& result) {
  const finding not_given{.check = check::supply,
                          .bearing = bearing::informs,
                          .says = statement::supply_not_given,
                          .quantity = "supply_voltage"};
  if (!result) return {not_given};
  const auto& row = tables::supply_window.front();
  std::vector<finding> out{detail::window(statement::supply_voltage_window, "voltage_deviation",
                                          result->voltage_percent, row.voltage_percent, row.source)};
  if (result->frequency_percent != 0.0) {
    out.push_back(detail::window(statement::supply_frequency_window, "frequency_deviation", result->frequency_percent,
                                 row.frequency_percent, row.source));
    out.push_back(detail::window(statement::supply_combined_window, "combined_deviation", result->combined_percent,
                                 row.combined_percent, row.source));
    out.back().limit_low.reset();
  }
  if (!in.visit.supply_voltage_V) {
    out.front() = not_given;
    return out;
  }
  auto& volts = out.front();
  volts.numbers = {{"flux_ratio", result->flux_ratio, 0.005},
                   {"transformer_ratio", 1.0 / (1.0 + result->voltage_percent / 100.0), 0.005},
                   {"rated", in.machine.rated_voltage_V, 5.0}};
  if (volts.outcome == outcome::fails) detail::make_condition(volts);
  for (auto& f : out)
    if (f.says == statement::supply_combined_window && volts.says == statement::supply_voltage_outside)
      detail::make_condition(f);
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
