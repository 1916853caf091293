// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/measurement/uncertain.hpp>

#include "evidence/electrical_evidence.hpp"

namespace rewound::job {

/// What each speed should draw at the rated voltage by the designs of its kind, given what was read of the machine's
/// own fastest speed and the rpm of all: ln of its current over the scale of the evidence (the marked current), with
/// what healthy machines of such readings differ by. Absent for the fastest speed and for one that was not read.
///
/// @param by_nameplate  weighs the designs as values, not as deviations from a mean
std::vector<std::optional<measurement::uncertain<double>>> slower_by_fastest(const electrical_evidence& by_nameplate,
                                                                             std::size_t speeds);

}  // namespace rewound::job
