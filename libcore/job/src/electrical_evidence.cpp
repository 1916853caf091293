// SPDX-License-Identifier: MIT
#include "electrical_evidence.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Cholesky>

#include <rewound/checks/fault_signatures.hpp>
#include <rewound/verdict/cause.hpp>

#include "machine_kind_of.hpp"
#include "prepared_designs.hpp"

namespace rewound::job {

namespace {

using fit::channel;

/// What a fault outside the list may do to level, slope and curvature, and its share of faults.
void add_unknown_fault(const std::vector<evidence_block>& blocks, const verdict::policy& policy,
                       checks::fault_model& model) {
  const double level = policy.practice.fault_spread_percent.value / 100.0;
  const double slope = policy.practice.unknown_fault_exponent.value;
  const double curvature = policy.practice.unknown_fault_curvature.value;
  Eigen::VectorXd spread = Eigen::VectorXd::Zero(model.covariance.rows());
  for (std::size_t i = 0; i < blocks.size(); ++i)
    spread.segment<3>(static_cast<Eigen::Index>(3 * i)) << level, slope, curvature;
  model.unknown = spread.array().square().matrix().asDiagonal();
  model.unknown_share = policy.practice.unknown_fault_share.value;
}

Eigen::MatrixXd picked(const Eigen::MatrixXd& whole, const std::vector<Eigen::Index>& at) {
  const auto n = static_cast<Eigen::Index>(at.size());
  Eigen::MatrixXd out(n, n);
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index j = 0; j < n; ++j)
      out(i, j) = whole(at[static_cast<std::size_t>(i)], at[static_cast<std::size_t>(j)]);
  return out;
}

/// The coefficients that the comparison knows: where they stand among the deviations, and in its population.
struct known_coefficients {
  std::vector<Eigen::Index> here, there;
  std::vector<Eigen::Index> places;  ///< of the blocks' first coefficients there

  explicit known_coefficients(const std::vector<evidence_block>& blocks) {
    for (std::size_t i = 0; i < blocks.size(); ++i) {
      if (!blocks[i].known) continue;
      places.push_back(static_cast<Eigen::Index>(3 * *blocks[i].known));
      for (Eigen::Index k = 0; k < 3; ++k) {
        here.push_back(static_cast<Eigen::Index>(3 * i) + k);
        there.push_back(places.back() + k);
      }
    }
  }
};

/// Probability that machines of a model spread wider than is believed; good machines that do not, lower it.
double doubt_of_spread(std::size_t machines, const verdict::policy& policy) {
  const double weight = policy.practice.reference_prior_weight.value;
  return policy.practice.wider_spread_probability.value * weight / (weight + static_cast<double>(machines) - 1.0);
}

/// Between two visits a machine's parameters drift by this share of what machines of one model differ by: bearings,
/// warmth, the air (common practice, no source).
constexpr double share_of_drift = 0.2;

void add_at(Eigen::MatrixXd& whole, const std::vector<Eigen::Index>& at, const Eigen::MatrixXd& part) {
  for (std::size_t i = 0; i < at.size(); ++i)
    for (std::size_t j = 0; j < at.size(); ++j)
      whole(at[i], at[j]) += part(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
}

/// Replaces mean and spread of the known coefficients.
void put_in(fit::population& whole, const known_coefficients& known, const fit::population& part) {
  for (std::size_t i = 0; i < known.there.size(); ++i) {
    const auto row = static_cast<Eigen::Index>(i);
    whole.mean[known.there[i]] = part.mean[row];
    for (std::size_t j = 0; j < known.there.size(); ++j) {
      const auto column = static_cast<Eigen::Index>(j);
      whole.between(known.there[i], known.there[j]) = part.between(row, column);
      whole.mean_covariance(known.there[i], known.there[j]) = part.mean_covariance(row, column);
    }
  }
}

/// Gives some coordinates of a covariance another covariance, and carries the others along: a linear map of the known
/// ones that leaves their correlation with the rest in place.
Eigen::MatrixXd with_known(const Eigen::MatrixXd& whole, const std::vector<Eigen::Index>& at,
                           const Eigen::MatrixXd& known) {
  const Eigen::MatrixXd was = picked(whole, at);
  const Eigen::MatrixXd before = Eigen::LLT<Eigen::MatrixXd>(was).matrixL();
  const Eigen::MatrixXd after = Eigen::LLT<Eigen::MatrixXd>(known).matrixL();
  const auto n = static_cast<Eigen::Index>(at.size());
  const Eigen::MatrixXd inverse = before.triangularView<Eigen::Lower>().solve(Eigen::MatrixXd::Identity(n, n));
  const Eigen::MatrixXd map = after * inverse;
  Eigen::MatrixXd all = Eigen::MatrixXd::Identity(whole.rows(), whole.cols());
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index j = 0; j < n; ++j)
      all(at[static_cast<std::size_t>(i)], at[static_cast<std::size_t>(j)]) = map(i, j);
  return all * whole * all.transpose();
}

/// What is not known of the healthy values themselves: by how much they differ between the designs that agree.
Eigen::MatrixXd between_designs(const std::vector<Eigen::VectorXd>& values, const std::vector<double>& weights,
                                const std::vector<Eigen::Index>& known) {
  double total = 0.0;
  Eigen::VectorXd mean = Eigen::VectorXd::Zero(values.front().size());
  for (std::size_t i = 0; i < values.size(); ++i) mean += weights[i] * values[i], total += weights[i];
  mean /= total;
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(mean.size(), mean.size());
  for (std::size_t i = 0; i < values.size(); ++i) {
    Eigen::VectorXd away = values[i] - mean;
    for (const auto k : known) away[k] = 0.0;
    away.tail(checks::resistance_entries).setZero();
    out += weights[i] / total * away * away.transpose();
  }
  return out;
}

/// Currents of the speeds at the rated voltage, by what they are compared with; 1 where a speed is not known.
std::vector<double> currents_of(const std::vector<evidence_block>& blocks, const pooled_reference& model,
                                std::size_t speeds) {
  std::vector<double> out(speeds, 1.0);
  for (const auto& block : blocks)
    if (block.what == channel::current && block.known)
      out[block.step] = std::exp(model.population.mean[static_cast<Eigen::Index>(3 * *block.known)]);
  return out;
}

/// How machines of a nameplate spread, from how designs do that are all scaled to its current: what a parameter does to
/// the fastest speed's current, the scale takes back from amperes and watts of every speed. How far real machines lie
/// from the marked current is common practice, and so is how far a speed's step may lie from a usual one.
Eigen::MatrixXd about_marked_current(const std::vector<evidence_block>& blocks, const Eigen::MatrixXd& designs,
                                     const verdict::policy& policy) {
  const double marked = policy.practice.nameplate_spread_percent.value / 100.0;
  const double step = policy.practice.nameplate_step_spread.value;
  Eigen::MatrixXd scaled = Eigen::MatrixXd::Identity(designs.rows(), designs.cols());
  Eigen::MatrixXd levels = Eigen::MatrixXd::Zero(designs.rows(), designs.cols());
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    if (blocks[i].what == channel::rotation) continue;
    const auto row = static_cast<Eigen::Index>(3 * i);
    scaled(row, 0) -= 1.0;
    for (std::size_t j = 0; j < blocks.size(); ++j)
      if (blocks[j].what != channel::rotation)
        levels(row, static_cast<Eigen::Index>(3 * j)) =
            marked * marked + step * step * static_cast<double>(std::min(blocks[i].step, blocks[j].step));
  }
  return scaled * designs * scaled.transpose() + levels;
}

checks::fault_model finished(const std::vector<evidence_block>& blocks, const verdict::policy& policy,
                             checks::fault_model model) {
  add_unknown_fault(blocks, policy, model);
  model.causes = verdict::cause_count;
  return model;
}

}  // namespace

std::optional<electrical_evidence> evidence_beside(const visit_facts& now, const reference& good,
                                                   const pooled_reference& model, compared_with what,
                                                   const std::vector<checks::summary_input>& channels,
                                                   const verdict::policy& policy) {
  electrical_evidence out{evidence_blocks(now.in, model, channels), {}, {}, 1.0};
  // The fastest speed's current sets the scale of the designs.
  if (!has_designs(now.in) || out.blocks.empty() || out.blocks.front().step != 0) return std::nullopt;
  const auto probes = probes_of(out.blocks, true);
  auto [values, uncertainty] = known_values(out.blocks, model, probes);
  const auto prepared = designs_beside(
      {machine_kind_of(now.in), currents_of(out.blocks, model, now.in.machine.speeds.size()), probes,
       probes_of(out.blocks, false), std::move(values), std::move(uncertainty), main_winding_ohm(now.in)});
  out.misfit = prepared->misfit;
  if (prepared->faulty.empty()) return std::nullopt;
  const auto& spread = prepared->healthy_covariance;
  const known_coefficients known(out.blocks);
  pooled_reference about = model;
  // The designs say in which directions good machines differ; the good machines themselves, by how much. Between two
  // visits to one machine it is drift alone.
  if (what == compared_with::good_machines)
    put_in(about.population, known,
           population_with_spread(good, model, known.places, picked(spread, known.here), policy));
  if (what == compared_with::earlier_visit)
    add_at(about.population.between, known.there, share_of_drift * share_of_drift * picked(spread, known.here));
  checks::fault_model faults{with_known(spread, known.here, picked(about.population.between, known.there)),
                             doubt_of_spread(good.machines.size(), policy),
                             prepared->healthy,
                             prepared->faulty,
                             {},
                             0.0,
                             0};
  faults.covariance += between_designs(prepared->healthy_values, prepared->weights, known.here);
  add_at(faults.covariance, known.here, picked(about.population.mean_covariance, known.there));
  out.model = finished(out.blocks, policy, std::move(faults));
  out.observed = observe(now, out.blocks, about, good.machines, checks::resistance_entries);
  return out;
}

std::optional<electrical_evidence> evidence_by_nameplate(const visit_facts& now,
                                                         const std::vector<checks::summary_input>& channels,
                                                         const verdict::policy& policy) {
  const auto& machine = now.in.machine;
  if (!machine.rated_current_A || !has_designs(now.in)) return std::nullopt;
  const auto model = unknown_population(machine);
  electrical_evidence out{evidence_blocks(now.in, model, channels), {}, {}, 1.0};
  if (out.blocks.empty() || out.blocks.front().step != 0) return std::nullopt;
  std::vector<double> currents;
  for (std::size_t i = 0; i < machine.speeds.size(); ++i)
    currents.push_back(*machine.rated_current_A *
                       std::exp(-policy.practice.nameplate_step.value * static_cast<double>(i)));
  const auto prepared =
      designs_by_nameplate({machine_kind_of(now.in), std::move(currents), probes_of(out.blocks, false),
                            *machine.rated_current_A, machine.rated_power_W});
  if (prepared->faulty.empty()) return std::nullopt;
  checks::fault_model faults{about_marked_current(out.blocks, prepared->healthy_covariance, policy),
                             doubt_of_spread(1, policy),
                             prepared->healthy,
                             prepared->faulty,
                             {},
                             0.0,
                             0};
  out.model = finished(out.blocks, policy, std::move(faults));
  out.observed = observe(now, out.blocks, model, {}, checks::resistance_entries);
  return out;
}

}  // namespace rewound::job
