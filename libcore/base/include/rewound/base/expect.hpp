// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/base/number_text.hpp>
#include <rewound/base/error.hpp>

namespace rewound::base {

/// Throws error_code::precondition unless `holds`. Stays on in release builds; never aborts, because a
/// host such as Python must survive.
///
/// @param argument  name of the offending argument
/// @param read      what it was
/// @param allowed   what it may be
inline void expect(bool holds, const char* argument, const std::string& read, const char* allowed) {
  if (!holds) throw error(error_code::precondition, place{"", 0, argument}, read, allowed);
}

inline void expect(bool holds, const char* argument, double read, const char* allowed) {
  if (!holds) expect(false, argument, general_digits(read, 6), allowed);
}

}  // namespace rewound::base
