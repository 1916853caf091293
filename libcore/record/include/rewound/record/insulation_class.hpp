// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::record {

/// Thermal class of the insulation, by its temperature in degC (IEC 60085): A 105, E 120, B 130, F 155, H 180.
enum class insulation_class { class_105 = 105, class_120 = 120, class_130 = 130, class_155 = 155, class_180 = 180 };

/// How the insulation's resistance falls with temperature (IEEE 43-2013, 6.3).
enum class insulation_system { thermosetting, thermoplastic };

/// What of a winding an insulation test was made on, the rest of it where only one phase was: reference/limits/
/// insulation_connection.table.
enum class winding_connection { whole_winding, others_grounded, others_guarded };

enum class winding_kind { random_wound, form_wound, field, armature };

}  // namespace rewound::record
