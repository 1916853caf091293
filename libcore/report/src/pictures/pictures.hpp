// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include <rewound/job/pictures.hpp>
#include <rewound/job/result.hpp>

#include "chart.hpp"

// One function a kind of picture. `css` is empty inside a page.
namespace rewound::report {

std::string draw_svg(const job::result& result, const job::draw_picture& plotted, const picture_frame& frame);
std::string steps_svg(const job::result& result, const picture_frame& frame);
std::string insulation_svg(const job::result& result, const job::insulation_picture& plotted,
                           const picture_frame& frame);
std::string heat_svg(const job::heat_picture& plotted, const job::result& result, const picture_frame& frame);
std::string coast_svg(const job::coast_picture& plotted, const picture_frame& frame);

/// All speeds in a picture without ticks, for a row of an index.
std::string small_svg(const job::pictures& plotted, std::string_view machine, std::string_view id);

/// Whether the ladder of speeds has anything to show: two speeds or more with a current at the rated voltage.
bool has_steps(const job::result& result);

/// "a", "b", ...: how the n-th suspect reading of a speed is called in its picture and below it.
std::string suspect_letter(std::size_t n);

}  // namespace rewound::report
