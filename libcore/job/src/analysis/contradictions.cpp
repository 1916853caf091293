// SPDX-License-Identifier: MIT
#include "analysis/contradictions.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include <rewound/machine/conductor.hpp>
#include <rewound/record/fields.hpp>
#include "analysis/machine_kind_of.hpp"
#include "analysis/turning.hpp"

namespace rewound::job {

namespace {

using verdict::rules::contradiction;
using found = std::vector<contradiction>;

std::string entry(const char* key, double value) { return std::string(key) + " = " + record::shown_number(value); }

void by_dates(const record::visit_record& in, const verdict::policy& policy, found& out) {
  const auto from = policy.practice.earliest_year, to = policy.practice.latest_year;
  const int year = in.visit.day.year;
  const auto visit = "date = " + in.visit.day.iso();
  if (year < from.value || year > to.value)
    out.push_back({"visit.date", visit,
                   "the years of visits, " + record::shown_number(from.value) + " to " + record::shown_number(to.value),
                   std::string(from.source)});
  if (in.machine.wound_year && *in.machine.wound_year > year)
    out.push_back({"visit.date or machine.wound_year", visit, entry("wound_year", *in.machine.wound_year),
                   "a winding is not younger than its test (logic)"});
}

void by_nameplate(const record::visit_record& in, const verdict::policy& policy, found& out) {
  const auto& m = in.machine;
  if (!m.rated_power_W || !m.rated_current_A) return;
  const double apparent = m.rated_voltage_V * *m.rated_current_A * (m.phases == 3 ? std::numbers::sqrt3 : 1.0);
  const auto rounding = policy.practice.marked_power_percent;
  if (*m.rated_power_W <= (1.0 + rounding.value / 100.0) * apparent) return;
  out.push_back({"machine.rated_power_W or rated_current_A", entry("rated_power_W", *m.rated_power_W),
                 entry("rated_current_A", *m.rated_current_A) + " at " + entry("rated_voltage_V", m.rated_voltage_V) +
                     ", which is " + record::shown_number(std::round(apparent)) + " VA",
                 "active power never exceeds volts times amperes (mathematics); " + std::string(rounding.source)});
}

void by_instruments(const record::visit_record& in, found& out) {
  for (const auto& [kind, meter] : in.instruments)
    if (meter.reading_percent == 0.0 && meter.digits == 0.0)
      out.push_back({"instruments." + kind, "reading_percent = 0 and digits = 0", "that no meter is exact",
                     "common practice, no source"});
}

/// Whether air is none of a bench's: told where it is.
bool beyond_bench_air(const std::string& place, double air_C, const std::string& as_entered,
                      const verdict::policy& policy, found& out) {
  const auto low = policy.practice.ambient_low_C, high = policy.practice.ambient_high_C;
  if (air_C >= low.value && air_C <= high.value) return false;
  out.push_back(
      {place, as_entered,
       "the air of a bench, " + record::shown_number(low.value) + " to " + record::shown_number(high.value) + " degC",
       std::string(air_C > high.value ? high.source : low.source)});
  return true;
}

void by_air(const record::visit_record& in, const verdict::policy& policy, found& out) {
  if (const auto& air_C = in.visit.ambient_C)
    beyond_bench_air("visit.ambient_C", *air_C, entry("ambient_C", *air_C), policy, out);
}

/// The air of a heat run beside the winding before it and the air of the visit: degrees of another scale flatter a
/// rise.
void by_heated_air(const record::visit_record& in, const verdict::policy& policy, found& out) {
  if (!in.heat_run) return;
  const auto apart = policy.practice.heat_air_apart_K;
  const double air_C = in.heat_run->ambient_C;
  const auto air = entry("ambient_C", air_C) + " of the heat run";
  if (beyond_bench_air("heat_run.ambient_C", air_C, air, policy, out)) return;
  if (std::abs(in.heat_run->cold_C - air_C) > apart.value) {
    out.push_back({"heat_run.cold_C or heat_run.ambient_C", entry("cold_C", in.heat_run->cold_C), air,
                   std::string(apart.source)});
  } else if (in.visit.ambient_C && std::abs(*in.visit.ambient_C - air_C) > apart.value) {
    out.push_back({"heat_run.ambient_C or visit.ambient_C", air, entry("ambient_C", *in.visit.ambient_C),
                   std::string(apart.source)});
  }
}

/// The ohms between two leads that a section, or sections together, may show: one alone, all that belong together in
/// series, two side by side or one after the other.
std::vector<double> ohms_shown(const record::visit_record& in, double celsius, double copper_K) {
  std::vector<double> alone;
  for (const auto& each : in.resistance)
    alone.push_back(units::in_ohms(machine::at_temperature(
        units::ohms(std::max(1e-9, each.resistance_ohm - each.lead_resistance_ohm.value_or(0.0))),
        units::celsius(each.winding_C), units::celsius(celsius), each.material, copper_K)));
  auto out = alone;
  for (std::size_t i = 0; i < alone.size(); ++i)
    for (std::size_t k = i + 1; k < alone.size(); ++k) {
      out.push_back(alone[i] + alone[k]);
      out.push_back(1.0 / (1.0 / alone[i] + 1.0 / alone[k]));
    }
  out.push_back(std::accumulate(alone.begin(), alone.end(), 0.0));
  return out;
}

/// The winding before a heat run and the sections are one copper: a wrong cold value moves the whole rise.
void by_cold_ohms(const record::visit_record& in, const verdict::policy& policy, found& out) {
  if (!in.heat_run || !in.heat_run->cold_ohm || in.resistance.empty()) return;
  const bool main = std::any_of(in.resistance.begin(), in.resistance.end(),
                                [](const auto& each) { return winding_of(each.section) != winding::auxiliary; });
  if (!main) return;
  const double cold = *in.heat_run->cold_ohm;
  const auto apart = policy.practice.heat_cold_apart_percent;
  const double allowed = apart.value / 100.0 * cold + policy.practice.heat_cold_contacts_ohm.value;
  const auto off = [&](double ohm) { return std::abs(ohm - cold); };
  const auto shown = ohms_shown(in, in.heat_run->cold_C, policy.practice.copper_constant_K.value);
  if (std::any_of(shown.begin(), shown.end(), [&](double ohm) { return off(ohm) <= allowed; })) return;
  const auto nearest =
      std::min_element(shown.begin(), shown.begin() + static_cast<std::ptrdiff_t>(in.resistance.size()),
                       [&](double a, double b) { return off(a) < off(b); });
  const auto& section = in.resistance[static_cast<std::size_t>(nearest - shown.begin())].section;
  out.push_back(
      {"heat_run.cold_ohm or resistance." + section,
       entry("cold_ohm", cold) + " at " + record::shown_number(in.heat_run->cold_C) + " degC",
       record::shown_number(std::round(1000.0 * *nearest) / 1000.0) + " ohm of " + section + " at that temperature",
       std::string(apart.source)});
}

/// Volts that no bench runs a machine at.
void by_volts(const record::visit_record& in, const verdict::policy& policy, found& out) {
  const double rated = in.machine.rated_voltage_V;
  const double mains = in.visit.supply_voltage_V.value_or(rated);
  const auto most = policy.practice.run_up_voltage_most_percent;
  for (const auto& run : in.run_up)
    for (const auto& row : run.rows) {
      if (row.voltage_V <= most.value / 100.0 * std::max(rated, mains)) continue;
      out.push_back({"run_up.voltage_V", entry("voltage_V", row.voltage_V) + " of speed " + run.speed,
                     entry("rated_voltage_V", rated) +
                         (mains > rated ? " on mains of " + record::shown_number(mains) + " V" : ""),
                     std::string(most.source)});
      break;  // one a speed
    }
}

bool near_any(double volts, const std::vector<double>& of, double share) {
  return std::any_of(of.begin(), of.end(), [&](double each) { return std::abs(volts - each) <= share * each; });
}

/// The voltages that a bench sets: the rated one, the mains, and those at which the other speeds were read.
std::vector<double> set_voltages(const record::visit_record& in, const record::run_up_section& apart_from) {
  std::vector<double> out{in.machine.rated_voltage_V};
  if (in.visit.supply_voltage_V) out.push_back(*in.visit.supply_voltage_V);
  for (const auto& run : in.run_up)
    if (&run != &apart_from)
      for (const auto& row : run.rows) out.push_back(row.voltage_V);
  return out;
}

/// The voltage that was meant, where one was read that nobody set: twice or 1.73 times as much, or the other way round,
/// is one that was set and at which this speed has no reading, and the current fits there beside the nearest one.
std::optional<double> voltage_meant(const record::run_up_section& run, const record::run_up_row& row,
                                    const std::vector<double>& set) {
  // All common practice, no source: shares of a voltage; exponents of a fan's current over its voltage; a digit's share
  // of a current; and the exponent below which a current hardly knows of half the voltage.
  constexpr double as_set = 0.02, as_meant = 0.012, flattest = -0.1, steepest = 2.5, digit = 0.04, hardly = 0.5;
  if (near_any(row.voltage_V, set, as_set)) return std::nullopt;
  for (const double factor : {2.0, std::numbers::sqrt3, 0.5, 1.0 / std::numbers::sqrt3}) {
    const double meant = factor * row.voltage_V;
    if (!near_any(meant, set, as_meant)) continue;
    const record::run_up_row* beside = nullptr;
    for (const auto& other : run.rows)
      if (&other != &row && other.current_A > 0.0 && other.voltage_V > 0.0 &&
          (beside == nullptr || std::abs(other.voltage_V - meant) < std::abs(beside->voltage_V - meant)))
        beside = &other;
    if (beside == nullptr || near_any(meant, {beside->voltage_V}, as_meant)) continue;
    const double rise = std::log(row.current_A / beside->current_A);
    const double step = std::log(meant / beside->voltage_V), as_read = std::log(row.voltage_V / beside->voltage_V);
    const auto [low, high] = std::minmax({flattest * step, steepest * step});
    if (rise > low - digit && rise < high + digit && rise * as_read < hardly * as_read * as_read) return meant;
  }
  return std::nullopt;
}

/// In a run of two or three readings nothing else shows that a voltage was halved, or read between other lines.
void by_meant_volts(const record::visit_record& in, found& out) {
  constexpr std::size_t most = 3;
  for (const auto& run : in.run_up) {
    if (run.rows.size() > most) continue;
    const auto set = set_voltages(in, run);
    for (const auto& row : run.rows) {
      if (row.over_range || !row.turns() || row.current_A <= 0.0 || row.voltage_V <= 0.0) continue;
      const auto meant = voltage_meant(run, row, set);
      if (!meant) continue;
      out.push_back({"run_up.voltage_V", entry("voltage_V", row.voltage_V) + " of speed " + run.speed,
                     record::shown_number(row.current_A) + " A, which by its other readings it draws at " +
                         record::shown_number(std::round(*meant)) + " V",
                     "common practice, no source (a voltage halved, doubled or divided by 1.73)"});
      break;  // one a speed
    }
  }
}

/// Within a fifth (common practice, no source), with the rotor turning.
const record::run_up_row* running_near_rated(const record::visit_record& in, const record::run_up_section& run) {
  return nearest_to_rated(in, run, 0.2,
                          [](const auto& row) { return row.turns() && !row.over_range && row.current_A > 0.0; });
}

/// More amperes per volt than a rotor at rest takes, beside the running machine's own.
void by_admittance(const record::visit_record& in, const verdict::policy& policy, found& out) {
  const auto most = policy.practice.admittance_most_factor;
  for (const auto& run : in.run_up) {
    const auto* running = running_near_rated(in, run);
    if (running == nullptr) continue;
    const auto shown = [](const record::run_up_row& row) {
      return record::shown_number(row.current_A) + " A at " + record::shown_number(row.voltage_V) + " V";
    };
    for (const auto& row : run.rows) {
      if (row.over_range || row.voltage_V <= 0.0 ||
          row.current_A * running->voltage_V <= most.value * running->current_A * row.voltage_V)
        continue;
      out.push_back({amperes_per_volt_of(run.speed), shown(row), shown(*running), std::string(most.source)});
      break;
    }
  }
}

/// Watts of a machine that turns, near the rated voltage and far below what its losses take.
void by_watts(const record::visit_record& in, const verdict::policy& policy, found& out) {
  constexpr double lower = 0.5;  // of the rated voltage: below it few watts are read well (common practice, no source)
  const auto least = policy.practice.power_factor_least;
  const double lines = in.machine.phases == 3 ? std::numbers::sqrt3 : 1.0;
  for (const auto& run : in.run_up)
    for (const auto& row : run.rows) {
      if (!row.power_W || row.over_range || !row.turns() || row.voltage_V < lower * in.machine.rated_voltage_V)
        continue;
      const double apparent = lines * row.voltage_V * row.current_A;
      if (*row.power_W >= least.value * apparent) continue;
      out.push_back({"run_up.power_W", entry("power_W", *row.power_W) + " of speed " + run.speed,
                     record::shown_number(row.voltage_V) + " V and " + record::shown_number(row.current_A) +
                         " A, which is " + record::shown_number(std::round(apparent)) + " VA",
                     std::string(least.source)});
      break;
    }
}

std::string turns_entry(double rpm, const std::string& speed) {
  return "speed_rpm = " + record::shown_number(rpm) + " of speed " + speed;
}

/// The turns of the field of the marked poles, or of any, beside the turning that was read.
void by_poles(const record::visit_record& in, const verdict::policy& policy, found& out) {
  const auto& m = in.machine;
  if (m.running_circuit == record::running_circuit::commutator) return;
  const double field = field_of(m, run_up_frequency_Hz(in));
  const auto marked = (m.poles ? entry("poles", *m.poles) + ", whose field" : "two poles, the fewest, whose field") +
                      std::string(" turns at ") + record::shown_number(std::round(field)) + " per minute at " +
                      record::shown_number(run_up_frequency_Hz(in)) + " Hz";
  const auto leeway = policy.practice.rotation_above_field_percent;
  const auto slip = usual_slip_of(m, policy);
  const auto most_poles = policy.practice.poles_unmarked_most;
  for (const auto& run : in.run_up) {
    for (const auto& row : run.rows)
      if (row.speed_rpm && *row.speed_rpm > (1.0 + leeway.value / 100.0) * field)
        return out.push_back(
            {"machine.poles or run_up.speed_rpm", turns_entry(*row.speed_rpm, run.speed), marked,
             "no rotor of an induction machine outruns its field (physics); " + std::string(leeway.source)});
    if (run.speed != m.speeds.front() || in.visit.shaft != record::shaft_condition::loaded) continue;
    const auto* row = rotation_near_rated(in, run);
    if (row == nullptr) continue;
    const double slowest_field = 120.0 * run_up_frequency_Hz(in) / most_poles.value;
    if (!m.poles && !m.rated_speed_rpm && *row->speed_rpm < (1.0 - slip.value / 100.0) * slowest_field)
      return out.push_back({"run_up.speed_rpm, or machine.poles as marked",
                            turns_entry(*row->speed_rpm, run.speed) + " at the rated voltage",
                            "no poles stated, whose field turns at " + record::shown_number(slowest_field) +
                                " per minute or more on up to " + record::shown_number(most_poles.value) + " poles",
                            std::string(most_poles.source)});
  }
}

/// What the plate says the fastest speed turns at, beside what was read.
void by_marked_turning(const record::visit_record& in, const verdict::policy& policy, found& out) {
  const auto& m = in.machine;
  if (!m.rated_speed_rpm || in.visit.shaft != record::shaft_condition::loaded ||
      run_up_frequency_Hz(in) != m.rated_frequency_Hz)
    return;
  const bool brushed = m.running_circuit == record::running_circuit::commutator;
  const auto of_brushes = policy.practice.rotation_marked_commutator_percent;
  const auto of_slip = policy.practice.marked_slip_percent;
  for (const auto& run : in.run_up) {
    if (run.speed != m.speeds.front()) continue;
    const auto* row = rotation_near_rated(in, run);
    if (row == nullptr || turns_as_plate(in, *row, policy)) continue;
    if (*row->speed_rpm < *m.rated_speed_rpm && plate_can_turn(m)) continue;  // how it turns: see turning.hpp
    out.push_back({"machine.rated_speed_rpm or run_up.speed_rpm",
                   turns_entry(*row->speed_rpm, run.speed) + " at the rated voltage",
                   entry("rated_speed_rpm", *m.rated_speed_rpm),
                   std::string(brushed ? of_brushes.source : of_slip.source)});
  }
}

/// To the last digit, or nearly where the rotor slips so much that less current cannot turn the fan as fast: torque
/// goes with the current squared.
bool same_turning(const record::visit_record& in, double a, double b, const verdict::policy& policy) {
  if (a == b) return true;
  if (in.machine.running_circuit == record::running_circuit::commutator) return false;
  if (std::abs(a - b) > policy.practice.equal_rotation_percent.value / 100.0 * std::max(a, b)) return false;
  const double faster = std::max(a, b);
  const double pairs = std::max(1.0, std::floor(60.0 * run_up_frequency_Hz(in) / faster));
  const double field = 60.0 * run_up_frequency_Hz(in) / (in.machine.poles ? *in.machine.poles / 2.0 : pairs);
  return faster < (1.0 - policy.practice.equal_rotation_slip_percent.value / 100.0) * field;
}

std::string shown_turning(double a, double b) {
  return a == b ? "the same " + record::shown_number(a) + " rpm"
                : record::shown_number(a) + " and " + record::shown_number(b) + " rpm";
}

/// One turning on two speeds whose currents lie well apart: the meter was read once, or the fan is not on.
void by_equal_turning(const record::visit_record& in, const verdict::policy& policy, found& out) {
  if (in.visit.shaft != record::shaft_condition::loaded || in.machine.speed_control == record::speed_control::none)
    return;
  const auto apart = policy.practice.equal_rotation_apart_percent;
  for (std::size_t i = 0; i < in.run_up.size(); ++i)
    for (std::size_t k = i + 1; k < in.run_up.size(); ++k) {
      const auto* a = rotation_near_rated(in, in.run_up[i]);
      const auto* b = rotation_near_rated(in, in.run_up[k]);
      if (a == nullptr || b == nullptr || !same_turning(in, *a->speed_rpm, *b->speed_rpm, policy)) continue;
      const double larger = std::max(a->current_A, b->current_A);
      if (std::abs(a->current_A - b->current_A) <= apart.value / 100.0 * larger) continue;
      return out.push_back(
          {"run_up.speed_rpm",
           shown_turning(*a->speed_rpm, *b->speed_rpm) + " on " + in.run_up[i].speed + " and " + in.run_up[k].speed,
           "their currents, " + record::shown_number(a->current_A) + " and " + record::shown_number(b->current_A) +
               " A",
           std::string(apart.source)});
    }
}

/// No meter shows more than the end of its range.
void by_ranges(const record::visit_record& in, found& out) {
  const auto beyond = [&](const char* meter, const char* key, double read, const std::string& where) {
    const auto stated = in.instruments.find(meter);
    if (stated == in.instruments.end() || !stated->second.full_scale || read <= *stated->second.full_scale)
      return false;
    out.push_back({std::string("instruments.") + meter + ".full_scale or " + where,
                   entry("full_scale", *stated->second.full_scale), entry(key, read) + " on " + where,
                   "a meter shows no more than its range (logic)"});
    return true;
  };
  for (const auto& run : in.run_up)
    for (const auto& row : run.rows) {
      if (beyond("voltmeter", "voltage_V", row.voltage_V, run.speed)) return;
      if (!row.over_range && beyond("ammeter", "current_A", row.current_A, run.speed)) return;
      if (row.power_W && beyond("wattmeter", "power_W", *row.power_W, run.speed)) return;
      if (row.speed_rpm && beyond("tachometer", "speed_rpm", *row.speed_rpm, run.speed)) return;
    }
  for (const auto& each : in.resistance)
    if (beyond("ohmmeter", "resistance_ohm", each.resistance_ohm, each.section)) return;
}

/// Ohms of the start winding beside those of the main one: exchanged names, or a decimal point.
void by_windings(const record::visit_record& in, const verdict::policy& policy, found& out) {
  if (in.machine.phases != 1 || in.machine.running_circuit == record::running_circuit::commutator) return;
  const record::resistance_section *main = nullptr, *start = nullptr;
  for (const auto& each : in.resistance) {
    const auto which = winding_of(each.section);
    if (!which || each.to_speed) continue;
    auto& place = *which == winding::main ? main : start;
    if (place == nullptr) place = &each;
  }
  if (main == nullptr || start == nullptr || main->resistance_ohm <= 0.0 || start->resistance_ohm <= 0.0) return;
  // What the winder expects of both stands above what is usual.
  if (main->expected_ohm && start->expected_ohm) return;
  const bool switched = in.machine.running_circuit == record::running_circuit::start_winding_switched;
  const auto least = switched ? policy.practice.start_over_main_switched_least : policy.practice.start_over_main_least;
  const auto most = policy.practice.start_over_main_most;
  const double ratio = start->resistance_ohm / main->resistance_ohm;
  if (ratio >= least.value && ratio <= most.value) return;
  out.push_back({"resistance." + start->section + " or " + main->section,
                 record::shown_number(start->resistance_ohm) + " ohm of " + start->section,
                 record::shown_number(main->resistance_ohm) + " ohm of " + main->section,
                 std::string(ratio < least.value ? least.source : most.source)});
}

/// Brushes and bars of a machine that has none by its running circuit.
void by_commutator(const record::visit_record& in, found& out) {
  const auto circuit = in.machine.running_circuit;
  if (!in.commutator || circuit == record::running_circuit::commutator || circuit == record::running_circuit::unknown)
    return;
  out.push_back({"machine.running_circuit or [commutator]", "a running circuit without a commutator",
                 "readings of brushes or bars", "only a commutator machine has them (logic)"});
}

void by_fuse(const record::visit_record& in, found& out) {
  const auto& m = in.machine;
  if (!m.fuse_A || !m.rated_current_A || *m.fuse_A >= *m.rated_current_A) return;
  out.push_back({"machine.fuse_A or rated_current_A", entry("fuse_A", *m.fuse_A),
                 entry("rated_current_A", *m.rated_current_A),
                 "a fuse carries the current of the machine that it protects (logic)"});
}

}  // namespace

std::string amperes_per_volt_of(const std::string& speed) { return "run_up of speed " + speed; }

std::vector<contradiction> contradictions_of(const record::visit_record& in, const verdict::policy& policy) {
  found out;
  by_dates(in, policy, out);
  by_nameplate(in, policy, out);
  by_instruments(in, out);
  by_air(in, policy, out);
  by_heated_air(in, policy, out);
  by_cold_ohms(in, policy, out);
  by_volts(in, policy, out);
  by_meant_volts(in, out);
  by_admittance(in, policy, out);
  by_watts(in, policy, out);
  by_poles(in, policy, out);
  by_marked_turning(in, policy, out);
  by_equal_turning(in, policy, out);
  by_ranges(in, out);
  by_windings(in, policy, out);
  by_commutator(in, out);
  by_fuse(in, out);
  return out;
}

}  // namespace rewound::job
