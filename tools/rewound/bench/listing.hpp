// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "plan.hpp"

namespace rewound::tool::bench {

/// What the record holds of a step, one line an entry, in the order in which drop counts them.
std::vector<std::string> entries_of(const job::record& in, const step& of);

/// The record without one of these entries. @throws base::error (out_of_range) where there is no such entry
job::record without_entry(job::record in, const step& of, std::size_t place);

}  // namespace rewound::tool::bench
