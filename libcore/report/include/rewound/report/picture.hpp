// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include <rewound/job/pictures.hpp>
#include <rewound/job/result.hpp>

namespace rewound::report {

enum class picture_kind { draw, steps, insulation, heat_run, coast_down };

/// One picture as an SVG file, with its title in it.
///
/// @param subject  the speed or the circuit; empty: the first
/// @throws base::error not_a_choice for a speed or circuit that was not read; empty_list where nothing of this kind was
std::string picture_file(const job::result& result, const job::pictures& plotted, picture_kind kind,
                         std::string_view subject);

}  // namespace rewound::report
