// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_01.hpp>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/design_population.hpp>
#include <rewound/checks/detail/fault_signatures.hpp>
#include <rewound/checks/detail/impl/fault_signatures.hpp>
#include <rewound/fit/dense.hpp>
#include <rewound/machine/named_parameter.hpp>

namespace rewound::checks {

namespace detail {

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

/// Where a milder size of the same fault settles, a larger one settles near. Not so where that one slips much: there a
/// machine may have a second, slower stable speed, and runs at the faster.
inline void move_near(std::vector<std::vector<machine::settled_point>>& near,
                      const std::vector<std::vector<machine::settled_point>>& milder) {
  for (std::size_t speed = 0; speed < near.size(); ++speed)
    for (std::size_t i = 0; i < near[speed].size(); ++i) {
      constexpr double much = 0.35;
      const double slip = milder[speed][i].slip;
      if (slip > 0.0 && slip < much) near[speed][i] = milder[speed][i];
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
  auto near = healthy.settled;
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

}  // namespace detail

REWOUND_INLINE double lowest_to_solve(const std::vector<curve_probe>& probes) {
  double lowest = 0.0;
  for (const auto& probe : probes)
    for (const double z : probe.log_x) lowest = std::min(lowest, z);
  for (const double step : {detail::grid[2], detail::grid[3]})
    if (lowest >= step) return step;
  return detail::grid.back();
}

REWOUND_INLINE solved_population solve_population(const design_population_input& in) {
  base::expect(in.kind.speeds > 0 && in.members > 0, "members", static_cast<double>(in.members), "at least one");
  solved_population out;
  out.speeds = in.kind.speeds;
  out.faults = in.faults;
  out.spreads = in.spreads;
  for (std::size_t i = 0; i < in.faults.size(); ++i)
    for (const double severity : detail::severities_solved(in.faults[i])) out.fault_states.push_back({i, severity});
  const auto members = static_cast<Eigen::Index>(in.members);
  const auto speeds = static_cast<Eigen::Index>(in.kind.speeds);
  const Eigen::MatrixXd values(members, speeds * detail::channels_of_speed * detail::grid_nodes + resistance_entries);
  const Eigen::MatrixXd runs(members, speeds * detail::grid_nodes);
  out.healthy = values, out.healthy_runs = runs;
  out.spread.assign(in.spreads.size(), values), out.spread_runs.assign(in.spreads.size(), runs);
  out.fault.assign(out.fault_states.size(), values), out.fault_runs.assign(out.fault_states.size(), runs);
  Eigen::Index row = 0;
  for (const auto& design : detail::drawn_members(in)) {
    const auto rated = machine::running_point_when_turning(design, 0, units::volts(design.machine.rated_voltage_V));
    if (rated.state != machine::running_state::runs) continue;
    const double log_scale = std::log(units::in_amperes(rated.line_current));
    const auto healthy = detail::solve_member(design, {}, log_scale, detail::nodes_down_to(in.lowest_log_x));
    detail::add_member(design, healthy, log_scale, in, row++, out);
  }
  detail::keep_rows(out.healthy, row), detail::keep_rows(out.healthy_runs, row);
  for (auto* list : {&out.spread, &out.spread_runs, &out.fault, &out.fault_runs})
    for (auto& each : *list) detail::keep_rows(each, row);
  return out;
}

namespace detail {

/// Two neighbours on the grid and what each counts at a voltage between them; the ends go on straight.
struct grid_place {
  Eigen::Index above;
  double share_below;
};

inline grid_place place_on_grid(double z) {
  std::size_t above = 0;
  while (above + 2 < grid.size() && grid[above + 1] > z) ++above;
  return {static_cast<Eigen::Index>(above), (grid[above] - z) / (grid[above] - grid[above + 1])};
}

/// From grid values of one block to its three coefficients.
inline Eigen::MatrixXd coefficients_from_grid(const std::vector<double>& log_x) {
  Eigen::MatrixXd out(fit::parabola_terms, grid_nodes);
  for (Eigen::Index node = 0; node < grid_nodes; ++node) {
    std::vector<double> values;
    for (const double z : log_x) {
      const auto place = place_on_grid(z);
      values.push_back(node == place.above       ? 1.0 - place.share_below
                       : node == place.above + 1 ? place.share_below
                                                 : 0.0);
    }
    const auto parabola = parabola_through(log_x, values.data());
    for (Eigen::Index k = 0; k < fit::parabola_terms; ++k) out(k, node) = parabola[k];
  }
  return out;
}

/// The columns of one block.
inline void put_columns(Eigen::MatrixXd& into, std::size_t block, const Eigen::MatrixXd& columns) {
  fit::put_part(into, 0, fit::parabola_terms * static_cast<Eigen::Index>(block), columns);
}

inline Eigen::MatrixXd columns_of(const Eigen::MatrixXd& from, std::size_t block) {
  return fit::part(from, 0, fit::parabola_terms * static_cast<Eigen::Index>(block), from.rows(), fit::parabola_terms);
}

struct population_view {
  const population_regression_input& in;
  std::vector<std::pair<std::size_t, fit::channel>> blocks;  ///< probe and channel of each
  std::vector<Eigen::MatrixXd> from_grid;                    ///< of each probe

  explicit population_view(const population_regression_input& given) : in(given) {
    for (std::size_t i = 0; i < in.probes.size(); ++i) {
      from_grid.push_back(coefficients_from_grid(in.probes[i].log_x));
      for (const auto what : in.probes[i].channels) blocks.emplace_back(i, what);
    }
  }

  Eigen::Index size() const { return fit::parabola_terms * static_cast<Eigen::Index>(blocks.size()); }

  /// All blocks' coefficients of some grid values, one row a member.
  Eigen::MatrixXd coefficients(const Eigen::MatrixXd& values) const {
    Eigen::MatrixXd out(values.rows(), size());
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      const auto& [probe, what] = blocks[i];
      const auto at = grid_column(static_cast<Eigen::Index>(in.probes[probe].step), static_cast<Eigen::Index>(what), 0);
      const Eigen::MatrixXd of_block =
          fit::product(fit::part(values, 0, at, values.rows(), grid_nodes), fit::transposed(from_grid[probe]));
      put_columns(out, i, of_block);
    }
    return out;
  }

  /// What a block is told by: of the fastest speed and its own, what is known.
  std::vector<Eigen::Index> features_of(std::size_t block) const {
    std::vector<Eigen::Index> out;
    const auto own = in.probes[blocks[block].first].step;
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      const auto& [probe, what] = blocks[i];
      const auto step = in.probes[probe].step;
      if (!in.known[i] || (step != own && step != 0)) continue;
      const auto at = fit::parabola_terms * static_cast<Eigen::Index>(i);
      if (what != fit::channel::current || step != 0) out.push_back(at);
      out.push_back(at + 1);
      if (what == fit::channel::current) out.push_back(at + 2);
    }
    return out;
  }
};

/// Constant, each coefficient in its spread and, of what is left, its square; what lies outside the members counts
/// little.
inline Eigen::VectorXd features(const Eigen::VectorXd& standard) {
  constexpr double furthest = 2.5;
  const Eigen::Index n = standard.size();
  Eigen::VectorXd out(1 + 2 * n);
  out[0] = 1.0;
  for (Eigen::Index i = 0; i < n; ++i) {
    const double held = furthest * std::tanh(standard[i] / furthest);
    out[1 + i] = held;
    out[1 + n + i] = (held * held - 1.0) / std::numbers::sqrt2;
  }
  return out;
}

/// By what coefficients are measured where they are to be compared: level, slope and curvature of a channel.
inline Eigen::VectorXd own_scales(const std::vector<fit::channel>& channels) {
  Eigen::VectorXd out(fit::parabola_terms * static_cast<Eigen::Index>(channels.size()));
  Eigen::Index at = 0;
  for (const auto what : channels)
    for (const double own : own_spread) out[at++] = own * fit::spread_over_current(what);
  return out;
}

/// Columns whose squares sum, about, to the rows' mean square: the direction in which they stray most, found by a fixed
/// number of powers of the covariance, then what is left by the coefficients that stray most (a Cholesky factor cut
/// off).
inline Eigen::MatrixXd scatter_columns(const Eigen::MatrixXd& residuals, const Eigen::VectorXd& scales) {
  constexpr Eigen::Index most = 7;  // widest directions (project's choice)
  const Eigen::Index n = residuals.cols();
  Eigen::MatrixXd left = fit::transposed_product(residuals, residuals);
  for (Eigen::Index k = 0; k < n; ++k)
    for (Eigen::Index i = 0; i < n; ++i) left(i, k) /= scales[i] * scales[k] * static_cast<double>(residuals.rows());
  const Eigen::Index count = std::min(most, n);
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(n, count);
  const auto take = [&](Eigen::Index column, const Eigen::VectorXd& direction) {
    fit::add_outer(left, -1.0, direction, direction);
    for (Eigen::Index i = 0; i < n; ++i) out(i, column) = scales[i] * direction[i];
  };
  Eigen::VectorXd direction(n);
  for (Eigen::Index i = 0; i < n; ++i) direction[i] = std::sqrt(left(i, i));
  double length = direction.norm();
  if (length <= 0.0) return out;
  for (int i = 0; i < 30; ++i) {
    direction = fit::applied(left, direction / length);
    length = direction.norm();
    if (!(length > 0.0)) return out;
  }
  take(0, direction / std::sqrt(length));
  for (Eigen::Index column = 1; column < count; ++column) {
    Eigen::Index widest = 0;
    for (Eigen::Index i = 1; i < n; ++i)
      if (left(i, i) > left(widest, widest)) widest = i;
    const double square = left(widest, widest);
    if (square <= 0.0) break;
    for (Eigen::Index i = 0; i < n; ++i) direction[i] = left(i, widest) / std::sqrt(square);
    take(column, direction);
  }
  return out;
}

/// The rows of a matrix that count, the others nothing.
inline Eigen::MatrixXd only(Eigen::MatrixXd in, const std::vector<bool>& rows) {
  for (Eigen::Index i = 0; i < in.rows(); ++i)
    if (!rows[static_cast<std::size_t>(i)]) fit::put_row(in, i, Eigen::VectorXd::Zero(in.cols()));
  return in;
}

/// Mean of the members that count.
inline Eigen::VectorXd mean_of(const Eigen::MatrixXd& in, const std::vector<bool>& rows) {
  const auto count = std::count(rows.begin(), rows.end(), true);
  Eigen::VectorXd out = Eigen::VectorXd::Zero(in.cols());
  for (Eigen::Index column = 0; column < in.cols(); ++column)
    for (Eigen::Index row = 0; row < in.rows(); ++row)
      if (rows[static_cast<std::size_t>(row)])
        out[column] += in(row, column) / static_cast<double>(std::max<std::ptrdiff_t>(1, count));
  return out;
}

inline Eigen::VectorXd deviation_of_members(const Eigen::MatrixXd& in, const Eigen::VectorXd& mean,
                                            const std::vector<bool>& rows) {
  Eigen::MatrixXd squares = in;
  for (Eigen::Index column = 0; column < in.cols(); ++column)
    for (Eigen::Index row = 0; row < in.rows(); ++row)
      squares(row, column) = (in(row, column) - mean[column]) * (in(row, column) - mean[column]);
  Eigen::VectorXd out = mean_of(squares, rows);
  for (double& each : out) each = std::sqrt(each);
  return out;
}

/// Normal equations of the members that count, and how much each of them decides of what it is itself told to be.
struct ridge {
  std::vector<bool> rows;
  Eigen::MatrixXd x;
  fit::cholesky_factor normal;
  Eigen::VectorXd leverage;

  ridge(const Eigen::MatrixXd& features_of_all, std::vector<bool> that_count)
      : rows(std::move(that_count)), x(only(features_of_all, rows)) {
    constexpr double held = 3.0;  // members that every slope is held to zero with (project's choice)
    Eigen::MatrixXd whole = fit::transposed_product(x, x);
    for (Eigen::Index i = 1; i < whole.rows(); ++i) whole(i, i) += held;
    normal = fit::cholesky_factor(std::move(whole));
    const Eigen::MatrixXd seen = normal.whitened_columns(fit::transposed(x));
    leverage = Eigen::VectorXd::Zero(x.rows());
    for (Eigen::Index row = 0; row < x.rows(); ++row)
      for (Eigen::Index i = 0; i < seen.rows(); ++i) leverage[row] += seen(i, row) * seen(i, row);
  }
};

/// How far members stray from what they are told to be by the others, as if none had told its own: rows that do not
/// count stray as the others do on the mean. Few of them beside a stall are not to stand for all.
inline Eigen::MatrixXd left_over(const ridge& in, const Eigen::MatrixXd& y, const Eigen::MatrixXd& map) {
  constexpr double most_leverage = 0.9, furthest = 3.0;
  Eigen::MatrixXd out = only(y - fit::product(in.x, map), in.rows);
  const auto count = static_cast<double>(std::count(in.rows.begin(), in.rows.end(), true));
  const double of_all = std::sqrt(static_cast<double>(in.rows.size()) / count);
  for (Eigen::Index i = 0; i < out.cols(); ++i) {
    double squares = 0.0;
    for (Eigen::Index row = 0; row < out.rows(); ++row) {
      out(row, i) /= 1.0 - std::min(most_leverage, in.leverage[row]);
      squares += out(row, i) * out(row, i);
    }
    const double limit = furthest * std::sqrt(squares / count);
    for (Eigen::Index row = 0; row < out.rows(); ++row) out(row, i) = of_all * std::clamp(out(row, i), -limit, limit);
  }
  return out;
}

/// One target of a block: its coefficients, and the members that show them.
struct block_target {
  Eigen::MatrixXd values;
  std::vector<bool> rows;
};

/// So few members that run say nothing of how one does.
inline constexpr std::ptrdiff_t fewest_members = 16;

/// What one block is told by, and how far each target is not.
inline population_regression::block regressed_block(const population_view& view, std::size_t which,
                                                    const Eigen::MatrixXd& healthy,
                                                    const std::vector<block_target>& targets,
                                                    std::vector<Eigen::MatrixXd>& residuals) {
  population_regression::block out;
  const auto& all = targets.front().rows;
  const Eigen::VectorXd mean = mean_of(healthy, all);
  const Eigen::VectorXd spread = deviation_of_members(healthy, mean, all);
  constexpr double constant = 1e-6;
  for (const auto column : view.features_of(which))
    if (spread[column] > constant) out.from.push_back(column);
  const auto told_by = static_cast<Eigen::Index>(out.from.size());
  out.mean.resize(told_by), out.scale.resize(told_by);
  for (Eigen::Index i = 0; i < told_by; ++i) {
    const auto column = out.from[static_cast<std::size_t>(i)];
    out.mean[i] = mean[column], out.scale[i] = spread[column];
  }
  Eigen::MatrixXd x(healthy.rows(), 1 + 2 * told_by);
  for (Eigen::Index member = 0; member < healthy.rows(); ++member) {
    Eigen::VectorXd standard(told_by);
    for (Eigen::Index i = 0; i < told_by; ++i)
      standard[i] = (healthy(member, out.from[static_cast<std::size_t>(i)]) - out.mean[i]) / out.scale[i];
    fit::put_row(x, member, features(standard));
  }
  out.map = Eigen::MatrixXd::Zero(x.cols(), fit::parabola_terms * static_cast<Eigen::Index>(targets.size()));
  std::vector<ridge> solved;  // most targets have the same members
  for (std::size_t t = 0; t < targets.size(); ++t) {
    if (std::count(targets[t].rows.begin(), targets[t].rows.end(), true) < fewest_members) continue;
    auto found =
        std::find_if(solved.begin(), solved.end(), [&](const auto& each) { return each.rows == targets[t].rows; });
    if (found == solved.end()) found = solved.insert(solved.end(), ridge(x, targets[t].rows));
    const Eigen::MatrixXd map = found->normal.solve_columns(fit::transposed_product(found->x, targets[t].values));
    put_columns(out.map, t, map);
    put_columns(residuals[t], which, left_over(*found, targets[t].values, map));
  }
  return out;
}

/// A probe's readings alone, as a view of it.
inline bool runs_at(const curve_probe& probe, const Eigen::MatrixXd& running, Eigen::Index member) {
  for (const double z : probe.log_x) {
    const auto place = place_on_grid(z);
    const auto at = static_cast<Eigen::Index>(probe.step) * grid_nodes + place.above;
    if (running(member, at) < 0.5) return false;
    if (place.share_below > 1e-9 && running(member, at + 1) < 0.5) return false;
  }
  return true;
}

/// One row a member, one flag a probe.
inline std::vector<std::vector<bool>> running_at(const std::vector<curve_probe>& probes,
                                                 const Eigen::MatrixXd& running) {
  std::vector<std::vector<bool>> out;
  for (const auto& probe : probes) {
    out.emplace_back();
    for (Eigen::Index i = 0; i < running.rows(); ++i) out.back().push_back(runs_at(probe, running, i));
  }
  return out;
}

}  // namespace detail

REWOUND_INLINE population_regression regress_population(const population_regression_input& in) {
  const detail::population_view view(in);
  const auto& all = in.population;
  population_regression out;
  out.coefficients = view.size();
  out.spreads = all.spreads, out.faults = all.faults, out.fault_states = all.fault_states;
  const Eigen::MatrixXd healthy = view.coefficients(all.healthy);
  const auto usable = detail::running_at(in.probes, all.healthy_runs);
  const Eigen::Index n = healthy.rows();
  out.members = static_cast<std::size_t>(n);
  for (const auto& probe : usable)
    if (std::count(probe.begin(), probe.end(), true) < detail::fewest_members) return out;
  // Targets: what is healthy itself, then spreads, then faults.
  std::vector<Eigen::MatrixXd> targets{healthy};
  std::vector<std::vector<std::vector<bool>>> runs{usable};
  const auto add = [&](const Eigen::MatrixXd& values, const Eigen::MatrixXd& running) {
    targets.push_back(view.coefficients(values));
    runs.push_back(detail::running_at(in.probes, running));
    const std::vector<bool> every(static_cast<std::size_t>(values.rows()), true);
    out.ohms.push_back(detail::mean_of(
        fit::part(values, 0, values.cols() - resistance_entries, values.rows(), resistance_entries), every));
    for (std::size_t probe = 0; probe < usable.size(); ++probe)
      for (std::size_t i = 0; i < out.members; ++i) runs.back()[probe][i] = runs.back()[probe][i] && usable[probe][i];
    return std::all_of(runs.back().begin(), runs.back().end(), [](const auto& each) {
      return std::count(each.begin(), each.end(), true) >= detail::fewest_members;
    });
  };
  for (std::size_t i = 0; i < all.spread.size(); ++i) add(all.spread[i], all.spread_runs[i]);
  for (std::size_t i = 0; i < all.fault.size(); ++i) out.possible.push_back(add(all.fault[i], all.fault_runs[i]));
  std::vector<Eigen::MatrixXd> residuals(targets.size(), Eigen::MatrixXd::Zero(n, out.coefficients));
  for (std::size_t b = 0; b < view.blocks.size(); ++b) {
    const auto probe = view.blocks[b].first;
    std::vector<detail::block_target> asked;
    for (std::size_t t = 0; t < targets.size(); ++t)
      asked.push_back({detail::columns_of(targets[t], b), runs[t][probe]});
    out.blocks.push_back(detail::regressed_block(view, b, healthy, asked, residuals));
    out.channels.push_back(view.blocks[b].second);
    if (in.known[b]) detail::put_columns(residuals[0], b, Eigen::MatrixXd::Zero(n, fit::parabola_terms));
  }
  out.unknown = fit::transposed_product(residuals[0], residuals[0]);
  for (double& each : out.unknown.reshaped()) each /= static_cast<double>(n);
  const Eigen::VectorXd scales = detail::own_scales(out.channels);
  for (std::size_t i = 0; i < all.fault.size(); ++i)
    out.scatter.push_back(detail::scatter_columns(residuals[1 + all.spread.size() + i], scales));
  for (std::size_t i = 0; i < out.members; ++i)
    if (std::all_of(usable.begin(), usable.end(), [&](const auto& probe) { return probe[i]; }))
      out.values.push_back(fit::row_of(healthy, static_cast<Eigen::Index>(i)));
  return out;
}

namespace detail {

/// Everything asked of one model: each target's coefficients, then ohms.
inline std::vector<Eigen::VectorXd> predicted_targets(const population_regression& in,
                                                      const known_coefficients_of_model& model, double& misfit) {
  std::vector<Eigen::VectorXd> out(in.ohms.size(), Eigen::VectorXd(in.coefficients + resistance_entries));
  double square = 0.0, count = 0.0;
  for (std::size_t b = 0; b < in.blocks.size(); ++b) {
    const auto& block = in.blocks[b];
    Eigen::VectorXd standard(block.mean.size());
    for (Eigen::Index i = 0; i < standard.size(); ++i) {
      const auto at = block.from[static_cast<std::size_t>(i)];
      const double u = model.uncertainty[at] / block.scale[i];
      standard[i] = (model.values[at] - block.mean[i]) / block.scale[i] / (1.0 + u * u);
      square += standard[i] * standard[i], count += 1.0;
    }
    const Eigen::VectorXd told = fit::applied_transposed(block.map, features(standard));
    for (std::size_t t = 0; t < out.size(); ++t)
      for (Eigen::Index k = 0; k < fit::parabola_terms; ++k)
        out[t][fit::parabola_terms * static_cast<Eigen::Index>(b) + k] =
            told[fit::parabola_terms * static_cast<Eigen::Index>(t + 1) + k];
  }
  for (std::size_t t = 0; t < out.size(); ++t)
    for (Eigen::Index k = 0; k < resistance_entries; ++k) out[t][in.coefficients + k] = in.ohms[t][k];
  misfit = std::max(1.0, count > 0.0 ? square / count : 1.0);
  return out;
}

/// What a machine of another build may do beside what the model says of a fault, in proportion to how far the fault
/// moves a speed's level: levels, slopes and curvatures of each channel (common practice, no source).
inline Eigen::MatrixXd model_scatter(const population_regression& in, const Eigen::VectorXd& mean) {
  constexpr std::array shares{0.1, 0.25, 0.3};
  constexpr auto columns = channels_of_speed * fit::parabola_terms;
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(mean.size(), columns);
  for (std::size_t b = 0; b < in.channels.size(); ++b) {
    const auto at = fit::parabola_terms * static_cast<Eigen::Index>(b);
    const auto first = fit::parabola_terms * static_cast<Eigen::Index>(in.channels[b]);
    for (Eigen::Index k = 0; k < fit::parabola_terms; ++k)
      out(at + k, first + k) = shares[static_cast<std::size_t>(k)] * (k == 0 ? mean[at] : std::abs(mean[at]));
  }
  return out;
}

/// States of one fault that can be, by severity.
struct solved_fault {
  std::vector<double> severities;
  std::vector<Eigen::VectorXd> means;
  std::vector<const Eigen::MatrixXd*> scatter;

  std::size_t nearest(double severity) const {
    std::size_t out = 0;
    const auto away = [&](std::size_t i) { return std::abs(std::log(std::abs(severity / severities[i]))); };
    for (std::size_t i = 1; i < severities.size(); ++i)
      if (away(i) < away(out)) out = i;
    return out;
  }
};

/// Severities of one fault between those solved, its logarithm alike, each for the stretch about it and with how far
/// machines stray.
inline void add_fault(const population_regression& in, const std::vector<Eigen::VectorXd>& targets, std::size_t first,
                      std::size_t count, std::vector<alternative>& out) {
  solved_fault solved;
  for (std::size_t i = first; i < first + count; ++i) {
    if (!in.possible[i]) continue;
    solved.severities.push_back(in.fault_states[i].severity);
    solved.means.push_back(targets[in.spreads.size() + i]);
    solved.scatter.push_back(&in.scatter[i]);
  }
  if (solved.means.empty()) return;
  const std::size_t weighed = solved.means.size() > 1 ? weighed_severities : 1;
  const double whole = solved.severities.back() / solved.severities.front();
  for (std::size_t i = 0; i < weighed; ++i) {
    const auto at = [&](double place) {
      const double severity =
          solved.severities.front() * (weighed > 1 ? std::pow(whole, place / (weighed_severities - 1)) : 1.0);
      return std::pair(severity, signature_at(solved.severities, solved.means, severity));
    };
    const auto place = static_cast<double>(i);
    const auto [severity, mean] = at(place);
    const auto which = solved.nearest(severity);
    const auto& strays = *solved.scatter[which];
    const Eigen::MatrixXd model = model_scatter(in, mean);
    Eigen::MatrixXd scatter = Eigen::MatrixXd::Zero(mean.size(), strays.cols() + 1 + model.cols());
    for (Eigen::Index k = 0; k < strays.cols(); ++k)
      for (Eigen::Index row = 0; row < in.coefficients; ++row)
        scatter(row, k) = severity / solved.severities[which] * strays(row, k);
    if (weighed > 1) {
      const Eigen::VectorXd stretch = at(place + 0.5).second - at(place - 0.5).second;
      for (Eigen::Index row = 0; row < mean.size(); ++row) scatter(row, strays.cols()) = stretch[row] / std::sqrt(12.0);
    }
    std::copy_n(model.data(), model.size(), scatter.data() + (strays.cols() + 1) * scatter.rows());
    const auto& fault = in.faults[in.fault_states[first].fault];
    out.push_back({fault.cause, fault.weight / static_cast<double>(weighed), mean, 0, std::move(scatter)});
  }
}

}  // namespace detail

REWOUND_INLINE population_prediction predict_signatures(const population_regression& in,
                                                        const known_coefficients_of_model& model) {
  population_prediction out;
  if (in.blocks.empty()) return out;
  const auto targets = detail::predicted_targets(in, model, out.misfit);
  const Eigen::Index n = in.coefficients + resistance_entries;
  out.signatures.healthy_covariance = Eigen::MatrixXd::Zero(n, n);
  out.between_visits = out.signatures.healthy_covariance;
  for (std::size_t i = 0; i < in.spreads.size(); ++i) {
    const double visits = in.spreads[i].visits;
    fit::add_outer(out.signatures.healthy_covariance, 1.0, targets[i], targets[i]);
    fit::add_outer(out.between_visits, visits * visits, targets[i], targets[i]);
  }
  Eigen::Index at = 0;
  for (const auto what : in.channels)
    for (const double own : detail::own_spread) {
      out.signatures.healthy_covariance(at, at) += std::pow(own * fit::spread_over_current(what), 2);
      ++at;
    }
  for (; at < n; ++at)
    out.signatures.healthy_covariance(at, at) += detail::own_resistance_spread * detail::own_resistance_spread;
  for (std::size_t first = 0; first < in.fault_states.size();) {
    std::size_t count = 1;
    while (first + count < in.fault_states.size() &&
           in.fault_states[first + count].fault == in.fault_states[first].fault)
      ++count;
    detail::add_fault(in, targets, first, count, out.signatures.faulty);
    first += count;
  }
  return out;
}

}  // namespace rewound::checks
