// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>

#include <rewound/record/record.hpp>

#include "dialogue/entry/run_up_reading.hpp"

// Changes to the run-ups of a record. Pure: each gives the changed record.
namespace rewound::tool::dialogue {

/// The run-up of a speed (leads as marked), or null.
const record::run_up_section* run_up_of(const record::visit_record& in, const std::string& speed);

/// A reading added behind those of its speed.
///
/// @throws base::error (missing_key) where the speed's readings have watts or rpm and this one has not
record::visit_record with_reading(record::visit_record in, const run_up_entry& entry);

/// The same in place of a reading. @throws base::error (out_of_range) where there is no such reading
record::visit_record with_reading_replaced(record::visit_record in, std::size_t place, const run_up_entry& entry);

/// The record without a reading; a run-up without any goes too.
record::visit_record without_reading(record::visit_record in, const std::string& speed, std::size_t place);

/// The rotor stood still at a reading.
record::visit_record with_stalled(record::visit_record in, const std::string& speed, std::size_t place);

/// Watts or rpm of a whole speed left out.
record::visit_record without_watts(record::visit_record in, const std::string& speed);
record::visit_record without_rpm(record::visit_record in, const std::string& speed);

/// "high 110 V 0.61 A 48 W", as lists and the journal show it.
std::string reading_words(const record::visit_record& in, const std::string& speed, std::size_t place);

}  // namespace rewound::tool::dialogue
