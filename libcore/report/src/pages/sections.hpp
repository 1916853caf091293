// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/job/pictures.hpp>
#include <rewound/job/result.hpp>
#include <rewound/report/view.hpp>

// The parts of the page, top to bottom. Each is markup; one without content is empty.
namespace rewound::report {

/// Decision, reasons, what to do, what was tested: the first thing that is seen.
std::string answer_section(const view& shown, const job::result& result);

/// Current against voltage, with the ladder of speeds and the table of currents.
std::string draw_section(const view& shown, const job::result& result, const job::pictures& plotted);

std::string insulation_section_of(const job::result& result, const job::pictures& plotted);

/// Heat run and coast-down.
std::string running_section(const job::result& result, const job::pictures& plotted);

std::string causes_section(const view& shown);

/// Every finding with its outcome and the source of its limit.
std::string findings_section(const view& shown);

/// The readings of the record as tables, as a second look at the pictures and for those who do not see them.
std::string readings_section(const job::pictures& plotted);

std::string cautions_section(const view& shown);

/// The page for the owner: no trade words.
std::string owner_section(const view& shown, const job::result& result);

/// A sign and a word for an outcome; the sign is not read out. What is told for information and has no outcome is
/// "noted".
std::string outcome_badge(verdict::outcome value, bool noted = false);

/// A list of texts, numbered or not; empty without any.
std::string text_list(const std::vector<std::string>& texts, bool numbered);

}  // namespace rewound::report
