// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include <rewound/checks/fault_likelihood.hpp>
#include <rewound/checks/fault_signatures.hpp>
#include <rewound/machine/fan_population.hpp>

namespace rewound::job {

/// What designs like a machine show when healthy and when faulty. It depends on the model or the nameplate and on the
/// range of voltages alone, not on what a machine draws: so it is worked out once for all machines of a model, and
/// kept.
struct prepared_designs {
  double misfit = 1.0;          ///< squared misfit of the likeliest design, times what was allowed for, at least 1
  std::vector<double> weights;  ///< of the designs
  Eigen::MatrixXd healthy_covariance;
  std::vector<Eigen::VectorXd> healthy_values;
  checks::alternative_list healthy;
  checks::alternative_list faulty;  ///< empty where no design like the machine runs
};

/// What is known of a model by its good machines or by an earlier visit.
struct known_model {
  machine::machine_kind kind;
  std::vector<double> currents;                ///< of the speeds, 1 where unknown
  std::vector<checks::curve_probe> known;      ///< where curves are known
  std::vector<checks::curve_probe> looked_at;  ///< where faults are to be seen
  Eigen::VectorXd log_values;                  ///< at the known probes
  Eigen::VectorXd uncertainty;
  std::optional<double> main_resistance_ohm;  ///< taken in steps of 2 %, a quarter of what it is trusted to
};

/// What a nameplate says.
struct known_nameplate {
  machine::machine_kind kind;
  std::vector<double> currents;  ///< of the speeds, by a usual step
  std::vector<checks::curve_probe> looked_at;
  double rated_current_A;
  std::optional<double> rated_power_W;
};

/// Designs that agree with a model; weights, means and deviations about its mean.
std::shared_ptr<const prepared_designs> designs_beside(known_model in);

/// Designs scaled to a nameplate; what they show is ln value itself.
std::shared_ptr<const prepared_designs> designs_by_nameplate(const known_nameplate& in);

/// Forgets all designs that were kept; the answers stay the same.
void forget_prepared_designs();

}  // namespace rewound::job
