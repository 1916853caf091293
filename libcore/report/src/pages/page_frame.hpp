// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

namespace rewound::report {

/// A whole page in the project's style around its body; it fetches nothing and runs nothing.
std::string framed_page(std::string_view title, std::string_view body);

}  // namespace rewound::report
