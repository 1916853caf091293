// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <rewound/checks/earth.hpp>
#include <rewound/checks/leakage.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

using record::leakage_kind;

enum class earthing { earthed, not_earthed, low_voltage, unknown, contradiction };

/// Class I has an earthed frame; 0, 0I and II have none; III lives from a safety extra-low voltage.
earthing earthing_of(const record::machine_section& of);

/// At which leakage counts, above the rated voltage.
units::voltage full_leakage_voltage(const record::machine_section& of, const policy& rules);

/// Leakage: due where the frame is not earthed; judged wherever it was read, each reading by itself, so that the worst
/// decides.
///
/// @param result  of in.leakage, one after another
std::vector<finding> leakage(const record::visit_record& in, const checks::leakage_result& result,
                             const measurement::instrument<units::current>& meter, const policy& rules);

/// Earth continuity: due where the frame is earthed; judged wherever it was read. Of two entries that differ on the
/// length of the cord the shorter counts.
///
/// @param split                     of the reading, where the cord's core is known
/// @param standard_uncertainty_ohm  of the reading
std::vector<finding> earth(const record::visit_record& in, const checks::earth_result& split,
                           double standard_uncertainty_ohm, const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/touch_safety.hpp>
#endif
