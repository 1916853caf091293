// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "dialogue/plan.hpp"

namespace rewound::tool::dialogue {

/// What the record holds of a step, one line an entry, in the order in which drop counts them.
std::vector<std::string> entries_of(const record::visit_record& in, const step& of);

/// @throws base::error (out_of_range) where there is no such entry
void expect_entry(const record::visit_record& in, const step& of, std::size_t place);

/// Where an entry of the insulation step stands.
struct insulation_place {
  std::size_t test = 0;
  std::size_t reading = 0;
};
insulation_place insulation_place_of(const record::visit_record& in, std::size_t place);

/// "winding to frame 60 s 310 Mohm", as lists and the journal show it.
std::string insulation_words(const std::string& circuit, const record::insulation_row& row);

/// The record without one of these entries. @throws base::error (out_of_range) where there is no such entry
record::visit_record without_entry(record::visit_record in, const step& of, std::size_t place);

}  // namespace rewound::tool::dialogue
