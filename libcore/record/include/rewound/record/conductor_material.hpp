// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::record {

enum class conductor_material { copper, aluminium };

}  // namespace rewound::record
