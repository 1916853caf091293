// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/fit/summary_block.hpp>
#include <rewound/job/reference.hpp>

namespace rewound::job {

/// The kind of instrument that reads a channel, as records and references name it.
const char* meter_of(fit::channel what);

/// What is left of gain errors between one meter and the mean of some machines, relative: a meter that read a share of
/// the machines cancels by that share, and the others' errors average.
double remaining_gain(const std::vector<reference_machine>& machines, const char* kind, const reference_meter& meter);

}  // namespace rewound::job
