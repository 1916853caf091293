// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

namespace rewound::report {

/// What stands for one text of a finding: its key, the text, and the words for it, which may name numbers in braces.
struct phrase {
  std::string_view key;
  std::string_view text;
  std::string_view words;
};

}  // namespace rewound::report
