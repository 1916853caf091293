// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <rewound/checks/coast_down.hpp>
#include <rewound/verdict/rules/coast_down.hpp>

#include "judging/judge_parts.hpp"

namespace rewound::job {

/// A visit's coast-down for the check. The tachometer's numbers are in rpm; its gain moves all speeds alike and stays
/// out.
checks::coast_down_input coasting_of(const visit_facts& visit, double compare_at_rpm, const verdict::policy& policy);

double fastest_rpm(const record::coast_down_section& section);

/// What a reference keeps of a good machine's coast-down; absent where none was made or its terms cannot be told apart.
std::optional<reference_coasting> kept_coasting(const record::visit_record& in, const verdict::policy& policy);

/// Today's coast-down, told at a speed that it, the earlier visit's and those of the good machines all passed through;
/// absent where none was made.
std::optional<verdict::rules::compared_coast_downs> analyse_coast_down(const visit_facts& now,
                                                                       const std::optional<visit_facts>& before,
                                                                       const reference* good,
                                                                       const verdict::policy& policy);

}  // namespace rewound::job
