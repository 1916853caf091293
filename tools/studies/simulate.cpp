// SPDX-License-Identifier: MIT
#include "simulate.hpp"

#include <algorithm>
#include <cmath>

namespace rewound::study {

namespace {

struct exponent_at {
  double z;
  double exponent;
};

// Model A of the project's domain notes (fan-loaded, 230 V): local exponents at 69, 115, 161, 207, 230 and 260 V,
// with its fan-type rotor and with the low-slip one.
constexpr std::array<exponent_at, 6> fan_rotor{
    {{-1.204, 0.92}, {-0.693, 0.58}, {-0.357, 0.13}, {-0.105, 0.40}, {0.0, 0.78}, {0.123, 1.52}}};
constexpr std::array<exponent_at, 6> low_slip_rotor{
    {{-1.204, 0.98}, {-0.693, 0.89}, {-0.357, -0.94}, {-0.105, -0.19}, {0.0, 0.30}, {0.123, 1.13}}};

double exponent_of(const std::array<exponent_at, 6>& table, double z) {
  if (z <= table.front().z) return table.front().exponent;
  for (std::size_t i = 0; i + 1 < table.size(); ++i) {
    if (z > table[i + 1].z) continue;
    const double share = (z - table[i].z) / (table[i + 1].z - table[i].z);
    return table[i].exponent + share * (table[i + 1].exponent - table[i].exponent);
  }
  return table.back().exponent;
}

/// Integral of the exponent from 0 to z.
double integrated(const std::array<exponent_at, 6>& table, double z) {
  constexpr int steps = 400;
  double sum = 0.0;
  for (int i = 0; i < steps; ++i) sum += exponent_of(table, z * (i + 0.5) / steps);
  return sum * z / steps;
}

}  // namespace

const char* name_of(shape kind) {
  switch (kind) {
    case shape::power: return "power";
    case shape::saturating: return "saturating";
    case shape::fan_quadratic: return "fan, quadratic";
    case shape::fan_table: return "fan, model A";
    case shape::fan_low_slip: return "fan, low slip";
  }
  return "";
}

double curve::log_current(double z) const {
  switch (kind) {
    case shape::power: return level + first * z;
    case shape::saturating: return level + std::log((1.0 - first) * std::exp(z) + first * std::exp(second * z));
    case shape::fan_quadratic: return level + (first + second * z) * z;
    case shape::fan_table: return level + integrated(fan_rotor, z);
    case shape::fan_low_slip: return level + integrated(low_slip_rotor, z);
  }
  return level;
}

double normal(double sd, generator& random) { return sd * std::normal_distribution<double>()(random); }

double between(double low, double high, generator& random) {
  return std::uniform_real_distribution<double>(low, high)(random);
}

design random_design(shape kind, generator& random) {
  design out;
  const double high = std::log(between(0.3, 0.9, random));
  const double step = between(0.08, 0.3, random);
  const double first = kind == shape::saturating ? between(0.15, 0.45, random)
                       : kind == shape::power    ? between(0.9, 1.4, random)
                                                 : between(0.6, 0.9, random);
  const double second = kind == shape::saturating ? between(4.0, 7.0, random) : between(0.5, 0.8, random);
  for (std::size_t i = 0; i < speed_count; ++i) {
    const double tap = static_cast<double>(i);
    // Slower taps are less saturated.
    out.speeds[i] = {kind, high - step * tap,
                     kind == shape::saturating ? first * (1.0 - 0.3 * tap) : first - 0.05 * tap, second};
  }
  return out;
}

double unit::log_current(std::size_t speed, double z) const {
  return model.speeds[speed].log_current(z) + level[speed] + exponent[speed] * z;
}

unit random_unit(const design& model, const spread& spread, generator& random) {
  unit out{model, {}, {}};
  const double common_level = normal(1.0, random);
  const double common_exponent = normal(1.0, random);
  const double together = std::sqrt(spread.shared);
  const double own = std::sqrt(1.0 - spread.shared);
  for (std::size_t i = 0; i < speed_count; ++i) {
    out.level[i] = spread.level * (together * common_level + own * normal(1.0, random));
    out.exponent[i] = spread.exponent * (together * common_exponent + own * normal(1.0, random));
  }
  return out;
}

double meter::read(double value, generator& random) const {
  const double shown = value * (1.0 + gain) + between(-digits, digits, random) * resolution;
  return std::round(shown / resolution) * resolution;
}

bench_meters random_meters(const std::string& name, generator& random) {
  bench_meters out{{name + " voltmeter", 0.5, 2.0, 0.1}, {name + " ammeter", 0.8, 3.0, 0.001}};
  for (auto* each : {&out.voltmeter, &out.ammeter}) each->gain = between(-each->percent, each->percent, random) / 100.0;
  return out;
}

readings run_up(const unit& machine, std::size_t speed, std::size_t count, const bench_meters& meters, double offset,
                generator& random) {
  readings out;
  for (std::size_t i = 0; i < count; ++i) {
    const double even = 0.45 + 0.60 * static_cast<double>(i) / static_cast<double>(count - 1);
    const double x = even * (1.0 + between(-0.01, 0.01, random));
    out.voltage_V.push_back(meters.voltmeter.read(x * rated_voltage, random));
    out.current_A.push_back(meters.ammeter.read(std::exp(machine.log_current(speed, std::log(x)) + offset), random));
  }
  return out;
}

record::visit_record visit(const std::string& id, const unit& machine, const bench_meters& meters,
                           const std::array<double, speed_count>& offsets, generator& random) {
  record::visit_record out;
  out.machine.id = id;
  out.machine.model = "simulated";
  out.machine.rated_voltage_V = rated_voltage;
  out.machine.rated_frequency_Hz = 50.0;
  out.machine.speeds.assign(speed_names.begin(), speed_names.end());
  out.visit.day = {2026, 5, 14};
  for (const auto& [kind, m] : {std::pair{"voltmeter", &meters.voltmeter}, std::pair{"ammeter", &meters.ammeter}})
    out.instruments[kind] = {m->name, m->percent, m->digits, m->resolution};
  for (std::size_t i = 0; i < speed_count; ++i) {
    const auto count = std::uniform_int_distribution<std::size_t>(6, 8)(random);
    const auto read = run_up(machine, i, count, meters, offsets[i], random);
    record::run_up_section section;
    section.speed = speed_names[i];
    for (std::size_t row = 0; row < read.voltage_V.size(); ++row)
      section.rows.push_back({.voltage_V = read.voltage_V[row], .current_A = read.current_A[row]});
    out.run_up.push_back(std::move(section));
  }
  return out;
}

measurement::instrument<units::voltage> as_instrument_V(const meter& in) {
  return {in.name, in.percent / 100.0, units::volts(in.resolution), in.digits};
}

measurement::instrument<units::current> as_instrument_A(const meter& in) {
  return {in.name, in.percent / 100.0, units::amperes(in.resolution), in.digits};
}

measurement::run_up as_run_up(const readings& in) {
  measurement::run_up out{"high", {}};
  for (std::size_t i = 0; i < in.voltage_V.size(); ++i)
    out.readings.push_back({static_cast<int>(i), units::volts(in.voltage_V[i]), units::amperes(in.current_A[i])});
  return out;
}

void tally::close_group() {
  if (trials_ > 0.0) groups_.push_back({hits_, trials_});
  hits_ = trials_ = 0.0;
}

double tally::percent() const {
  double hits = 0.0;
  double trials = 0.0;
  for (const auto& g : groups_) hits += g.hits, trials += g.trials;
  return trials > 0.0 ? 100.0 * hits / trials : 0.0;
}

double tally::standard_error_percent() const {
  const double share = percent() / 100.0;
  double square = 0.0;
  double trials = 0.0;
  for (const auto& g : groups_) {
    square += (g.hits - share * g.trials) * (g.hits - share * g.trials);
    trials += g.trials;
  }
  return trials > 0.0 ? 100.0 * std::sqrt(square) / trials : 0.0;
}

std::size_t cases(const options& asked, double base) {
  return static_cast<std::size_t>(std::max(5.0, std::round(base * asked.scale)));
}

}  // namespace rewound::study
