// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <string>
#include <vector>

#include <rewound/fit/summary_block.hpp>
#include <rewound/job/reference.hpp>

#include "analysis/instruments.hpp"

namespace rewound::job {

/// The kind of instrument that reads a channel, as records and references name it.
const char* meter_of(fit::channel what);

/// The meters of a bench as a reference remembers them, by kind of instrument.
std::map<std::string, reference_meter> meters_of(const bench_instruments& bench);

/// What is left of gain errors between one meter and the mean of some machines, relative: a meter that read a share of
/// the machines cancels by that share, and the others' errors average. Without machines nothing cancels.
double remaining_gain(const std::vector<reference_machine>& machines, const char* kind, const reference_meter& meter);

/// What is left of them in the level of a channel: of its own meter, and of the voltmeter, whose gain moves the level
/// by the exponent times itself; of fans the exponent is about 1. A kind of meter that was not used adds nothing.
double level_gain(const std::map<std::string, reference_meter>& meters, const std::vector<reference_machine>& machines,
                  fit::channel what);

}  // namespace rewound::job
