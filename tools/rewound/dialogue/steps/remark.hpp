// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>

#include <rewound/job/expected_reading.hpp>
#include <rewound/job/result.hpp>

// The short line after a reading. Inside and outside are the outcomes of job::judge, and of nothing else.
namespace rewound::tool::dialogue {

/// "inside", "OUTSIDE" or "not enough yet".
std::string outcome_words(verdict::outcome value);

/// After a run-up reading: expected, deviation, and how the speed stands by now.
///
/// @param current_A  of this reading; of three phases the mean
std::string run_up_remark(const job::result& judged, const std::optional<job::expected_reading>& expected,
                          const std::string& speed, double current_A, double rated_V);

/// After any other reading: what was judged of it, its limit, and how it stands.
///
/// @param subject  circuit, section, position; empty: the first finding of the check
std::string cold_remark(const job::result& judged, verdict::check which, const std::string& subject);

}  // namespace rewound::tool::dialogue
