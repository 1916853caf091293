// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string_view>
#include <vector>

#include <Eigen/Core>

#include <rewound/checks/detail/curve_probe.hpp>
#include <rewound/checks/detail/fault_model.hpp>
#include <rewound/machine/fault.hpp>
#include <rewound/machine/tables.hpp>

namespace rewound::checks {

/// A fault to be weighed: the cause it stands for and how far it goes.
struct weighed_fault {
  std::size_t cause;
  machine::fault what;
  double least;  ///< severity, as machine/fault.hpp measures it
  double most;
  double weight = 1.0;  ///< prior share among all faults weighed
};

/// By how much machines differ in one parameter: a name of machine::design_parameter, or "turns" or "control".
struct parameter_spread {
  std::string_view parameter;
  double spread;         ///< one standard deviation of its logarithm; of turns, of their share
  double visits = 0.0;   ///< how much of it a machine differs by between two visits
  double centre = 0.0;   ///< by how much they lie above the designs of the table on the mean
  bool passing = false;  ///< of the state that a machine is read in: its cold ohms stay
};

/// Deviations are three parabola coefficients of ln value a speed and channel, in the order of the probes, then ln of
/// the main and of the auxiliary winding's resistance.
struct fault_signatures_result {
  std::vector<alternative> faulty;
  Eigen::MatrixXd healthy_covariance;  ///< between good machines of one model
};

/// Entries after the parabolas: resistance of main and auxiliary winding.
inline constexpr Eigen::Index resistance_entries = 2;

/// How good machines of one model differ, and the state that they are read in: reference/machines/healthy_spread.table
/// and reading_spread.table.
std::vector<parameter_spread> healthy_spreads();

/// How designs of the population differ from their nearest neighbour: reference/machines/population_spread.table.
std::vector<parameter_spread> population_spreads();

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/detail/impl/fault_signatures.hpp>
#endif
