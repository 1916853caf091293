// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/record/record.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// A withstand voltage that a standard asks for, and where it says so.
struct withstand_demand {
  double volts = 0.0;
  std::string source;
};

/// IEC 60034-1: new below 1 kW and 100 V has its own row; a rating that is not known is taken as larger.
withstand_demand iec_withstand(const record::machine_section& of, record::winding_state state, const policy& rules);

/// NEMA MG 1 and AR100: up to 1/2 hp (373 W) and 250 V (240 V for a commutator's armature) has its own row.
withstand_demand nema_withstand(const record::machine_section& of, record::winding_state state, const policy& rules);

/// The demand that decides under the policy.
withstand_demand deciding_withstand(const record::machine_section& of, record::winding_state state,
                                    const policy& rules);

/// Whether the winding is new since this repair: by the work that was noted, or by the year of the winding.
bool rewound_now(const record::visit_record& in);

/// Withstand tests: a breakdown fails whatever the voltage; a test of less voltage or time than asked leaves it open.
/// So does one whose current or voltage no sound winding saw. A circuit that names a winding is judged as one, and a
/// winding that was rewound as new. Without any test of a winding it says which voltage would apply.
///
/// @param earlier  tests of the earlier visit: the current of the same circuit, by the same kind of voltage, is told
std::vector<finding> withstand(const record::visit_record& now, const std::vector<record::withstand_section>& earlier,
                               const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/withstand.hpp>
#endif
