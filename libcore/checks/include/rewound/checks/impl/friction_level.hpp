// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/friction_level.hpp>
#include <rewound/fit/pooling.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/measurement/uncertain.hpp>

namespace rewound::checks {

REWOUND_INLINE std::array<measurement::uncertain<double>, 4> decelerations_at(const machine_friction& machine,
                                                                              double speed) {
  std::array<measurement::uncertain<double>, 4> out{};
  const std::array<double, 3> by{1.0, speed, speed * speed};
  double variance = 0.0;
  for (std::size_t k = 0; k < 3; ++k) {
    const auto i = static_cast<Eigen::Index>(k);
    for (std::size_t l = 0; l < 3; ++l) variance += by[k] * by[l] * machine.covariance(i, static_cast<Eigen::Index>(l));
    out[k + 1] = {machine.terms[k] * by[k], by[k] * std::sqrt(machine.covariance(i, i))};
    out[0].value += out[k + 1].value;
  }
  out[0].standard_uncertainty = std::sqrt(std::max(0.0, variance));
  return out;
}

REWOUND_INLINE friction_level_result friction_level(const friction_level_input& in) {
  base::expect(!in.good.empty(), "good", 0.0, "at least one good machine");
  std::vector<std::array<measurement::uncertain<double>, 4>> good;
  std::vector<double> totals;
  for (const auto& machine : in.good) {
    good.push_back(decelerations_at(machine, in.speed));
    totals.push_back(good.back()[0].value);
  }
  std::nth_element(totals.begin(), totals.begin() + static_cast<std::ptrdiff_t>(totals.size() / 2), totals.end());
  const double unit = totals[totals.size() / 2];
  base::expect(unit > 0.0, "good", unit, "machines with friction");
  friction_level_result out{};
  for (std::size_t k = 0; k < 4; ++k) {
    std::vector<fit::unit_information> units;
    for (const auto& machine : good) {
      // A term that the readings left at 0 exactly, and within nothing, still is no more certain than this.
      const double u = std::max(1e-6, machine[k].standard_uncertainty / unit);
      units.push_back({Eigen::MatrixXd::Constant(1, 1, 1.0 / (u * u)),
                       Eigen::VectorXd::Constant(1, machine[k].value / unit / (u * u))});
    }
    const double spread = k == 0 ? in.total_spread : in.term_spread;
    constexpr double nothing_known = 1e3;
    const auto pooled = fit::pool(units, {Eigen::MatrixXd::Constant(1, 1, spread * spread), in.prior_weight},
                                  {Eigen::VectorXd::Zero(1), Eigen::VectorXd::Constant(1, nothing_known)});
    if (k == 0) out.expected = unit * pooled.mean[0];
    const double share = unit / out.expected;
    const double one_more = std::sqrt(pooled.between(0, 0) + pooled.mean_covariance(0, 0));
    out.excess[k] = {share * (in.now[k].value / unit - pooled.mean[0]), in.now[k].standard_uncertainty / out.expected,
                     share * one_more * measurement::student_quantile(1.0 - in.alarm / 4.0, pooled.degrees_of_freedom)};
  }
  return out;
}

}  // namespace rewound::checks
