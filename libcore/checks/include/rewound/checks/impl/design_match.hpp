// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/design_match.hpp>
#include <rewound/checks/detail/curve_probe.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/least_squares.hpp>
#include <rewound/machine/design_parameters.hpp>
#include <rewound/machine/fan_population.hpp>

namespace rewound::checks {

REWOUND_INLINE machine::fan_design moved_design(machine::fan_design design, const Eigen::VectorXd& log_change) {
  for (std::size_t i = 0; i < machine::design_parameter_count; ++i)
    machine::move_parameter(design, static_cast<machine::design_parameter>(i),
                            log_change[static_cast<Eigen::Index>(i)]);
  for (std::size_t i = 1; i < design.steps.size(); ++i)
    machine::move_step(design.steps[i], log_change[static_cast<Eigen::Index>(machine::design_parameter_count + i - 1)]);
  return design;
}

namespace detail {

inline constexpr double step_spread = 1.0;  // of a slower speed's control, whose first guess is rough

/// Residuals of a design about what is known, then of its parameters about the start.
struct design_misfit {
  const design_match_input& in;
  const machine::fan_design& start;

  Eigen::Index parameters() const {
    return static_cast<Eigen::Index>(machine::design_parameter_count + start.steps.size() - 1);
  }

  machine::fan_design moved(const Eigen::VectorXd& log_change) const {
    constexpr double furthest = 3.0;  // beyond e^3 of a start no design is worth solving
    Eigen::VectorXd change = log_change;
    for (double& each : change) each = std::clamp(each, -furthest, furthest);
    return moved_design(start, change);
  }

  /// Grows with the root beyond five uncertainties: a start that stalls where the machine runs is not to hide all else.
  static double tempered(double residual) {
    constexpr double most = 5.0;
    const double size = std::abs(residual);
    return size <= most ? residual : std::copysign(std::sqrt(2.0 * most * size - most * most), residual);
  }

  Eigen::VectorXd residuals(const machine::fan_design& design, const Eigen::VectorXd& values,
                            const Eigen::VectorXd& log_change) const {
    const Eigen::Index n = in.log_values.size();
    Eigen::VectorXd out(n + 1 + log_change.size());
    for (Eigen::Index i = 0; i < n; ++i) out[i] = tempered((values[i] - in.log_values[i]) / in.uncertainty[i]);
    out[n] = in.main_resistance_ohm ? std::log(design.machine.main_resistance_ohm / *in.main_resistance_ohm) /
                                          in.main_resistance_uncertainty
                                    : 0.0;
    for (Eigen::Index i = 0; i < log_change.size(); ++i) {
      const auto at = static_cast<std::size_t>(i);
      out[n + 1 + i] = log_change[i] / (at < design_spread.size() ? design_spread[at] : step_spread);
    }
    return out;
  }

  Eigen::VectorXd operator()(const Eigen::VectorXd& log_change) const {
    const auto design = moved(log_change);
    return residuals(design, solve_probes(design, in.probes).values, log_change);
  }

  /// By forward differences: a tenth of a percent of a parameter is far above the solver's rounding.
  Eigen::MatrixXd jacobian(const Eigen::VectorXd& at) const {
    constexpr double step = 1e-3;
    const auto here = moved(at);
    const auto solved = solve_probes(here, in.probes);
    const Eigen::VectorXd before = residuals(here, solved.values, at);
    Eigen::MatrixXd out(before.size(), at.size());
    Eigen::VectorXd change = at;
    for (Eigen::Index i = 0; i < at.size(); ++i) {
      change[i] += step;
      const auto design = moved(change);
      const auto after = residuals(design, solve_probes(design, in.probes, solved.settled).values, change);
      for (Eigen::Index row = 0; row < out.rows(); ++row) out(row, i) = (after[row] - before[row]) / step;
      change[i] = at[i];
    }
    return out;
  }

  /// Of the parameters, by what is known and by the pull to the start: always positive definite.
  Eigen::MatrixXd covariance(const Eigen::VectorXd& at) const {
    const Eigen::MatrixXd slope = jacobian(at);
    return fit::cholesky_factor(fit::transposed_product(slope, slope)).inverse();
  }
};

/// A start scaled so that its fastest speed draws what is known, and by how much it then misses the rest of that speed.
inline std::pair<Eigen::VectorXd, double> scaled_start(const design_misfit& misfit) {
  const auto& in = misfit.in;
  const std::vector<curve_probe> fastest{in.probes.front()};
  const Eigen::VectorXd values = solve_probes(misfit.start, fastest).values;
  Eigen::VectorXd change = Eigen::VectorXd::Zero(misfit.parameters());
  const double scale = change[0] = values[0] - in.log_values[0];
  // Coarse: a start misses by far more than its uncertainties, and is to be moved.
  constexpr double coarse = 8.0;
  double sum = 0.0;
  Eigen::Index at = 0;
  for (const auto what : fastest.front().channels)
    for (std::size_t node = 0; node < fastest.front().log_x.size(); ++node, ++at) {
      // Ohms all scaled alike scale currents and watts, and leave the speed.
      const double value = values[at] - (what == fit::channel::rotation ? 0.0 : scale);
      sum += std::pow((value - in.log_values[at]) / (coarse * in.uncertainty[at]), 2);
    }
  if (in.main_resistance_ohm) {
    const double ohms = std::log(misfit.start.machine.main_resistance_ohm / *in.main_resistance_ohm) + scale;
    sum += std::pow(ohms / (coarse * in.main_resistance_uncertainty), 2);
  }
  return {change, sum};
}

}  // namespace detail

REWOUND_INLINE std::vector<matched_design> design_match(const design_match_input& in) {
  base::expect(!in.starts.empty() && !in.probes.empty(), "starts", static_cast<double>(in.starts.size()),
               "at least one");
  base::expect(in.log_values.size() == value_count(in.probes) && in.uncertainty.size() == in.log_values.size(),
               "log_values", static_cast<double>(in.log_values.size()), "one a probe value");
  struct candidate {
    std::size_t start;
    Eigen::VectorXd change;
    double misfit;
  };
  std::vector<candidate> candidates;
  for (std::size_t i = 0; i < in.starts.size(); ++i) {
    auto [change, misfit] = detail::scaled_start({in, in.starts[i]});
    candidates.push_back({i, std::move(change), misfit});
  }
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const auto& a, const auto& b) { return a.misfit < b.misfit; });
  candidates.resize(std::min(candidates.size(), in.fitted));
  std::vector<matched_design> out;
  for (const auto& each : candidates) {
    const detail::design_misfit misfit{in, in.starts[each.start]};
    const fit::least_squares_options options{.iteration_limit = 8, .offset_tolerance = 0.2};
    const auto fitted = fit::fit_least_squares(
        misfit, [&](const Eigen::VectorXd& at) { return misfit.jacobian(at); }, each.change, options);
    const Eigen::VectorXd change = fitted.usable() ? fitted.parameters : fitted.stopped_at;
    const double chi2 = misfit(change).squaredNorm();
    if (!std::isfinite(chi2)) continue;
    const double misfit_per_value = std::max(1.0, chi2 / static_cast<double>(in.log_values.size()));
    out.push_back({moved_design(in.starts[each.start], change),
                   0.0,
                   chi2,
                   misfit_per_value,
                   {change.data(), change.data() + change.size()},
                   misfit.covariance(change)});
  }
  if (out.empty()) return out;
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.chi2 < b.chi2; });
  double total = 0.0;
  // Where even the best design misses, all of them are held less sure by as much.
  for (auto& each : out) total += each.weight = std::exp(-0.5 * (each.chi2 - out.front().chi2) / out.front().misfit);
  for (auto& each : out) each.weight /= total;
  return out;
}

REWOUND_INLINE winding_current_result current_by_winding(const std::vector<machine::fan_design>& designs,
                                                         const known_winding& known) {
  std::vector<std::pair<measurement::uncertain<double>, double machine::induction_machine::*>> told;
  if (known.log_main_ohm) told.emplace_back(*known.log_main_ohm, &machine::induction_machine::main_resistance_ohm);
  if (known.log_magnetising_ohm)
    told.emplace_back(*known.log_magnetising_ohm, &machine::induction_machine::magnetising_ohm);
  base::expect(!told.empty(), "known", 0.0, "ohms of the main winding, or its magnetising reactance");
  for (const auto& each : told)
    base::expect(std::isfinite(each.first.value + each.first.standard_uncertainty), "known", each.first.value,
                 "a resistance above 0");
  const auto n = static_cast<Eigen::Index>(told.size());
  std::vector<Eigen::VectorXd> by_design;
  for (const auto& design : designs) {
    const auto at = machine::running_point_when_turning(design, 0, units::volts(design.machine.rated_voltage_V));
    if (at.state != machine::running_state::runs) continue;
    // All ohms scaled alike scale the current, and leave the speed.
    Eigen::VectorXd log_current = Eigen::VectorXd::Constant(n, std::log(units::in_amperes(at.line_current)));
    for (Eigen::Index i = 0; i < n; ++i) {
      const auto& [log_ohm, of] = told[static_cast<std::size_t>(i)];
      log_current[i] += std::log(design.machine.*of) - log_ohm.value;
    }
    by_design.push_back(std::move(log_current));
  }
  const double count = static_cast<double>(by_design.size());
  base::expect(count > 1.0, "designs", count, "two designs or more that run");
  Eigen::VectorXd mean = Eigen::VectorXd::Zero(n);
  for (const auto& each : by_design) mean += each / count;
  Eigen::MatrixXd scatter = Eigen::MatrixXd::Zero(n, n);
  for (const auto& each : by_design) {
    const Eigen::VectorXd away = each - mean;
    fit::add_outer(scatter, 1.0 / (count - 1.0), away, away);
  }
  for (Eigen::Index i = 0; i < n; ++i)
    scatter(i, i) += std::pow(told[static_cast<std::size_t>(i)].first.standard_uncertainty, 2);
  const Eigen::VectorXd weight = fit::cholesky_factor(scatter).solve(Eigen::VectorXd::Ones(n));
  return {fit::dot(weight, mean) / weight.sum(), std::sqrt(1.0 / weight.sum())};
}

}  // namespace rewound::checks
