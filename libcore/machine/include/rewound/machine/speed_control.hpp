// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/record/speed_control.hpp>

namespace rewound::machine {

/// Whether the faster speed may be expected to draw more current at one voltage.
///
/// A design tendency, not a law (no standard): with several windings of different pole number there is no rule
/// at all. With a choke, a resistor or a capacitor in the line the first step down can draw more when a low-slip rotor
/// carries its fan; such machines are rare, and rpm or good machines of the model clear them.
enum class order_promise {
  tendency,  ///< faster draws more, save for rare designs
  none       ///< nothing can be said from currents
};

constexpr order_promise promised_order(record::speed_control control) {
  switch (control) {
    case record::speed_control::tapped_winding:
    case record::speed_control::autotransformer:
    case record::speed_control::series_reactor:
    case record::speed_control::series_resistor:
    case record::speed_control::series_capacitor:
    case record::speed_control::unknown:
    case record::speed_control::none: return order_promise::tendency;
    case record::speed_control::pole_change: return order_promise::none;
  }
  return order_promise::none;
}

/// Whether the resistance between common and a speed's lead rises from the fastest to the slowest speed: each slower
/// speed has more of the winding, the choke or the resistor in its path. Through an autotransformer or another winding
/// there is no order, and a series capacitor lets no direct current through (circuit theory).
constexpr bool resistance_rises(record::speed_control control) {
  return control == record::speed_control::tapped_winding || control == record::speed_control::series_reactor ||
         control == record::speed_control::series_resistor;
}

}  // namespace rewound::machine
