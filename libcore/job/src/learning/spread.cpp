// SPDX-License-Identifier: MIT
#include <rewound/job/spread.hpp>

#include <algorithm>
#include <cmath>
#include <sstream>
#include <string_view>

#include <Eigen/Core>
#include <Eigen/LU>

#include <rewound/base/error.hpp>
#include <rewound/fit/pooling.hpp>
#include <rewound/record/fields.hpp>

#include "analysis/meter_gain.hpp"

namespace rewound::job {

namespace {

using base::error;
using base::error_code;

constexpr const char* spread_format = "rewound-spread/1";

/// What machines of one model say of one speed's current, and how much the group counts.
struct speed_group {
  std::vector<fit::unit_information> machines;
  double weight;  ///< one over the number of speeds: those of one machine go together
};

/// A machine's parabola with its meters' gains, which differ from machine to machine, as noise of the level:
/// (P^-1 + g^2 e e^T)^-1, without inverting a precision that may be singular.
fit::unit_information with_gain(fit::unit_information in, double gain) {
  const double square = gain * gain;
  const Eigen::VectorXd level = in.precision.col(0);
  const double share = square / (1.0 + square * level[0]);
  in.weighted -= level * (share * in.weighted[0]);
  in.precision -= share * level * level.transpose();
  return in;
}

std::vector<speed_group> groups_of(const std::vector<reference>& references, const verdict::policy& policy) {
  std::vector<speed_group> out;
  for (const auto& each : references) {
    if (each.machines.size() < 2) continue;
    const auto pooled = pool_reference(each, between_machines(policy));
    std::vector<speed_group> own;
    for (std::size_t i = 0; i < pooled.blocks.size(); ++i) {
      if (pooled.blocks[i].what != fit::channel::current) continue;
      speed_group group{{}, 1.0};
      for (const auto& machine : each.machines)
        for (const auto& block : machine.blocks)
          if (block.what == fit::channel::current && block.speed == pooled.blocks[i].speed)
            group.machines.push_back(with_gain(fit::parabola_of(block.information, pooled.shapes[i]),
                                               level_gain(machine.meters, {}, block.what)));
      if (group.machines.size() >= 2) own.push_back(std::move(group));
    }
    for (auto& group : own) {
      group.weight = 1.0 / static_cast<double>(own.size());
      out.push_back(std::move(group));
    }
  }
  return out;
}

/// Squares about the group's own mean, as one step of the expectation-maximisation sees them.
Eigen::Matrix3d squares_of(const speed_group& group, const Eigen::Matrix3d& between) {
  const Eigen::Matrix3d prior = between.inverse();
  Eigen::Matrix3d precision = 1e-6 * Eigen::Matrix3d::Identity();
  Eigen::Vector3d weighted = Eigen::Vector3d::Zero();
  std::vector<Eigen::Matrix3d> posterior;
  for (const auto& machine : group.machines) {
    posterior.push_back((Eigen::Matrix3d(machine.precision) + prior).inverse());
    const Eigen::Matrix3d keep = Eigen::Matrix3d::Identity() - machine.precision * posterior.back();
    precision += keep * machine.precision;
    weighted += keep * machine.weighted;
  }
  const Eigen::Matrix3d mean_covariance = precision.inverse();
  const Eigen::Vector3d mean = mean_covariance * weighted;
  Eigen::Matrix3d out = Eigen::Matrix3d::Zero();
  for (std::size_t i = 0; i < group.machines.size(); ++i) {
    const auto& machine = group.machines[i];
    const Eigen::Vector3d effect = posterior[i] * (machine.weighted - machine.precision * mean);
    const Eigen::Matrix3d follows = posterior[i] * machine.precision;
    out += effect * effect.transpose() + posterior[i] + follows * mean_covariance * follows.transpose();
  }
  return out;
}

/// A fixed number of steps: the result moves smoothly with what is read.
constexpr int spread_steps = 60;

}  // namespace

machine_spread learn_spread(const std::vector<reference>& references, const verdict::policy& policy) {
  if (references.empty()) throw error(error_code::empty_list, {}, "nothing", "at least one reference");
  machine_spread out;
  for (const auto& each : references)
    if (each.machines.size() >= 2) ++out.references, out.machines += each.machines.size();
  const auto groups = groups_of(references, policy);
  if (groups.empty())
    throw error(error_code::empty_list, {}, "references of one machine each",
                "a reference of two machines or more: one machine does not show how good ones differ");
  const auto belief = between_machines(policy);
  constexpr double believed = 4.0;  // machines that our own belief counts as (project's choice)
  const Eigen::Matrix3d prior =
      Eigen::Vector3d(belief.level, belief.exponent, belief.curvature).array().square().matrix().asDiagonal();
  Eigen::Matrix3d between = prior;
  double count = believed;
  for (const auto& group : groups) count += group.weight * static_cast<double>(group.machines.size());
  for (int step = 0; step < spread_steps; ++step) {
    Eigen::Matrix3d sum = believed * prior;
    for (const auto& group : groups) sum += group.weight * squares_of(group, between);
    const Eigen::Matrix3d next = sum / count;
    between = 0.5 * (next + next.transpose());
  }
  out.level_percent = 100.0 * std::sqrt(between(0, 0));
  out.exponent = std::sqrt(between(1, 1));
  out.curvature = std::sqrt(between(2, 2));
  const double freedom = believed + static_cast<double>(out.machines - out.references);
  out.level_uncertainty_percent = out.level_percent / std::sqrt(2.0 * freedom);
  return out;
}

namespace {

const verdict::practice_number& number_named(std::string_view name) {
  return *std::find_if(verdict::practice_list.begin(), verdict::practice_list.end(),
                       [&](const auto& each) { return each.row.name == name; });
}

}  // namespace

bool has_own_spread(const verdict::policy& policy) {
  const auto& ours = number_named("reference_level_percent").row;
  const auto& now = policy.practice.reference_level_percent;
  return now.value != ours.value || now.source != ours.source;
}

verdict::policy with_spread(verdict::policy policy, const machine_spread& spread) {
  const std::string source = "spread learnt from " + std::to_string(spread.machines) + " good machines of " +
                             std::to_string(spread.references) + " references";
  const auto lay = [&](std::string_view name, double value) { policy.lay(number_named(name), value, source); };
  lay("reference_level_percent", spread.level_percent);
  lay("reference_exponent", spread.exponent);
  lay("reference_curvature", spread.curvature);
  // What is known of the spread is no longer doubted as much: its own uncertainty, and that models differ in it.
  const double doubt = policy.practice.wider_spread_probability.value;
  const double relative = spread.level_uncertainty_percent / spread.level_percent;
  constexpr double half = 0.5;
  lay("wider_spread_probability", doubt * std::min(1.0, half + relative));
  return policy;
}

std::string spread_text(const machine_spread& in) {
  std::ostringstream text;
  text.precision(6);
  text
      << "# How good machines of any model differ: standard deviations of ln current's level, exponent and curvature.\n"
      << "format = \"" << spread_format << "\"\n"
      << "references = " << in.references << "\n"
      << "machines = " << in.machines << "\n"
      << "level_percent = " << in.level_percent << "\n"
      << "level_uncertainty_percent = " << in.level_uncertainty_percent << "\n"
      << "exponent = " << in.exponent << "\n"
      << "curvature = " << in.curvature << "\n";
  return text.str();
}

namespace {

constexpr record::range spread_percent{1e-4, 100.0, "a percentage from 0.0001 to 100"};
constexpr record::range spread_of_shape{1e-6, 10.0, "a number from 0.000001 to 10"};

}  // namespace

machine_spread spread_from(const record::node& document) {
  record::fields root(document, "");
  root.expect_format(spread_format);
  machine_spread out;
  out.references = static_cast<std::size_t>(root.whole("references", 1, 1000000));
  out.machines = static_cast<std::size_t>(root.whole("machines", 2, 1000000));
  out.level_percent = root.number("level_percent", spread_percent);
  out.level_uncertainty_percent = root.number("level_uncertainty_percent", spread_percent);
  out.exponent = root.number("exponent", spread_of_shape);
  out.curvature = root.number("curvature", spread_of_shape);
  root.finish();
  return out;
}

machine_spread load_spread(const std::string& path) { return spread_from(record::read_toml_file(path)); }

}  // namespace rewound::job
