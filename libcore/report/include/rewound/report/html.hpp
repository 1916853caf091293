// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/job/pictures.hpp>
#include <rewound/job/result.hpp>

namespace rewound::report {

/// The judgement as one page that stands alone: pictures in it, no script, nothing fetched. For the screen, the phone,
/// paper of A4 or Letter size, and in the dark.
///
/// Texts of the record are shown as texts, whatever they hold.
/// @param plotted  pictures_of() of what was judged
std::string html_report(const job::result& result, const job::pictures& plotted);

}  // namespace rewound::report
