// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/job/pictures.hpp>
#include <rewound/job/result.hpp>
#include <rewound/report/view.hpp>

// The parts of the page, top to bottom. Each is markup; one without content is empty.
namespace rewound::report {

/// Decision, reasons, what to do, what was tested, with the picture of the speed that decides: the first thing that is
/// seen.
std::string answer_section(const view& shown, const job::result& result, const std::string& deciding_picture);

/// All that is to be done, and all conditions, in full words.
std::string steps_section(const view& shown);

/// What machine and visit this is, and by which instruments it was read.
std::string facts_section(const view& shown, const job::result& result);

/// The picture of the speed that stands behind the decision most; empty without one.
std::string deciding_figure(const view& shown, const job::result& result, const job::pictures& plotted);

/// The table of currents, the pictures of the other speeds, the ladder of speeds.
std::string draw_section(const view& shown, const job::result& result, const job::pictures& plotted);

/// Insulation, heat run and coast-down.
std::string other_pictures_section(const job::result& result, const job::pictures& plotted);

std::string causes_section(const view& shown);

/// Every finding with its outcome and the source of its limit.
std::string findings_section(const view& shown);

/// The readings of the record as tables, as a second look at the pictures and for those who do not see them.
std::string readings_section(const job::pictures& plotted);

std::string cautions_section(const view& shown);

/// The cautions of a line or two that stand on the shop's sheet.
std::string short_cautions(const view& shown);

/// The page for the owner: no trade words.
std::string owner_section(const view& shown, const job::result& result);

/// A sign and a word for an outcome; the sign is not read out. What is told for information and has no outcome is
/// "noted".
std::string outcome_badge(verdict::outcome value, bool noted = false);

/// A list of texts, numbered or not; empty without any.
std::string text_list(const std::vector<std::string>& texts, bool numbered);

}  // namespace rewound::report
