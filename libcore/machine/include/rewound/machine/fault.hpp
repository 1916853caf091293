// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <rewound/base/expect.hpp>
#include <rewound/machine/detail/apply_fault.hpp>
#include <rewound/machine/induction_machine.hpp>
#include <string>
#include <string_view>
#include <utility>

namespace rewound::machine {

/// What may be wrong with a repaired machine, as far as the model can show it.
enum class fault {
  shorted_turns,          ///< severity: share of the main winding's turns closed on themselves
  too_few_turns,          ///< severity: share of every coil's turns missing, the wire the same
  too_many_turns,         ///< severity: share of every coil's turns added, the wire the same
  wire_too_thin,          ///< severity: relative rise of all windings' resistance; 0.26 is one American gauge
  wire_too_thick,         ///< severity s: all windings' resistance divided by 1 + s
  speed_section_shorted,  ///< severity: share of the first slower speed's control that is shorted
  speed_section_open,     ///< no severity: slower speeds have no current
  start_winding_left_in,  ///< no severity: the start winding's switch does not open
  tight_bearing,          ///< severity: added friction over the rated running torque
  rotor_fault,            ///< severity: relative rise of the rotor's resistance
  weak_capacitor,         ///< severity: share of the capacitance lost
  wrong_frequency,        ///< severity: supply's frequency over the rated one, less 1
  speed_leads_exchanged   ///< severity n: speeds n and n + 1, counted from 1 at the fastest
};

inline constexpr std::array all_faults = {
    fault::shorted_turns,        fault::too_few_turns,         fault::too_many_turns,     fault::wire_too_thin,
    fault::wire_too_thick,       fault::speed_section_shorted, fault::speed_section_open, fault::start_winding_left_in,
    fault::tight_bearing,        fault::rotor_fault,           fault::weak_capacitor,     fault::wrong_frequency,
    fault::speed_leads_exchanged};

constexpr std::string_view name(fault which) {
  switch (which) {
    case fault::shorted_turns: return "shorted_turns";
    case fault::too_few_turns: return "too_few_turns";
    case fault::too_many_turns: return "too_many_turns";
    case fault::wire_too_thin: return "wire_too_thin";
    case fault::wire_too_thick: return "wire_too_thick";
    case fault::speed_section_shorted: return "speed_section_shorted";
    case fault::speed_section_open: return "speed_section_open";
    case fault::start_winding_left_in: return "start_winding_left_in";
    case fault::tight_bearing: return "tight_bearing";
    case fault::rotor_fault: return "rotor_fault";
    case fault::weak_capacitor: return "weak_capacitor";
    case fault::wrong_frequency: return "wrong_frequency";
    case fault::speed_leads_exchanged: return "speed_leads_exchanged";
  }
  return "unknown";
}

/// Whether a design can have the fault at all: a switched start winding to leave in, a capacitor to weaken, a slower
/// speed whose control can be shorted or opened, two speeds to exchange.
inline bool can_have(const fan_design& design, fault which) {
  const auto& auxiliary = design.machine.auxiliary;
  switch (which) {
    case fault::shorted_turns: return design.machine.phases == winding_phases::single;
    case fault::speed_section_shorted:
      return design.steps.size() > 1 && detail::has_control(design.steps[0], design.steps[1]);
    case fault::speed_section_open:
    case fault::speed_leads_exchanged: return design.steps.size() > 1;
    case fault::start_winding_left_in: return auxiliary && auxiliary->switched_out;
    case fault::weak_capacitor: return auxiliary && auxiliary->capacitance_F;
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

/// The severities that mean something: from `lowest` to below `below`; for a fault without severity any number.
struct severity_range {
  double lowest;
  double below;
};

inline severity_range severities(const fan_design& design, fault which) {
  constexpr double any = 1e300;
  switch (which) {
    case fault::shorted_turns:
    case fault::too_few_turns:
    case fault::weak_capacitor:
    case fault::speed_section_shorted: return {0.0, 1.0};
    case fault::speed_leads_exchanged: return {1.0, static_cast<double>(design.steps.size())};
    case fault::wrong_frequency: return {-0.9, 10.0};
    case fault::speed_section_open:
    case fault::start_winding_left_in: return {-any, any};
    case fault::too_many_turns:
    case fault::wire_too_thin:
    case fault::wire_too_thick:
    case fault::tight_bearing:
    case fault::rotor_fault: return {0.0, any};
  }
  return {0.0, 0.0};
}

/// The design with a fault. A severity of 0 changes nothing where there is one, save for exchanged leads.
///
/// Turns: R goes with them, leakage and all that is seen through them (rotor, magnetising) with their square, the knee
/// with them, the core's conductance with the inverse square (circuit theory). A shorted share s of a tapped choke's
/// first section leaves (sqrt(X) - s sqrt(X1))^2 of each speed's reactance (common practice, no source).
///
/// @throws base::error  precondition, when the design cannot have the fault or the severity is outside severities()
inline fan_design apply_fault(const fan_design& design, fault which, double severity) {
  base::expect(can_have(design, which), "fault", std::string(name(which)), "a fault that this design can have");
  const auto range = severities(design, which);
  base::expect(severity >= range.lowest && severity < range.below, "severity", severity, "a severity of this fault");
  fan_design out = design;
  switch (which) {
    case fault::shorted_turns: out.machine.shorted.share = severity; break;
    case fault::too_few_turns: detail::scale_turns(out, 1.0 - severity); break;
    case fault::too_many_turns: detail::scale_turns(out, 1.0 + severity); break;
    case fault::wire_too_thin: detail::scale_resistance(out, 1.0 + severity); break;
    case fault::wire_too_thick: detail::scale_resistance(out, 1.0 / (1.0 + severity)); break;
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
