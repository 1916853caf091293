// SPDX-License-Identifier: MIT
#include <algorithm>
#include <numbers>

#include <rewound/checks/coast_down.hpp>
#include <rewound/units/rotation.hpp>
#include <rewound/verdict/rules/bench_checks.hpp>
#include <rewound/verdict/rules/coast_down.hpp>

#include "judge_parts.hpp"

namespace rewound::job {

namespace {

/// The tachometer's numbers are in rpm; its gain moves all speeds alike and stays out.
checks::coast_down_input coasting_of(const visit_facts& visit, double compare_at_rpm, const verdict::policy& policy) {
  const auto& section = *visit.in.coast_down;
  checks::coast_down_input out{{},
                               units::rpm(visit.instruments.tachometer.digit_uncertainty().value()),
                               units::seconds(policy.practice("coast_down_time_s").value / std::numbers::sqrt3),
                               units::rpm(compare_at_rpm)};
  for (std::size_t i = 0; i < section.time_s.size(); ++i)
    out.readings.push_back({units::seconds(section.time_s[i]), units::rpm(section.speed_rpm[i])});
  return out;
}

double fastest_rpm(const coast_down_section& section) {
  return *std::max_element(section.speed_rpm.begin(), section.speed_rpm.end());
}

}  // namespace

void judge_coast_down(const visit_facts& now, const std::optional<visit_facts>& before, const verdict::policy& policy,
                      result& out) {
  if (!now.in.coast_down) {
    out.findings.push_back(verdict::rules::not_made(verdict::check::coast_down));
    return;
  }
  // Both visits are told at a speed that both passed through.
  double compare_at = fastest_rpm(*now.in.coast_down);
  const bool both = before && before->in.coast_down;
  if (both) compare_at = std::min(compare_at, fastest_rpm(*before->in.coast_down));
  verdict::rules::coast_down_facts facts{checks::coast_down(coasting_of(now, compare_at, policy)), {}, false,
                                         now.in.coast_down->inertia_kgm2};
  facts.earlier_shaft_differs = both && before->in.visit.shaft != now.in.visit.shaft;
  if (both && !facts.earlier_shaft_differs) facts.earlier = checks::coast_down(coasting_of(*before, compare_at, policy));
  append(out.findings, verdict::rules::coast_down(facts, policy));
}

}  // namespace rewound::job
