// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include <Eigen/Core>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_01.hpp>

#include <rewound/checks/design_population.hpp>
#include <rewound/checks/detail/fault_signatures.hpp>
#include <rewound/checks/detail/impl/fault_signatures.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/machine/named_parameter.hpp>

// Members of a population of designs: how they are drawn, and what each draws, takes and turns at on a grid of
// voltages, healthy and in every state that is to be weighed.
namespace rewound::checks::detail {

inline constexpr auto grid_nodes = static_cast<Eigen::Index>(grid.size());
inline constexpr Eigen::Index channels_of_speed = 3;

/// Voltages of the grid, from the highest, that stand for a voltage and all above it.
inline std::size_t nodes_down_to(double z) {
  std::size_t out = 2;
  while (out < grid.size() && grid[out - 1] > z) ++out;
  return out;
}

inline Eigen::Index grid_column(Eigen::Index speed, Eigen::Index what, Eigen::Index node) {
  return (speed * channels_of_speed + what) * grid_nodes + node;
}

/// A machine whose slower speeds are set by its control has a rotor that lets it run on them, down to two thirds of the
/// voltage, and with a bearing that is a little tight.
inline bool runs_on_all_speeds(const machine::fan_design& design, bool fan_on) {
  constexpr std::size_t low = 4, lower = 3;
  constexpr double tight = 0.1;
  const std::size_t slowest = design.steps.size() - 1;
  const auto runs = [&](const machine::fan_design& which, std::size_t step, double z) {
    const auto volts = units::volts(which.machine.rated_voltage_V * std::exp(z));
    return machine::running_point_when_turning(which, step, volts).state == machine::running_state::runs;
  };
  if (!runs(design, slowest, grid[low])) return false;
  const auto loaded = with_fan(design, fan_on);
  if (!can_be_weighed(loaded, machine::fault::tight_bearing)) return false;
  auto faulty = machine::apply_fault(loaded, machine::fault::tight_bearing, tight);
  faulty.load.square_Nm_s2 = design.load.square_Nm_s2;
  return runs(faulty, slowest, grid[lower]);
}

/// Members drawn about the table's designs, with steps of any usual size between speeds; the same every time.
inline std::vector<machine::fan_design> drawn_members(const design_population_input& in) {
  boost::random::mt19937 random{20260514};
  boost::random::normal_distribution<double> normal;
  boost::random::uniform_01<double> uniform;
  auto kind = in.kind;
  kind.rated_voltage_V = 230.0;  // what members show is taken relative to it
  kind.poles.reset();
  const auto table = machine::fan_population(kind, std::vector<double>(kind.speeds, 1.0));
  std::vector<machine::fan_design> out;
  const std::size_t most = 12 * in.members;
  for (std::size_t i = 0; i < most && out.size() < in.members; ++i) {
    std::vector<double> currents{1.0};
    const double widest = 0.9 * std::min(1.0, 2.0 / static_cast<double>(kind.speeds));
    for (std::size_t step = 1; step < kind.speeds; ++step)
      currents.push_back(currents.back() * std::exp(-0.05 - widest * uniform(random)));
    auto design = table[i % table.size()];
    machine::guess_steps(design, kind.control, currents);
    for (const auto& each : in.different)
      if (each.parameter != "control")
        design = machine::moved_by_name(design, each.parameter,
                                        each.centre + each.spread * std::clamp(normal(random), -2.0, 2.0));
    if (runs_on_all_speeds(design, in.kind.fan_on)) out.push_back(std::move(design));
  }
  return out;
}

struct solved_member {
  Eigen::VectorXd values, runs;
  std::vector<std::vector<machine::settled_point>> settled;  ///< of each speed, one a voltage
};

/// @param near   where a design much like this one settles; empty where none is known
/// @param nodes  voltages solved, from the highest; nothing is shown and nothing runs at those below
inline solved_member solve_member(const machine::fan_design& design,
                                  const std::vector<std::vector<machine::settled_point>>& near, double log_scale,
                                  std::size_t nodes) {
  const std::size_t speeds = design.steps.size();
  const auto all = static_cast<Eigen::Index>(speeds) * grid_nodes;
  solved_member out{
      Eigen::VectorXd::Zero(channels_of_speed * all + resistance_entries), Eigen::VectorXd::Zero(all), {}};
  const auto& m = design.machine;
  const double synchronous = 120.0 * m.rated_frequency_Hz / m.poles;
  std::vector<units::voltage> supplies;
  for (std::size_t node = 0; node < nodes; ++node)
    supplies.push_back(units::volts(m.rated_voltage_V * std::exp(grid[node])));
  for (std::size_t speed = 0; speed < speeds; ++speed) {
    const auto points = machine::running_points(design, speed, supplies,
                                                near.empty() ? std::vector<machine::settled_point>{} : near[speed]);
    out.settled.emplace_back(nodes);
    const auto row = static_cast<Eigen::Index>(speed);
    for (std::size_t i = 0; i < points.size(); ++i) {
      const auto& at = points[i];
      const auto node = static_cast<Eigen::Index>(i);
      out.settled.back()[i] = machine::settled(at);
      out.runs[row * grid_nodes + node] = at.state == machine::running_state::stalled ? 0.0 : 1.0;
      out.values[grid_column(row, 0, node)] = log_value(at, fit::channel::current, m) - log_scale;
      out.values[grid_column(row, 1, node)] =
          log_value(at, fit::channel::power, m) - log_scale - std::log(m.rated_voltage_V);
      out.values[grid_column(row, 2, node)] = log_value(at, fit::channel::rotation, m) - std::log(synchronous);
    }
  }
  const auto left = [](double resistance, const machine::shorted_turns& shorted) {
    return std::log(resistance * (1.0 - shorted.resistance_lost()));
  };
  out.values[out.values.size() - 2] = left(m.main_resistance_ohm, m.shorted);
  out.values[out.values.size() - 1] = m.auxiliary ? left(m.auxiliary->resistance_ohm, m.auxiliary->shorted) : 0.0;
  return out;
}

inline std::vector<double> severities_solved(const weighed_fault& fault) {
  if (!(fault.most > fault.least)) return {fault.least};
  std::vector<double> out;
  for (std::size_t i = 0; i < solved_severities; ++i)
    out.push_back(between_severities(fault, static_cast<double>(i) / (solved_severities - 1)));
  return out;
}

/// Where a milder size of the same fault settles, a larger one settles near, but where that one slips much.
inline void move_near(std::vector<std::vector<machine::settled_point>>& near,
                      const std::vector<std::vector<machine::settled_point>>& milder) {
  for (std::size_t speed = 0; speed < near.size(); ++speed)
    for (std::size_t i = 0; i < near[speed].size(); ++i) {
      const double slip = milder[speed][i].slip;
      if (slip > 0.0 && slip < machine::followed_up_to_slip) near[speed][i] = milder[speed][i];
    }
}

/// Columns of all states, one row a member: filled as members are solved.
inline void add_member(const machine::fan_design& design, const solved_member& healthy, double log_scale,
                       const design_population_input& in, Eigen::Index row, solved_population& out) {
  const auto nodes = nodes_down_to(in.lowest_log_x);
  fit::put_row(out.healthy, row, healthy.values);
  fit::put_row(out.healthy_runs, row, healthy.runs);
  for (std::size_t i = 0; i < in.spreads.size(); ++i) {
    const auto moved = machine::moved_by_name(design, in.spreads[i].parameter, in.spreads[i].spread);
    const auto solved = solve_member(moved, healthy.settled, log_scale, nodes);
    Eigen::VectorXd change = solved.values - healthy.values;
    if (in.spreads[i].passing)
      for (Eigen::Index k = 1; k <= resistance_entries; ++k) change[change.size() - k] = 0.0;
    fit::put_row(out.spread[i], row, change);
    fit::put_row(out.spread_runs[i], row, solved.runs);
  }
  const auto loaded = with_fan(design, in.kind.fan_on);
  std::vector<std::vector<machine::settled_point>> near;
  for (std::size_t i = 0; i < out.fault_states.size(); ++i) {
    const auto& state = out.fault_states[i];
    if (i == 0 || state.fault != out.fault_states[i - 1].fault) near = healthy.settled;
    const auto what = in.faults[state.fault].what;
    if (!can_be_weighed(loaded, what)) {
      fit::put_row(out.fault[i], row, Eigen::VectorXd::Zero(out.fault[i].cols()));
      fit::put_row(out.fault_runs[i], row, Eigen::VectorXd::Zero(out.fault_runs[i].cols()));
      continue;
    }
    auto faulty = machine::apply_fault(loaded, what, state.severity);
    faulty.load.square_Nm_s2 = design.load.square_Nm_s2;
    const auto solved = solve_member(faulty, near, log_scale, nodes);
    move_near(near, solved.settled);
    fit::put_row(out.fault[i], row, solved.values - healthy.values);
    fit::put_row(out.fault_runs[i], row, solved.runs);
  }
}

inline void keep_rows(Eigen::MatrixXd& matrix, Eigen::Index rows) { matrix.conservativeResize(rows, matrix.cols()); }

}  // namespace rewound::checks::detail
