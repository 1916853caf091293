// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

namespace rewound::verdict {

/// A number that findings are judged by, and where it comes from.
struct limit {
  double value;
  std::string source;
};

/// The same of reference/limits/practice.table: the text of the source is held by the table or, where the number is
/// the shop's own, by the policy and its copies.
struct practice_limit {
  double value;
  std::string_view source;
};

}  // namespace rewound::verdict
