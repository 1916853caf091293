// SPDX-License-Identifier: MIT
#include "designs/known_design.hpp"

#include <algorithm>
#include <cmath>

#include <rewound/base/error.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/machine/fan_population.hpp>

#include "analysis/machine_kind_of.hpp"
#include "analysis/run_up_analysis.hpp"

namespace rewound::job {

using base::error;
using base::error_code;
using fit::channel;

namespace {

using log_reading = std::pair<double, double>;  // ln x, ln value

/// Lowest, middle and highest of a channel's readings; below half the rated voltage small fans stall.
std::vector<fit::curve_reading> picked_readings(std::vector<fit::curve_reading> readings) {
  constexpr double lowest = 0.5;
  std::sort(readings.begin(), readings.end(), [](const auto& a, const auto& b) { return a.x > b.x; });
  while (readings.size() > 1 && readings.back().x < lowest) readings.pop_back();
  if (readings.size() <= 3) return readings;
  return {readings.front(), readings[readings.size() / 2], readings.back()};
}

/// Gathers values known and where they stand.
struct known_values_list {
  std::vector<checks::curve_probe> probes;
  std::vector<double> values;
  std::vector<double> uncertainties;

  void add(std::size_t step, channel what, const std::vector<fit::curve_reading>& readings, double gain) {
    checks::curve_probe probe{step, {}, {what}};
    for (const auto& reading : readings) {
      probe.log_x.push_back(std::log(reading.x));
      values.push_back(std::log(reading.current));
      uncertainties.push_back(std::hypot(model_misfit(what), gain, reading.relative_u_current));
    }
    probes.push_back(std::move(probe));
  }

  void add_nameplate(channel what, double value, double uncertainty) {
    probes.push_back({0, {0.0}, {what}});
    values.push_back(std::log(value));
    uncertainties.push_back(uncertainty);
  }
};

double gain_of_channel(const bench_instruments& meters, channel what) {
  switch (what) {
    case channel::current: return meters.ammeter.gain_uncertainty();
    case channel::power: return meters.wattmeter.gain_uncertainty();
    case channel::rotation: break;
  }
  return meters.tachometer.gain_uncertainty();
}

const char* channel_word(channel what) {
  return what == channel::current ? "current" : what == channel::power ? "power" : "rotation";
}

std::vector<machine::fan_design> starts_for(const record::visit_record& in, const std::vector<double>& ratios) {
  auto out = machine::fan_population(machine_kind_of(in), ratios);
  for (auto& design : out) design.supply_frequency_ratio = run_up_frequency_Hz(in) / in.machine.rated_frequency_Hz;
  return out;
}

/// What was read, speed by speed; currents first, since the first one sets the scale.
void add_run_ups(const record::visit_record& in, const bench_instruments& meters,
                 const std::vector<checks::summary_input>& channels, known_values_list& known, known_designs& out) {
  for (std::size_t step = 0; step < in.machine.speeds.size(); ++step)
    for (const auto what : {channel::current, channel::power, channel::rotation})
      for (const auto& input : channels) {
        if (input.speed != in.machine.speeds[step] || input.what != what || input.readings.empty()) continue;
        known.add(step, what, picked_readings(input.readings), gain_of_channel(meters, what));
        if (what == channel::current) out.read[step] = true;
        const std::string word = channel_word(what);
        if (std::find(out.basis.read.begin(), out.basis.read.end(), word) == out.basis.read.end())
          out.basis.read.push_back(word);
      }
}

/// The nameplate, where the fastest speed was not read.
void add_nameplates(const record::visit_record& in, known_values_list& known, known_designs& out) {
  constexpr double marked_current = 0.10,
                   marked_power = 0.15;  // what a nameplate is off by (common practice, no source)
  const bool watts_read = std::find(out.basis.read.begin(), out.basis.read.end(), "power") != out.basis.read.end();
  if (in.machine.rated_current_A && !out.read.front()) {
    known_values_list first;
    first.add_nameplate(channel::current, *in.machine.rated_current_A, marked_current);
    known.probes.insert(known.probes.begin(), first.probes.front());
    known.values.insert(known.values.begin(), first.values.front());
    known.uncertainties.insert(known.uncertainties.begin(), first.uncertainties.front());
    out.basis.nameplate_current = true;
  }
  if (in.machine.rated_power_W && !watts_read) {
    known.add_nameplate(channel::power, *in.machine.rated_power_W, marked_power);
    out.basis.nameplate_power = true;
  }
}

/// Current of each speed over the fastest one's, at the highest voltage read; a usual step where it was not read.
std::vector<double> current_ratios(const record::visit_record& in, const std::vector<checks::summary_input>& channels) {
  constexpr double usual_step = 0.82;  // from a speed to the next slower one (common practice, no source)
  std::vector<double> out;
  for (const auto& speed : in.machine.speeds) {
    double current = out.empty() ? in.machine.rated_current_A.value_or(1.0) : usual_step * out.back();
    for (const auto& input : channels)
      if (input.speed == speed && input.what == channel::current && !input.readings.empty())
        current = std::max_element(input.readings.begin(), input.readings.end(), [](const auto& a, const auto& b) {
                    return a.x < b.x;
                  })->current;
    out.push_back(current);
  }
  return out;
}

void expect_known_kind(const record::visit_record& in) {
  if (!has_designs(in))
    throw error(error_code::out_of_range, {"", 0, "machine.speed_control"}, "pole_change",
                "a speed control that the machine model knows: windings of several pole numbers are outside it");
}

}  // namespace

std::optional<double> warm_ohms(const record::visit_record& in, winding of) {
  constexpr double usual_warmth_K = 15.0;  // of a winding during its run-up (common practice, no source)
  for (const auto& entry : in.resistance) {
    if (winding_of(entry.section) != of) continue;
    double warm_C = entry.winding_C + usual_warmth_K;
    for (const auto& run : in.run_up) warm_C = run.winding_C.value_or(warm_C);
    const double ohms = entry.resistance_ohm - entry.lead_resistance_ohm.value_or(0.0);
    return units::in_ohms(machine::at_temperature(units::ohms(ohms), units::celsius(entry.winding_C),
                                                  units::celsius(warm_C), entry.material));
  }
  return std::nullopt;
}

known_designs designs_of(const record::visit_record& in) {
  expect_known_kind(in);
  const visit_facts visit{in, instruments_of(in)};
  const auto channels = channels_of(visit, analyse_run_ups(visit, {}));
  known_designs out;
  out.read.assign(in.machine.speeds.size(), false);
  known_values_list known;
  add_run_ups(in, visit.instruments, channels, known, out);
  add_nameplates(in, known, out);
  if (!out.read.front() && !out.basis.nameplate_current)
    throw error(error_code::missing_key, {"", 0, "machine.rated_current_A"}, "nothing",
                "a run-up of the fastest speed with its rotor turning, or the marked current");
  const auto n = static_cast<Eigen::Index>(known.values.size());
  const checks::design_match_input match{starts_for(in, current_ratios(in, channels)), known.probes,
                                         Eigen::Map<const Eigen::VectorXd>(known.values.data(), n),
                                         Eigen::Map<const Eigen::VectorXd>(known.uncertainties.data(), n),
                                         warm_ohms(in, winding::main)};
  out.basis.resistance = match.main_resistance_ohm.has_value();
  out.designs = checks::design_match(match);
  if (out.designs.empty())
    throw error(error_code::out_of_range, {"", 0, "run_up"}, "a draw that no design of the population has",
                "a single- or three-phase fan's");
  // Likelihoods are sharper than a model machine deserves: designs count by their square roots (project's choice; with
  // the likelihoods themselves the intervals of simulated machines held the truth 91 times of 100).
  const double wider = out.designs.front().misfit;
  out.basis.misfit = wider;
  for (auto& each : out.designs) each.weight = std::sqrt(each.weight);
  std::erase_if(out.designs, [](const checks::matched_design& each) {
    constexpr double negligible = 0.01;
    return each.weight < negligible;
  });
  for (const auto& each : out.designs) out.covariances.push_back(wider * each.covariance);
  out.basis.designs = out.designs.size();
  return out;
}

}  // namespace rewound::job
