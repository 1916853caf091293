// SPDX-License-Identifier: MIT
#include "judging/next_steps.hpp"

#include <algorithm>
#include <cmath>

#include <rewound/checks/next_measurement.hpp>

namespace rewound::job {

namespace {

using verdict::measurement_kind;

std::vector<double> probabilities_of(const std::vector<verdict::rules::ranked_cause>& causes) {
  std::vector<double> out(verdict::cause_count);
  for (const auto& each : causes) out[static_cast<std::size_t>(each.cause)] = each.probability;
  return out;
}

verdict::meaning likeliest(const std::vector<double>& joint) {
  double total = 0.0;
  for (const double each : joint) total += each;
  const auto best = std::max_element(joint.begin(), joint.end());
  if (total <= 0.0) return {};
  return {total, static_cast<verdict::cause>(best - joint.begin()), *best / total};
}

double entropy_of(std::vector<double> joint) {
  double total = 0.0;
  for (const double each : joint) total += each;
  if (total <= 0.0) return 0.0;
  for (auto& each : joint) each /= total;
  return total * checks::entropy_bits(joint);
}

/// A test that either shows a fault or does not, with the shares of reference/causes/cause_evidence.table.
verdict::next_step yes_or_no(measurement_kind what, const std::vector<double>& now,
                             double verdict::cause_tables::cause_evidence_row::*share) {
  std::vector<double> shown(now.size());
  std::vector<double> not_shown(now.size());
  for (std::size_t i = 0; i < now.size(); ++i) {
    const double p = verdict::cause_tables::cause_evidence[i].*share;
    shown[i] = now[i] * p;
    not_shown[i] = now[i] * (1.0 - p);
  }
  const double bits = checks::entropy_bits(now) - entropy_of(shown) - entropy_of(not_shown);
  return {what, checks::told_bits(bits), std::nullopt, likeliest(not_shown), likeliest(shown)};
}

/// A channel read beside the current on every speed: its level and how it grows.
std::optional<checks::proposed_measurement> channel_read(const electrical_evidence& evidence, fit::channel what,
                                                         double gain) {
  constexpr double slope_noise = 0.02;  // of a run-up of half a dozen readings (common practice, no source)
  std::vector<Eigen::Index> levels;
  for (std::size_t i = 0; i < evidence.blocks.size(); ++i)
    if (evidence.blocks[i].what == what && evidence.blocks[i].input == nullptr)
      levels.push_back(static_cast<Eigen::Index>(3 * i));
  if (levels.empty()) return std::nullopt;
  const auto rows = static_cast<Eigen::Index>(2 * levels.size());
  checks::proposed_measurement out{
      Eigen::MatrixXd::Zero(rows, evidence.model.covariance.cols()), Eigen::MatrixXd::Zero(rows, rows), {}};
  for (std::size_t i = 0; i < levels.size(); ++i) {
    const auto row = static_cast<Eigen::Index>(2 * i);
    out.observation(row, levels[i]) = out.observation(row + 1, levels[i] + 1) = 1.0;
    out.noise(row, row) = 1e-5;
    out.noise(row + 1, row + 1) = slope_noise * slope_noise;
    for (std::size_t j = 0; j < levels.size(); ++j) out.noise(row, static_cast<Eigen::Index>(2 * j)) += gain * gain;
    out.telling.push_back(row);
  }
  return out;
}

std::optional<checks::proposed_measurement> ohms_read(const electrical_evidence& evidence, bool auxiliary) {
  const auto column = evidence.resistance_entry(auxiliary);
  if (!(evidence.observed.observation.col(column).array() == 0.0).all()) return std::nullopt;
  constexpr double noise = 0.01;  // a degree or two of winding temperature, and the meter (common practice, no source)
  checks::proposed_measurement out{
      Eigen::MatrixXd::Zero(1, evidence.model.covariance.cols()), Eigen::MatrixXd::Constant(1, 1, noise * noise), {0}};
  out.observation(0, column) = 1.0;
  return out;
}

void add_values(const next_step_facts& known, const std::vector<double>& causes, std::vector<verdict::next_step>& out) {
  const auto& evidence = *known.evidence;
  checks::next_measurement_input in{
      evidence.observed, evidence.model, {}, static_cast<std::size_t>(verdict::cause::none), {}, 200};
  for (std::size_t i = 0; i < causes.size(); ++i)
    in.log_prior.push_back(std::log(std::max(causes[i], 1e-12)) - known.facts.log_electrical[i]);
  std::vector<measurement_kind> kinds;
  const auto propose = [&](measurement_kind kind, std::optional<checks::proposed_measurement> what) {
    if (!what) return;
    kinds.push_back(kind);
    in.proposed.push_back(std::move(*what));
  };
  propose(measurement_kind::watts, channel_read(evidence, fit::channel::power, known.watts_uncertainty));
  propose(measurement_kind::rotation, channel_read(evidence, fit::channel::rotation, known.rotation_uncertainty));
  propose(measurement_kind::main_resistance, ohms_read(evidence, false));
  if (known.start_winding_runs) propose(measurement_kind::start_resistance, ohms_read(evidence, true));
  const auto meaning = [](const checks::outcome_meaning& each) {
    return verdict::meaning{each.probability, static_cast<verdict::cause>(each.cause), each.cause_probability};
  };
  const auto worth = checks::next_measurement(in);
  for (std::size_t i = 0; i < kinds.size(); ++i)
    out.push_back(
        {kinds[i], worth[i].bits, meaning(worth[i].high), meaning(worth[i].as_expected), meaning(worth[i].low)});
}

/// However it comes out, the likeliest cause stays the one that it is.
bool changes_nothing(const verdict::next_step& step, verdict::cause first) {
  constexpr double never = 0.005;
  const auto stays = [&](const verdict::meaning& each) { return each.probability < never || each.likeliest == first; };
  return (!step.high || stays(*step.high)) && stays(step.as_expected) && stays(step.low);
}

}  // namespace

next_step_facts next_step_facts_of(const visit_facts& now, std::optional<electrical_evidence> evidence,
                                   verdict::rules::cause_facts facts, std::vector<verdict::rules::ranked_cause> causes,
                                   bool may_energise, const std::vector<std::string>& have) {
  return {std::move(evidence),
          std::move(facts),
          std::move(causes),
          reading_uncertainty(now, fit::channel::power),
          reading_uncertainty(now, fit::channel::rotation),
          now.in.machine.running_circuit == record::running_circuit::permanent_capacitor,
          may_energise,
          have};
}

std::vector<verdict::next_step> next_steps(const next_step_facts& in) {
  using row = verdict::cause_tables::cause_evidence_row;
  const auto& facts = in.facts;
  const auto probabilities = probabilities_of(in.causes);
  std::vector<verdict::next_step> out;
  if (in.evidence) add_values(in, probabilities, out);
  if (facts.start_attempts == 0) out.push_back(yes_or_no(measurement_kind::starts, probabilities, &row::hesitates));
  if (!facts.insulation) out.push_back(yes_or_no(measurement_kind::insulation, probabilities, &row::insulation_low));
  if (!facts.polarization_index)
    out.push_back(yes_or_no(measurement_kind::polarization_index, probabilities, &row::polarization_low));
  if (!facts.coast_down) out.push_back(yes_or_no(measurement_kind::coast_down, probabilities, &row::drags));
  if (!facts.heat_run) out.push_back(yes_or_no(measurement_kind::heat_run, probabilities, &row::hot));
  std::erase_if(out, [&](const verdict::next_step& step) {
    const bool owned = record::has_equipment(in.have, verdict::meter_for(step.measurement));
    return !owned || (!in.may_energise && verdict::under_power(step.measurement)) ||
           changes_nothing(step, in.causes.front().cause);
  });
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.worth() > b.worth(); });
  return out;
}

}  // namespace rewound::job
