// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/detail/misreading.hpp>
#include <rewound/checks/detail/suspect_between.hpp>
#include <rewound/checks/detail/suspect_search.hpp>
#include <rewound/checks/suspect.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/run_up.hpp>

namespace rewound::checks {

REWOUND_INLINE suspect_result suspect(const suspect_input& in) {
  suspect_result out;
  for (std::size_t run = 0; run < in.run_ups.size(); ++run) {
    const auto points =
        detail::usable_points(in.run_ups[run], in.rated_voltage, in.voltmeter, in.ammeter, out.readings, run);
    auto found = detail::search_one_speed(points, in.ammeter.resolution.value(), in.voltmeter.resolution.value());
    for (auto& reading : found) {
      reading.run = run;
      out.readings.push_back(reading);
    }
  }
  detail::search_between_speeds(in.run_ups, in.expected_at_rated, in.rated_voltage, in.ammeter.resolution.value(),
                                out.readings);
  return out;
}

}  // namespace rewound::checks
