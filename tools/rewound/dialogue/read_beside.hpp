// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/record/record.hpp>

// Watts and rpm of some readings of a speed. The record's lists hold them of all its readings or of none; until all
// have them they are noted under [checks], each beside the reading it was taken with, and judged by nobody.
namespace rewound::tool::dialogue {

/// What all their keys begin with.
inline constexpr std::string_view read_beside_head = "read beside ";

struct beside_reading {
  std::optional<double> power_W;
  std::optional<double> speed_rpm;
};

/// What is noted beside each reading of a run-up.
std::vector<beside_reading> beside_of(const record::visit_record& in, const record::run_up_section& run);

/// Takes the notes of a run-up out of the record. To be done before its readings change.
std::vector<beside_reading> take_beside(record::visit_record& in, const record::run_up_section& run);

/// Puts them back, one a reading as these now are: a channel that all readings have becomes the run-up's list.
void put_beside(record::visit_record& in, record::run_up_section& run, const std::vector<beside_reading>& beside);

}  // namespace rewound::tool::dialogue
