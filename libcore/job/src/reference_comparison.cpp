// SPDX-License-Identifier: MIT
#include "reference_comparison.hpp"

#include <cmath>

#include <rewound/base/error.hpp>
#include <rewound/checks/reference_level.hpp>

namespace rewound::job {

namespace {

const char* meter_of(fit::channel what) {
  switch (what) {
    case fit::channel::current: return "ammeter";
    case fit::channel::power: return "wattmeter";
    case fit::channel::rotation: return "tachometer";
  }
  return "";
}

/// What is left of gain errors between this machine's meter and the mean of the reference: a meter that read a
/// share of the good machines cancels by that share, and the others' errors average.
double remaining_gain(const reference& good, const char* kind, const std::string& name, double gain_uncertainty) {
  std::map<std::string, std::pair<double, double>> others;  // name: weight, gain
  const double each = 1.0 / static_cast<double>(good.machines.size());
  double own_weight = 0.0;
  double square = 0.0;
  for (const auto& machine : good.machines) {
    const auto meter = machine.meters.find(kind);
    if (meter == machine.meters.end()) continue;
    const auto& [meter_name, gain] = meter->second;
    if (!name.empty() && meter_name == name) own_weight += each;
    else if (meter_name.empty()) square += each * each * gain * gain;
    else {
      others[meter_name].first += each;
      others[meter_name].second = gain;
    }
  }
  for (const auto& [unused, entry] : others) square += std::pow(entry.first * entry.second, 2);
  return std::sqrt(square + std::pow((1.0 - own_weight) * gain_uncertainty, 2));
}

double gain_of(const visit_facts& now, const reference& good, fit::channel what) {
  const auto& meters = now.instruments;
  switch (what) {
    case fit::channel::current:
      return remaining_gain(good, meter_of(what), meters.ammeter.name, meters.ammeter.gain_uncertainty());
    case fit::channel::power:
      return remaining_gain(good, meter_of(what), meters.wattmeter.name, meters.wattmeter.gain_uncertainty());
    case fit::channel::rotation:
      return remaining_gain(good, meter_of(what), meters.tachometer.name, meters.tachometer.gain_uncertainty());
  }
  return 0.0;
}

/// A voltmeter's gain moves the level by the exponent times itself; of fans the exponent is about 1.
double voltmeter_gain(const visit_facts& now, const reference& good) {
  return remaining_gain(good, "voltmeter", now.instruments.voltmeter.name,
                        now.instruments.voltmeter.gain_uncertainty());
}

}  // namespace

std::optional<pooled_reference> usable_reference(const record& now, const std::optional<reference>& good,
                                                 const verdict::policy& policy) {
  using base::error;
  using base::error_code;
  if (!good) return std::nullopt;
  if (now.machine.model != good->model)
    throw error(error_code::records_do_not_match, {"", 0, "machine.model"},
                now.machine.model ? "\"" + *now.machine.model + "\"" : "no model",
                "the reference's model, \"" + good->model + "\"");
  if (now.machine.rated_voltage_V != good->rated_voltage_V || now.machine.rated_frequency_Hz != good->rated_frequency_Hz)
    throw error(error_code::records_do_not_match, {"", 0, "machine.rated_voltage_V"},
                "another rated voltage or frequency", "the reference's");
  if (now.visit.shaft != good->shaft) return std::nullopt;
  return pool_reference(*good, policy);
}

std::optional<units::current> mean_current(const pooled_reference& in, const std::string& speed) {
  for (std::size_t i = 0; i < in.blocks.size(); ++i)
    if (in.blocks[i].speed == speed && in.blocks[i].what == fit::channel::current)
      return units::amperes(std::exp(in.population.mean[static_cast<Eigen::Index>(3 * i)]));
  return std::nullopt;
}

double remaining_current_gain(const visit_facts& now, const reference& good) {
  return std::hypot(gain_of(now, good, fit::channel::current), voltmeter_gain(now, good));
}

void compare_with_reference(const visit_facts& now, const reference& good, const pooled_reference& model,
                            const std::vector<checks::summary_input>& channels, verdict::rules::draw_facts& facts) {
  checks::reference_level_input input{{}, model.population};
  std::vector<verdict::draw_row*> rows;
  for (std::size_t i = 0; i < model.blocks.size(); ++i)
    for (const auto& channel : channels) {
      if (channel.speed != model.blocks[i].speed || channel.what != model.blocks[i].what) continue;
      const auto block = checks::summarise(channel);
      const double volts = voltmeter_gain(now, good);
      input.blocks.push_back({block.information, model.shapes[i], block.tested, static_cast<Eigen::Index>(3 * i),
                              std::hypot(gain_of(now, good, channel.what), volts), static_cast<int>(channel.what)});
      verdict::draw_row* row = nullptr;
      for (auto& each : facts.rows)
        if (each.speed == channel.speed && channel.what == fit::channel::current && each.at_rated) row = &each;
      rows.push_back(row);
    }
  if (input.blocks.empty()) return;
  const auto compared = checks::reference_level(input);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (rows[i] == nullptr) continue;
    const double ratio = std::exp(compared.log_level[i].value);
    rows[i]->judged_by = verdict::expectation::reference;
    rows[i]->level_percent = {100.0 * (ratio - 1.0), 100.0 * ratio * compared.log_level[i].standard_uncertainty};
    rows[i]->expected_at_rated = mean_current(model, rows[i]->speed);
    rows[i]->expected_spread_percent = 100.0 * compared.log_level_spread[i];
  }
  facts.joint_p_value = compared.p_value;
  facts.good_machines = model.population.units;
}

}  // namespace rewound::job
