// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <string_view>

#include <rewound/machine/induction_machine.hpp>

namespace rewound::machine {

/// What may be wrong with a repaired machine, as far as the model can show it.
enum class fault {
  shorted_turns,          ///< severity: share of the main winding's turns closed on themselves
  too_few_turns,          ///< severity: share of every coil's turns missing, the wire the same
  too_many_turns,         ///< severity: share of every coil's turns added, the wire the same
  too_few_main_turns,     ///< severity: share of the main winding's turns missing, the start winding as it was
  too_many_main_turns,    ///< severity: share of the main winding's turns added, the start winding as it was
  wire_too_thin,          ///< severity: relative rise of all windings' resistance; 0.26 is one American gauge
  wire_too_thick,         ///< severity s: all windings' resistance divided by 1 + s
  main_wire_too_thin,     ///< severity: relative rise of the main winding's resistance alone
  main_wire_too_thick,    ///< severity s: the main winding's resistance alone divided by 1 + s
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
    fault::shorted_turns,        fault::too_few_turns,         fault::too_many_turns,     fault::too_few_main_turns,
    fault::too_many_main_turns,  fault::wire_too_thin,         fault::wire_too_thick,     fault::main_wire_too_thin,
    fault::main_wire_too_thick,  fault::speed_section_shorted, fault::speed_section_open, fault::start_winding_left_in,
    fault::tight_bearing,        fault::rotor_fault,           fault::weak_capacitor,     fault::wrong_frequency,
    fault::speed_leads_exchanged};

constexpr std::string_view name(fault which) {
  switch (which) {
    case fault::shorted_turns: return "shorted_turns";
    case fault::too_few_turns: return "too_few_turns";
    case fault::too_many_turns: return "too_many_turns";
    case fault::too_few_main_turns: return "too_few_main_turns";
    case fault::too_many_main_turns: return "too_many_main_turns";
    case fault::wire_too_thin: return "wire_too_thin";
    case fault::wire_too_thick: return "wire_too_thick";
    case fault::main_wire_too_thin: return "main_wire_too_thin";
    case fault::main_wire_too_thick: return "main_wire_too_thick";
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

/// Whether a design can have the fault at all: a start winding to be left as it was, or to be left in by its switch, a
/// capacitor to weaken, a slower speed whose control can be shorted or opened, two speeds to exchange.
bool can_have(const fan_design& design, fault which);

/// The severities that mean something: from `lowest` to below `below`; for a fault without severity any number.
struct severity_range {
  double lowest;
  double below;
};

severity_range severities(const fan_design& design, fault which);

/// The design with a fault. A severity of 0 changes nothing where there is one, save for exchanged leads.
///
/// Turns: R goes with them, leakage and all that is seen through them (rotor, magnetising) with their square, the knee
/// with them, the core's conductance with the inverse square (circuit theory). Where the main winding alone has other
/// turns, the start winding has the more of them beside it. A shorted share s of a tapped choke's
/// first section leaves (sqrt(X) - s sqrt(X1))^2 of each speed's reactance (common practice, no source).
///
/// @throws base::error  precondition, when the design cannot have the fault or the severity is outside severities()
fan_design apply_fault(const fan_design& design, fault which, double severity);

}  // namespace rewound::machine

#ifndef REWOUND_COMPILED
#include <rewound/machine/impl/fault.hpp>
#endif
