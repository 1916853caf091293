// SPDX-License-Identifier: MIT
#include "analysis/reference_comparison.hpp"

#include <algorithm>
#include <cmath>

#include <rewound/base/error.hpp>
#include <rewound/checks/reference_level.hpp>
#include <rewound/record/fields.hpp>
#include "analysis/meter_gain.hpp"

namespace rewound::job {

namespace {

/// The ratio of each speed's current to the next slower one's, beside the expectation's: what all speeds share drops
/// out.
///
/// @param places  of each listed speed's currents among the blocks compared; absent where they were not
std::vector<verdict::rules::step_ratio> step_ratios(const std::vector<std::string>& speeds,
                                                    const std::vector<std::optional<std::size_t>>& places,
                                                    const checks::reference_level_input& input,
                                                    const checks::reference_level_result& compared,
                                                    verdict::expectation kind) {
  std::vector<verdict::rules::step_ratio> out;
  for (std::size_t speed = 0; speed + 1 < speeds.size(); ++speed) {
    if (!places[speed] || !places[speed + 1]) continue;
    const std::size_t a = *places[speed];
    const std::size_t b = *places[speed + 1];
    const auto& c = compared.level_covariance;
    const auto i = static_cast<Eigen::Index>(a);
    const auto j = static_cast<Eigen::Index>(b);
    const double ratio = std::exp(compared.log_level[a].value - compared.log_level[b].value);
    const double u = std::sqrt(std::max(0.0, c(i, i) + c(j, j) - 2.0 * c(i, j)));
    verdict::rules::step_ratio step{speeds[speed], speeds[speed + 1], {100.0 * (ratio - 1.0), 100.0 * ratio * u}, {}};
    if (kind == verdict::expectation::reference) {
      const auto& between = input.population.between;
      const auto p = input.blocks[a].place;
      const auto q = input.blocks[b].place;
      step.healthy_spread_percent =
          100.0 * std::sqrt(std::max(0.0, between(p, p) + between(q, q) - 2.0 * between(p, q)));
    }
    out.push_back(std::move(step));
  }
  return out;
}

}  // namespace

std::shared_ptr<const reference> without_this_visit(const std::optional<reference>& good,
                                                    const record::visit_record& now) {
  if (!good) return nullptr;
  const auto this_visit = [&](const auto& each) { return each.id == now.machine.id && each.day == now.visit.day; };
  if (good->machines.size() <= 1 || std::none_of(good->machines.begin(), good->machines.end(), this_visit))
    return {std::shared_ptr<const reference>(), &*good};
  auto out = std::make_shared<reference>(*good);
  std::erase_if(out->machines, this_visit);
  return out;
}

std::optional<pooled_reference> usable_reference(const record::visit_record& now, const reference* good,
                                                 const verdict::policy& policy) {
  using base::error;
  using base::error_code;
  if (good == nullptr) return std::nullopt;
  if (now.machine.model != good->model)
    throw error(error_code::records_do_not_match, {"", 0, "machine.model"},
                now.machine.model ? "\"" + *now.machine.model + "\"" : "no model",
                "the reference's model, \"" + good->model + "\"");
  if (now.machine.rated_voltage_V != good->rated_voltage_V ||
      now.machine.rated_frequency_Hz != good->rated_frequency_Hz)
    throw error(error_code::records_do_not_match, {"", 0, "machine.rated_voltage_V"},
                record::shown_number(now.machine.rated_voltage_V) + " V " +
                    record::shown_number(now.machine.rated_frequency_Hz) + " Hz",
                "the reference's " + record::shown_number(good->rated_voltage_V) + " V " +
                    record::shown_number(good->rated_frequency_Hz) + " Hz");
  if (now.visit.shaft != good->shaft) return std::nullopt;
  const auto knows = [&](const std::string& speed) {
    return std::any_of(good->machines.begin(), good->machines.end(), [&](const auto& machine) {
      return std::any_of(machine.blocks.begin(), machine.blocks.end(),
                         [&](const auto& block) { return block.speed == speed; });
    });
  };
  if (std::none_of(now.machine.speeds.begin(), now.machine.speeds.end(), knows))
    throw error(error_code::records_do_not_match, {"", 0, "machine.speeds"},
                "speeds that the reference does not know, \"" + now.machine.speeds.front() + "\" first",
                "the names that speeds have in the reference");
  return pool_reference(*good, between_machines(policy));
}

std::optional<units::current> mean_current(const pooled_reference& in, const std::string& speed) {
  const auto place = in.place_of(speed, fit::channel::current);
  if (!place) return std::nullopt;
  return units::amperes(std::exp(in.population.mean[static_cast<Eigen::Index>(3 * *place)]));
}

double remaining_current_gain(const visit_facts& now, const reference& good) {
  return level_gain(meters_of(now.instruments), good.machines, fit::channel::current);
}

std::optional<level_comparison> compare_with_reference(const visit_facts& now, const reference& good,
                                                       const pooled_reference& model, const run_up_analysis& run_ups,
                                                       const channel_analysis& channels, verdict::expectation kind) {
  checks::reference_level_input input{{}, model.population};
  const auto meters = meters_of(now.instruments);
  const auto& speeds = now.in.machine.speeds;
  std::vector<std::optional<std::size_t>> places(speeds.size());
  for (std::size_t i = 0; i < model.blocks.size(); ++i) {
    const auto& [speed, what] = model.blocks[i];
    const auto read = channels.place_of(speed, what);
    if (!read) continue;
    const auto listed = std::find(speeds.begin(), speeds.end(), speed);
    if (what == fit::channel::current && listed != speeds.end() && run_ups.curve_of(speed) != nullptr)
      places[static_cast<std::size_t>(listed - speeds.begin())] = input.blocks.size();
    const auto& block = channels.blocks[*read];
    input.blocks.push_back({block.information, model.shapes[i], block.tested, static_cast<Eigen::Index>(3 * i),
                            level_gain(meters, good.machines, what), static_cast<int>(what)});
  }
  if (input.blocks.empty()) return std::nullopt;
  const auto compared = checks::reference_level(input);
  level_comparison out{kind, std::vector<std::optional<speed_level>>(speeds.size()), {}, compared.p_value};
  for (std::size_t row = 0; row < speeds.size(); ++row) {
    if (!places[row]) continue;
    const auto i = *places[row];
    const double ratio = std::exp(compared.log_level[i].value);
    out.speeds[row] = speed_level{
        {100.0 * (ratio - 1.0), 100.0 * ratio * compared.log_level[i].standard_uncertainty},
        mean_current(model, speeds[row]),
        100.0 * compared.log_level_spread[i],
        {100.0 * compared.log_level_own[i], 100.0 * input.blocks[i].gain_uncertainty,
         100.0 * std::sqrt(model.population.mean_covariance(input.blocks[i].place, input.blocks[i].place))}};
  }
  out.steps = step_ratios(speeds, places, input, compared, kind);
  if (kind == verdict::expectation::reference) out.good_machines = model.population.units;
  return out;
}

}  // namespace rewound::job
