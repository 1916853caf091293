// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/checks/supply.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/draw_row.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// The mains against the window round the rating. Outside of it the machine is not at fault: a transformer, or a supply
/// of the rated frequency, is a condition. Absent result: the record names neither voltage nor frequency.
std::vector<finding> supply(const record::visit_record& in, const std::optional<checks::supply_result>& result,
                            const policy& rules);

/// Expected current on today's mains, from this visit's own curves; for information.
std::vector<finding> supply_draw(const std::vector<draw_row>& rows, units::voltage mains);

/// Expected input power on today's mains, from this visit's own watts; for information.
std::vector<finding> supply_power(const std::string& speed, const measurement::uncertain<double>& watts,
                                  units::voltage mains);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/supply.hpp>
#endif
