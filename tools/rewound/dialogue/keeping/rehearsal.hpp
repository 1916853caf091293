// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/record/record.hpp>

// The mark of a rehearsal stands under the record's free keys, [checks], so that every report and the result show it.
namespace rewound::tool::dialogue {

/// What a rehearsal's record holds as not right under [checks]: rehearsed readings never release a machine.
inline constexpr const char* no_rehearsal_key = "readings of a test, not of a rehearsal";

/// Whether the record says that it was made in a rehearsal.
bool is_rehearsal(const record::visit_record& in);

/// The keys under [checks] that a person answered with yes or no: all but that mark.
std::vector<std::string> answered_checks(const record::visit_record& in);

}  // namespace rewound::tool::dialogue
