// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/power_factor.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::checks {

REWOUND_INLINE power_factor_result power_factor(const power_factor_input& in) {
  base::expect(in.voltage.value() > 0.0, "voltage", in.voltage.value(), "a voltage above 0");
  base::expect(in.current.value() > 0.0, "current", in.current.value(), "a current above 0");
  base::expect(in.phases == 1 || in.phases == 3, "phases", in.phases, "1 or 3");
  const double lines = in.phases == 3 ? std::numbers::sqrt3 : 1.0;
  const double v = in.voltage.value();
  const double i = in.current.value();
  const double p = in.power.value();
  const double apparent = lines * v * i;
  const double relative_u = std::hypot(in.voltmeter.standard_uncertainty(in.voltage).value() / v,
                                       in.ammeter.standard_uncertainty(in.current).value() / i);
  const double u =
      std::hypot(in.wattmeter.standard_uncertainty(in.power).value() / apparent, p / apparent * relative_u);
  const double most = lines * (v + in.voltmeter.limit(in.voltage).value()) * (i + in.ammeter.limit(in.current).value());
  return {.apparent = units::watts(apparent),
          .factor = {p / apparent, u},
          .reactive = units::watts(std::sqrt(std::max(0.0, apparent * apparent - p * p))),
          .impossible = p - in.wattmeter.limit(in.power).value() > most};
}

}  // namespace rewound::checks
