// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <utility>
#include <vector>

#include <Eigen/Cholesky>
#include <Eigen/Core>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_01.hpp>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/design_population.hpp>
#include <rewound/checks/detail/fault_signatures.hpp>
#include <rewound/machine/named_parameter.hpp>

namespace rewound::checks {

namespace detail {

/// Voltages at which members are solved, ln of the share of the rated one: closer where machines are run.
inline constexpr std::array grid{0.12, 0.0, -0.13, -0.28, -0.46, -0.7};
inline constexpr auto grid_nodes = static_cast<Eigen::Index>(grid.size());
inline constexpr Eigen::Index channels_of_speed = 3;

inline Eigen::Index grid_column(Eigen::Index speed, Eigen::Index what, Eigen::Index node) {
  return (speed * channels_of_speed + what) * grid_nodes + node;
}

/// Members drawn about the table's designs, with steps of any usual size between speeds; the same every time.
inline std::vector<machine::fan_design> drawn_members(const design_population_input& in) {
  boost::random::mt19937 random{20260514};
  boost::random::normal_distribution<double> normal;
  boost::random::uniform_01<double> uniform;
  auto kind = in.kind;
  kind.rated_voltage_V = 230.0;  // what members show is taken relative to it
  kind.poles.reset();
  std::vector<machine::fan_design> out;
  for (std::size_t i = 0; i < in.members; ++i) {
    std::vector<double> currents{1.0};
    const double widest = 0.9 * std::min(1.0, 2.0 / static_cast<double>(kind.speeds));
    for (std::size_t step = 1; step < kind.speeds; ++step)
      currents.push_back(currents.back() * std::exp(-0.05 - widest * uniform(random)));
    const auto table = machine::fan_population(kind, currents);
    auto design = table[i % table.size()];
    for (const auto& [parameter, spread] : in.different)
      if (parameter != "control")
        design = machine::moved_by_name(design, parameter, spread * std::clamp(normal(random), -2.0, 2.0));
    out.push_back(std::move(design));
  }
  return out;
}

struct solved_member {
  Eigen::RowVectorXd values, runs;
  std::vector<double> slips;
};

inline solved_member solve_member(const machine::fan_design& design, const std::vector<double>& near,
                                  double log_scale) {
  const auto speeds = static_cast<Eigen::Index>(design.steps.size());
  solved_member out{Eigen::RowVectorXd(speeds * channels_of_speed * grid_nodes + resistance_entries),
                    Eigen::RowVectorXd(speeds * grid_nodes),
                    {}};
  const auto& m = design.machine;
  const double synchronous = 120.0 * m.rated_frequency_Hz / m.poles;
  for (Eigen::Index speed = 0; speed < speeds; ++speed)
    for (Eigen::Index node = 0; node < grid_nodes; ++node) {
      const auto volts = units::volts(m.rated_voltage_V * std::exp(grid[static_cast<std::size_t>(node)]));
      const auto step = static_cast<std::size_t>(speed);
      const auto at = near.empty() ? machine::running_point_when_turning(design, step, volts)
                                   : machine::running_point_near(design, step, volts, near[out.slips.size()]);
      out.slips.push_back(at.slip);
      out.runs[speed * grid_nodes + node] = at.state == machine::running_state::stalled ? 0.0 : 1.0;
      out.values[grid_column(speed, 0, node)] = log_value(at, fit::channel::current, m) - log_scale;
      out.values[grid_column(speed, 1, node)] =
          log_value(at, fit::channel::power, m) - log_scale - std::log(m.rated_voltage_V);
      out.values[grid_column(speed, 2, node)] = log_value(at, fit::channel::rotation, m) - std::log(synchronous);
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

/// Columns of all states, one row a member: filled as members are solved.
inline void add_member(const machine::fan_design& design, const solved_member& healthy, double log_scale,
                       const design_population_input& in, Eigen::Index row, solved_population& out) {
  out.healthy.row(row) = healthy.values;
  out.healthy_runs.row(row) = healthy.runs;
  for (std::size_t i = 0; i < in.spreads.size(); ++i) {
    const auto moved = machine::moved_by_name(design, in.spreads[i].parameter, in.spreads[i].spread);
    const auto solved = solve_member(moved, healthy.slips, log_scale);
    out.spread[i].row(row) = solved.values - healthy.values;
    out.spread_runs[i].row(row) = solved.runs;
  }
  const auto loaded = with_fan(design, in.kind.fan_on);
  for (std::size_t i = 0; i < out.fault_states.size(); ++i) {
    const auto& state = out.fault_states[i];
    const auto what = in.faults[state.fault].what;
    if (!can_be_weighed(loaded, what)) {
      out.fault[i].row(row).setZero();
      out.fault_runs[i].row(row).setZero();
      continue;
    }
    auto faulty = machine::apply_fault(loaded, what, state.severity);
    faulty.load.square_Nm_s2 = design.load.square_Nm_s2;
    const auto solved = solve_member(faulty, healthy.slips, log_scale);
    out.fault[i].row(row) = solved.values - healthy.values;
    out.fault_runs[i].row(row) = solved.runs;
  }
}

inline void keep_rows(Eigen::MatrixXd& matrix, Eigen::Index rows) { matrix.conservativeResize(rows, matrix.cols()); }

}  // namespace detail

REWOUND_INLINE solved_population solve_population(const design_population_input& in) {
  base::expect(in.kind.speeds > 0 && in.members > 0, "members", static_cast<double>(in.members), "at least one");
  solved_population out;
  out.speeds = in.kind.speeds;
  out.faults = in.faults;
  for (const auto& each : in.spreads) out.spreads.push_back(each.spread);
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
    detail::add_member(design, detail::solve_member(design, {}, log_scale), log_scale, in, row++, out);
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
    out.col(node) = parabola_through(log_x, values.data());
  }
  return out;
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
      out.middleCols(fit::parabola_terms * static_cast<Eigen::Index>(i), fit::parabola_terms) =
          values.middleCols(at, grid_nodes) * from_grid[probe].transpose();
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
inline Eigen::RowVectorXd features(const Eigen::VectorXd& standard) {
  constexpr double furthest = 2.5;
  const Eigen::ArrayXd held = furthest * (standard.array() / furthest).tanh();
  Eigen::RowVectorXd out(1 + 2 * standard.size());
  out << 1.0, held.matrix().transpose(), ((held.square() - 1.0) / std::numbers::sqrt2).matrix().transpose();
  return out;
}

/// Values of members that cannot be used become the others' mean.
inline std::size_t fill_in(Eigen::MatrixXd& values, const std::vector<bool>& usable) {
  std::size_t count = 0;
  Eigen::RowVectorXd mean = Eigen::RowVectorXd::Zero(values.cols());
  for (Eigen::Index i = 0; i < values.rows(); ++i)
    if (usable[static_cast<std::size_t>(i)]) mean += values.row(i), ++count;
  if (count == 0) return 0;
  mean /= static_cast<double>(count);
  for (Eigen::Index i = 0; i < values.rows(); ++i)
    if (!usable[static_cast<std::size_t>(i)]) values.row(i) = mean;
  return count;
}

/// The direction in which rows stray most from zero, times how far; by powers of the covariance, a fixed number of
/// them.
inline Eigen::VectorXd main_scatter(const Eigen::MatrixXd& residuals) {
  const Eigen::MatrixXd covariance = residuals.transpose() * residuals / static_cast<double>(residuals.rows());
  Eigen::VectorXd direction = covariance.diagonal().cwiseSqrt();
  if (direction.norm() <= 0.0) return Eigen::VectorXd::Zero(residuals.cols());
  for (int i = 0; i < 30; ++i) direction = (covariance * direction.normalized()).eval();
  return direction.normalized() * std::sqrt(direction.norm());
}

/// The rows of a matrix that count, the others nothing.
inline Eigen::MatrixXd only(Eigen::MatrixXd in, const std::vector<bool>& rows) {
  for (Eigen::Index i = 0; i < in.rows(); ++i)
    if (!rows[static_cast<std::size_t>(i)]) in.row(i).setZero();
  return in;
}

/// Mean of the members that count.
inline Eigen::VectorXd mean_of(const Eigen::MatrixXd& in, const std::vector<bool>& rows) {
  const auto count = std::count(rows.begin(), rows.end(), true);
  return only(in, rows).colwise().sum().transpose() / static_cast<double>(std::max<std::ptrdiff_t>(1, count));
}

inline Eigen::VectorXd deviation_of_members(const Eigen::MatrixXd& in, const Eigen::VectorXd& mean,
                                            const std::vector<bool>& rows) {
  const Eigen::MatrixXd away = in.rowwise() - mean.transpose();
  return mean_of(away.array().square().matrix(), rows).cwiseSqrt();
}

/// What one block is told by, and how far it is not.
inline population_regression::block regressed_block(const population_view& view, std::size_t which,
                                                    const Eigen::MatrixXd& healthy, const std::vector<bool>& rows,
                                                    const Eigen::MatrixXd& targets, Eigen::MatrixXd& residuals) {
  population_regression::block out;
  const Eigen::VectorXd mean = mean_of(healthy, rows);
  const Eigen::VectorXd spread = deviation_of_members(healthy, mean, rows);
  constexpr double constant = 1e-6;
  for (const auto column : view.features_of(which))
    if (spread[column] > constant) out.from.push_back(column);
  const auto count = static_cast<Eigen::Index>(out.from.size());
  out.mean = mean(out.from), out.scale = spread(out.from);
  Eigen::MatrixXd x(healthy.rows(), 1 + 2 * count);
  for (Eigen::Index member = 0; member < healthy.rows(); ++member)
    x.row(member) =
        features(((healthy.row(member)(out.from).transpose() - out.mean).array() / out.scale.array()).matrix());
  x = only(std::move(x), rows);
  constexpr double ridge = 3.0;  // members that every slope is held to zero with (project's choice)
  Eigen::MatrixXd normal = x.transpose() * x;
  normal.diagonal().tail(2 * count).array() += ridge;
  const Eigen::MatrixXd y = only(targets, rows);
  out.map = normal.llt().solve(x.transpose() * y);
  residuals = y - x * out.map;
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
  constexpr std::ptrdiff_t fewest = 12;
  for (const auto& probe : usable)
    if (std::count(probe.begin(), probe.end(), true) < fewest) return out;
  std::vector<bool> all_usable(out.members, true);
  for (const auto& probe : usable)
    for (std::size_t i = 0; i < out.members; ++i) all_usable[i] = all_usable[i] && probe[i];
  // Targets: what is healthy itself, then spreads, then faults.
  std::vector<Eigen::MatrixXd> targets{healthy};
  const auto add = [&](const Eigen::MatrixXd& values, const Eigen::MatrixXd& running) {
    const auto runs = detail::running_at(in.probes, running);
    targets.push_back(view.coefficients(values));
    bool possible = true;
    for (std::size_t b = 0; b < view.blocks.size(); ++b) {
      const auto probe = view.blocks[b].first;
      std::vector<bool> both;
      for (std::size_t i = 0; i < out.members; ++i) both.push_back(usable[probe][i] && runs[probe][i]);
      Eigen::MatrixXd part =
          targets.back().middleCols(fit::parabola_terms * static_cast<Eigen::Index>(b), fit::parabola_terms);
      const auto count = static_cast<std::ptrdiff_t>(detail::fill_in(part, both));
      possible = possible && 4 * count >= std::count(usable[probe].begin(), usable[probe].end(), true);
      targets.back().middleCols(fit::parabola_terms * static_cast<Eigen::Index>(b), fit::parabola_terms) = part;
    }
    out.ohms.emplace_back(values.rightCols(resistance_entries).colwise().mean().transpose());
    return possible;
  };
  for (std::size_t i = 0; i < all.spread.size(); ++i) add(all.spread[i], all.spread_runs[i]);
  for (std::size_t i = 0; i < all.fault.size(); ++i) out.possible.push_back(add(all.fault[i], all.fault_runs[i]));
  std::vector<Eigen::MatrixXd> residuals(targets.size(), Eigen::MatrixXd(n, out.coefficients));
  for (std::size_t b = 0; b < view.blocks.size(); ++b) {
    const auto at = fit::parabola_terms * static_cast<Eigen::Index>(b);
    const auto column = [](std::size_t target) { return fit::parabola_terms * static_cast<Eigen::Index>(target); };
    Eigen::MatrixXd y(n, column(targets.size())), left;
    for (std::size_t t = 0; t < targets.size(); ++t)
      y.middleCols(column(t), fit::parabola_terms) = targets[t].middleCols(at, fit::parabola_terms);
    out.blocks.push_back(detail::regressed_block(view, b, healthy, usable[view.blocks[b].first], y, left));
    out.channels.push_back(view.blocks[b].second);
    // Members that do not run there stray as the others do on the mean.
    const auto& rows = usable[view.blocks[b].first];
    const double more =
        std::sqrt(static_cast<double>(n) / static_cast<double>(std::count(rows.begin(), rows.end(), true)));
    for (std::size_t t = 0; t < targets.size(); ++t)
      residuals[t].middleCols(at, fit::parabola_terms) = more * left.middleCols(column(t), fit::parabola_terms);
    if (in.known[b]) residuals[0].middleCols(at, fit::parabola_terms).setZero();
  }
  out.unknown = residuals[0].transpose() * residuals[0] / static_cast<double>(n);
  for (std::size_t i = 0; i < all.fault.size(); ++i)
    out.scatter.push_back(detail::main_scatter(residuals[1 + all.spread.size() + i]));
  for (Eigen::Index i = 0; i < n; ++i)
    if (all_usable[static_cast<std::size_t>(i)]) out.values.emplace_back(healthy.row(i).transpose());
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
    const Eigen::RowVectorXd told = features(standard) * block.map;
    for (std::size_t t = 0; t < out.size(); ++t)
      out[t].segment<fit::parabola_terms>(fit::parabola_terms * static_cast<Eigen::Index>(b)) =
          told.segment<fit::parabola_terms>(fit::parabola_terms * static_cast<Eigen::Index>(t + 1)).transpose();
  }
  for (std::size_t t = 0; t < out.size(); ++t) out[t].tail(resistance_entries) = in.ohms[t];
  misfit = std::max(1.0, count > 0.0 ? square / count : 1.0);
  return out;
}

/// Six severities of one fault between those solved, each with members' scatter to either side: three points that have
/// the normal distribution's first moments.
inline void add_fault(const population_regression& in, const std::vector<Eigen::VectorXd>& targets, std::size_t first,
                      std::size_t count, std::vector<alternative>& out) {
  const std::size_t which = in.fault_states[first].fault;
  const auto& fault = in.faults[which];
  const std::size_t weighed = count > 1 ? weighed_severities : 1;
  std::vector<double> severities;
  for (std::size_t i = 0; i < count; ++i) severities.push_back(in.fault_states[first + i].severity);
  for (std::size_t i = 0; i < weighed; ++i) {
    const double severity =
        count > 1 ? between_severities(fault, static_cast<double>(i) / (weighed_severities - 1)) : fault.least;
    const std::size_t nearest = count > 1 ? std::min(count - 1, (i * count) / weighed) : 0;
    if (!in.possible[first + nearest]) continue;
    std::vector<Eigen::VectorXd> solved(
        targets.begin() + static_cast<std::ptrdiff_t>(in.spreads.size() + first),
        targets.begin() + static_cast<std::ptrdiff_t>(in.spreads.size() + first + count));
    const Eigen::VectorXd mean = signature_at(severities, solved, severity);
    Eigen::VectorXd away = Eigen::VectorXd::Zero(mean.size());
    away.head(in.coefficients) = std::sqrt(3.0) * in.scatter[first + nearest];
    const double share = 1.0 / static_cast<double>(weighed);
    out.push_back({fault.cause, share * 2.0 / 3.0, mean, 0});
    out.push_back({fault.cause, share / 6.0, mean + away, 0});
    out.push_back({fault.cause, share / 6.0, mean - away, 0});
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
  for (std::size_t i = 0; i < in.spreads.size(); ++i)
    out.signatures.healthy_covariance += targets[i] * targets[i].transpose();
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
