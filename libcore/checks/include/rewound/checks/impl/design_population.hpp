// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/design_population.hpp>
#include <rewound/checks/detail/fault_signatures.hpp>
#include <rewound/checks/detail/impl/fault_signatures.hpp>
#include <rewound/checks/impl/design_population/member_regression.hpp>
#include <rewound/checks/impl/design_population/solved_members.hpp>
#include <rewound/fit/dense.hpp>

namespace rewound::checks {

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
