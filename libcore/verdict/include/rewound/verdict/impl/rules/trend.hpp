// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/trend.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/trend.hpp>

namespace rewound::verdict::rules {

namespace detail {

inline finding trend_finding(const std::string& circuit, statement says, const char* quantity) {
  return {.check = check::insulation,
          .subject = circuit,
          .bearing = bearing::informs,
          .says = says,
          .quantity = quantity,
          .source = "straight line of the logarithm against time (project's choice)"};
}

/// A change of the logarithm as percent of the value.
inline double percent_of_log(double change) { return 100.0 * std::expm1(change); }

inline finding slope_finding(const std::string& circuit, const measurement::uncertain<double>& slope,
                             const dated_line& line, const policy& rules) {
  auto f = trend_finding(circuit, statement::insulation_trend_slope, "insulation_change_per_year");
  const double half = measurement::coverage_95 * slope.standard_uncertainty;
  f.value = percent_of_log(slope.value);
  f.low = percent_of_log(slope.value - half);
  f.high = percent_of_log(slope.value + half);
  f.unit = "%";
  f.numbers = {{"visits", static_cast<double>(line.visits)},
               {"years", line.years, 0.05},
               {"repeat", rules.practice.trend_repeat_percent.value}};
  f.texts = {{"system_of_trend", line.system}};
  return f;
}

inline finding forecast_finding(const std::string& circuit, const checks::trend_result& result, const dated_line& line,
                                const limit& minimum, const policy& rules) {
  using checks::trend_forecast;
  auto f = trend_finding(circuit, statement::insulation_trend_one_visit, "years_to_minimum");
  f.limit_low = minimum.value;
  f.source = minimum.source;
  f.numbers = {{"horizon", rules.practice.trend_horizon_years.value}};
  f.texts = {{"date", line.crosses}, {"earliest", line.earliest}, {"latest", line.latest}};
  switch (result.forecast) {
    case trend_forecast::one_point:
      f.limit_low.reset();
      f.source.clear();
      return f;
    case trend_forecast::below_now:
      f.says = statement::insulation_trend_below_now;
      f.outcome = outcome::fails;
      return f;
    case trend_forecast::crosses:
      f.says = statement::insulation_trend_crosses;
      f.outcome = outcome::undecided;
      f.value = result.crosses_in_years;
      f.unit = "years";
      f.low = result.earliest_years;
      f.high = result.latest_years;
      return f;
    case trend_forecast::not_within:
      f.says = statement::insulation_trend_not_within;
      f.outcome = outcome::conforms;
      return f;
    case trend_forecast::cannot_tell:
      f.says = statement::insulation_trend_cannot_tell;
      f.outcome = outcome::undecided;
      f.low = result.earliest_years;
      f.unit = "years";
      return f;
  }
  return f;
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> trend(const std::string& circuit, const checks::trend_result& result,
                                          const dated_line& line, const limit& minimum, const policy& rules) {
  std::vector<finding> out;
  if (result.slope_per_year) out.push_back(detail::slope_finding(circuit, *result.slope_per_year, line, rules));
  for (std::size_t i = 0; i < result.steps.size(); ++i) {
    const auto& step = result.steps[i];
    auto f = detail::trend_finding(circuit, statement::insulation_trend_step, "insulation_step");
    f.value = step.factor;
    f.low = step.range.low;
    f.high = step.range.high;
    f.unit = "1";
    if (step.factor < 1.0) f.outcome = outcome::undecided;
    const auto& named = line.steps[i];
    f.texts = {{"before", named.before},
               {"after", named.after},
               {"work", named.work.empty() ? "none" : "some"},
               {"work_done", named.work}};
    out.push_back(std::move(f));
  }
  if (!line.rewound.empty()) {
    auto f = detail::trend_finding(circuit, statement::insulation_trend_rewound, "winding");
    f.texts = {{"after", line.rewound}};
    out.push_back(std::move(f));
  }
  if (!line.voltages.empty()) {
    auto f = detail::trend_finding(circuit, statement::insulation_trend_test_voltage, "test_voltage");
    f.texts = {{"voltages", line.voltages}};
    out.push_back(std::move(f));
  }
  out.push_back(detail::forecast_finding(circuit, result, line, minimum, rules));
  return out;
}

}  // namespace rewound::verdict::rules
