// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <Eigen/Core>

#include <rewound/fit/population.hpp>

namespace rewound::fit {

/// Inverse of a symmetric positive definite matrix. @throws base::error (precondition) when it is not
Eigen::MatrixXd symmetric_inverse(const Eigen::MatrixXd& symmetric);

/// Mean and spread of a population from its units, by expectation-maximisation with a prior on the spread and a weak
/// one on the mean, which counts where no unit determines a coefficient.
///
/// With one unit the prior spread is all there is; with many the data win.
///
/// @throws base::error (precondition) without units or for sizes that do not agree
/// Source: N. M. Laird, J. H. Ware, "Random-effects models for longitudinal data", Biometrics 38 (1982) 963-974.
population pool(const std::vector<unit_information>& units, const spread_prior& prior, const mean_prior& about);

}  // namespace rewound::fit

#ifndef REWOUND_COMPILED
#include <rewound/fit/impl/pooling.hpp>
#endif
