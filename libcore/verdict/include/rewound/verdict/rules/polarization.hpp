// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/rules/tested_circuit.hpp>

namespace rewound::verdict::rules {

/// The ratios of one circuit's time curve: the polarization index, read or predicted, where it means something, and
/// the short ratios.
std::vector<finding> polarization(const tested_circuit& of, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/polarization.hpp>
#endif
