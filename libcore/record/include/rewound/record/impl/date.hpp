// SPDX-License-Identifier: MIT
#pragma once

#include <cstdio>

#include <rewound/base/compiled.hpp>
#include <rewound/record/date.hpp>

namespace rewound::record {

REWOUND_INLINE std::string date::iso() const {
  char text[48];
  std::snprintf(text, sizeof text, "%04d-%02d-%02d", year, month, day);
  return text;
}

}  // namespace rewound::record
