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
  return out;
}

REWOUND_INLINE std::vector<parameter_spread> population_spreads() {
  auto out = detail::spreads_of(machine::tables::population_spread);
  for (std::size_t i = 0; i < out.size(); ++i) out[i].centre = machine::tables::population_spread[i].centre;
  return out;
}

namespace detail {

/// What a design shows, probe values, then ln ohms, and where it settles.
struct shown_design {
  Eigen::VectorXd shown;
  std::vector<machine::settled_point> settled;
};

/// @param near  where a design much like this one settles; empty where none is known
inline shown_design shown_by(const machine::fan_design& design, const std::vector<curve_probe>& probes,
                             const std::vector<machine::settled_point>& near = {}) {
  auto solved = solve_probes(design, probes, near);
  Eigen::VectorXd out(solved.values.size() + resistance_entries);
  const auto left = [](double resistance, const machine::shorted_turns& shorted) {
    return std::log(resistance * (1.0 - shorted.resistance_lost()));
  };
  const auto& m = design.machine;
  out << solved.values, left(m.main_resistance_ohm, m.shorted),
      m.auxiliary ? left(m.auxiliary->resistance_ohm, m.auxiliary->shorted) : 0.0;
  return {std::move(out), std::move(solved.settled)};
}

inline Eigen::VectorXd deviation_of(const Eigen::VectorXd& shown, const Eigen::VectorXd& healthy,
                                    const std::vector<curve_probe>& probes) {
  const Eigen::VectorXd difference = shown - healthy;
  Eigen::VectorXd out(coefficient_count(probes) + resistance_entries);
  out << coefficients_of(difference, probes), difference.tail(resistance_entries);
  return out;
}

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
  return (1.0 - share) * solved[above - 1] + share * solved[above];
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

inline void add_signatures(const fault_signatures_input& in, std::size_t which, const shown_design& healthy,
                           std::vector<alternative>& out) {
  const auto& design = in.designs[which];
  const auto loaded = with_fan(design, in.fan_on);
  for (const auto& fault : in.faults) {
    if (!can_be_weighed(loaded, fault.what)) continue;
    const bool graded = fault.most > fault.least;
    std::vector<double> severities;
    std::vector<Eigen::VectorXd> solved;
    for (std::size_t i = 0; i < (graded ? solved_severities : 1); ++i) {
      severities.push_back(between_severities(fault, static_cast<double>(i) / (solved_severities - 1)));
      auto faulty = machine::apply_fault(loaded, fault.what, severities.back());
      faulty.load.square_Nm_s2 = design.load.square_Nm_s2;
      solved.push_back(deviation_of(shown_by(faulty, in.probes, healthy.settled).shown, healthy.shown, in.probes));
    }
    const std::size_t count = graded ? weighed_severities : 1;
    for (std::size_t i = 0; i < count; ++i) {
      const double severity =
          graded ? between_severities(fault, static_cast<double>(i) / (weighed_severities - 1)) : fault.least;
      out.push_back({fault.cause, in.weights[which] / static_cast<double>(count),
                     signature_at(severities, solved, severity), which});
    }
  }
}

/// Beyond what its parameters explain, machines of one model differ by this much in level, slope and curvature of their
/// current (other channels by fit::spread_over_current), and in ohms (common practice, no source).
inline constexpr std::array<double, 3> own_spread{0.006, 0.02, 0.04};
inline constexpr double own_resistance_spread = 0.005;

/// To second order: where a curve bends within the spread, as near a stall, its bend counts as spread too.
inline Eigen::MatrixXd healthy_covariance_of(const machine::fan_design& design, const fault_signatures_input& in,
                                             const shown_design& healthy) {
  const Eigen::Index n = coefficient_count(in.probes) + resistance_entries;
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(n, n);
  for (const auto& [parameter, spread, visits, centre] : in.spreads) {
    const auto moved = [&, name = parameter](double step) {
      return deviation_of(shown_by(machine::moved_by_name(design, name, step), in.probes, healthy.settled).shown,
                          healthy.shown, in.probes);
    };
    const Eigen::VectorXd up = moved(spread);
    const Eigen::VectorXd down = moved(-spread);
    const Eigen::VectorXd slope = 0.5 * (up - down);
    const Eigen::VectorXd bend = 0.5 * (up + down);
    out += slope * slope.transpose() + 2.0 * bend * bend.transpose();
  }
  Eigen::Index at = 0;
  for (const auto& probe : in.probes)
    for (const auto what : probe.channels)
      for (const double own : own_spread) {
        out(at, at) += std::pow(own * fit::spread_over_current(what), 2) * in.misfit;
        ++at;
      }
  for (Eigen::Index i = n - resistance_entries; i < n; ++i) out(i, i) += own_resistance_spread * own_resistance_spread;
  return out;
}

}  // namespace detail

REWOUND_INLINE fault_signatures_result fault_signatures(const fault_signatures_input& in) {
  base::expect(!in.designs.empty() && in.weights.size() == in.designs.size(), "weights",
               static_cast<double>(in.weights.size()), "one a design");
  const Eigen::Index n = coefficient_count(in.probes) + resistance_entries;
  fault_signatures_result out{{}, Eigen::MatrixXd::Zero(n, n), {}};
  // The first few designs tell how good machines differ: they are the likeliest, and more would tell the same.
  constexpr std::size_t enough = 4;
  double total = 0.0;
  for (std::size_t i = 0; i < in.designs.size(); ++i) {
    const auto healthy = detail::shown_by(in.designs[i], in.probes);
    detail::add_signatures(in, i, healthy, out.faulty);
    out.healthy_values.push_back(
        detail::deviation_of(healthy.shown, Eigen::VectorXd::Zero(healthy.shown.size()), in.probes));
    if (i >= enough) continue;
    out.healthy_covariance += in.weights[i] * detail::healthy_covariance_of(in.designs[i], in, healthy);
    total += in.weights[i];
  }
  out.healthy_covariance /= total;
  return out;
}

}  // namespace rewound::checks
