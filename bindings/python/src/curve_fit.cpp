// SPDX-License-Identifier: MIT
#include "curve_fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <rewound/measurement/distribution.hpp>

#include "curve_model.hpp"
#include "curve_search.hpp"
#include "family_choice.hpp"

namespace rewound::python {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using fit::curve_family;
using fit::least_squares_status;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t half = values.size() / 2;
  return values.size() % 2 == 1 ? values[half] : 0.5 * (values[half - 1] + values[half]);
}

VectorXd huber_shares(const VectorXd& deviations, double scale) {
  constexpr double k = 1.345;  // 95 % efficient on normal errors (Huber, Robust Statistics, 1981)
  return (k * scale / deviations.array().abs().max(std::numeric_limits<double>::min())).min(1.0);
}

/// A fit and the shares of the readings in it.
struct shared_fit {
  search_result found;
  VectorXd share;
};

/// Iterates Huber's weights from the plain fit until no parameter moves by more than 1e-10 of itself, or none of the
/// deviations by more than 1e-10 of the scale: a parameter that hardly matters may go on moving.
shared_fit fit_robust(const curve_readings& in, curve_family family, const search_result& plain) {
  constexpr int iteration_limit = 1000;
  constexpr double enough = 1e-10;
  const VectorXd ones = VectorXd::Ones(in.x.size());
  const curve_problem unshared(in, family, ones);
  VectorXd deviations = unshared.residuals(plain.parameters);
  const VectorXd sizes = deviations.cwiseAbs();
  const double scale = 1.4826 * median({sizes.begin(), sizes.end()});
  // Without a scale, or without readings to spare, nothing tells an outlier from the rest.
  if (!(scale > 0.0) || in.x.size() <= fit::parameter_count(family)) return {plain, ones};
  shared_fit now{plain, ones};
  for (int i = 0; i < iteration_limit; ++i) {
    const VectorXd share = huber_shares(deviations, scale);
    auto next = search_curve_from(curve_problem(in, family, share), now.found.parameters);
    if (!next.usable()) return {next, share};
    const VectorXd there = unshared.residuals(next.parameters);
    const Eigen::ArrayXd step = (next.parameters - now.found.parameters).array().abs();
    const bool still = (step <= enough * next.parameters.array().abs()).all() ||
                       (there - deviations).cwiseAbs().maxCoeff() <= enough * scale;
    deviations = there;
    now = {std::move(next), share};
    if (still) return now;
  }
  now.found.status = least_squares_status::iteration_limit;
  return now;
}

/// Mean relative variance that the meters give a reading of this curve; with weights that of unit weight, 1.
double unit_variance(const curve_readings& in, curve_family family, const VectorXd& parameters) {
  if (in.weighted()) return 1.0;
  double sum = 0.0;
  for (Index i = 0; i < in.x.size(); ++i) {
    const double exponent = fit::evaluate(family, parameters, in.x[i]).exponent;
    sum += std::pow(in.relative_u_current[i], 2) + std::pow(exponent * in.relative_u_x[i], 2);
  }
  return sum / static_cast<double>(in.x.size());
}

fitted_curve unusable(const curve_readings& in, curve_family family, least_squares_status status) {
  const Index count = fit::parameter_count(family);
  return {.family = family,
          .status = status,
          .weighted = in.weighted(),
          .parameters = VectorXd::Constant(count, nan),
          .covariance = MatrixXd::Constant(count, count, nan),
          .chi2 = nan,
          .degrees_of_freedom = std::max<Index>(0, in.x.size() - count),
          .reading_variance = nan};
}

}  // namespace

Index curve_readings::voltages() const {
  std::vector<double> sorted(x.begin(), x.end());
  std::sort(sorted.begin(), sorted.end());
  return std::unique(sorted.begin(), sorted.end()) - sorted.begin();
}

fitted_curve fit_curve(const curve_readings& readings, std::optional<curve_family> wanted, bool robust) {
  const curve_family family = wanted ? *wanted : choose_family(readings);
  const VectorXd ones = VectorXd::Ones(readings.x.size());
  shared_fit fitted{search_curve(curve_problem(readings, family, ones)), ones};
  if (robust && fitted.found.usable()) fitted = fit_robust(readings, family, fitted.found);
  const auto& found = fitted.found;
  fitted_curve out = unusable(readings, family, found.status);
  if (!found.usable()) return out;
  out.parameters = found.parameters;
  out.chi2 = found.chi2;
  if (out.degrees_of_freedom == 0) return out;
  const double scale = found.chi2 / static_cast<double>(out.degrees_of_freedom);
  out.covariance = scale * unscaled_covariance(curve_problem(readings, family, fitted.share), found.parameters);
  out.reading_variance = scale * unit_variance(readings, family, found.parameters);
  return out;
}

predicted predict(const fitted_curve& curve, double x, double level, bool new_reading) {
  if (!curve.usable()) return {nan, nan, nan};
  const auto at = current_at(curve.family, curve.parameters, x);
  if (curve.degrees_of_freedom == 0) return {at.value, nan, nan};
  const double of_curve = at.gradient.dot(curve.covariance * at.gradient);
  const double relative = of_curve / (at.value * at.value);
  const double half =
      measurement::coverage_factor(level, static_cast<double>(curve.degrees_of_freedom)) *
      std::sqrt(std::max(0.0, curve.weighted ? of_curve : relative) + (new_reading ? curve.reading_variance : 0.0));
  if (curve.weighted) return {at.value, at.value - half, at.value + half};
  return {at.value, at.value * std::exp(-half), at.value * std::exp(half)};
}

}  // namespace rewound::python
