// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/record/document.hpp>

namespace rewound::record {

/// Replaces every `[[section]] file = "x.csv"` of a record's document by the rows of that table. Rows of one speed
/// (run_up) or one circuit (insulation) become one entry with lists; rows of other sections become one entry each.
///
/// @param folder  that relative names are taken from
void expand_tables(node& document, const std::string& folder);

}  // namespace rewound::record
