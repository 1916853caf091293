// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <rewound/checks/cord.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// A supply cord and the current it carries.
struct cord_facts {
  checks::cord_result result;
  std::optional<int> conductor_awg;  ///< where its size is stated by gauge
  std::optional<double> length_m;
  std::optional<double> current_A;     ///< the marked one, or else the drawn; absent: neither is known
  double current_uncertainty_A = 0.0;  ///< standard; a marked one has none
  bool three_phase = false;
  std::optional<int> conductors = {};  ///< the earth conductor among them
  bool frame_earthed = false;
};

/// The supply cord: thick enough for what the machine is marked with and draws.
finding cord(const cord_facts& facts, const policy& rules);

/// Conductors that a machine with an earthed frame needs: the lines, the neutral of a single-phase one, and the earth.
std::optional<finding> cord_earth_conductor(const cord_facts& facts);

}  // namespace rewound::verdict::rules

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/rules/cord.hpp>
#endif
