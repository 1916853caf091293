// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <rewound/units/quantity.hpp>

namespace rewound::checks {

/// One withstand test as it was done.
struct withstand_input {
  units::voltage applied;  ///< rms of an alternating, or the level of a direct voltage
  bool direct = false;
  double direct_factor = 1.0;  ///< direct volts that stand for one alternating volt
  std::optional<units::current> leakage;
};

struct withstand_result {
  units::voltage alternating;                    ///< the alternating voltage that the test stands for
  std::optional<units::current> leakage_per_kV;  ///< of the voltage applied
};

/// A test by direct voltage as the alternating test that it stands for, and its current for each kilovolt applied.
inline withstand_result withstand(const withstand_input& in) {
  withstand_result out{in.direct ? in.applied / in.direct_factor : in.applied, std::nullopt};
  if (in.leakage) out.leakage_per_kV = *in.leakage / (units::in_volts(in.applied) / 1000.0);
  return out;
}

}  // namespace rewound::checks
