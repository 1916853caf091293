// SPDX-License-Identifier: MIT
#include "curve_fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <rewound/fit/effective_variance.hpp>
#include <rewound/fit/linear.hpp>
#include <rewound/measurement/distribution.hpp>

namespace rewound::python {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using fit::curve_family;
using fit::least_squares_result;
using fit::least_squares_status;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

// The tightest at which chi2 still has digits to steer by; a hundred-millionth of a standard error.
constexpr fit::least_squares_options options{.offset_tolerance = 1e-8};

double effective_relative_variance(const curve_readings& in, Index i, double slope) {
  return std::pow(in.relative_u_current[i], 2) + std::pow(slope * in.relative_u_x[i], 2);
}

/// The status a linear start's failure gives to the whole fit.
least_squares_status status_of(fit::linear_status status) {
  switch (status) {
    case fit::linear_status::solved: return least_squares_status::converged;
    case fit::linear_status::singular: return least_squares_status::singular;
    case fit::linear_status::too_few_points: return least_squares_status::too_few_points;
    case fit::linear_status::not_finite: return least_squares_status::not_finite;
  }
  return least_squares_status::not_finite;
}

/// The line in log coordinates, weighted so that small deviations count as in the fit proper.
fit::linear_result log_line(const curve_readings& in, curve_family family) {
  const VectorXd z = in.x.array().log();
  const VectorXd log_current = in.current.array().log();
  const VectorXd weights =
      in.weighted() ? VectorXd(in.weight.array() * in.current.array().square())
                    : VectorXd((in.relative_u_current.array().square() + in.relative_u_x.array().square()).inverse());
  if (family == curve_family::proportional)
    return fit::fit_linear(MatrixXd::Ones(z.size(), 1), log_current - z, weights);
  MatrixXd design(z.size(), 2);
  design.col(0).setOnes();
  design.col(1) = z;
  return fit::fit_linear(design, log_current, weights);
}

VectorXd start_of(const fit::linear_result& line) {
  VectorXd start = line.parameters;
  start[0] = std::exp(start[0]);
  return start;
}

/// Each reading's deviation over its standard uncertainty, before any Huber weight.
VectorXd standardized(const curve_readings& in, curve_family family, const VectorXd& parameters) {
  VectorXd out(in.x.size());
  for (Index i = 0; i < out.size(); ++i) {
    const auto at = fit::evaluate(family, parameters, in.x[i]);
    out[i] = in.weighted() ? std::sqrt(in.weight[i]) * (in.current[i] - std::exp(at.log_value))
                           : (std::log(in.current[i]) - at.log_value) /
                                 std::sqrt(effective_relative_variance(in, i, at.exponent));
  }
  return out;
}

/// Minimises sum share w (I - f)^2.
least_squares_result fit_weighted(const curve_readings& in, curve_family family, const VectorXd& share,
                                  const VectorXd& start) {
  const VectorXd root = (share.array() * in.weight.array()).sqrt();
  const auto residuals = [&](const VectorXd& parameters) {
    VectorXd out(in.x.size());
    for (Index i = 0; i < out.size(); ++i)
      out[i] = root[i] * (in.current[i] - std::exp(fit::evaluate(family, parameters, in.x[i]).log_value));
    return out;
  };
  const auto jacobian = [&](const VectorXd& parameters) {
    MatrixXd out(in.x.size(), parameters.size());
    for (Index i = 0; i < out.rows(); ++i) {
      const auto at = fit::evaluate(family, parameters, in.x[i]);
      out.row(i) = -root[i] * std::exp(at.log_value) * at.log_gradient.transpose();
    }
    return out;
  };
  return fit::fit_least_squares(residuals, jacobian, start, options);
}

/// Minimises sum share (ln I - ln f)^2 / (uI^2 + (n ux)^2): a share stretches both uncertainties of its reading.
least_squares_result fit_in_logs(const curve_readings& in, curve_family family, const VectorXd& share,
                                 const VectorXd& start) {
  const Eigen::ArrayXd stretch = share.array().rsqrt();
  const fit::uncertain_points points{in.x.array().log(), in.current.array().log(),
                                     in.relative_u_x.array() * stretch, in.relative_u_current.array() * stretch};
  const auto curve = [family](double z, const VectorXd& parameters) {
    const auto at = fit::evaluate(family, parameters, std::exp(z));
    return fit::curve_point{at.log_value, at.exponent};
  };
  return fit::fit_effective_variance(points, curve, start, options);
}

least_squares_result fit_shared(const curve_readings& in, curve_family family, const VectorXd& share,
                                const VectorXd& start) {
  return in.weighted() ? fit_weighted(in, family, share, start) : fit_in_logs(in, family, share, start);
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t half = values.size() / 2;
  return values.size() % 2 == 1 ? values[half] : 0.5 * (values[half - 1] + values[half]);
}

VectorXd huber_shares(const VectorXd& deviations, double scale) {
  constexpr double k = 1.345;  // 95 % efficient on normal errors (Huber, Robust Statistics, 1981)
  return (k * scale / deviations.array().abs().max(std::numeric_limits<double>::min())).min(1.0);
}

/// Iterates Huber's weights from the plain fit until no parameter moves by more than 1e-10 of itself.
least_squares_result fit_robust(const curve_readings& in, curve_family family, const least_squares_result& plain) {
  constexpr int iteration_limit = 1000;
  const VectorXd first = standardized(in, family, plain.parameters).cwiseAbs();
  const double scale = 1.4826 * median({first.begin(), first.end()});
  // Without a scale, or without readings to spare, nothing tells an outlier from the rest.
  if (!(scale > 0.0) || plain.degrees_of_freedom == 0) return plain;
  least_squares_result now = plain;
  for (int i = 0; i < iteration_limit; ++i) {
    const VectorXd share = huber_shares(standardized(in, family, now.parameters), scale);
    auto next = fit_shared(in, family, share, now.parameters);
    if (!next.usable()) return next;
    const double moved = ((next.parameters - now.parameters).array().abs() / next.parameters.array().abs()).maxCoeff();
    now = std::move(next);
    if (moved <= 1e-10) return now;
  }
  now.status = least_squares_status::iteration_limit;
  return now;
}

/// Mean relative variance that the meters give a reading of this curve; with weights that of unit weight, 1.
double unit_variance(const curve_readings& in, curve_family family, const VectorXd& parameters) {
  if (in.weighted()) return 1.0;
  double sum = 0.0;
  for (Index i = 0; i < in.x.size(); ++i)
    sum += effective_relative_variance(in, i, fit::evaluate(family, parameters, in.x[i]).exponent);
  return sum / static_cast<double>(in.x.size());
}

fitted_curve unusable(const curve_readings& in, curve_family family, least_squares_status status) {
  const Index count = fit::parameter_count(family);
  return {.family = family, .status = status, .weighted = in.weighted(),
          .parameters = VectorXd::Constant(count, nan), .covariance = MatrixXd::Constant(count, count, nan),
          .chi2 = nan, .degrees_of_freedom = std::max<Index>(0, in.x.size() - count), .reading_variance = nan};
}

curve_family family_for(const curve_readings& in) {
  const bool apart = in.x.size() > 0 && in.x.maxCoeff() > in.x.minCoeff();
  return apart ? curve_family::power : curve_family::proportional;
}

}  // namespace

fitted_curve fit_curve(const curve_readings& readings, std::optional<curve_family> wanted, bool robust) {
  const curve_family family = wanted.value_or(family_for(readings));
  if (readings.x.size() < fit::parameter_count(family))
    return unusable(readings, family, least_squares_status::too_few_points);
  const auto line = log_line(readings, family);
  if (!line.usable()) return unusable(readings, family, status_of(line.status));
  auto found = fit_shared(readings, family, VectorXd::Ones(readings.x.size()), start_of(line));
  if (robust && found.usable()) found = fit_robust(readings, family, found);
  fitted_curve out = unusable(readings, family, found.status);
  if (!found.usable()) return out;
  out.parameters = found.parameters;
  out.chi2 = found.chi2;
  if (out.degrees_of_freedom == 0) return out;
  const double scale = found.chi2 / static_cast<double>(out.degrees_of_freedom);
  out.covariance = found.covariance_unscaled * scale;
  out.reading_variance = scale * unit_variance(readings, family, found.parameters);
  return out;
}

predicted predict(const fitted_curve& curve, double x, double level, bool new_reading) {
  if (!curve.usable()) return {nan, nan, nan};
  const auto at = fit::evaluate(curve.family, curve.parameters, x);
  const double value = std::exp(at.log_value);
  if (curve.degrees_of_freedom == 0) return {value, nan, nan};
  const double relative = at.log_gradient.dot(curve.covariance * at.log_gradient);
  const double of_curve = curve.weighted ? value * value * relative : relative;
  const double half = measurement::coverage_factor(level, static_cast<double>(curve.degrees_of_freedom)) *
                      std::sqrt(of_curve + (new_reading ? curve.reading_variance : 0.0));
  if (curve.weighted) return {value, value - half, value + half};
  return {value, std::exp(at.log_value - half), std::exp(at.log_value + half)};
}

}  // namespace rewound::python
