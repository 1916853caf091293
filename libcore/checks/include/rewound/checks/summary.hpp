// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/curve_reading.hpp>
#include <rewound/fit/summary_block.hpp>

namespace rewound::checks {

using fit::channel;

using fit::summary_block;

struct summary_input {
  std::string speed;
  channel what = channel::current;
  std::vector<fit::curve_reading> readings;  ///< of any of the channels; `current` holds the value read
};

/// Standard deviations of the shape coefficients beyond the parabola, over all kinds of machine.
Eigen::VectorXd shape_spread();

/// Reduces one speed's readings of one channel to normal equations.
///
/// @throws base::error (precondition) without readings
summary_block summarise(const summary_input& in);

/// What each reading's own zero error does to a summary's weighted sums: one standard uncertainty of the zero of the
/// channel's meter, then of the voltmeter, if those of the readings were errors of the zero, alike for all of them.
struct summary_zeros {
  Eigen::VectorXd own, volts;
};

summary_zeros zeros_of(const summary_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/summary.hpp>
#endif
