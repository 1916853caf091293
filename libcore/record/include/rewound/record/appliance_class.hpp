// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::record {

/// Class of protection against electric shock (IEC 60335-1, 3.3; IEC 61140).
enum class appliance_class { class_0, class_0I, class_I, class_II, class_III };

}  // namespace rewound::record
