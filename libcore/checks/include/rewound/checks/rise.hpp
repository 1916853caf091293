// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// How a speed's current grows from the rated voltage to a higher one.
struct rise_input {
  measurement::uncertain<double> exponent;  ///< d ln I / d ln V read between the two
  units::voltage rated_voltage;
  units::voltage higher;
  bool bare_shaft = false;
};

struct rise_result {
  measurement::uncertain<double> exponent;
  double probability = 1.0;  ///< that a machine of the kind shows this exponent or a higher one, by these readings
  double usual = 0.0;        ///< exponent of the mean of such machines
  double most = 0.0;         ///< exceeded by one of a hundred of them, exactly read
};

/// The rise beside machines of the population with this shaft condition (reference/machines/curve_shape_kinds.table).
///
/// @throws base::error (precondition) unless the higher voltage is above the rated one
rise_result rise(const rise_input& in);

}  // namespace rewound::checks

#ifndef REWOUND_COMPILED
#include <rewound/checks/impl/rise.hpp>
#endif
