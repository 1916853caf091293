// SPDX-License-Identifier: MIT
#include "reference_comparison.hpp"

#include <algorithm>
#include <cmath>

#include <rewound/base/error.hpp>
#include <rewound/checks/reference_level.hpp>
#include <rewound/record/fields.hpp>
#include "meter_gain.hpp"

namespace rewound::job {

namespace {

/// The ratio of each speed's current to the next slower one's, beside the expectation's: what all speeds share drops
/// out.
void fill_steps(const std::vector<verdict::draw_row*>& rows, const checks::reference_level_input& input,
                const checks::reference_level_result& compared, verdict::expectation kind,
                verdict::rules::draw_facts& facts) {
  for (std::size_t speed = 0; speed + 1 < facts.rows.size(); ++speed) {
    const auto place_of = [&](const verdict::draw_row& row) {
      return static_cast<std::size_t>(std::find(rows.begin(), rows.end(), &row) - rows.begin());
    };
    const std::size_t a = place_of(facts.rows[speed]);
    const std::size_t b = place_of(facts.rows[speed + 1]);
    if (a == rows.size() || b == rows.size()) continue;
    const auto& c = compared.level_covariance;
    const auto i = static_cast<Eigen::Index>(a);
    const auto j = static_cast<Eigen::Index>(b);
    const double ratio = std::exp(compared.log_level[a].value - compared.log_level[b].value);
    const double u = std::sqrt(std::max(0.0, c(i, i) + c(j, j) - 2.0 * c(i, j)));
    verdict::rules::step_ratio step{
        facts.rows[speed].speed, facts.rows[speed + 1].speed, {100.0 * (ratio - 1.0), 100.0 * ratio * u}, {}};
    if (kind == verdict::expectation::reference) {
      const auto& between = input.population.between;
      const auto p = input.blocks[a].place;
      const auto q = input.blocks[b].place;
      step.healthy_spread_percent =
          100.0 * std::sqrt(std::max(0.0, between(p, p) + between(q, q) - 2.0 * between(p, q)));
    }
    facts.step_ratios.push_back(std::move(step));
  }
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
  for (std::size_t i = 0; i < in.blocks.size(); ++i)
    if (in.blocks[i].speed == speed && in.blocks[i].what == fit::channel::current)
      return units::amperes(std::exp(in.population.mean[static_cast<Eigen::Index>(3 * i)]));
  return std::nullopt;
}

double remaining_current_gain(const visit_facts& now, const reference& good) {
  return level_gain(meters_of(now.instruments), good.machines, fit::channel::current);
}

namespace {

/// The blocks that both sides know, and for each the row of the report that it belongs to.
struct prepared {
  checks::reference_level_input input;
  std::vector<verdict::draw_row*> rows;
};

prepared prepare(const visit_facts& now, const reference& good, const pooled_reference& model,
                 const std::vector<checks::summary_input>& channels, std::vector<verdict::draw_row>& all_rows) {
  prepared out{{{}, model.population}, {}};
  const auto meters = meters_of(now.instruments);
  for (std::size_t i = 0; i < model.blocks.size(); ++i)
    for (const auto& channel : channels) {
      if (channel.speed != model.blocks[i].speed || channel.what != model.blocks[i].what) continue;
      const auto block = checks::summarise(channel);
      out.input.blocks.push_back({block.information, model.shapes[i], block.tested, static_cast<Eigen::Index>(3 * i),
                                  level_gain(meters, good.machines, channel.what), static_cast<int>(channel.what)});
      verdict::draw_row* row = nullptr;
      for (auto& each : all_rows)
        if (each.speed == channel.speed && channel.what == fit::channel::current && each.at_rated) row = &each;
      out.rows.push_back(row);
    }
  return out;
}

}  // namespace

void compare_with_reference(const visit_facts& now, const reference& good, const pooled_reference& model,
                            const std::vector<checks::summary_input>& channels, verdict::expectation kind,
                            verdict::rules::draw_facts& facts) {
  const auto [input, rows] = prepare(now, good, model, channels, facts.rows);
  if (input.blocks.empty()) return;
  const auto compared = checks::reference_level(input);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (rows[i] == nullptr) continue;
    const double ratio = std::exp(compared.log_level[i].value);
    rows[i]->judged_by = kind;
    rows[i]->level_percent = {100.0 * (ratio - 1.0), 100.0 * ratio * compared.log_level[i].standard_uncertainty};
    rows[i]->expected_at_rated = mean_current(model, rows[i]->speed);
    rows[i]->expected_spread_percent = 100.0 * compared.log_level_spread[i];
    rows[i]->uncertainty = {
        100.0 * compared.log_level_own[i], 100.0 * input.blocks[i].gain_uncertainty,
        100.0 * std::sqrt(model.population.mean_covariance(input.blocks[i].place, input.blocks[i].place))};
  }
  fill_steps(rows, input, compared, kind, facts);
  facts.joint_p_value = compared.p_value;
  if (kind == verdict::expectation::reference) facts.good_machines = model.population.units;
}

}  // namespace rewound::job
