// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include <rewound/verdict/next_step.hpp>
#include <rewound/verdict/rules/causes.hpp>

namespace rewound::report {

/// A cause as a person would name it.
std::string_view cause_words(verdict::cause value);

/// One line: the cause, its probability, what speaks for it and what against it.
std::string cause_line(const verdict::rules::ranked_cause& in);

/// One line: a measurement, how long it takes, and what each way it may come out would mean.
std::string next_step_line(const verdict::next_step& in);

/// The name of a piece of evidence in results.
std::string_view evidence_name(verdict::rules::evidence from);

}  // namespace rewound::report
