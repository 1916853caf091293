// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/withstand.hpp>
#include <rewound/record/insulation_class.hpp>
#include <rewound/record/winding_state.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// What of the machine sets the withstand voltage.
struct withstand_machine {
  double rated_voltage_V = 0.0;
  double rated_frequency_Hz = 0.0;
  std::optional<double> at_most_W;  ///< its output cannot be above this; absent: not known
  std::optional<record::winding_kind> kind;
  bool rewound = false;  ///< at this visit, by the record
};

/// A withstand voltage that a standard asks for, and where it says so.
struct withstand_demand {
  double volts = 0.0;
  std::string source;
};

/// One test as it was done.
struct withstand_facts {
  std::string circuit;
  double voltage_V = 0.0;
  bool direct = false;
  double duration_s = 0.0;
  std::optional<double> leakage_mA;
  std::optional<double> earlier_mA_per_kV;  ///< of the same circuit at the earlier visit, the same kind of voltage
  bool broke_down = false;
  bool component = false;      ///< a thermostat's or another part's circuit, not the winding
  bool names_winding = false;  ///< the circuit does, whatever else is said of it
  record::winding_state state = record::winding_state::as_new;
};

/// IEC 60034-1: new below 1 kW and 100 V has its own row; a rating that is not known is taken as larger.
withstand_demand iec_withstand(const withstand_machine& of, record::winding_state state, const policy& rules);

/// NEMA MG 1 and AR100: up to 1/2 hp (373 W) and 250 V (240 V for a commutator's armature) has its own row.
withstand_demand nema_withstand(const withstand_machine& of, record::winding_state state, const policy& rules);

/// The demand that decides under the policy.
withstand_demand deciding_withstand(const withstand_machine& of, record::winding_state state, const policy& rules);

/// Withstand tests: a breakdown fails whatever the voltage; a test of less voltage or time than asked leaves it open.
/// So does one whose current or voltage no sound winding saw. A circuit that names a winding is judged as one, and a
/// winding that was rewound as new. Without any test of a winding it says which voltage would apply.
std::vector<finding> withstand(const std::vector<withstand_facts>& tests, const withstand_machine& of,
                               const policy& rules);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/withstand.hpp>
#endif
