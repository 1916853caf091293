// SPDX-License-Identifier: MIT
#pragma once

// A fixed population of designs of one kind of machine, solved once, and what it says of a model by regression on what
// is known of that model: no design is fitted, so that what is said moves as smoothly as what is known.

#include <array>
#include <cstddef>
#include <vector>

#include <Eigen/Core>

#include <rewound/checks/detail/curve_probe.hpp>
#include <rewound/checks/detail/fault_signatures.hpp>
#include <rewound/machine/fan_population.hpp>

namespace rewound::checks {

namespace detail {

/// Voltages at which members are solved, ln of the share of the rated one: closer where machines are run.
inline constexpr std::array grid{0.12, 0.0, -0.13, -0.28, -0.46, -0.7};

}  // namespace detail

struct design_population_input {
  machine::machine_kind kind;
  std::vector<weighed_fault> faults;
  std::vector<parameter_spread> spreads;      ///< between good machines of one model
  std::vector<parameter_spread> different;    ///< between designs: how members are drawn about the table's
  double lowest_log_x = detail::grid.back();  ///< ln of the lowest share of the rated voltage that will be looked at
  std::size_t members = 120;
};

/// What a state of the members stands for: health, a parameter moved by its spread, or a fault of one severity.
struct population_state {
  std::size_t fault = 0;  ///< index among the faults; of a spread, among the spreads
  double severity = 0.0;
};

/// ln of what the members show on a fixed grid of voltages, down to the one below the lowest looked at: of each speed
/// amperes over the fastest one's when rated, watts over those volt-amperes, rpm over synchronism; last ln ohms of main
/// and auxiliary winding. One row a member.
struct solved_population {
  std::size_t speeds = 0;
  std::vector<weighed_fault> faults;
  std::vector<parameter_spread> spreads;  ///< that the spread states were moved by
  Eigen::MatrixXd healthy;
  Eigen::MatrixXd healthy_runs;  ///< 1 where a member runs, one column a speed and voltage
  std::vector<Eigen::MatrixXd> spread, spread_runs;
  std::vector<population_state> fault_states;
  std::vector<Eigen::MatrixXd> fault, fault_runs;
};

/// ln of the lowest share of the rated voltage to be solved for these probes, in few steps so that models share
/// populations: most are read down to some three quarters of it or to half.
double lowest_to_solve(const std::vector<curve_probe>& probes);

/// Solves the population. Empty where no design of the kind runs.
solved_population solve_population(const design_population_input& in);

/// What the population says of models that are known in the same coefficients.
struct population_regression_input {
  const solved_population& population;
  std::vector<curve_probe> probes;  ///< where curves are looked at, all channels of each speed
  std::vector<bool> known;          ///< of each channel of the probes, in their order
};

/// Linear maps from what is known to what is asked, one a block of three coefficients.
struct population_regression {
  struct block {
    std::vector<Eigen::Index> from;  ///< coefficients it is told by
    Eigen::VectorXd mean, scale;     ///< of these among the members
    Eigen::MatrixXd map;             ///< one row a feature, three columns a target
  };
  std::vector<block> blocks;
  std::vector<fit::channel> channels;  ///< of each block
  Eigen::Index coefficients = 0;
  std::size_t members = 0;
  std::vector<Eigen::VectorXd> ohms;     ///< of each target, mean change of ln ohms
  std::vector<Eigen::MatrixXd> scatter;  ///< of each fault's state: how members stray, as an alternative has it
  std::vector<bool> possible;            ///< of each fault's state: whether members that have it run where was read
  Eigen::MatrixXd unknown;               ///< covariance of healthy values once the known ones are
  std::vector<Eigen::VectorXd> values;   ///< of each member: coefficients of what it shows when healthy
  std::vector<parameter_spread> spreads;
  std::vector<weighed_fault> faults;
  std::vector<population_state> fault_states;
};

population_regression regress_population(const population_regression_input& in);

/// What is known of a model, in the population's normalised coefficients.
struct known_coefficients_of_model {
  Eigen::VectorXd values;       ///< of no meaning where unknown
  Eigen::VectorXd uncertainty;  ///< standard uncertainty of each
};

struct population_prediction {
  fault_signatures_result signatures;  ///< without healthy values
  Eigen::MatrixXd between_visits;      ///< covariance of one machine's drift from a visit to the next
  double misfit = 1.0;  ///< mean squared distance of the model from the members, in their spreads; at least 1
};

/// What faults and healthy spread do to a model, by regression.
///
/// Source: ridge regression (A. E. Hoerl, R. W. Kennard, Technometrics 12 (1970) 55-67; from memory, unverified) on
/// coefficients and their squares, shrunk by how well each is known.
population_prediction predict_signatures(const population_regression& in, const known_coefficients_of_model& model);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/design_population.hpp>
#endif
