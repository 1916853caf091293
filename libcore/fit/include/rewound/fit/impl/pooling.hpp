// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/pooling.hpp>
#include <rewound/fit/population.hpp>

namespace rewound::fit {

REWOUND_INLINE Eigen::MatrixXd symmetric_inverse(const Eigen::MatrixXd& symmetric) {
  const cholesky_factor factor(symmetric);
  base::expect(factor.is_positive_definite(), "matrix", 0.0, "a positive definite matrix");
  return factor.inverse();
}

namespace detail {

/// Covariance of each unit's coefficients about their mean once its readings are known: (P_k + T^-1)^-1. Both steps of
/// the expectation-maximisation stand on it.
inline std::vector<Eigen::MatrixXd> posteriors_of(const std::vector<unit_information>& units,
                                                  const Eigen::MatrixXd& between) {
  const Eigen::MatrixXd between_precision = symmetric_inverse(between);
  std::vector<Eigen::MatrixXd> out;
  for (const auto& unit : units) out.push_back(symmetric_inverse(unit.precision + between_precision));
  return out;
}

/// Sum over units of (between + V_k)^-1 and of (between + V_k)^-1 b_k, written so that a singular precision does no
/// harm: (T + P^-1)^-1 = P (I + T P)^-1 = P - P (P + T^-1)^-1 P.
struct mean_equations {
  Eigen::MatrixXd precision;
  Eigen::VectorXd weighted;
};

inline mean_equations equations_for(const std::vector<unit_information>& units,
                                    const std::vector<Eigen::MatrixXd>& posteriors, Eigen::Index d) {
  mean_equations out{Eigen::MatrixXd::Zero(d, d), Eigen::VectorXd::Zero(d)};
  for (std::size_t i = 0; i < units.size(); ++i) {
    Eigen::MatrixXd keep = product(units[i].precision, posteriors[i]);
    for (Eigen::Index k = 0; k < d; ++k)
      for (Eigen::Index row = 0; row < d; ++row) keep(row, k) = (row == k ? 1.0 : 0.0) - keep(row, k);
    out.precision += product(keep, units[i].precision);
    out.weighted += applied(keep, units[i].weighted);
  }
  return out;
}

/// One step of the expectation-maximisation for the covariance between units, with the prior's pseudo-units. The
/// mean's own uncertainty is carried along (restricted maximum likelihood): without it the spread comes out small.
inline Eigen::MatrixXd next_between(const std::vector<unit_information>& units,
                                    const std::vector<Eigen::MatrixXd>& posteriors, const population& now,
                                    const spread_prior& prior) {
  const Eigen::Index d = now.mean.size();
  const double count = prior.weight + static_cast<double>(units.size());
  Eigen::MatrixXd sum = Eigen::MatrixXd::Zero(d, d);
  for (std::size_t i = 0; i < units.size(); ++i) {
    const Eigen::VectorXd away = units[i].weighted - applied(units[i].precision, now.mean);
    const Eigen::VectorXd effect = applied(posteriors[i], away);
    add_outer(sum, 1.0, effect, effect);
    sum += posteriors[i];
    sum += carried(product(posteriors[i], units[i].precision), now.mean_covariance);
  }
  Eigen::MatrixXd next(d, d);
  for (Eigen::Index k = 0; k < d; ++k)
    for (Eigen::Index row = 0; row < d; ++row)
      next(row, k) = (0.5 * (sum(row, k) + sum(k, row)) + prior.weight * prior.covariance(row, k)) / count;
  return next;
}

}  // namespace detail

REWOUND_INLINE population pool(const std::vector<unit_information>& units, const spread_prior& prior,
                               const mean_prior& about) {
  base::expect(!units.empty(), "units", 0.0, "at least one unit");
  const Eigen::Index d = prior.covariance.rows();
  base::expect(prior.covariance.cols() == d, "prior", static_cast<double>(prior.covariance.cols()), "a square matrix");
  base::expect(about.mean.size() == d && about.deviation.size() == d, "mean prior",
               static_cast<double>(about.mean.size()), "as many coefficients as the spread's prior has");
  for (const auto& unit : units)
    base::expect(unit.precision.rows() == d && unit.weighted.size() == d, "units",
                 static_cast<double>(unit.weighted.size()), "as many coefficients as the prior has");
  population out;
  out.between = prior.covariance;
  // Always as many: steps counted by how far they have come would make the answer jump with the last digit given.
  constexpr int steps = 60;
  for (int step = 0; step <= steps; ++step) {
    const auto posteriors = detail::posteriors_of(units, out.between);
    auto equations = detail::equations_for(units, posteriors, d);
    for (Eigen::Index i = 0; i < d; ++i) {
      const double precision = 1.0 / (about.deviation[i] * about.deviation[i]);
      equations.precision(i, i) += precision;
      equations.weighted[i] += precision * about.mean[i];
    }
    out.mean_covariance = symmetric_inverse(equations.precision);
    out.mean = applied(out.mean_covariance, equations.weighted);
    if (step < steps) out.between = detail::next_between(units, posteriors, out, prior);
  }
  out.units = units.size();
  const double extra = static_cast<double>(units.size()) - 1.0;
  out.degrees_of_freedom =
      extra == 0.0 ? std::numeric_limits<double>::infinity() : (prior.weight + extra) * (prior.weight + extra) / extra;
  return out;
}

}  // namespace rewound::fit
