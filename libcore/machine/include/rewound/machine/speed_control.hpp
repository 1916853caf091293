// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::machine {

enum class speed_control {
  series_reactor,
  tapped_winding,
  series_resistor,
  autotransformer,
  series_capacitor,
  pole_change,
  none,
  unknown
};

enum class running_circuit { start_winding_switched, permanent_capacitor, shaded_pole, three_phase, unknown };

/// Whether the faster speed may be expected to draw more current at one voltage.
///
/// A design tendency, not a law (no standard): with several windings of different pole number there is no rule
/// at all. With a choke, a resistor or a capacitor in the line the first step down can draw more when a low-slip rotor
/// carries its fan; such machines are rare, and rpm or good machines of the model clear them.
enum class order_promise {
  tendency,  ///< faster draws more, save for rare designs
  none       ///< nothing can be said from currents
};

constexpr order_promise promised_order(speed_control control) {
  switch (control) {
    case speed_control::tapped_winding:
    case speed_control::autotransformer:
    case speed_control::series_reactor:
    case speed_control::series_resistor:
    case speed_control::series_capacitor:
    case speed_control::unknown:
    case speed_control::none: return order_promise::tendency;
    case speed_control::pole_change: return order_promise::none;
  }
  return order_promise::none;
}

/// Whether the resistance between common and a speed's lead rises from the fastest to the slowest speed: each slower
/// speed has more of the winding, the choke or the resistor in its path. Through an autotransformer or another winding
/// there is no order, and a series capacitor lets no direct current through (circuit theory).
constexpr bool resistance_rises(speed_control control) {
  return control == speed_control::tapped_winding || control == speed_control::series_reactor ||
         control == speed_control::series_resistor;
}

}  // namespace rewound::machine
