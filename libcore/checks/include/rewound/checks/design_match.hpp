// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <vector>

#include <Eigen/Core>

#include <rewound/checks/detail/curve_probe.hpp>
#include <rewound/machine/design_parameters.hpp>
#include <rewound/machine/fan_population.hpp>
#include <rewound/measurement/uncertain.hpp>

namespace rewound::checks {

/// What is known of a model of machine, and the designs to begin from.
struct design_match_input {
  std::vector<machine::fan_design> starts;
  std::vector<curve_probe> probes;
  Eigen::VectorXd log_values;   ///< ln of amperes, watts, rpm at the probes
  Eigen::VectorXd uncertainty;  ///< standard uncertainty of each, and by how much a model machine may miss a real one
  std::optional<double> main_resistance_ohm;  ///< cold, where it was read
  double main_resistance_uncertainty = 0.08;  ///< relative
  std::size_t fitted = 5;                     ///< how many of the likeliest starts are fitted
};

/// A design that agrees with what is known.
struct matched_design {
  machine::fan_design design;
  double weight;                   ///< its share among the designs returned
  double chi2;                     ///< squared misfit in standard uncertainties, the pull to its start included
  double misfit;                   ///< chi2 over the number of values known, at least 1: by how much it is trusted less
  std::vector<double> log_change;  ///< of the design parameters, then of the slower speeds' steps, from the start
  Eigen::MatrixXd covariance;      ///< of log_change
};

/// By how much designs about a start differ from it, one standard deviation of each logarithm (the population's own
/// spread, thinned by its number; common practice, no source).
inline constexpr std::array<double, machine::design_parameter_count> design_spread{
    1.5, 0.25, 0.25, 0.35, 0.25, 0.15, 0.5, 0.5, 0.15, 0.25, 0.2, 0.4, 0.5};

/// A design with the logarithms of its parameters, then those of its slower speeds' steps, moved.
machine::fan_design moved_design(machine::fan_design design, const Eigen::VectorXd& log_change);

/// Finds designs that agree with what is known of a model of machine: the likeliest of the starts, each moved to fit.
///
/// The probes' first value must be the fastest speed's current. Each start keeps the parameters that nothing tells; so
/// several starts show what is left open.
///
/// @return designs, likeliest first, whose weights sum to 1; none when no start can be solved
/// @throws base::error (precondition) without starts or probes, or for sizes that do not agree
/// Source: Bayes's rule with normal errors (maximum posterior of each start); common practice, no further source.
std::vector<matched_design> design_match(const design_match_input& in);

/// What is known of a machine's winding and core, each with its relative standard uncertainty.
struct known_winding {
  std::optional<measurement::uncertain<double>> log_main_ohm;         ///< ln ohms of the main winding
  std::optional<measurement::uncertain<double>> log_magnetising_ohm;  ///< ln of its magnetising reactance, unsaturated
};

/// What winding and core alone say of the current.
struct winding_current_result {
  double log_current = 0.0;      ///< ln amperes of the fastest speed at the rated voltage
  double log_uncertainty = 0.0;  ///< standard deviation between the designs it may be of
};

/// Current to be expected of a machine of which nothing is known but ohms of its main winding: every design of the
/// population is scaled to these ohms, by resistance and by reactance, and the two weigh by how designs scatter about
/// them. A wide answer, by nature.
///
/// @throws base::error (precondition) without designs that run, without either, or for one that is not finite
/// Source: generalised least squares of one unknown (A. C. Aitken, Proc. R. Soc. Edinb. 55 (1935) 42-48).
winding_current_result current_by_winding(const std::vector<machine::fan_design>& designs, const known_winding& known);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/design_match.hpp>
#endif
