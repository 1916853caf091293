// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string_view>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/detail/curve_probe.hpp>
#include <rewound/checks/detail/fault_model.hpp>
#include <rewound/checks/detail/fault_signatures.hpp>
#include <rewound/machine/fan_population.hpp>
#include <rewound/machine/fault.hpp>
#include <rewound/machine/named_parameter.hpp>
#include <rewound/machine/tables.hpp>

namespace rewound::checks {

namespace detail {

template <class Table>
std::vector<parameter_spread> spreads_of(const Table& table) {
  std::vector<parameter_spread> out;
  for (const auto& row : table) out.push_back({row.parameter, row.spread});
  return out;
}

}  // namespace detail

REWOUND_INLINE std::vector<parameter_spread> healthy_spreads() {
  auto out = detail::spreads_of(machine::tables::healthy_spread);
  for (std::size_t i = 0; i < out.size(); ++i) out[i].visits = machine::tables::healthy_spread[i].visits;
  for (const auto& row : machine::tables::reading_spread)
    out.push_back({.parameter = row.parameter, .spread = row.spread, .visits = row.visits, .passing = true});
  return out;
}

REWOUND_INLINE std::vector<parameter_spread> population_spreads() {
  auto out = detail::spreads_of(machine::tables::population_spread);
  for (std::size_t i = 0; i < out.size(); ++i) out[i].centre = machine::tables::population_spread[i].centre;
  return out;
}

namespace detail {

/// Severities at which a fault is solved, and how finely it is weighed between them.
inline constexpr std::size_t solved_severities = 3;
inline constexpr std::size_t weighed_severities = 6;

inline double between_severities(const weighed_fault& fault, double share) {
  return fault.least * std::pow(fault.most / fault.least, share);
}

/// Signature at a severity, by straight lines between those that were solved and the healthy design.
inline Eigen::VectorXd signature_at(const std::vector<double>& severities, const std::vector<Eigen::VectorXd>& solved,
                                    double severity) {
  if (severities.size() == 1 || severity <= severities.front()) return severity / severities.front() * solved.front();
  std::size_t above = 1;
  while (above + 1 < severities.size() && severities[above] < severity) ++above;
  const double share = (severity - severities[above - 1]) / (severities[above] - severities[above - 1]);
  Eigen::VectorXd out = solved[above];
  for (Eigen::Index i = 0; i < out.size(); ++i) out[i] = (1.0 - share) * solved[above - 1][i] + share * out[i];
  return out;
}

/// A bearing's severity is a share of the torque with the fan on, also where the shaft is bare now.
inline machine::fan_design with_fan(const machine::fan_design& design, bool fan_on) {
  machine::fan_design out = design;
  if (!fan_on) out.load.square_Nm_s2 /= machine::bare_shaft_share;
  return out;
}

inline bool can_be_weighed(const machine::fan_design& loaded, machine::fault what) {
  if (!machine::can_have(loaded, what)) return false;
  if (what != machine::fault::tight_bearing) return true;
  const auto rated = units::volts(loaded.machine.rated_voltage_V);
  return machine::running_point_when_turning(loaded, 0, rated).state == machine::running_state::runs;
}

/// Beyond what its parameters explain, machines of one model differ by this much in level, slope and curvature of their
/// current (other channels by fit::spread_over_current), and in ohms (common practice, no source).
inline constexpr std::array<double, 3> own_spread{0.003, 0.01, 0.02};
inline constexpr double own_resistance_spread = 0.005;

}  // namespace detail

}  // namespace rewound::checks
