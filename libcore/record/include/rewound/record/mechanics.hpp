// SPDX-License-Identifier: MIT
#pragma once

// What is seen and heard of a machine, and what protects it.
namespace rewound::record {

/// Looking at the shaft's end.
enum class rotation_direction { clockwise, counterclockwise };

enum class running_noise { quiet, hum, rattle, scraping, knocking, squeal };

enum class thermal_protector { none, self_resetting, manual_reset, thermal_fuse };

/// Where the brushes stand.
enum class brush_neutral { on_neutral, off_neutral };

/// Between what an insulation resistance was read.
enum class insulation_ends { winding_and_frame, windings };

}  // namespace rewound::record
