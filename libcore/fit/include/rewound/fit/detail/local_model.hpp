// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Core>

#include <rewound/fit/detail/pivoted_qr.hpp>
#include <rewound/fit/detail/small_svd.hpp>

namespace rewound::fit::detail {

/// The linear picture of a residual function around one point, in scaled steps q = D (p_new - p).
///
/// Held as the singular values and directions of D^-1-scaled J, taken from the triangle of a pivoted QR so that
/// J^T J is never formed. Every trust-region question is then a sum over the parameters.
struct local_model {
  Eigen::VectorXd singular;    ///< singular values of J D^-1, falling
  Eigen::MatrixXd directions;  ///< right singular vectors
  Eigen::VectorXd explained;   ///< residual vector along the left singular vectors
  double unexplained = 0.0;    ///< squared length of the residual outside the reach of J

  /// Singular values below this are rounding noise.
  double noise(Eigen::Index rows) const {
    return singular[0] * static_cast<double>(rows) * std::numeric_limits<double>::epsilon();
  }
};

inline local_model linearise(const Eigen::VectorXd& residuals, const Eigen::MatrixXd& jacobian,
                             const Eigen::VectorXd& scale) {
  const Eigen::Index parameters = jacobian.cols();
  const pivoted_qr qr(with_scaled_columns(jacobian, scale.cwiseInverse()));
  const small_svd svd = decompose(qr.triangle());
  Eigen::VectorXd rotated = residuals;
  qr.rotate(rotated);
  local_model model{svd.singular, Eigen::MatrixXd(parameters, parameters), Eigen::VectorXd::Zero(parameters), 0.0};
  for (Eigen::Index k = 0; k < parameters; ++k) {
    for (Eigen::Index row = 0; row < parameters; ++row) {
      model.directions(qr.original(row), k) = svd.right(row, k);
      model.explained[k] += svd.left(row, k) * rotated[row];
    }
  }
  for (Eigen::Index row = parameters; row < rotated.size(); ++row) model.unexplained += rotated[row] * rotated[row];
  return model;
}

/// Distance to the stationary point in units of the parameters' standard errors.
///
/// 0 when nothing is left to explain; infinite at an exact interpolation that is not yet reached.
/// Source: Bates, Watts, "A relative offset orthogonality convergence criterion for nonlinear least squares",
/// Technometrics 23 (1981) 179-183.
inline double relative_offset(const local_model& model, Eigen::Index readings) {
  const Eigen::Index parameters = model.singular.size();
  const double reach = model.explained.squaredNorm();
  if (reach == 0.0) return 0.0;
  const Eigen::Index freedom = readings - parameters;
  if (freedom == 0 || model.unexplained == 0.0) return std::numeric_limits<double>::infinity();
  const double per_parameter = reach / static_cast<double>(parameters);
  const double per_freedom = model.unexplained / static_cast<double>(freedom);
  return std::sqrt(per_parameter / per_freedom);
}

/// A step in the coordinates of the singular directions and the damping that produced it.
struct damped_step {
  Eigen::VectorXd coordinates;
  double damping = 0.0;
};

/// Step for one damping value; directions that are rounding noise are left alone when undamped.
inline Eigen::VectorXd step_for_damping(const local_model& model, double damping, double noise) {
  Eigen::VectorXd coordinates = Eigen::VectorXd::Zero(model.singular.size());
  for (Eigen::Index i = 0; i < coordinates.size(); ++i) {
    const double s = model.singular[i];
    if (damping > 0.0 || s > noise) coordinates[i] = -s * model.explained[i] / (s * s + damping);
  }
  return coordinates;
}

/// The step that minimises the linear picture inside |q| <= radius, to within 10 % of the radius.
///
/// Newton on 1/|q| - 1/radius (Hebden), which is nearly linear in the damping; kept inside a bracket.
/// Source: J. J. More, "The Levenberg-Marquardt algorithm: implementation and theory", Lecture Notes in
/// Mathematics 630 (Springer 1978) 105-116.
inline damped_step trust_region_step(const local_model& model, double radius, double noise) {
  damped_step step{step_for_damping(model, 0.0, noise), 0.0};
  constexpr double slack = 0.1;
  if (step.coordinates.norm() <= (1.0 + slack) * radius) return step;

  double lower = 0.0;
  double pull = 0.0;
  for (Eigen::Index i = 0; i < model.singular.size(); ++i) {
    const double along = model.singular[i] * model.explained[i];
    pull += along * along;
  }
  double upper = std::sqrt(pull) / radius;
  double damping = 1e-3 * upper;
  constexpr int most_tries = 60;
  for (int attempt = 0; attempt < most_tries; ++attempt) {
    step = {step_for_damping(model, damping, noise), damping};
    const double length = step.coordinates.norm();
    if (std::abs(length - radius) <= slack * radius) break;
    (length > radius ? lower : upper) = damping;
    double slope = 0.0;
    for (Eigen::Index i = 0; i < model.singular.size(); ++i) {
      const double denominator = model.singular[i] * model.singular[i] + damping;
      slope -= step.coordinates[i] * step.coordinates[i] / denominator;
    }
    slope /= length;
    damping -= (length - radius) / radius * (length / slope);
    if (!(damping > lower && damping < upper)) damping = std::max(1e-3 * upper, std::sqrt(lower * upper));
  }
  return step;
}

}  // namespace rewound::fit::detail
