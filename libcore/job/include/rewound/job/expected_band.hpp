// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include <rewound/job/reference.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::job {

/// What one more good machine of a model draws, and a band for it.
struct current_band {
  units::current value;
  units::current low;
  units::current high;
};

/// A reading to be made: relative standard uncertainties, gain errors included unless they cancel.
struct reading_meters {
  double ammeter = 0.0;
  double voltmeter = 0.0;
};

/// Half-width of a band for one more machine, in the standard deviations that are believed.
///
/// The spread between machines is known from the policy's belief, which is worth some machines, and from the machines
/// beyond the first: the deviation is Student's t at as many degrees of freedom. As in a judgement machines spread
/// wider than believed with the policy's wider_spread_probability, the less so the more of them are known; the band
/// covers `level` of both cases together.
double one_more_machine_factor(double level, std::size_t machines, const verdict::policy& policy);

/// Bands at several voltages, of the spread between machines, the mean's own uncertainty and the reading.
///
/// @throws base::error (not_a_choice) for a speed that the reference does not know; (precondition) for a voltage not
/// above 0 or a level outside (0, 1)
std::vector<current_band> expect_band(const reference& good, const std::string& speed,
                                      const std::vector<units::voltage>& voltages, double level,
                                      const reading_meters& meters, const verdict::policy& policy);

}  // namespace rewound::job
