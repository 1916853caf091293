// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <string>
#include <string_view>
#include <utility>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/machine/detail/apply_fault.hpp>
#include <rewound/machine/fault.hpp>
#include <rewound/machine/induction_machine.hpp>

namespace rewound::machine {

REWOUND_INLINE bool can_have(const fan_design& design, fault which) {
  const auto& auxiliary = design.machine.auxiliary;
  switch (which) {
    case fault::shorted_turns: return design.machine.phases == winding_phases::single;
    case fault::speed_section_shorted:
      return design.steps.size() > 1 && detail::has_control(design.steps[0], design.steps[1]);
    case fault::speed_section_open:
    case fault::speed_leads_exchanged: return design.steps.size() > 1;
    case fault::start_winding_left_in: return auxiliary && auxiliary->switched_out;
    case fault::weak_capacitor: return auxiliary && auxiliary->capacitance_F;
    case fault::too_few_main_turns:
    case fault::too_many_main_turns:
    case fault::main_wire_too_thin:
    case fault::main_wire_too_thick: return auxiliary.has_value();
    case fault::too_few_turns:
    case fault::too_many_turns:
    case fault::wire_too_thin:
    case fault::wire_too_thick:
    case fault::tight_bearing:
    case fault::rotor_fault:
    case fault::wrong_frequency: return true;
  }
  return false;
}

REWOUND_INLINE severity_range severities(const fan_design& design, fault which) {
  constexpr double any = 1e300;
  switch (which) {
    case fault::shorted_turns:
    case fault::too_few_turns:
    case fault::too_few_main_turns:
    case fault::weak_capacitor:
    case fault::speed_section_shorted: return {0.0, 1.0};
    case fault::speed_leads_exchanged: return {1.0, static_cast<double>(design.steps.size())};
    case fault::wrong_frequency: return {-0.9, 10.0};
    case fault::speed_section_open:
    case fault::start_winding_left_in: return {-any, any};
    case fault::too_many_turns:
    case fault::too_many_main_turns:
    case fault::wire_too_thin:
    case fault::wire_too_thick:
    case fault::main_wire_too_thin:
    case fault::main_wire_too_thick:
    case fault::tight_bearing:
    case fault::rotor_fault: return {0.0, any};
  }
  return {0.0, 0.0};
}

REWOUND_INLINE fan_design apply_fault(const fan_design& design, fault which, double severity) {
  base::expect(can_have(design, which), "fault", std::string(name(which)), "a fault that this design can have");
  const auto range = severities(design, which);
  base::expect(severity >= range.lowest && severity < range.below, "severity", severity, "a severity of this fault");
  fan_design out = design;
  switch (which) {
    case fault::shorted_turns: out.machine.shorted.share = severity; break;
    case fault::too_few_turns: detail::scale_turns(out, 1.0 - severity); break;
    case fault::too_many_turns: detail::scale_turns(out, 1.0 + severity); break;
    case fault::too_few_main_turns: detail::scale_main_turns(out, 1.0 - severity); break;
    case fault::too_many_main_turns: detail::scale_main_turns(out, 1.0 + severity); break;
    case fault::wire_too_thin: detail::scale_resistance(out, 1.0 + severity); break;
    case fault::wire_too_thick: detail::scale_resistance(out, 1.0 / (1.0 + severity)); break;
    case fault::main_wire_too_thin: detail::scale_main_resistance(out, 1.0 + severity); break;
    case fault::main_wire_too_thick: detail::scale_main_resistance(out, 1.0 / (1.0 + severity)); break;
    case fault::speed_section_shorted: detail::short_section(out, severity); break;
    case fault::speed_section_open:
      for (std::size_t k = 1; k < out.steps.size(); ++k) out.steps[k].open = true;
      break;
    case fault::start_winding_left_in: out.machine.auxiliary->switched_out = false; break;
    case fault::tight_bearing: detail::add_friction(out, severity); break;
    case fault::rotor_fault: out.machine.rotor_resistance_ohm *= 1.0 + severity; break;
    case fault::weak_capacitor: *out.machine.auxiliary->capacitance_F *= 1.0 - severity; break;
    case fault::wrong_frequency: out.supply_frequency_ratio *= 1.0 + severity; break;
    case fault::speed_leads_exchanged: {
      base::expect(std::floor(severity) == severity, "severity", severity, "a whole number");
      const auto at = static_cast<std::size_t>(severity);
      std::swap(out.steps[at - 1], out.steps[at]);
      break;
    }
  }
  return out;
}

}  // namespace rewound::machine
