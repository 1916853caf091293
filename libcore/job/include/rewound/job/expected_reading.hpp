// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/job/judge.hpp>
#include <rewound/units/quantity.hpp>
#include <rewound/verdict/draw_row.hpp>

namespace rewound::job {

/// What one reading of a speed's current should come to at a voltage, with a band for one more good machine.
struct expected_reading {
  verdict::expectation by = verdict::expectation::none;
  units::current value;
  units::current low;  ///< 95 % band: spread between machines or visits, the mean's own uncertainty, the meters
  units::current high;
  units::current far_high;  ///< above it lies next to no good machine: policy's bench_band_percent, two-sided
};

/// The expectation that judge() holds a speed's curve against, at one voltage: of the reference of good machines, or
/// else of the earlier visit. Absent without either, or where they do not speak of the speed or of this shaft
/// condition; the marked current says nothing of other voltages.
///
/// @throws base::error (records_do_not_match) as judge() does; (precondition) for a voltage not above 0
std::optional<expected_reading> expect_reading(const record::visit_record& now, const sources& compare_with,
                                               const verdict::policy& policy, const std::string& speed,
                                               units::voltage voltage);

/// The same at several voltages, for which the good machines are pooled once; empty where it is absent.
std::vector<expected_reading> expect_readings(const record::visit_record& now, const sources& compare_with,
                                              const verdict::policy& policy, const std::string& speed,
                                              const std::vector<units::voltage>& voltages);

}  // namespace rewound::job
