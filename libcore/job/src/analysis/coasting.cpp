// SPDX-License-Identifier: MIT
#include "analysis/coasting.hpp"

#include <algorithm>
#include <numbers>

#include <rewound/units/rotation.hpp>

namespace rewound::job {

checks::coast_down_input coasting_of(const visit_facts& visit, double compare_at_rpm, const verdict::policy& policy) {
  const auto& section = *visit.in.coast_down;
  checks::coast_down_input out{{},
                               units::rpm(visit.instruments.tachometer.digit_uncertainty().value()),
                               units::seconds(policy.practice.coast_down_time_s.value / std::numbers::sqrt3),
                               units::rpm(compare_at_rpm)};
  for (std::size_t i = 0; i < section.time_s.size(); ++i)
    out.readings.push_back({units::seconds(section.time_s[i]), units::rpm(section.speed_rpm[i])});
  return out;
}

double fastest_rpm(const record::coast_down_section& section) {
  return *std::max_element(section.speed_rpm.begin(), section.speed_rpm.end());
}

std::optional<reference_coasting> kept_coasting(const record::visit_record& in, const verdict::policy& policy) {
  if (!in.coast_down || !(fastest_rpm(*in.coast_down) > 0.0)) return std::nullopt;
  const double fastest = fastest_rpm(*in.coast_down);
  const auto fitted = checks::coast_down(coasting_of({in, instruments_of(in)}, fastest, policy));
  if (fitted.status != checks::coast_down_status::fitted || !fitted.covariance.allFinite()) return std::nullopt;
  return reference_coasting{fastest,
                            {{fitted.terms.constant, fitted.terms.linear, fitted.terms.quadratic}, fitted.covariance}};
}

}  // namespace rewound::job
