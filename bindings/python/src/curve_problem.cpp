// SPDX-License-Identifier: MIT
#include "curve_problem.hpp"

#include <cmath>
#include <limits>
#include <vector>

#include <rewound/fit/linear.hpp>

#include "curve_model.hpp"

namespace rewound::python {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

}  // namespace

curve_problem::curve_problem(const curve_readings& readings, fit::curve_family family, const VectorXd& share)
    : readings_(readings), family_(family), share_(share) {
  if (readings.weighted()) {
    root_ = (share.array() * readings.weight.array()).sqrt();
    return;
  }
  // A share stretches both uncertainties of its reading.
  const Eigen::ArrayXd stretch = share.array().rsqrt();
  in_logs_ = {readings.x.array().log(), readings.current.array().log(), readings.relative_u_x.array() * stretch,
              readings.relative_u_current.array() * stretch};
}

VectorXd curve_problem::residuals(const VectorXd& parameters) const {
  if (!readings_.weighted()) {
    const auto curve = [this](double z, const VectorXd& p) {
      const auto at = fit::evaluate(family_, p, std::exp(z));
      return fit::curve_point{at.log_value, at.exponent};
    };
    return fit::effective_residuals(in_logs_, curve, parameters);
  }
  VectorXd out(readings_.x.size());
  for (Index i = 0; i < out.size(); ++i)
    out[i] = root_[i] * (readings_.current[i] - current_at(family_, parameters, readings_.x[i]).value);
  return out;
}

MatrixXd curve_problem::jacobian(const VectorXd& parameters) const {
  if (!readings_.weighted()) {
    const auto curve = [this](double z, const VectorXd& p) { return log_current_at(family_, p, std::exp(z)); };
    return fit::effective_jacobian(in_logs_, curve, parameters);
  }
  MatrixXd out(readings_.x.size(), parameters.size());
  for (Index i = 0; i < out.rows(); ++i)
    out.row(i) = -root_[i] * current_at(family_, parameters, readings_.x[i]).gradient.transpose();
  return out;
}

MatrixXd unscaled_covariance(const curve_problem& problem, const VectorXd& parameters) {
  const MatrixXd jacobian = problem.jacobian(parameters);
  const bool flat =
      parameters.size() > 2 && problem.family() != fit::curve_family::log_quadratic && parameters[1] == 0.0;
  std::vector<Index> kept;
  for (Index j = 0; j < jacobian.cols(); ++j)
    if (!(flat && (j == 1 || j == 2)) && jacobian.col(j).cwiseAbs().maxCoeff() > 0.0) kept.push_back(j);
  MatrixXd out = MatrixXd::Zero(jacobian.cols(), jacobian.cols());
  if (kept.empty()) return out;
  const auto solved = fit::fit_linear(jacobian(Eigen::all, kept), VectorXd::Zero(jacobian.rows()));
  if (!solved.usable()) return MatrixXd::Constant(out.rows(), out.cols(), std::numeric_limits<double>::quiet_NaN());
  out(kept, kept) = solved.covariance_unscaled;
  return out;
}

}  // namespace rewound::python
