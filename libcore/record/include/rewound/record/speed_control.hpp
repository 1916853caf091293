// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::record {

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

enum class running_circuit {
  start_winding_switched,
  permanent_capacitor,
  shaded_pole,
  three_phase,
  commutator,
  unknown
};

}  // namespace rewound::record
