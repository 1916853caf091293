// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/order.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/fit/mean_shape.hpp>
#include <rewound/fit/pooling.hpp>
#include <rewound/fit/population.hpp>

namespace rewound::checks {

namespace detail {

struct level_estimate {
  double level;
  double variance;
};

/// Level of a run with slope and curvature as good machines of the speed have them, within their spread.
inline level_estimate level_of(const fit::unit_information& whole, const fit::mean_shape& shape, Eigen::Index place,
                               const fit::population& population) {
  const auto run = fit::parabola_of(whole, shape);
  Eigen::MatrixXd precision = run.precision;
  const Eigen::VectorXd weighted = run.weighted - fit::applied(run.precision, fit::part(population.mean, place, 3));
  for (Eigen::Index i = 1; i < 3; ++i)
    precision(i, i) +=
        1.0 / (population.between(place + i, place + i) + population.mean_covariance(place + i, place + i));
  const Eigen::MatrixXd covariance = fit::symmetric_inverse(precision);
  return {fit::applied(covariance, weighted)[0],
          covariance(0, 0) + fit::covariance_from_shape(whole, shape, covariance)(0, 0)};
}

inline double log_likelihood(const order_input& in, const std::vector<std::size_t>& speed_of_run) {
  const auto n = static_cast<Eigen::Index>(in.runs.size());
  Eigen::VectorXd difference(n);
  Eigen::MatrixXd covariance = Eigen::MatrixXd::Constant(n, n, in.common_uncertainty * in.common_uncertainty);
  for (Eigen::Index i = 0; i < n; ++i) {
    const std::size_t speed = speed_of_run[static_cast<std::size_t>(i)];
    const auto p = in.places[speed];
    const auto own = level_of(in.runs[static_cast<std::size_t>(i)], in.shapes[speed], p, in.population);
    difference[i] = own.level;
    covariance(i, i) += own.variance;
    for (Eigen::Index j = 0; j < n; ++j) {
      const auto q = in.places[speed_of_run[static_cast<std::size_t>(j)]];
      covariance(i, j) += in.population.between(p, q) + in.population.mean_covariance(p, q);
    }
  }
  const fit::cholesky_factor factor(covariance);
  base::expect(factor.is_positive_definite(), "covariance", 0.0, "a positive definite matrix");
  return -0.5 * factor.whitened(difference).squaredNorm() - factor.log_determinant_of_root();
}

}  // namespace detail

REWOUND_INLINE order_result order(const order_input& in) {
  const std::size_t n = in.runs.size();
  base::expect(n >= 2 && n <= 6, "runs", static_cast<double>(n), "two to six runs");
  order_result out;
  std::vector<std::size_t> permutation(n);
  std::iota(permutation.begin(), permutation.end(), std::size_t{0});
  const std::vector<std::size_t> listed = permutation;
  double ways = 1.0;
  for (std::size_t i = 2; i <= n; ++i) ways *= static_cast<double>(i);
  do {
    const double prior = permutation == listed ? in.as_listed : (1.0 - in.as_listed) / (ways - 1.0);
    out.assignments.push_back({permutation, std::log(prior) + detail::log_likelihood(in, permutation)});
  } while (std::next_permutation(permutation.begin(), permutation.end()));
  std::sort(out.assignments.begin(), out.assignments.end(),
            [](const auto& a, const auto& b) { return a.probability > b.probability; });
  const double best = out.assignments.front().probability;
  double sum = 0.0;
  for (auto& each : out.assignments) sum += each.probability = std::exp(each.probability - best);
  for (auto& each : out.assignments) each.probability /= sum;
  return out;
}

}  // namespace rewound::checks
