// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/verdict/rules/readings.hpp>

#include "analysis/analysis.hpp"
#include "analysis/contradictions.hpp"

namespace rewound::job {

std::vector<verdict::rules::named_suspect> suspects_of(const analysis& seen) {
  std::vector<verdict::rules::named_suspect> out;
  for (const auto& suspect : seen.run_ups.suspects.readings)
    out.push_back({seen.run_ups.as_read[suspect.run].speed, suspect});
  return out;
}

namespace {

bool below_share(double value, double full_scale, const verdict::policy& policy) {
  return value > 0.0 && value < policy.practice.low_on_range_percent.value / 100.0 * full_scale;
}

/// One speed's least reading on a range, where it lies low on it.
template <class Value>
void add_low(const char* meter, const char* unit, const record::visit_record& in, Value record::run_up_row::*member,
             const verdict::policy& policy, std::vector<verdict::rules::low_reading>& out) {
  const auto stated = in.instruments.find(meter);
  if (stated == in.instruments.end() || !stated->second.full_scale) return;
  for (const auto& run : in.run_up) {
    const auto read = run.column(member);
    if (read.empty()) continue;
    const double least = *std::min_element(read.begin(), read.end());
    if (below_share(least, *stated->second.full_scale, policy))
      out.push_back({meter, run.speed, least, *stated->second.full_scale, unit});
  }
}

std::vector<verdict::rules::low_reading> low_readings_of(const record::visit_record& in,
                                                         const verdict::policy& policy) {
  std::vector<verdict::rules::low_reading> out;
  add_low("voltmeter", "V", in, &record::run_up_row::voltage_V, policy, out);
  add_low("ammeter", "A", in, &record::run_up_row::current_A, policy, out);
  add_low("wattmeter", "W", in, &record::run_up_row::power_W, policy, out);
  add_low("tachometer", "rpm", in, &record::run_up_row::speed_rpm, policy, out);
  const auto ohmmeter = in.instruments.find("ohmmeter");
  if (ohmmeter == in.instruments.end() || !ohmmeter->second.full_scale) return out;
  for (const auto& entry : in.resistance)
    if (below_share(entry.resistance_ohm, *ohmmeter->second.full_scale, policy))
      out.push_back({"ohmmeter", entry.section, entry.resistance_ohm, *ohmmeter->second.full_scale, "ohm"});
  return out;
}

/// A current was read by a meter that takes it for a sine.
bool averaged(const record::visit_record& in) {
  const auto ammeter = in.instruments.find("ammeter");
  return ammeter != in.instruments.end() && ammeter->second.true_rms == false && !in.run_up.empty();
}

/// What contradicts itself within the record, but for readings that are suspect already.
std::vector<verdict::rules::contradiction> untold_contradictions(const analysis& seen) {
  auto out = seen.contradictions;
  for (const auto& suspect : suspects_of(seen))
    std::erase_if(out, [&](const auto& each) { return each.place == amperes_per_volt_of(suspect.speed); });
  return out;
}

}  // namespace

finding_list judge_readings(const analysis& seen) {
  int stalled = 0;
  for (const auto& run : seen.run_ups.as_read)
    for (const auto& reading : run.readings) stalled += reading.turning ? 0 : 1;
  auto out = verdict::rules::readings(suspects_of(seen), impossible_watts_of(seen.today()), untold_contradictions(seen),
                                      stalled, seen.today().instruments.assumed);
  append(out, verdict::rules::meters(low_readings_of(seen.record, seen.policy), averaged(seen.record), seen.policy));
  return out;
}

}  // namespace rewound::job
