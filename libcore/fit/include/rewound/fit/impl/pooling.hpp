// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

#include <Eigen/Cholesky>
#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/fit/pooling.hpp>
#include <rewound/fit/population.hpp>

namespace rewound::fit {

REWOUND_INLINE Eigen::MatrixXd symmetric_inverse(const Eigen::MatrixXd& symmetric) {
  const Eigen::LLT<Eigen::MatrixXd> factor(symmetric);
  base::expect(factor.info() == Eigen::Success, "matrix", 0.0, "a positive definite matrix");
  return factor.solve(Eigen::MatrixXd::Identity(symmetric.rows(), symmetric.cols()));
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
    const Eigen::MatrixXd keep = Eigen::MatrixXd::Identity(d, d) - units[i].precision * posteriors[i];
    out.precision += keep * units[i].precision;
    out.weighted += keep * units[i].weighted;
  }
  return out;
}

/// One step of the expectation-maximisation for the covariance between units, with the prior's pseudo-units. The
/// mean's own uncertainty is carried along (restricted maximum likelihood): without it the spread comes out small.
inline Eigen::MatrixXd next_between(const std::vector<unit_information>& units,
                                    const std::vector<Eigen::MatrixXd>& posteriors, const population& now,
                                    const spread_prior& prior) {
  Eigen::MatrixXd sum = prior.weight * prior.covariance;
  for (std::size_t i = 0; i < units.size(); ++i) {
    const Eigen::VectorXd effect = posteriors[i] * (units[i].weighted - units[i].precision * now.mean);
    const Eigen::MatrixXd follows = posteriors[i] * units[i].precision;
    sum += effect * effect.transpose() + posteriors[i] + follows * now.mean_covariance * follows.transpose();
  }
  const Eigen::MatrixXd next = sum / (prior.weight + static_cast<double>(units.size()));
  return 0.5 * (next + next.transpose());
}

}  // namespace detail

REWOUND_INLINE population pool(const std::vector<unit_information>& units, const spread_prior& prior,
                               const mean_prior& about) {
  base::expect(!units.empty(), "units", 0.0, "at least one unit");
  const Eigen::Index d = prior.covariance.rows();
  base::expect(about.mean.size() == d && about.deviation.size() == d, "mean prior",
               static_cast<double>(about.mean.size()), "as many coefficients as the spread's prior has");
  for (const auto& unit : units)
    base::expect(unit.precision.rows() == d && unit.weighted.size() == d, "units",
                 static_cast<double>(unit.weighted.size()), "as many coefficients as the prior has");
  population out;
  out.between = prior.covariance;
  const Eigen::VectorXd precision = about.deviation.array().square().inverse();
  // Always as many: steps counted by how far they have come would make the answer jump with the last digit given.
  constexpr int steps = 60;
  for (int step = 0; step <= steps; ++step) {
    const auto posteriors = detail::posteriors_of(units, out.between);
    const auto equations = detail::equations_for(units, posteriors, d);
    out.mean_covariance = symmetric_inverse(equations.precision + Eigen::MatrixXd(precision.asDiagonal()));
    out.mean = out.mean_covariance * (equations.weighted + precision.cwiseProduct(about.mean));
    if (step < steps) out.between = detail::next_between(units, posteriors, out, prior);
  }
  out.units = units.size();
  const double extra = static_cast<double>(units.size()) - 1.0;
  out.degrees_of_freedom =
      extra == 0.0 ? std::numeric_limits<double>::infinity() : (prior.weight + extra) * (prior.weight + extra) / extra;
  return out;
}

}  // namespace rewound::fit
