// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>

#include "dialogue/plan.hpp"

namespace rewound::tool::dialogue {

/// The record with an entry of a step read anew, as a person types it behind `correct 2`. Pure; what the record's own
/// reader refuses shows when it is kept. Run-ups, whose lines depend on the speed asked for, have
/// `with_reading_replaced`.
///
/// @param place  of the entry, from 0, as entries_of counts
/// @throws base::error (out_of_range) where there is no such entry, or for a text that does not fit it
record::visit_record with_entry_corrected(record::visit_record in, const step& of, std::size_t place,
                                          const std::string& text);

}  // namespace rewound::tool::dialogue
