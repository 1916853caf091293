// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include <rewound/job/pictures.hpp>
#include <rewound/job/result.hpp>

// Pictures as SVG: inside a page they take its style, alone they carry their own.
namespace rewound::report {

enum class picture_kind { draw, steps, insulation, heat_run, coast_down };

/// A picture as an svg element that stands inside a page of html_report().
///
/// @param place  which of its kind: the speed or circuit, counted in `drawn`
/// @param id     begins the ids inside, unique on the page
std::string picture_in_page(const job::result& result, const job::pictures& drawn, picture_kind kind, std::size_t place,
                            std::string_view id);

/// One picture as an SVG file, with its title in it.
///
/// @param subject  the speed or the circuit; empty: the first
/// @throws base::error not_a_choice for a speed or circuit that was not read; empty_list where nothing of this kind was
std::string picture_file(const job::result& result, const job::pictures& drawn, picture_kind kind, std::string_view subject);

}  // namespace rewound::report
