// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/detail/misreading.hpp>
#include <rewound/checks/detail/suspect_between.hpp>
#include <rewound/checks/detail/suspect_search.hpp>
#include <rewound/checks/detail/suspect_together.hpp>
#include <rewound/checks/suspect.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/run_up.hpp>

namespace rewound::checks {

namespace detail {

/// Currents first, then what was read beside them.
inline std::vector<channel_readings> channels_of(const suspect_input& in) {
  channel_readings currents{fit::channel::current, own_digits(in.ammeter), {}, in.known_currents};
  for (const auto& run : in.run_ups) {
    currents.values.emplace_back();
    for (const auto& reading : run.readings) currents.values.back().push_back(reading.current.value());
  }
  std::vector<channel_readings> out{std::move(currents)};
  out.insert(out.end(), in.beside.begin(), in.beside.end());
  return out;
}

}  // namespace detail

REWOUND_INLINE suspect_result suspect(const suspect_input& in) {
  constexpr std::size_t enough = 5;  // readings that a curve leaves some of to tell their scatter
  suspect_result out;
  std::vector<std::vector<detail::log_point>> points;
  std::vector<std::optional<detail::scatter_shares>> scatter;
  for (std::size_t run = 0; run < in.run_ups.size(); ++run) {
    points.push_back(
        detail::usable_points(in.run_ups[run], in.rated_voltage, in.voltmeter, in.ammeter, out.readings, run));
    scatter.emplace_back();
    if (in.run_ups.size() > 1 && points.back().size() >= enough)
      scatter.back() = detail::evidence_of_scatter(detail::shape_points_of(points.back()));
  }
  for (std::size_t run = 0; run < in.run_ups.size(); ++run) {
    const detail::bench with{in.ammeter.resolution.value(), in.voltmeter.resolution.value(),
                             detail::shares_beside(scatter, run)};
    auto found = detail::search_one_speed(points[run], with);
    for (auto& reading : found) {
      reading.run = run;
      out.readings.push_back(reading);
    }
  }
  const bool more_than_one_curve = in.run_ups.size() > 1 || !in.beside.empty() || !in.known_currents.empty();
  if (more_than_one_curve) {
    const auto channels = detail::channels_of(in);
    detail::search_whole_test({in.run_ups, in.rated_voltage, in.voltmeter.resolution.value(),
                               in.ammeter.resolution.value(), own_digits(in.voltmeter), channels},
                              out.readings);
  }
  detail::search_between_speeds(in.run_ups, in.expected_at_rated, in.rated_voltage, in.ammeter.resolution.value(),
                                out.readings);
  return out;
}

}  // namespace rewound::checks
