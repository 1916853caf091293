// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <map>
#include <numbers>
#include <optional>
#include <string>
#include <vector>

#include <rewound/job/judge.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/machine/fault.hpp>
#include <rewound/machine/named_parameter.hpp>
#include <rewound/machine/running_point.hpp>
#include <rewound/machine/tables.hpp>

#include "analysis/reference_comparison.hpp"
#include "analysis/run_up_analysis.hpp"
#include "simulate.hpp"

// Machines of designs drawn here, not from the library's own population: healthy units of each and units with a fault,
// judged beside good ones, an earlier visit or the nameplate.
namespace rewound::study {

namespace {

using machine::fan_design;
using record::speed_control;

constexpr double alarm = 2.0;  // -log10 of the false-alarm rate of 1 % that the design sets

double log_between(double low, double high, generator& random) {
  return low * std::pow(high / low, between(0.0, 1.0, random));
}

struct setting {
  const char* name;
  record::running_circuit circuit;
  speed_control control;
  record::shaft_condition shaft;
  bool watts_and_rpm;
};

constexpr std::array<setting, 6> settings{{
    {"capacitor, choke, fan on, A W rpm", record::running_circuit::permanent_capacitor, speed_control::series_reactor,
     record::shaft_condition::loaded, true},
    {"capacitor, choke, fan on, A", record::running_circuit::permanent_capacitor, speed_control::series_reactor,
     record::shaft_condition::loaded, false},
    {"capacitor, taps, bare, A W rpm", record::running_circuit::permanent_capacitor, speed_control::tapped_winding,
     record::shaft_condition::bare, true},
    {"capacitor, taps, bare, A", record::running_circuit::permanent_capacitor, speed_control::tapped_winding,
     record::shaft_condition::bare, false},
    {"main alone, choke, fan on, A W rpm", record::running_circuit::start_winding_switched,
     speed_control::series_reactor, record::shaft_condition::loaded, true},
    {"main alone, choke, fan on, A", record::running_circuit::start_winding_switched, speed_control::series_reactor,
     record::shaft_condition::loaded, false},
}};

/// One draw of a design; whether it is one that anybody would build is asked afterwards.
fan_design drawn_design(const setting& in, generator& random) {
  fan_design out;
  auto& m = out.machine;
  const double scale = log_between(0.4, 2.5, random);
  m.poles = 2 * std::uniform_int_distribution<int>(1, 4)(random);
  m.rated_voltage_V = rated_voltage;
  m.main_resistance_ohm = scale * log_between(22.0, 50.0, random);
  m.main_leakage_ohm = scale * log_between(22.0, 55.0, random);
  m.rotor_resistance_ohm = scale * log_between(24.0, 75.0, random);
  m.rotor_leakage_ohm = m.main_leakage_ohm * between(0.7, 1.1, random);
  m.magnetising_ohm = scale * log_between(180.0, 350.0, random);
  m.saturation = {between(0.05, 0.5, random), rated_voltage * between(0.7, 1.05, random), between(4.0, 8.0, random)};
  m.core_loss_W = between(2.0, 10.0, random) / scale;
  machine::auxiliary_winding start;
  start.turns_ratio = between(1.0, 1.8, random);
  start.resistance_ohm = scale * log_between(90.0, 220.0, random);
  start.leakage_ohm = start.turns_ratio * start.turns_ratio * m.main_leakage_ohm;
  if (in.circuit == record::running_circuit::permanent_capacitor)
    start.capacitance_F = 4e-6 / scale * log_between(0.75, 1.35, random);
  else start.switched_out = true;
  m.auxiliary = start;
  out.steps.resize(speed_count);
  const double deep = between(0.5, 1.5, random);
  for (std::size_t i = 1; i < speed_count; ++i) {
    const double share = deep * static_cast<double>(i) / 2.0;
    if (in.control == speed_control::tapped_winding) out.steps[i].speed_turns = 0.4 * share;
    else {
      out.steps[i].series_reactance_ohm = 130.0 * scale * share;
      out.steps[i].series_resistance_ohm = 0.1 * out.steps[i].series_reactance_ohm;
    }
  }
  const double synchronous = 4.0 * std::numbers::pi * 50.0 / m.poles;
  const double slip = between(0.05, 0.2, random);
  const auto at = machine::point_at_slip(m, out.steps[0], {}, units::volts(rated_voltage), units::hertz(50.0), slip);
  out.load = machine::fan_load(std::max(1e-4, at.developed_torque.value()), (1.0 - slip) * synchronous,
                               between(0.02, 0.08, random));
  if (in.shaft == record::shaft_condition::bare) out.load.square_Nm_s2 *= 0.02;
  return out;
}

bool worth_building(const fan_design& design) {
  for (std::size_t i = 0; i < speed_count; ++i)
    for (const double x : {0.7, 1.0}) {
      const auto at = machine::running_point_when_turning(design, i, units::volts(x * rated_voltage));
      if (at.state != machine::running_state::runs || at.slip > (x < 1.0 ? 0.8 : 0.65)) return false;
    }
  return machine::running_point_when_turning(design, 0, units::volts(rated_voltage)).power_factor > 0.2;
}

fan_design random_fan(const setting& in, generator& random) {
  for (;;) {
    const auto out = drawn_design(in, random);
    if (worth_building(out)) return out;
  }
}

/// One unit of a design, its parameters spread `factor` times as the library takes them to be.
fan_design unit_of(const fan_design& design, double factor, generator& random) {
  fan_design out = design;
  for (const auto& row : machine::tables::healthy_spread)
    out = machine::moved_by_name(out, row.parameter, normal(factor * row.spread, random));
  return out;
}

struct fan_meters {
  bench_meters electrical;
  meter wattmeter{"", 1.0, 5.0, 0.1};
  meter tachometer{"", 0.1, 1.0, 1.0};
};

fan_meters meters_named(const std::string& name, generator& random) {
  fan_meters out{random_meters(name, random)};
  out.wattmeter.name = name + " wattmeter";
  out.tachometer.name = name + " tachometer";
  for (auto* each : {&out.wattmeter, &out.tachometer})
    each->gain = between(-each->percent, each->percent, random) / 100.0;
  return out;
}

record::run_up_section read_speed(const fan_design& unit, std::size_t speed, const setting& in,
                                  const fan_meters& meters, generator& random) {
  record::run_up_section out;
  out.speed = speed_names[speed];
  const auto count = std::uniform_int_distribution<int>(6, 8)(random);
  for (int i = 0; i < count; ++i) {
    const double x = (0.5 + 0.55 * i / (count - 1)) * (1.0 + between(-0.01, 0.01, random));
    const auto at = machine::running_point_when_turning(unit, speed, units::volts(x * rated_voltage));
    record::run_up_row& row = out.rows.emplace_back();
    row.voltage_V = meters.electrical.voltmeter.read(x * rated_voltage, random);
    row.current_A = std::max(0.0, meters.electrical.ammeter.read(units::in_amperes(at.line_current), random));
    row.turning = at.state == machine::running_state::runs;
    if (!in.watts_and_rpm) continue;
    row.power_W = std::max(0.0, meters.wattmeter.read(units::in_watts(at.input), random));
    row.speed_rpm = std::max(0.0, meters.tachometer.read(units::in_rpm(at.speed), random));
  }
  return out;
}

record::visit_record visit_of(const std::string& id, const fan_design& unit, const fan_design& design,
                              const setting& in, const fan_meters& meters, generator& random) {
  record::visit_record out;
  out.machine.id = id;
  out.machine.model = "simulated";
  out.machine.rated_voltage_V = rated_voltage;
  out.machine.rated_frequency_Hz = 50.0;
  out.machine.speed_control = in.control;
  out.machine.running_circuit = in.circuit;
  out.machine.speeds.assign(speed_names.begin(), speed_names.end());
  out.machine.rated_current_A =
      units::in_amperes(machine::running_point_when_turning(design, 0, units::volts(rated_voltage)).line_current);
  out.visit.day = {2026, 5, 14};
  out.visit.shaft = in.shaft;
  for (const auto& [kind, m] :
       {std::pair{"voltmeter", &meters.electrical.voltmeter}, std::pair{"ammeter", &meters.electrical.ammeter},
        std::pair{"wattmeter", &meters.wattmeter}, std::pair{"tachometer", &meters.tachometer}})
    out.instruments[kind] = {m->name, m->percent, m->digits, m->resolution};
  for (std::size_t i = 0; i < speed_count; ++i) out.run_up.push_back(read_speed(unit, i, in, meters, random));
  return out;
}

struct planted {
  machine::fault what;
  double least;
  double most;
};

constexpr std::array<planted, 10> planted_faults{{{machine::fault::shorted_turns, 0.02, 0.12},
                                                  {machine::fault::too_few_turns, 0.03, 0.12},
                                                  {machine::fault::too_many_turns, 0.03, 0.12},
                                                  {machine::fault::wire_too_thin, 0.2, 0.6},
                                                  {machine::fault::speed_section_shorted, 0.2, 0.9},
                                                  {machine::fault::tight_bearing, 0.1, 0.8},
                                                  {machine::fault::rotor_fault, 0.15, 0.6},
                                                  {machine::fault::weak_capacitor, 0.15, 0.6},
                                                  {machine::fault::start_winding_left_in, 1.0, 1.0},
                                                  {machine::fault::speed_leads_exchanged, 1.0, 1.0}}};

/// What happened to the machines with one fault.
struct outcome_count {
  int machines = 0;
  int alarms = 0;
  int first = 0;  ///< of the alarms: the right cause first
  int first_three = 0;
};

/// One machine's scores: what the distance from good machines alone says, and the likelihood ratio over faults.
struct scored {
  std::string truth;
  int third;  ///< of the severity: 0 mild, 1, 2 severe
  double distance;
  double ratio;
};

struct cohort {
  std::vector<scored> scores;
  std::map<std::string, outcome_count> by_fault;
  std::array<double, 10> claimed{};  ///< sum of the first cause's probability, by tenths
  std::array<int, 10> right{};
  std::array<int, 10> cases{};
};

/// -log10 p of the test by distance alone, which asks in no particular direction but a common and a single one.
double score_by_distance(const record::visit_record& now, const job::sources& beside, const verdict::policy& policy) {
  const job::visit_facts visit{now, job::instruments_of(now)};
  const auto run_ups = job::analyse_run_ups(visit, {});
  const auto channels = job::analyse_channels(job::channels_of(visit, run_ups));
  const auto& good = beside.good ? *beside.good : job::reference_of(*beside.earlier);
  const auto spread = beside.good ? job::between_machines(policy) : job::between_visits(policy);
  const auto compared = job::compare_with_reference(visit, good, job::pool_reference(good, spread), run_ups, channels,
                                                    verdict::expectation::reference);
  return -std::log10(std::max(compared ? compared->p_value : 1.0, 1e-300));
}

void note(const job::result& judged, const std::string& truth, cohort& out) {
  auto& row = out.by_fault[truth];
  ++row.machines;
  const bool alarmed = judged.abnormality.value_or(0.0) > alarm;
  row.alarms += alarmed;
  const auto name_at = [&](std::size_t i) { return std::string(verdict::name(judged.causes[i].cause)); };
  const auto bin = std::min<std::size_t>(9, static_cast<std::size_t>(judged.causes[0].probability * 10.0));
  out.claimed[bin] += judged.causes[0].probability;
  out.right[bin] += name_at(0) == (truth == "healthy" ? "none" : truth);
  ++out.cases[bin];
  if (!alarmed) return;
  for (std::size_t i = 0; i < 3; ++i)
    if (name_at(i) == truth) {
      ++row.first_three;
      row.first += i == 0;
    }
}

/// A bearing's severity is counted with the fan on, also where the shaft is bare.
fan_design with_fault(const fan_design& unit, const setting& in, machine::fault what, double severity) {
  fan_design loaded = unit;
  if (in.shaft == record::shaft_condition::bare) loaded.load.square_Nm_s2 *= 50.0;
  auto out = machine::apply_fault(loaded, what, severity);
  out.load.square_Nm_s2 = unit.load.square_Nm_s2;
  return out;
}

struct comparison {
  const char* name;
  std::size_t machines;  ///< good ones; 0: the earlier visit
  bool nameplate;
};

void run(const setting& in, const comparison& beside, std::size_t models, double spread, generator& random,
         cohort& out) {
  const auto policy = job::default_policy();
  for (std::size_t m = 0; m < models; ++m) {
    const auto design = random_fan(in, random);
    const auto meters = meters_named("shop", random);
    job::sources sources;
    std::vector<record::visit_record> good;
    for (std::size_t i = 0; i < beside.machines; ++i)
      good.push_back(visit_of("unit" + std::to_string(i), unit_of(design, spread, random), design, in, meters, random));
    if (!good.empty()) sources.good = job::learn(good, policy);
    double distance = 0.0;
    const auto judged = [&](const fan_design& then, const fan_design& now) {
      if (beside.machines == 0 && !beside.nameplate)
        sources.earlier = visit_of("unit", then, design, in, meters, random);
      const auto record = visit_of("unit", now, design, in, meters, random);
      if (!beside.nameplate) distance = score_by_distance(record, sources, policy);
      return job::judge(record, sources, policy);
    };
    const auto keep = [&](const job::result& result, const std::string& truth, int third) {
      note(result, truth, out);
      out.scores.push_back({truth, third, distance, result.abnormality.value_or(0.0)});
    };
    // Between two visits to one machine the bearings and the weather change: a fifth of the spread between machines.
    const auto visited = [&](const fan_design& unit) { return unit_of(unit, 0.2 * spread, random); };
    for (int i = 0; i < 12; ++i) {
      const auto unit = unit_of(design, spread, random);
      keep(judged(unit, visited(unit)), "healthy", 0);
    }
    for (const auto& fault : planted_faults) {
      const auto unit = unit_of(design, spread, random);
      if (!machine::can_have(unit, fault.what)) continue;
      const double severity = log_between(fault.least, fault.most, random);
      const double share =
          fault.most > fault.least ? std::log(severity / fault.least) / std::log(fault.most / fault.least) : 0.5;
      keep(judged(unit, with_fault(visited(unit), in, fault.what, severity)), std::string(machine::name(fault.what)),
           std::min(2, static_cast<int>(3.0 * share)));
    }
  }
}

/// Score that a share of the healthy machines exceeds.
double threshold(const cohort& in, double share, double scored::*which) {
  std::vector<double> healthy;
  for (const auto& each : in.scores)
    if (each.truth == "healthy") healthy.push_back(each.*which);
  std::sort(healthy.begin(), healthy.end());
  return healthy[std::min(healthy.size() - 1,
                          static_cast<std::size_t>((1.0 - share) * static_cast<double>(healthy.size())))];
}

/// Detection at equal false alarms, by fault and third of severity: by distance alone, and by the likelihood ratio.
void print_before_and_after(const cohort& in) {
  constexpr double share = 0.02;
  const double before = threshold(in, share, &scored::distance);
  const double after = threshold(in, share, &scored::ratio);
  std::printf("    found at %.0f %% false alarms, mild / middle / severe:  distance alone -> likelihood ratio\n",
              100.0 * share);
  std::map<std::string, std::array<std::array<int, 3>, 3>> counts;  // machines, before, after by third
  for (const auto& each : in.scores) {
    if (each.truth == "healthy") continue;
    auto& row = counts[each.truth];
    const auto third = static_cast<std::size_t>(each.third);
    ++row[0][third];
    row[1][third] += each.distance > before;
    row[2][third] += each.ratio > after;
  }
  std::array<int, 3> all{};
  for (const auto& [name, row] : counts) {
    std::printf("    %-22s", name.c_str());
    for (const std::size_t test : {std::size_t{1}, std::size_t{2}}) {
      for (std::size_t third = 0; third < 3; ++third)
        std::printf(" %3.0f", row[0][third] ? 100.0 * row[test][third] / row[0][third] : 0.0);
      if (test == 1) std::printf("  ->");
    }
    std::printf("   (%d %d %d)\n", row[0][0], row[0][1], row[0][2]);
    for (std::size_t k = 0; k < 3; ++k) all[k] += row[k][0] + row[k][1] + row[k][2];
  }
  std::printf("    all faults: %.1f %% -> %.1f %% of %d\n", 100.0 * all[1] / all[0], 100.0 * all[2] / all[0], all[0]);
}

void print(const cohort& in) {
  int faults = 0, alarms = 0, first = 0, three = 0;
  for (const auto& [name, row] : in.by_fault) {
    std::printf("    %-22s %4d machines  alarms %5.1f %%", name.c_str(), row.machines,
                100.0 * row.alarms / row.machines);
    if (name != "healthy") {
      std::printf("   right cause first %5.1f %%, among three %5.1f %%",
                  row.alarms ? 100.0 * row.first / row.alarms : 0.0,
                  row.alarms ? 100.0 * row.first_three / row.alarms : 0.0);
      faults += row.machines, alarms += row.alarms, first += row.first, three += row.first_three;
    }
    std::printf("\n");
  }
  std::printf("    all faults: alarms %.1f %%, of these right first %.1f %%, among three %.1f %%\n",
              100.0 * alarms / std::max(1, faults), 100.0 * first / std::max(1, alarms),
              100.0 * three / std::max(1, alarms));
  std::printf("    claimed / right: ");
  for (std::size_t i = 0; i < in.cases.size(); ++i)
    if (in.cases[i] > 0)
      std::printf(" %.2f/%.2f(%d)", in.claimed[i] / in.cases[i], 1.0 * in.right[i] / in.cases[i], in.cases[i]);
  std::printf("\n");
  std::fflush(stdout);
}

}  // namespace

void print_causes(const options& asked) {
  generator random(asked.seed + 5);
  std::printf("\nSimulated faults: alarms at 1 %%, and the causes named where it alarmed\n");
  for (const auto& beside : {comparison{"1 good machine", 1, false}, comparison{"3 good machines", 3, false},
                             comparison{"10 good machines", 10, false}, comparison{"earlier visit", 0, false},
                             comparison{"nameplate", 0, true}}) {
    cohort all;
    for (const auto& in : settings) {
      cohort own;
      run(in, beside, cases(asked, 20), 1.0, random, own);
      std::printf("  %s, beside %s\n", in.name, beside.name);
      print(own);
      all.scores.insert(all.scores.end(), own.scores.begin(), own.scores.end());
    }
    std::printf("  all of these, beside %s\n", beside.name);
    print_before_and_after(all);
  }
}

}  // namespace rewound::study
