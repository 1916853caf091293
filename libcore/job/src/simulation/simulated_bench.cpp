// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <numbers>

#include <rewound/machine/running_point.hpp>

#include "simulation/simulated_parts.hpp"

namespace rewound::job {

namespace {

/// A unit that is started at full voltage and read while the voltage is lowered keeps its start winding out; others are
/// read as the voltage rises from zero.
machine::operating_point point_read(const machine::fan_design& design, std::size_t speed, double volts) {
  auto from_rest = machine::running_point(design, speed, units::volts(volts));
  const auto& auxiliary = design.machine.auxiliary;
  if (!auxiliary || !auxiliary->switched_out) return from_rest;
  const auto full = machine::running_point(design, speed, units::volts(1.05 * design.machine.rated_voltage_V));
  if (full.state != machine::running_state::runs) return from_rest;
  return machine::running_point_when_turning(design, speed, units::volts(volts));
}

/// Voltages set on the variable transformer over the rated one: about evenly from 45 % to 105 %, the rated one among
/// them.
std::vector<double> settings_of(random_numbers& random) {
  constexpr std::size_t most = 8;
  const auto count = static_cast<std::size_t>(number_between(random, 6.0, 9.0));
  std::vector<double> out;
  for (std::size_t i = 0; i < most; ++i) {
    const double slip_of_hand = number_between(random, -0.01, 0.01);
    if (i >= count) continue;
    const double even = 0.45 + 0.6 * static_cast<double>(i) / static_cast<double>(count - 1);
    out.push_back(std::min(even + slip_of_hand, 1.05));
  }
  const auto nearest = std::min_element(out.begin(), out.end(),
                                        [](double a, double b) { return std::abs(a - 1.0) < std::abs(b - 1.0); });
  *nearest = 1.0 + number_between(random, -0.002, 0.002);
  return out;
}

/// One reading's true values, in the order of the meters below.
struct true_reading {
  double volts;
  machine::operating_point at;
};

record::run_up_section read_curve(const simulated_visit& visit, const std::vector<true_reading>& readings,
                                  random_numbers& random) {
  record::run_up_section out;
  for (const auto& [volts, at] : readings) {
    const bool turns = at.state == machine::running_state::runs;
    record::run_up_row row;
    row.voltage_V = visit.meters.at("voltmeter").read(volts, random);
    row.current_A = visit.meters.at("ammeter").read(units::in_amperes(at.line_current), random);
    const double watts = visit.meters.at("wattmeter").read(units::in_watts(at.input), random);
    const double rpm = visit.meters.at("tachometer").read(turns ? units::in_rpm(at.speed) : 0.0, random);
    if (visit.options.watts) row.power_W = watts;
    if (visit.options.rpm) row.speed_rpm = rpm;
    row.turning = turns;
    out.rows.push_back(std::move(row));
  }
  return out;
}

/// No record holds a speed above the synchronous one of its nameplate: on a higher frequency nobody noted it.
void drop_impossible_rpm(const simulated_visit& visit, record::visit_record& out) {
  const double synchronous = 120.0 * visit.machine.nameplate.rated_frequency_Hz / *visit.machine.nameplate.poles;
  for (const auto& run : out.run_up)
    for (const double rpm : run.column(&record::run_up_row::speed_rpm))
      if (rpm > synchronous) {
        for (auto& each : out.run_up)
          for (auto& row : each.rows) row.speed_rpm.reset();
        return;
      }
}

/// One reading off by a share, and all of them on the wrong range.
void misread_currents(const simulated_visit& visit, record::visit_record& out) {
  constexpr double last_digit = 1e-6;  // of amperes carried to another range
  auto random = numbers_for(visit.options.seed, drawn::slip_of_pen);
  const auto speed = static_cast<std::size_t>(number_between(random, 0.0, static_cast<double>(out.run_up.size())));
  auto& run = out.run_up[speed];
  const auto inner = static_cast<double>(run.rows.size() - 2);
  const auto which = 1 + static_cast<std::size_t>(number_between(random, 0.0, inner));
  if (visit.unit.misread)
    run.rows[which].current_A = shown_in_steps(run.rows[which].current_A * (1.0 + *visit.unit.misread),
                                               *visit.meters.at("ammeter").statement.resolution);
  if (visit.unit.range_factor == 1.0) return;
  for (auto& each : out.run_up)
    for (auto& row : each.rows) row.current_A = shown_in_steps(row.current_A * visit.unit.range_factor, last_digit);
}

/// Leakage through the insulation's bulk and surface, and absorption that dies away; megohms at 40 degC after t
/// seconds.
double insulation_Mohm(const simulated_visit& visit, double unit_factor, double seconds) {
  const auto& m = visit.machine;
  const double leakage = m.leakage_share * visit.unit.leakage_factor;
  const double absorption =
      (1.0 - m.leakage_share) * visit.unit.absorption_factor * std::pow(seconds / 60.0, -m.absorption_exponent);
  return unit_factor * m.one_minute_Mohm / (leakage + absorption);
}

double three_digits(double value) {
  const double step = std::pow(10.0, std::floor(std::log10(value)) - 2.0);
  return shown_in_steps(value, step);
}

double unit_insulation_factor(const simulated_visit& visit) {
  auto own = numbers_for(visit.options.unit.value_or(visit.options.seed), drawn::insulation);
  return std::exp(normal_number(own, 0.3));
}

}  // namespace

double shown_in_steps(double value, double resolution) {
  // Dividing by a whole number gives the decimal fraction nearest to what a display shows; multiplying by 0.001 does
  // not.
  if (resolution < 1.0) {
    const double steps = std::round(1.0 / resolution);
    return std::round(value * steps) / steps;
  }
  return std::round(value / resolution) * resolution;
}

double simulated_meter::read(double value, random_numbers& random) const {
  const double scatter = number_between(random, -1.0, 1.0) * *statement.digits * *statement.resolution;
  if (value == 0.0) return 0.0;
  return std::max(0.0, shown_in_steps(value * gain + scatter, *statement.resolution));
}

std::map<std::string, simulated_meter> meters_of_bench(std::uint64_t bench) {
  struct kind {
    const char* name;
    double percent, digits, resolution;
  };
  // Usual hand-held meters (common practice, no source).
  constexpr kind kinds[] = {{"voltmeter", 0.5, 2, 0.1},
                            {"ammeter", 0.8, 3, 0.001},
                            {"wattmeter", 1.0, 3, 0.1},
                            {"tachometer", 0.1, 1, 1},
                            {"ohmmeter", 0.5, 2, 0.01}};
  auto random = numbers_for(bench, drawn::gains);
  std::map<std::string, simulated_meter> out;
  for (const auto& one : kinds) {
    const record::instrument_section statement{"simulated " + std::string(one.name) + " " + std::to_string(bench),
                                               one.percent, one.digits, one.resolution};
    out[one.name] = {statement, 1.0 + number_between(random, -0.01, 0.01) * one.percent};
  }
  return out;
}

void read_run_ups(const simulated_visit& visit, record::visit_record& out) {
  auto settings = numbers_for(visit.options.seed, drawn::settings);
  auto random = numbers_for(visit.options.seed, drawn::readings);
  auto warmth = numbers_for(visit.options.seed, drawn::temperatures);
  const double winding_C = shown_in_steps(visit.ambient_C + number_between(warmth, 5.0, 20.0), 1.0);
  const auto design = at_winding_temperature(visit.unit.design, winding_C);
  for (std::size_t speed = 0; speed < design.steps.size(); ++speed) {
    std::vector<true_reading> readings;
    for (const double x : settings_of(settings)) {
      const double volts = x * design.machine.rated_voltage_V;
      readings.push_back({volts, point_read(design, speed, volts)});
    }
    auto run = read_curve(visit, readings, random);
    run.speed = visit.machine.nameplate.speeds[speed];
    run.winding_C = winding_C;
    out.run_up.push_back(std::move(run));
  }
  drop_impossible_rpm(visit, out);
  misread_currents(visit, out);
}

void read_insulation_test(const simulated_visit& visit, record::visit_record& out) {
  constexpr double kelvins_a_halving = 10.0;  // insulation halves with each (IEEE 43-2000 6.3, for all systems)
  auto random = numbers_for(visit.options.seed, drawn::cold);
  const double gain = 1.0 + number_between(random, -0.02, 0.02);
  const double warmth = std::exp2((40.0 - visit.ambient_C) / kelvins_a_halving);
  record::insulation_section test;
  test.circuit = "winding to frame";
  test.test_voltage_V = 500.0;
  test.winding_C = visit.ambient_C;
  for (const double seconds : {15.0, 30.0, 60.0, 120.0, 300.0, 600.0}) {
    const double own = 1.0 + number_between(random, -0.01, 0.01);
    if (seconds > 60.0 && !visit.options.polarization) continue;
    test.rows.push_back({.time_s = seconds,
                         .resistance_Mohm = three_digits(
                             gain * own * warmth * insulation_Mohm(visit, unit_insulation_factor(visit), seconds))});
  }
  out.insulation.push_back(std::move(test));
}

void read_touch_tests(const simulated_visit& visit, record::visit_record& out) {
  auto random = numbers_for(visit.options.seed, drawn::starts);
  if (out.machine.frame_earthed.value_or(false)) {
    out.earth = record::earth_section{shown_in_steps(number_between(random, 0.04, 0.09), 0.01), {}};
    return;
  }
  // Through the winding's capacitance to the frame, the insulation in parallel.
  const double volts = 1.06 * out.machine.rated_voltage_V;
  const double farads = number_between(random, 0.15e-9, 0.4e-9);
  const double capacitive = volts * 2.0 * std::numbers::pi * out.machine.rated_frequency_Hz * farads;
  const double resistive = volts / (1e6 * insulation_Mohm(visit, unit_insulation_factor(visit), 60.0));
  for (const bool reversed : {false, true})
    for (const bool on : {true, false}) {
      const double share = number_between(random, 0.9, 1.1) * (on ? 1.0 : reversed ? 0.9 : 0.4);
      record::leakage_section test;
      test.condition = std::string("frame, switch ") + (on ? "on" : "off") + (reversed ? ", reversed" : ", normal");
      test.current_mA = shown_in_steps(1e3 * share * std::hypot(capacitive, resistive), 0.001);
      test.reversed = reversed;
      test.switched_on = on;
      test.voltage_V = shown_in_steps(volts, 0.1);
      out.leakage.push_back(std::move(test));
    }
}

}  // namespace rewound::job
