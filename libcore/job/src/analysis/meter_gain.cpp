// SPDX-License-Identifier: MIT
#include "analysis/meter_gain.hpp"

#include <cmath>
#include <map>
#include <utility>

namespace rewound::job {

const char* meter_of(fit::channel what) {
  switch (what) {
    case fit::channel::current: return "ammeter";
    case fit::channel::power: return "wattmeter";
    case fit::channel::rotation: return "tachometer";
  }
  return "";
}

std::map<std::string, reference_meter> meters_of(const bench_instruments& bench) {
  const auto remembered = [](const auto& meter) { return reference_meter{meter.name, meter.gain_uncertainty()}; };
  return {{"voltmeter", remembered(bench.voltmeter)},
          {"ammeter", remembered(bench.ammeter)},
          {"wattmeter", remembered(bench.wattmeter)},
          {"tachometer", remembered(bench.tachometer)}};
}

double remaining_gain(const std::vector<reference_machine>& machines, const char* kind, const reference_meter& meter) {
  std::map<std::string, std::pair<double, double>> others;  // name: weight, gain
  const double each = 1.0 / static_cast<double>(machines.size());
  double own_weight = 0.0;
  double square = 0.0;
  for (const auto& machine : machines) {
    const auto read_by = machine.meters.find(kind);
    if (read_by == machine.meters.end()) continue;
    const auto& [name, gain] = read_by->second;
    // A meter of the same name whose accuracy is written otherwise is another meter.
    const bool same_accuracy = std::abs(gain - meter.gain_uncertainty) <= 1e-6 * meter.gain_uncertainty;
    if (!meter.name.empty() && name == meter.name && same_accuracy) own_weight += each;
    else if (name.empty()) square += each * each * gain * gain;
    else {
      others[name].first += each;
      others[name].second = gain;
    }
  }
  for (const auto& [unused, entry] : others) square += std::pow(entry.first * entry.second, 2);
  return std::sqrt(square + std::pow((1.0 - own_weight) * meter.gain_uncertainty, 2));
}

double level_gain(const std::map<std::string, reference_meter>& meters, const std::vector<reference_machine>& machines,
                  fit::channel what) {
  const auto of = [&](const char* kind) {
    const auto meter = meters.find(kind);
    return meter == meters.end() ? 0.0 : remaining_gain(machines, kind, meter->second);
  };
  return std::hypot(of(meter_of(what)), of("voltmeter"));
}

}  // namespace rewound::job
