// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <string_view>

#include <rewound/machine/design_parameters.hpp>
#include <rewound/machine/detail/apply_fault.hpp>
#include <rewound/machine/fault.hpp>

namespace rewound::machine {

/// A design with one of its parameters moved, as reference/machines/healthy_spread.table and population_spread.table
/// name it: a name of design_parameter, "turns" of every coil, "warmth" of all windings, or "control" of every slower
/// speed.
///
/// @param change  of the parameter's logarithm; of warmth, of the ohms'; of turns, of their share
inline fan_design moved_by_name(fan_design design, std::string_view parameter, double change) {
  if (parameter == "turns")
    return apply_fault(design, change < 0.0 ? fault::too_few_turns : fault::too_many_turns, std::abs(change));
  if (parameter == "warmth") {
    detail::scale_resistance(design, std::exp(change));
    return design;
  }
  if (parameter == "control") {
    for (std::size_t i = 1; i < design.steps.size(); ++i) move_step(design.steps[i], change);
    return design;
  }
  for (std::size_t i = 0; i < design_parameter_count; ++i)
    if (design_parameter_names[i] == parameter) move_parameter(design, static_cast<design_parameter>(i), change);
  return design;
}

}  // namespace rewound::machine
