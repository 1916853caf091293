// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/mean_shape.hpp>
#include <rewound/fit/population.hpp>

namespace rewound::checks {

/// The runs of one machine, each believed to be the speed at the same place of the list, beside good machines.
struct order_input {
  std::vector<fit::unit_information> runs;  ///< as checks/summary.hpp makes them, fastest speed first
  std::vector<fit::mean_shape> shapes;      ///< of each speed's good curves, beyond a parabola
  std::vector<Eigen::Index> places;         ///< where each speed's coefficients begin in the population
  fit::population population;
  double common_uncertainty = 0.0;  ///< relative: meter gains that move all levels alike
  double as_listed = 0.95;          ///< probability, beforehand, that the speeds are as listed
};

/// One way in which the runs may belong to the speeds: run i was made on speed speed_of_run[i].
struct assignment {
  std::vector<std::size_t> speed_of_run;
  double probability = 0.0;
};

struct order_result {
  std::vector<assignment> assignments;  ///< most probable first
};

/// Probability of every way in which the runs may belong to the speeds (Bayes' rule over all permutations, the ways
/// other than as listed equally likely beforehand).
///
/// @throws base::error (precondition) for fewer than two or more than six runs
order_result order(const order_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/order.hpp>
#endif
