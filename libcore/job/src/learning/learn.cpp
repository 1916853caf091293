// SPDX-License-Identifier: MIT
#include <rewound/job/learn.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include <rewound/base/error.hpp>
#include <rewound/checks/reference_level.hpp>
#include <rewound/checks/summary.hpp>
#include <rewound/fit/pooling.hpp>
#include <rewound/record/validate.hpp>

#include "analysis/coasting.hpp"
#include "analysis/instruments.hpp"
#include "evidence/kept_key.hpp"
#include "evidence/kept_values.hpp"
#include "analysis/meter_gain.hpp"
#include "evidence/pooled_references.hpp"
#include "analysis/run_up_analysis.hpp"

namespace rewound::job {

namespace {

using base::error;
using base::error_code;
using fit::channel;

bool same_block(const pooled_reference::block_key& key, const fit::summary_block& block) {
  return key.speed == block.speed && key.what == block.what;
}

std::vector<pooled_reference::block_key> keys_of(const std::vector<reference_machine>& machines) {
  std::vector<pooled_reference::block_key> out;
  for (const auto& machine : machines)
    for (const auto& block : machine.blocks)
      if (std::none_of(out.begin(), out.end(), [&](const auto& key) { return same_block(key, block); }))
        out.push_back({block.speed, block.what});
  return out;
}

fit::unit_information information_of(const reference_machine& machine,
                                     const std::vector<pooled_reference::block_key>& keys,
                                     const std::vector<fit::mean_shape>& shapes) {
  const auto size = static_cast<Eigen::Index>(3 * keys.size());
  fit::unit_information out{Eigen::MatrixXd::Zero(size, size), Eigen::VectorXd::Zero(size)};
  for (std::size_t i = 0; i < keys.size(); ++i)
    for (const auto& block : machine.blocks) {
      if (!same_block(keys[i], block)) continue;
      const auto at = static_cast<Eigen::Index>(3 * i);
      const auto own = fit::parabola_of(block.information, shapes[i]);
      out.precision.block(at, at, 3, 3) = own.precision;
      out.weighted.segment(at, 3) = own.weighted;
    }
  return out;
}

/// The spread of one channel.
std::array<double, 3> spread_of(channel what, const curve_spread& spread) {
  const double factor = fit::spread_over_current(what);
  return {factor * spread.level, factor * spread.exponent, factor * spread.curvature};
}

fit::spread_prior prior_for(const std::vector<pooled_reference::block_key>& keys, const curve_spread& spread) {
  // A machine with few turns draws more on every speed: coefficients go together (common practice, no source).
  constexpr double same_channel = 0.7;
  constexpr double other_channel = 0.3;
  const auto size = static_cast<Eigen::Index>(3 * keys.size());
  fit::spread_prior out{Eigen::MatrixXd::Zero(size, size), spread.weight};
  for (std::size_t a = 0; a < keys.size(); ++a)
    for (std::size_t b = 0; b < keys.size(); ++b) {
      const double together = a == b ? 1.0 : keys[a].what == keys[b].what ? same_channel : other_channel;
      const auto left = spread_of(keys[a].what, spread);
      const auto right = spread_of(keys[b].what, spread);
      for (std::size_t i = 0; i < 3; ++i)
        out.covariance(static_cast<Eigen::Index>(3 * a + i), static_cast<Eigen::Index>(3 * b + i)) =
            together * left[i] * right[i];
    }
  return out;
}

/// What is believed of slopes and curvatures where readings at one voltage leave them open: amperes rise about with the
/// voltage, watts with its square, rpm hardly (common practice, no source; spreads as in tools/population).
fit::mean_prior about_means(const std::vector<pooled_reference::block_key>& keys) {
  constexpr double nothing_known = 1e3;
  const auto size = static_cast<Eigen::Index>(3 * keys.size());
  fit::mean_prior out{Eigen::VectorXd::Zero(size), Eigen::VectorXd::Constant(size, nothing_known)};
  for (std::size_t i = 0; i < keys.size(); ++i) {
    const auto at = static_cast<Eigen::Index>(3 * i);
    const auto what = keys[i].what;
    out.mean[at + 1] = what == channel::current ? 0.9 : what == channel::power ? 1.8 : 0.3;
    out.deviation[at + 1] = 0.6;
    out.mean[at + 2] = what == channel::rotation ? 0.0 : 0.3;
    out.deviation[at + 2] = 0.7;
  }
  return out;
}

/// The curve that one speed's machines have in common.
fit::mean_shape curve_of(const std::vector<reference_machine>& machines, const pooled_reference::block_key& key,
                         const curve_spread& prior) {
  std::vector<fit::unit_information> units;
  for (const auto& machine : machines)
    for (const auto& block : machine.blocks)
      if (same_block(key, block)) units.push_back(block.information);
  // By how much machines of one model differ beyond a parabola (project's simulation: 0.2 % in the middle case).
  constexpr double beyond_parabola = 0.003;
  const Eigen::VectorXd shape_prior = checks::shape_spread();
  // Most of that in the first shape function, as kinds of curve differ.
  Eigen::VectorXd spread(3 + shape_prior.size());
  spread.tail(shape_prior.size()) = beyond_parabola / shape_prior[0] * shape_prior;
  const auto parabola = spread_of(key.what, prior);
  for (Eigen::Index i = 0; i < 3; ++i) spread[i] = parabola[static_cast<std::size_t>(i)];
  return fit::curve_in_common(units, spread.array().square().matrix().asDiagonal(), shape_prior);
}

pooled_reference pooled(const std::vector<reference_machine>& machines, const curve_spread& prior) {
  pooled_reference out;
  out.blocks = keys_of(machines);
  for (const auto& key : out.blocks) {
    out.curves.push_back(curve_of(machines, key, prior));
    out.shapes.push_back(fit::shape_of_curve(out.curves.back()));
  }
  std::vector<fit::unit_information> units;
  for (const auto& machine : machines) units.push_back(information_of(machine, out.blocks, out.shapes));
  out.population = fit::pool(units, prior_for(out.blocks, prior), about_means(out.blocks));
  return out;
}

/// Some ten to some hundred kilobytes each: a shop has few references at hand, and leaves a machine of them out when it
/// is the one judged.
constexpr std::size_t most_pooled = 32;

kept_values<pooled_reference>& pooled_before() {
  static kept_values<pooled_reference> kept(most_pooled);
  return kept;
}

kept_values<fit::population>& spread_before() {
  static kept_values<fit::population> kept(most_pooled);
  return kept;
}

void add_to(kept_key& key, const fit::unit_information& unit) {
  key.add(unit.precision);
  key.add(unit.weighted);
}

/// All that pooling looks at: of the machines their blocks, but neither names nor meters.
std::vector<double> pooling_key(const std::vector<reference_machine>& machines, const curve_spread& prior) {
  kept_key key;
  key.add(std::vector<double>{prior.level, prior.exponent, prior.curvature, prior.weight});
  for (const auto& machine : machines) {
    key.add(static_cast<double>(machine.blocks.size()));
    for (const auto& block : machine.blocks) {
      key.add(block.speed);
      key.add(static_cast<double>(block.what));
      add_to(key, block.information);
    }
  }
  return key.numbers();
}

/// Probability of a machine as far off as this one under the others.
double probability_beside(const std::vector<reference_machine>& machines, std::size_t which,
                          const verdict::policy& policy) {
  std::vector<reference_machine> others = machines;
  others.erase(others.begin() + static_cast<std::ptrdiff_t>(which));
  const auto rest = pooled(others, between_machines(policy));
  const auto& own = machines[which];
  checks::reference_level_input input{{}, rest.population};
  for (std::size_t i = 0; i < rest.blocks.size(); ++i)
    for (const auto& block : own.blocks)
      if (same_block(rest.blocks[i], block))
        input.blocks.push_back({block.information, rest.shapes[i], block.tested, static_cast<Eigen::Index>(3 * i),
                                level_gain(own.meters, others, block.what), static_cast<int>(block.what)});
  return checks::reference_level(input).p_value;
}

/// Takes out the most improbable machine while it lies beyond the limit; at least three quarters stay.
void set_odd_ones_aside(reference& out, const verdict::policy& policy) {
  const double limit = policy.practice.reference_odd_machine.value;
  const std::size_t most = out.machines.size() / 4;
  while (out.machines.size() >= 4 && out.set_aside.size() < most) {
    std::size_t worst = 0;
    double least = 1.0;
    for (std::size_t i = 0; i < out.machines.size(); ++i) {
      const double probability = probability_beside(out.machines, i, policy);
      if (probability >= least) continue;
      least = probability;
      worst = i;
    }
    if (least >= limit) return;
    out.set_aside.push_back(out.machines[worst]);
    out.machines.erase(out.machines.begin() + static_cast<std::ptrdiff_t>(worst));
  }
}

reference_machine machine_of(const record::visit_record& in) {
  return {in.machine.id, in.visit.day, meters_of(instruments_of(in)), summary_of(in), std::nullopt};
}

void expect_one_model(const reference& a, const reference& b) {
  const auto refuse = [](const char* field, const std::string& read, const std::string& allowed) {
    throw error(error_code::records_do_not_match, {"", 0, field}, read, allowed);
  };
  if (a.model != b.model) refuse("machine.model", "\"" + b.model + "\"", "one model, here \"" + a.model + "\"");
  if (a.rated_voltage_V != b.rated_voltage_V || a.rated_frequency_Hz != b.rated_frequency_Hz)
    refuse("machine.rated_voltage_V", "another rating", "one rating in all records");
  if (a.shaft != b.shaft) refuse("visit.shaft", "bare and loaded", "one shaft condition in all records");
}

}  // namespace

std::optional<std::size_t> pooled_reference::place_of(const std::string& speed, channel what) const {
  for (std::size_t i = 0; i < blocks.size(); ++i)
    if (blocks[i].speed == speed && blocks[i].what == what) return i;
  return std::nullopt;
}

std::vector<fit::summary_block> summary_of(const record::visit_record& in) {
  record::validate(in);
  const visit_facts visit{in, instruments_of(in)};
  std::vector<fit::summary_block> out;
  for (const auto& input : channels_of(visit, analyse_run_ups(visit, {}))) out.push_back(checks::summarise(input));
  return out;
}

reference reference_of(const record::visit_record& in) {
  return {in.machine.model.value_or(""),
          in.machine.rated_voltage_V,
          in.machine.rated_frequency_Hz,
          in.visit.shaft,
          {machine_of(in)},
          {}};
}

std::vector<std::string> kept_though_unlike(const reference& in, const verdict::policy& policy) {
  std::vector<std::string> out;
  const std::size_t count = in.machines.size();
  if (count < 2 || count > 3) return out;
  for (std::size_t i = 0; i < count; ++i)
    if (probability_beside(in.machines, i, policy) < policy.practice.false_alarm_percent.value / 100.0)
      out.push_back(in.machines[i].visit_name());
  return out;
}

reference merge(const std::vector<reference>& parts, const verdict::policy& policy) {
  if (parts.empty()) throw error(error_code::empty_list, {}, "nothing", "at least one record or reference");
  reference out = parts.front();
  out.machines.clear();
  out.set_aside.clear();
  for (const auto& part : parts) {
    expect_one_model(parts.front(), part);
    auto all = part.machines;
    all.insert(all.end(), part.set_aside.begin(), part.set_aside.end());
    for (const auto& machine : all) {
      for (const auto& known : out.machines)
        if (known.id == machine.id && known.day == machine.day)
          throw error(error_code::repeated, {"", 0, "machine.id"},
                      "\"" + machine.id + "\" of " + machine.day.iso() + " twice", "each visit once");
      out.machines.push_back(machine);
    }
  }
  set_odd_ones_aside(out, policy);
  return out;
}

reference learn(const std::vector<record::visit_record>& records, const verdict::policy& policy) {
  std::vector<reference> parts;
  for (const auto& record : records) {
    if (!record.machine.model)
      throw error(error_code::missing_key, {"", 0, "machine.model"},
                  "nothing in the record of \"" + record.machine.id + "\"",
                  "the model's name, the same in all records");
    parts.push_back(reference_of(record));
    parts.back().machines.front().coast_down = kept_coasting(record, policy);
  }
  return merge(parts, policy);
}

pooled_reference pool_reference(const reference& in, const curve_spread& prior) {
  return *pooled_before().get(pooling_key(in.machines, prior), [&] { return pooled(in.machines, prior); });
}

fit::population population_with_spread(const reference& in, const pooled_reference& shapes,
                                       const std::vector<Eigen::Index>& places, const Eigen::MatrixXd& spread,
                                       const verdict::policy& policy) {
  std::vector<pooled_reference::block_key> keys;
  std::vector<fit::mean_shape> kept;
  for (const auto place : places) {
    keys.push_back(shapes.blocks[static_cast<std::size_t>(place / 3)]);
    kept.push_back(shapes.shapes[static_cast<std::size_t>(place / 3)]);
  }
  std::vector<fit::unit_information> units;
  for (const auto& machine : in.machines) units.push_back(information_of(machine, keys, kept));
  const fit::spread_prior prior{spread, between_machines(policy).weight};
  kept_key key;
  for (const auto& each : keys) key.add(static_cast<double>(each.what));
  for (const auto& unit : units) add_to(key, unit);
  key.add(prior.covariance);
  key.add(prior.weight);
  return *spread_before().get(key.numbers(), [&] { return fit::pool(units, prior, about_means(keys)); });
}

void forget_pooled_references() {
  pooled_before().clear();
  spread_before().clear();
}

pooled_reference unknown_population(const record::machine_section& machine) {
  pooled_reference out;
  for (const auto& speed : machine.speeds)
    for (const auto what : {channel::current, channel::power, channel::rotation}) out.blocks.push_back({speed, what});
  const auto size = static_cast<Eigen::Index>(3 * out.blocks.size());
  const Eigen::VectorXd shape = checks::shape_spread();
  out.shapes.assign(out.blocks.size(),
                    {Eigen::VectorXd::Zero(shape.size()), shape.array().square().matrix().asDiagonal()});
  out.population = {Eigen::VectorXd::Zero(size), Eigen::MatrixXd::Zero(size, size), Eigen::MatrixXd::Zero(size, size),
                    std::numeric_limits<double>::infinity(), 0};
  return out;
}

curve_spread between_machines(const verdict::policy& policy) {
  return {policy.practice.reference_level_percent.value / 100.0, policy.practice.reference_exponent.value,
          policy.practice.reference_curvature.value, policy.practice.reference_prior_weight.value};
}

double doubt_of_spread(std::size_t machines, const verdict::policy& policy) {
  const double weight = policy.practice.reference_prior_weight.value;
  return policy.practice.wider_spread_probability.value * weight / (weight + static_cast<double>(machines) - 1.0);
}

curve_spread between_visits(const verdict::policy& policy) {
  // Drift alike on all speeds and drift of each by itself: together they go with the correlation of prior_for.
  const double common = policy.practice.repeatability_common_percent.value;
  const double single = policy.practice.repeatability_speed_percent.value;
  return {std::hypot(common, single) / 100.0, policy.practice.repeatability_exponent.value,
          policy.practice.repeatability_curvature.value, policy.practice.reference_prior_weight.value};
}

}  // namespace rewound::job
