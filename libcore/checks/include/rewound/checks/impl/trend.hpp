// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/trend.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/linear.hpp>
#include <rewound/measurement/normal.hpp>
#include <rewound/measurement/uncertain.hpp>

namespace rewound::checks {

namespace detail {

/// The readings' accuracy counts as this many degrees of freedom when they scatter more (as in fit/current_curve.hpp).
inline constexpr double trend_stated_degrees_of_freedom = 4.0;

struct trend_line {
  fit::linear_result found;
  double scale = 1.0;
  double origin = 0.0;  ///< years of the last point
  std::vector<std::size_t> steps;

  /// Columns of one date: 1, years since the last point, and 1 for each step that lies before `index`.
  Eigen::VectorXd at(double years, std::size_t index) const {
    Eigen::VectorXd out = Eigen::VectorXd::Ones(static_cast<Eigen::Index>(2 + steps.size()));
    out[1] = years - origin;
    for (std::size_t i = 0; i < steps.size(); ++i)
      out[static_cast<Eigen::Index>(2 + i)] = index >= steps[i] ? 1.0 : 0.0;
    return out;
  }

  /// ln value at the end of the line, `ahead` years after the last point.
  measurement::uncertain<double> ahead(double years, double common) const {
    return there(at(origin + years, static_cast<std::size_t>(-1)), common);
  }

  measurement::uncertain<double> there(const Eigen::VectorXd& x, double common) const {
    const double variance = scale * scale * fit::dot(x, fit::applied(found.covariance_unscaled, x)) + common * common;
    return {fit::dot(x, found.parameters), std::sqrt(std::max(0.0, variance))};
  }
};

inline trend_line fit_trend(const trend_input& in, const std::vector<std::size_t>& steps) {
  trend_line out;
  out.origin = in.points.back().years;
  out.steps = steps;
  const auto count = static_cast<Eigen::Index>(in.points.size());
  Eigen::MatrixXd design(count, static_cast<Eigen::Index>(2 + steps.size()));
  Eigen::VectorXd logs(count);
  Eigen::VectorXd weights(count);
  for (Eigen::Index i = 0; i < count; ++i) {
    const auto& point = in.points[static_cast<std::size_t>(i)];
    fit::put_row(design, i, out.at(point.years, static_cast<std::size_t>(i)));
    logs[i] = std::log(point.value);
    weights[i] = 1.0 / (point.relative_uncertainty * point.relative_uncertainty);
  }
  out.found = fit::fit_linear(design, logs, weights);
  if (!out.found.usable()) return out;
  const double stated = trend_stated_degrees_of_freedom;
  const auto dof = static_cast<double>(out.found.degrees_of_freedom);
  out.scale = std::sqrt(std::max(1.0, (stated + out.found.chi2) / (stated + dof)));
  return out;
}

/// The step that explains most, when it is beyond doubt; steps already taken stay.
inline std::optional<std::size_t> next_step(const trend_input& in, const std::vector<std::size_t>& taken) {
  const auto without = fit_trend(in, taken);
  // A line and steps through every point explain anything.
  if (in.points.size() < 3 + taken.size()) return std::nullopt;
  std::optional<std::size_t> best;
  double most = in.step_certainty * in.step_certainty;
  for (std::size_t i = 1; i < in.points.size(); ++i) {
    if (std::find(taken.begin(), taken.end(), i) != taken.end()) continue;
    auto steps = taken;
    steps.push_back(i);
    const auto with = fit_trend(in, steps);
    if (!with.found.usable()) continue;
    const double gained = (without.found.chi2 - with.found.chi2) / (with.scale * with.scale);
    const double factor = std::abs(with.found.parameters[static_cast<Eigen::Index>(1 + steps.size())]);
    if (gained <= most || factor < std::log(in.step_factor)) continue;
    most = gained;
    best = i;
  }
  return best;
}

/// First time in [0, horizon] at which `below` holds, for a condition that stays once it came; absent when not there.
template <class Below>
std::optional<double> first_time(const Below& below, double horizon) {
  if (below(0.0)) return 0.0;
  if (!below(horizon)) return std::nullopt;
  double before = 0.0;
  double after = horizon;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (before + after);
    (below(middle) ? after : before) = middle;
  }
  return 0.5 * (before + after);
}

inline void add_forecast(const trend_input& in, const trend_line& line, trend_result& out) {
  const double target = std::log(in.minimum);
  const auto edge = [&](double factor) {
    return [&, factor](double years) {
      const auto there = line.ahead(years, in.common_uncertainty);
      return there.value + factor * measurement::coverage_95 * there.standard_uncertainty <= target;
    };
  };
  out.earliest_years = first_time(edge(-1.0), in.horizon_years);
  out.crosses_in_years = first_time(edge(0.0), in.horizon_years);
  out.latest_years = first_time(edge(1.0), in.horizon_years);
  out.forecast = edge(0.0)(0.0)         ? trend_forecast::below_now
                 : out.crosses_in_years ? trend_forecast::crosses
                 : !out.earliest_years  ? trend_forecast::not_within
                                        : trend_forecast::cannot_tell;
}

}  // namespace detail

namespace detail {

inline std::vector<trend_place> places_of(const trend_input& in, const trend_line& line) {
  std::vector<trend_place> out;
  const auto add = [&](double years, const measurement::uncertain<double>& log) {
    const double half = measurement::coverage_95 * log.standard_uncertainty;
    out.push_back({years, std::exp(log.value), {std::exp(log.value - half), std::exp(log.value + half)}});
  };
  for (std::size_t i = 0; i < in.points.size(); ++i)
    add(in.points[i].years - line.origin, line.there(line.at(in.points[i].years, i), in.common_uncertainty));
  constexpr int ahead = 40;
  for (int i = 1; i <= ahead; ++i) {
    const double years = in.horizon_years * i / ahead;
    add(years, line.ahead(years, in.common_uncertainty));
  }
  return out;
}

}  // namespace detail

REWOUND_INLINE trend_result trend(const trend_input& in) {
  base::expect(!in.points.empty(), "points", "none", "one point or more");
  base::expect(in.minimum > 0.0, "minimum", in.minimum, "a number above 0");
  for (std::size_t i = 0; i < in.points.size(); ++i) {
    base::expect(in.points[i].value > 0.0, "value", in.points[i].value, "a number above 0");
    base::expect(in.points[i].relative_uncertainty > 0.0, "relative_uncertainty", in.points[i].relative_uncertainty,
                 "a number above 0");
    if (i > 0)
      base::expect(in.points[i].years > in.points[i - 1].years, "years", in.points[i].years, "dates that rise");
  }
  trend_result out;
  if (in.points.size() < 2) {
    if (in.points.front().value <= in.minimum) out.forecast = trend_forecast::below_now;
    return out;
  }
  std::vector<std::size_t> steps;
  while (const auto step = detail::next_step(in, steps)) steps.push_back(*step);
  const auto line = detail::fit_trend(in, steps);
  const auto parameter = [&](Eigen::Index i) {
    return measurement::uncertain<double>{line.found.parameters[i],
                                          line.scale * std::sqrt(line.found.covariance_unscaled(i, i))};
  };
  out.scale = line.scale;
  out.slope_per_year = parameter(1);
  for (std::size_t i = 0; i < steps.size(); ++i) {
    const auto height = parameter(static_cast<Eigen::Index>(2 + i));
    const double half = measurement::coverage_95 * height.standard_uncertainty;
    out.steps.push_back(
        {steps[i], std::exp(height.value), {std::exp(height.value - half), std::exp(height.value + half)}});
  }
  std::sort(out.steps.begin(), out.steps.end(), [](const auto& a, const auto& b) { return a.index < b.index; });
  out.line = detail::places_of(in, line);
  detail::add_forecast(in, line, out);
  return out;
}

}  // namespace rewound::checks
