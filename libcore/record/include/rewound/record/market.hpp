// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::record {

/// The market that a machine belongs to: whose standards decide where those of the two differ.
enum class market { iec, north_america };

}  // namespace rewound::record
