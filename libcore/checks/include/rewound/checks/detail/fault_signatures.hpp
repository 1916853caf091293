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
};

/// By how much machines differ in one parameter: a name of machine::design_parameter, or "turns" or "control".
struct parameter_spread {
  std::string_view parameter;
  double spread;        ///< one standard deviation of its logarithm; of turns, of their share
  double visits = 0.0;  ///< how much of it a machine differs by between two visits
  double centre = 0.0;  ///< by how much they lie above the designs of the table on the mean
};

struct fault_signatures_input {
  std::vector<machine::fan_design> designs;  ///< that agree with what is known of the model
  std::vector<double> weights;               ///< of each
  std::vector<curve_probe> probes;
  std::vector<weighed_fault> faults;
  std::vector<parameter_spread> spreads;
  double misfit = 1.0;  ///< by how much the designs' own misfit exceeds what was allowed for, at least 1
  bool fan_on = true;   ///< whether the designs carry their fan; a bearing's severity is counted with it either way
};

/// Deviations are three parabola coefficients of ln value a speed and channel, in the order of the probes, then ln of
/// the main and of the auxiliary winding's resistance.
struct fault_signatures_result {
  std::vector<alternative> faulty;
  Eigen::MatrixXd healthy_covariance;           ///< between good machines of one model
  std::vector<Eigen::VectorXd> healthy_values;  ///< of each design: coefficients of ln value itself, then ln ohms
};

/// Entries after the parabolas: resistance of main and auxiliary winding.
inline constexpr Eigen::Index resistance_entries = 2;

/// How good machines of one model differ: reference/machines/healthy_spread.table.
std::vector<parameter_spread> healthy_spreads();

/// How designs of the population differ from their nearest neighbour: reference/machines/population_spread.table.
std::vector<parameter_spread> population_spreads();

/// What faults do to curves and ohms of the designs, and how good machines differ, by the machine model.
///
/// @throws base::error (precondition) without designs, or for sizes that do not agree
/// Source: double revolving fields (machine/running_point.hpp); spreads of reference/machines/healthy_spread.table.
fault_signatures_result fault_signatures(const fault_signatures_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/fault_signatures.hpp>
#endif
