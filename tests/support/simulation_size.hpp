// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::testing {

#ifdef REWOUND_SANITIZED
/// Under the sanitizers a simulation looks for errors of memory and arithmetic, which a tenth of it meets as well; the
/// shares that it counts then scatter more, by `simulation_slack` of all runs.
constexpr int simulated(int runs) { return runs / 10; }
constexpr double simulation_slack = 0.12;
#else
/// Runs of a simulation: all of them.
constexpr int simulated(int runs) { return runs; }
constexpr double simulation_slack = 0.0;
#endif

}  // namespace rewound::testing
