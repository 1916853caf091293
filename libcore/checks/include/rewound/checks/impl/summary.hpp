// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/detail/summary_basis.hpp>
#include <rewound/checks/summary.hpp>
#include <rewound/fit/curve_reading.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/linear.hpp>
#include <rewound/fit/log_line.hpp>
#include <rewound/fit/summary_block.hpp>

namespace rewound::checks {

REWOUND_INLINE Eigen::VectorXd shape_spread() {
  constexpr std::size_t parabola = 2;  // of the shape functions z and z^2 belong to the parabola
  Eigen::VectorXd out(static_cast<Eigen::Index>(machine::shape_function_count - parabola));
  const auto spread = machine::shape_spread();
  for (std::size_t i = parabola; i < spread.size(); ++i) out[static_cast<Eigen::Index>(i - parabola)] = spread[i];
  return out;
}

namespace detail {

/// How well the terms follow a real curve between its readings (common practice, no source).
inline constexpr double basis_floor = 0.003;

inline int determined(const std::vector<fit::curve_reading>& readings) {
  const auto [low, high] =
      std::minmax_element(readings.begin(), readings.end(), [](const auto& a, const auto& b) { return a.x < b.x; });
  const double apart = std::log(high->x / low->x);
  return apart > 3.0 * std::hypot(low->relative_u_x, high->relative_u_x, 0.005) ? 2 : 1;
}

/// Square of the factor by which readings scatter more about their own curve than their meters explain, at least 1.
inline double scatter(const std::vector<fit::curve_reading>& readings, const Eigen::MatrixXd& design,
                      const Eigen::VectorXd& target, const Eigen::VectorXd& weights) {
  if (readings.size() < 5) return 1.0;
  // The shape coefficients are held near 0 by their prior, written as one more reading each.
  const Eigen::VectorXd prior = shape_spread();
  const Eigen::Index n = design.rows();
  const Eigen::Index rest = prior.size();
  Eigen::MatrixXd held = Eigen::MatrixXd::Zero(n + rest, summary_terms);
  Eigen::VectorXd held_target = Eigen::VectorXd::Zero(n + rest);
  Eigen::VectorXd held_weights = Eigen::VectorXd::Ones(n + rest);
  fit::put_part(held, 0, 0, design);
  for (Eigen::Index i = 0; i < n; ++i) {
    held_target[i] = target[i];
    held_weights[i] = weights[i];
  }
  for (Eigen::Index i = 0; i < rest; ++i) {
    held(n + i, summary_terms - rest + i) = 1.0;
    held_weights[n + i] = 1.0 / (prior[i] * prior[i]);
  }
  const auto fitted = fit::fit_linear(held, held_target, held_weights);
  if (!fitted.usable()) return 1.0;
  constexpr double known = 4.0;  // the accuracy statement counts as four degrees of freedom; see fit/current_curve.hpp
  return std::max(1.0, (known + fitted.chi2) / (known + static_cast<double>(fitted.degrees_of_freedom)));
}

/// Readings as rows of the basis, with what they weigh.
struct summary_rows {
  double slope;  ///< of ln value over ln voltage
  Eigen::MatrixXd design;
  Eigen::VectorXd target, weights;

  explicit summary_rows(const summary_input& in) : slope(fit::log_line(in.readings).second) {
    const auto n = static_cast<Eigen::Index>(in.readings.size());
    design.resize(n, summary_terms);
    target.resize(n), weights.resize(n);
    for (Eigen::Index i = 0; i < n; ++i) {
      const auto& reading = in.readings[static_cast<std::size_t>(i)];
      fit::put_row(design, i, basis(reading.x));
      target[i] = std::log(reading.current);
      const double u = std::hypot(reading.relative_u_current, slope * reading.relative_u_x, basis_floor);
      weights[i] = 1.0 / (u * u);
    }
    weights *= 1.0 / scatter(in.readings, design, target, weights);
  }

  /// The design, each row times its weight.
  Eigen::MatrixXd weighted() const {
    Eigen::MatrixXd out = design;
    for (Eigen::Index k = 0; k < out.cols(); ++k)
      for (Eigen::Index i = 0; i < out.rows(); ++i) out(i, k) *= weights[i];
    return out;
  }
};

}  // namespace detail

REWOUND_INLINE summary_block summarise(const summary_input& in) {
  base::expect(!in.readings.empty(), "readings", 0.0, "at least one reading");
  const detail::summary_rows rows(in);
  const Eigen::MatrixXd weighted = rows.weighted();
  const auto lowest =
      std::min_element(in.readings.begin(), in.readings.end(), [](const auto& a, const auto& b) { return a.x < b.x; });
  return {in.speed,
          in.what,
          {fit::transposed_product(rows.design, weighted), fit::applied_transposed(weighted, rows.target)},
          detail::determined(in.readings),
          static_cast<int>(in.readings.size()),
          lowest->x};
}

REWOUND_INLINE summary_zeros zeros_of(const summary_input& in) {
  base::expect(!in.readings.empty(), "readings", 0.0, "at least one reading");
  const detail::summary_rows rows(in);
  Eigen::VectorXd own(rows.target.size()), volts(rows.target.size());
  for (Eigen::Index i = 0; i < own.size(); ++i) {
    const auto& reading = in.readings[static_cast<std::size_t>(i)];
    own[i] = reading.relative_u_current;
    volts[i] = -rows.slope * reading.relative_u_x;
  }
  const Eigen::MatrixXd weighted = rows.weighted();
  return {fit::applied_transposed(weighted, own), fit::applied_transposed(weighted, volts)};
}

}  // namespace rewound::checks
