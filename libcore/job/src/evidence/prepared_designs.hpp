// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include <rewound/checks/fault_likelihood.hpp>
#include <rewound/checks/design_population.hpp>
#include <rewound/machine/fan_population.hpp>

namespace rewound::job {

/// What designs like a machine show when healthy and when faulty. It depends on the model or the nameplate and on the
/// range of voltages alone, not on what a machine draws: so it is worked out once for all machines of a model, and
/// kept.
struct prepared_designs {
  double misfit = 1.0;  ///< squared distance from the population in its own spreads, at least 1
  Eigen::MatrixXd healthy_covariance;
  Eigen::MatrixXd between_visits;  ///< of one machine, by its own drift
  Eigen::MatrixXd unknown;         ///< covariance of what is not known of the healthy values
  checks::alternative_list healthy;
  checks::alternative_list faulty;  ///< empty where no design like the machine runs
};

/// What is known of a model by its good machines or by an earlier visit: in the coefficients of design_population.hpp.
struct known_model {
  machine::machine_kind kind;
  std::vector<checks::curve_probe> looked_at;  ///< where faults are to be seen, all channels
  std::vector<bool> known;                     ///< of each channel of the probes
  Eigen::VectorXd values;
  Eigen::VectorXd uncertainty;
};

/// What a nameplate says: what is shown is relative to its voltage, current and synchronous speed.
struct known_nameplate {
  machine::machine_kind kind;
  std::vector<checks::curve_probe> looked_at;
};

/// What designs like a model show; deviations about its mean.
std::shared_ptr<const prepared_designs> designs_beside(const known_model& in);

/// What designs of a nameplate show, values themselves in the population's coefficients.
std::shared_ptr<const prepared_designs> designs_by_nameplate(const known_nameplate& in);

/// Forgets all designs that were kept; the answers stay the same.
void forget_prepared_designs();

}  // namespace rewound::job
