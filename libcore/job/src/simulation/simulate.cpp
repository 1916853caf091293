// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <numbers>

#include <rewound/base/number_text.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/machine/running_point.hpp>
#include <rewound/record/validate.hpp>

#include "simulation/simulated_parts.hpp"

namespace rewound::job {

namespace {

constexpr double copper_K = machine::copper_constant_K;

double two_digits(double value) { return shown_in_steps(value, std::pow(10.0, std::floor(std::log10(value)) - 1.0)); }

/// What a maker would have marked: the model's own current and watts, windings warm.
record::machine_section marked(const simulated_machine& machine) {
  constexpr double warm_C = 40.0;
  auto out = machine.nameplate;
  const auto at =
      machine::running_point(at_winding_temperature(machine.design, warm_C), 0, units::volts(out.rated_voltage_V));
  out.rated_current_A = two_digits(units::in_amperes(at.line_current));
  out.rated_power_W = two_digits(units::in_watts(at.input));
  return out;
}

/// Ohms that a winding shows to direct current: shorted turns have left it.
double shown_ohms(double resistance, const machine::shorted_turns& shorted) {
  return resistance * (1.0 - shorted.resistance_lost());
}

record::resistance_section read_winding(const simulated_visit& visit, const char* name, double ohms, double design_ohms,
                                        random_numbers& random) {
  record::resistance_section out;
  out.section = name;
  out.winding_C = visit.ambient_C;
  out.resistance_ohm =
      visit.meters.at("ohmmeter").read(ohms * (copper_K + visit.ambient_C) / (copper_K + 20.0), random);
  out.expected_ohm = design_ohms;
  out.four_wire = true;
  return out;
}

/// The copper and iron losses that warm a winding, at the rated voltage and the fastest speed; none when it does not
/// run.
std::optional<double> warming_W(const machine::fan_design& design) {
  const auto at =
      machine::running_point(at_winding_temperature(design, 60.0), 0, units::volts(design.machine.rated_voltage_V));
  if (at.state != machine::running_state::runs) return std::nullopt;
  return units::in_watts(at.losses.total() - at.losses.friction_and_windage - at.losses.control);
}

/// Speed after `seconds` of coasting from w (rad/s), by Runge and Kutta's rule of fourth order.
double coasted(double w, double seconds, const machine::shaft_load& load, double inertia) {
  const auto slowing = [&](double at) {
    return at <= 0.0
               ? 0.0
               : -(load.friction_Nm + load.constant_Nm + load.linear_Nm_s * at + load.square_Nm_s2 * at * at) / inertia;
  };
  constexpr int steps = 200;
  const double h = seconds / steps;
  for (int i = 0; i < steps; ++i) {
    const double k1 = slowing(w), k2 = slowing(w + 0.5 * h * k1), k3 = slowing(w + 0.5 * h * k2),
                 k4 = slowing(w + h * k3);
    w = std::max(0.0, w + h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4));
  }
  return w;
}

record::visit_section visited(const simulated_visit& visit, random_numbers& random) {
  const auto& options = visit.options;
  record::visit_section out;
  out.day = options.day;
  out.state = options.state;
  if (options.state == record::visit_state::after_repair) out.work = {"stator rewound"};
  out.ambient_C = visit.ambient_C;
  const double humidity = number_between(random, 40.0, 60.0);
  out.humidity_percent = shown_in_steps(visit.unit.damp ? humidity + 35.0 : humidity, 1.0);
  out.supply_voltage_V =
      shown_in_steps(visit.machine.nameplate.rated_voltage_V * number_between(random, 1.0, 1.05), 1.0);
  // Whoever has the wrong frequency without knowing has not noted it.
  if (visit.unit.design.supply_frequency_ratio == 1.0)
    out.supply_frequency_Hz = visit.machine.nameplate.rated_frequency_Hz;
  out.shaft = options.shaft;
  return out;
}

std::string fault_words(const simulated_machine& machine, const simulate_options& options) {
  std::string out;
  for (const auto& fault : options.faults) {
    std::string severity = base::fixed_digits(severity_of(machine, fault), 6);
    severity.erase(std::min(severity.find_last_not_of('0') + 1, severity.size()));
    if (severity.back() == '.') severity.pop_back();
    out += (out.empty() ? "" : ", ") + fault.name + "=" + severity;
  }
  return out.empty() ? "none" : out;
}

}  // namespace

void read_resistances(const simulated_visit& visit, record::visit_record& out) {
  auto random = numbers_for(visit.options.seed, drawn::cold);
  const auto& m = visit.unit.design.machine;
  const auto& of_model = visit.machine.design.machine;
  out.resistance.push_back(
      read_winding(visit, "main", shown_ohms(m.main_resistance_ohm, m.shorted), of_model.main_resistance_ohm, random));
  if (m.auxiliary)
    out.resistance.push_back(read_winding(visit, "start", shown_ohms(m.auxiliary->resistance_ohm, m.auxiliary->shorted),
                                          of_model.auxiliary->resistance_ohm, random));
}

void read_starting(const simulated_visit& visit, record::visit_record& out) {
  constexpr double sticking =
      0.2;  // by which what a standing shaft resists with differs from try to try, in the logarithm
  auto random = numbers_for(visit.options.seed, drawn::starts);
  const auto& design = visit.unit.design;
  const auto& slowest = design.steps.back();
  const auto frequency = machine::supply_frequency(design);
  const double torque = units::in_newton_metres(
      machine::starting_torque(design.machine, slowest, units::volts(design.machine.rated_voltage_V), frequency));
  const double resists = design.load.at_rest_Nm();
  struct position {
    const char* name;
    int attempts;
    double weight;  ///< on the bearings, over upright
  };
  for (const auto& [name, attempts, weight] : {position{"upright", 10, 1.0}, position{"tilted", 10, 1.15}}) {
    record::starts_section tries;
    tries.position = name;
    tries.attempts = attempts;
    for (int i = 0; i < attempts; ++i)
      if (torque > weight * resists * std::exp(normal_number(random, sticking))) ++tries.successes;
    out.starts.push_back(std::move(tries));
  }
  const auto lowest = machine::lowest_starting_voltage(design.machine, slowest, design.load, frequency);
  const double highest_tried = 1.05 * design.machine.rated_voltage_V;
  if (lowest && units::in_volts(*lowest) < highest_tried && units::in_volts(*lowest) > 0.0)
    out.starts.front().lowest_starting_V = std::ceil(units::in_volts(*lowest) * std::exp(normal_number(random, 0.02)));
}

void read_coasting(const simulated_visit& visit, record::visit_record& out) {
  const auto& design = visit.unit.design;
  const auto at = machine::running_point(design, 0, units::volts(design.machine.rated_voltage_V));
  if (at.state != machine::running_state::runs) return;  // nothing coasts
  auto random = numbers_for(visit.options.seed, drawn::running_down);
  const double first = units::in_rpm(at.speed) * 2.0 * std::numbers::pi / 60.0;
  // Read until it has fallen to a seventh, at even times.
  double end = 1.0;
  while (coasted(first, end, design.load, visit.unit.inertia_kgm2) > first / 7.0) end *= 1.1;
  constexpr int readings = 14;
  record::coast_down_section run;
  run.inertia_kgm2 = visit.unit.inertia_kgm2;
  for (int i = 0; i < readings; ++i) {
    const double seconds = shown_in_steps(end * i / (readings - 1), 0.1);
    const double rpm = coasted(first, seconds, design.load, visit.unit.inertia_kgm2) * 60.0 / (2.0 * std::numbers::pi);
    if (!run.time_s.empty() && !(seconds > run.time_s.back())) continue;
    run.time_s.push_back(seconds);
    run.speed_rpm.push_back(visit.meters.at("tachometer").read(rpm, random));
  }
  out.coast_down = std::move(run);
}

void read_heating(const simulated_visit& visit, record::visit_record& out) {
  const auto here = warming_W(visit.unit.design);
  const auto usual = warming_W(visit.machine.design);
  if (!here || !usual) return;  // nobody leaves a standing machine on
  auto random = numbers_for(visit.options.seed, drawn::running_down);
  const auto& ohmmeter = visit.meters.at("ohmmeter");
  const auto& m = visit.unit.design.machine;
  const double cold = shown_ohms(m.main_resistance_ohm, m.shorted);
  const auto ohms_at = [&](double celsius) {
    return ohmmeter.read(cold * (copper_K + celsius) / (copper_K + 20.0), random);
  };
  record::heat_run_section run;
  run.cold_C = visit.ambient_C;
  run.cold_ohm = ohms_at(visit.ambient_C);
  run.ambient_C = visit.ambient_C + 1.0;
  const double rise = visit.machine.final_rise_K * *here / *usual;
  for (int minutes = 0; minutes <= 90; minutes += 10) {
    run.time_s.push_back(60.0 * minutes);
    const double share = visit.machine.winding_share;
    const double reached = rise * (1.0 - (1.0 - share) * std::exp(-minutes / visit.machine.time_constant_min) -
                                   share * std::exp(-minutes / visit.machine.winding_time_constant_min));
    run.resistance_ohm.push_back(ohms_at(visit.ambient_C + reached + minutes / 90.0));
  }
  out.heat_run = std::move(run);
}

record::visit_record simulate(const simulated_machine& machine, const simulate_options& options) {
  auto random = numbers_for(options.seed, drawn::temperatures);
  simulated_visit visit{machine, options, unit_of(machine, options),
                        meters_of_bench(options.bench.value_or(options.seed)),
                        shown_in_steps(number_between(random, 17.0, 25.0), 0.5)};
  record::visit_record out;
  out.machine = marked(machine);
  out.machine.id =
      options.id.value_or(*machine.nameplate.model + "-" + std::to_string(options.unit.value_or(options.seed)));
  out.visit = visited(visit, random);
  // No winding is younger than its test.
  if (out.machine.wound_year) out.machine.wound_year = std::min(*out.machine.wound_year, out.visit.day.year);
  for (const auto& [kind, meter] : visit.meters) {
    const bool used = kind == "wattmeter"    ? options.watts
                      : kind == "tachometer" ? options.rpm || options.coast_down
                                             : true;
    if (used) out.instruments.emplace(kind, meter.statement);
  }
  read_run_ups(visit, out);
  read_insulation_test(visit, out);
  read_resistances(visit, out);
  read_starting(visit, out);
  read_touch_tests(visit, out);
  if (options.coast_down) read_coasting(visit, out);
  if (options.heat_run) read_heating(visit, out);
  out.checks = {{"polarity_correct", true}, {"switch_opens_line", true}};
  record::validate(out);
  return out;
}

std::string simulated_record_text(const simulated_machine& machine, const simulate_options& options) {
  std::string seeds = "seed " + std::to_string(options.seed);
  if (options.unit) seeds += ", unit " + std::to_string(*options.unit);
  if (options.bench) seeds += ", bench " + std::to_string(*options.bench);
  return "# Invented by simulation: no such machine was ever on a bench.\n# machine " + *machine.nameplate.model +
         ", fault " + fault_words(machine, options) + ", " + seeds + "\n" +
         record::record_text(simulate(machine, options));
}

}  // namespace rewound::job
