// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <rewound/checks/design_population.hpp>
#include <rewound/checks/impl/design_population/solved_members.hpp>
#include <rewound/fit/dense.hpp>

// What a state does to a machine, told from what is known of its model: a ridge regression over the members of a
// population, and how far members stray from it.
namespace rewound::checks::detail {

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

}  // namespace rewound::checks::detail
