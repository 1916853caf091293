// SPDX-License-Identifier: MIT
#include <algorithm>
#include <numbers>

#include <rewound/job/simulate.hpp>
#include <rewound/record/fields.hpp>
#include <rewound/record/record.hpp>
#include <rewound/record/words.hpp>
#include "simulated_machine_texts.hpp"

namespace rewound::job {

using base::error;
using base::error_code;

namespace {

constexpr const char* simulated_format = "rewound-simulated/1";
constexpr record::range share_range{0.0, 1.0, "a number from 0 to 1"};

void read_main(record::fields in, machine::induction_machine& out) {
  out.main_resistance_ohm = in.number("resistance_ohm", record::above_zero);
  out.main_leakage_ohm = in.number("leakage_ohm", record::above_zero);
  out.magnetising_ohm = in.number("magnetising_ohm", record::above_zero);
  out.saturation.share = in.number("saturation_share", record::not_negative);
  out.saturation.knee_V = in.number("knee_V", record::above_zero);
  out.saturation.sharpness = in.number("sharpness", record::above_zero);
  out.core_loss_W = in.number("core_loss_W", record::not_negative);
  in.finish();
}

machine::auxiliary_winding read_start_winding(record::fields& in) {
  machine::auxiliary_winding out;
  out.turns_ratio = in.number("turns_ratio", record::above_zero);
  out.resistance_ohm = in.number("resistance_ohm", record::above_zero);
  out.leakage_ohm = in.number("leakage_ohm", record::above_zero);
  if (const auto microfarads = in.optional_number("capacitance_uF", record::above_zero))
    out.capacitance_F = 1e-6 * *microfarads;
  out.switched_out = in.optional_flag("switched_out").value_or(false);
  in.finish();
  return out;
}

machine::speed_step read_step(record::fields& in) {
  machine::speed_step out;
  out.series_reactance_ohm = in.optional_number("series_reactance_ohm", record::not_negative).value_or(0.0);
  out.series_resistance_ohm = in.optional_number("series_resistance_ohm", record::not_negative).value_or(0.0);
  out.speed_turns = in.optional_number("speed_turns", record::not_negative).value_or(0.0);
  out.autotransformer_ratio = in.optional_number("autotransformer_ratio", record::above_zero).value_or(1.0);
  in.finish();
  return out;
}

machine::shaft_load read_load(record::fields in, simulated_machine& out) {
  const double torque = in.number("torque_Nm", record::above_zero);
  const double speed = in.number("at_rpm", record::above_zero) * 2.0 * std::numbers::pi / 60.0;
  const auto load = machine::fan_load(torque, speed, in.number("friction_share", share_range));
  out.inertia_kgm2 = in.number("inertia_kgm2", record::above_zero);
  in.finish();
  return load;
}

void read_rest(record::fields& root, simulated_machine& out) {
  auto insulation = root.table("insulation");
  out.one_minute_Mohm = insulation.number("one_minute_Mohm", record::above_zero);
  out.leakage_share = insulation.number("leakage_share", share_range);
  out.absorption_exponent = insulation.number("absorption_exponent", record::above_zero);
  insulation.finish();
  auto heat = root.table("heat");
  out.final_rise_K = heat.number("final_rise_K", record::above_zero);
  out.time_constant_min = heat.number("time_constant_min", record::above_zero);
  out.winding_share = heat.number("winding_share", share_range);
  out.winding_time_constant_min = heat.number("winding_time_constant_min", record::above_zero);
  heat.finish();
}

void read_design(record::fields& root, simulated_machine& out) {
  auto& m = out.design.machine;
  m.poles = *out.nameplate.poles;
  m.rated_voltage_V = out.nameplate.rated_voltage_V;
  m.rated_frequency_Hz = out.nameplate.rated_frequency_Hz;
  read_main(root.table("main"), m);
  auto rotor = root.table("rotor");
  m.rotor_resistance_ohm = rotor.number("resistance_ohm", record::above_zero);
  m.rotor_leakage_ohm = rotor.number("leakage_ohm", record::above_zero);
  rotor.finish();
  auto start = root.table("start");
  m.auxiliary = read_start_winding(start);
  out.design.load = read_load(root.table("load"), out);
  out.design.steps.clear();
  for (auto& step : root.tables("step")) out.design.steps.push_back(read_step(step));
  if (out.design.steps.size() != out.nameplate.speeds.size())
    throw error(error_code::unequal_lengths, root.place_of("step"), std::to_string(out.design.steps.size()) + " steps",
                "as many as speeds, here " + std::to_string(out.nameplate.speeds.size()));
}

[[noreturn]] void refuse_word(const char* option, std::string_view read, const char* allowed) {
  throw error(error_code::usage, {"", 0, option}, "\"" + std::string(read) + "\"", allowed);
}

std::string joined_names(const std::vector<std::string>& names) {
  std::string out;
  for (const auto& name : names) out += (out.empty() ? "" : ", ") + name;
  return out;
}

}  // namespace

simulated_machine simulated_machine_from(const record::node& document) {
  record::fields root(document, "");
  root.expect_format(simulated_format);
  simulated_machine out;
  auto nameplate = root.table("machine");
  out.nameplate = record::machine_from(document);
  if (out.nameplate.phases != 1)
    throw error(error_code::out_of_range, nameplate.place_of("phases"), std::to_string(out.nameplate.phases),
                "one phase");
  for (const auto& [key, there] :
       {std::pair{"poles", out.nameplate.poles.has_value()}, std::pair{"model", out.nameplate.model.has_value()}})
    if (!there)
      throw error(error_code::missing_key, nameplate.place_of(key), "nothing",
                  std::string(key) + " of a machine to simulate");
  read_design(root, out);
  read_rest(root, out);
  root.finish();
  return out;
}

std::vector<std::string> simulated_models() {
  std::vector<std::string> out;
  for (const auto& [model, text] : detail::simulated_machine_texts) out.emplace_back(model);
  return out;
}

record::visit_state visit_state_named(std::string_view word) {
  for (const auto& [name, value] : record::words::state)
    if (word == name) return value;
  refuse_word("state", word, "as_found, after_repair or recheck");
}

record::shaft_condition shaft_condition_named(std::string_view word) {
  for (const auto& [name, value] : record::words::shaft)
    if (word == name) return value;
  refuse_word("shaft", word, "loaded or bare");
}

void read_too(simulate_options& options, std::string_view what) {
  if (what == "watts") options.watts = true;
  else if (what == "rpm") options.rpm = true;
  else if (what == "coast_down") options.coast_down = true;
  else if (what == "heat_run") options.heat_run = true;
  else if (what == "polarization") options.polarization = true;
  else refuse_word("with", what, "watts, rpm, coast_down, heat_run or polarization");
}

simulated_machine simulated_machine_named(std::string_view model) {
  for (const auto& [name, text] : detail::simulated_machine_texts)
    if (name == model) return simulated_machine_from(record::read_toml_text(text, std::string(name) + ".toml"));
  throw error(error_code::usage, {"", 0, "machine"}, "\"" + std::string(model) + "\"",
              "one of " + joined_names(simulated_models()));
}

}  // namespace rewound::job
