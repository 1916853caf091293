// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/cooling.hpp>
#include <rewound/checks/heat_run.hpp>
#include <rewound/fit/curve_choice.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/verdict/rules/bench_checks.hpp>
#include <rewound/verdict/rules/heat_run.hpp>

#include "analysis/analysis.hpp"
#include "pictures/picture_parts.hpp"

namespace rewound::job {

namespace {

/// Conductor of the winding: aluminium when every section of the record says so.
record::conductor_material material_of(const record::visit_record& in) {
  bool aluminium = !in.resistance.empty();
  for (const auto& entry : in.resistance)
    aluminium = aluminium && entry.material == record::conductor_material::aluminium;
  return aluminium ? record::conductor_material::aluminium : record::conductor_material::copper;
}

/// From ohms to the rise of one record's winding, and back from the digits to kelvins.
struct rise_scale {
  const record::heat_run_section& run;
  record::conductor_material material;
  double copper_K;
  double digit_ohm;
  double thermometer_K;
  double thermometer_gain;  ///< relative, one for all its readings

  double rise(double ohm) const {
    return units::in_kelvins(machine::rise_by_resistance(units::ohms(cold_ohm()), units::celsius(run.cold_C),
                                                         units::ohms(ohm), units::celsius(run.ambient_C), material,
                                                         copper_K));
  }
  double cold_ohm() const { return run.cold_ohm.value(); }  // stands beside any ohms of the run
  double per_ohm() const { return (machine::inferred_zero_offset_K(material, copper_K) + run.cold_C) / cold_ohm(); }
  /// What all readings share, at a hot resistance: the cold one's digits, and the two temperatures. The ohmmeter's gain
  /// cancels in hot over cold; the thermometer's goes into both temperatures alike.
  double common(double ohm) const {
    const double ratio = ohm / cold_ohm();
    return std::hypot(std::hypot(ratio * per_ohm() * digit_ohm, ratio * thermometer_K, thermometer_K),
                      thermometer_gain * (ratio * run.cold_C - run.ambient_C));
  }
  /// The same for rises by thermometer: the ambient's reading, and the gain of both.
  double common_by_thermometer(double rise_K) const { return std::hypot(thermometer_K, thermometer_gain * rise_K); }
  double at_ambient_ohm() const { return cold_ohm() - rise(cold_ohm()) / per_ohm(); }
};

rise_scale scale_of(const visit_facts& now, const verdict::policy& policy) {
  return {*now.in.heat_run,
          material_of(now.in),
          policy.practice.copper_constant_K.value,
          units::in_ohms(now.instruments.ohmmeter.digit_uncertainty()),
          units::in_kelvins(now.instruments.thermometer.digit_uncertainty()),
          now.instruments.thermometer.gain_uncertainty()};
}

/// What all readings share, at the last of them.
double common_at_end(const rise_scale& scale) {
  const auto& run = scale.run;
  return run.resistance_ohm.empty() ? scale.common_by_thermometer(run.temperature_C.back() - run.ambient_C)
                                    : scale.common(run.resistance_ohm.back());
}

checks::heat_run_input heating_of(const rise_scale& scale, const visit_facts& now, const verdict::policy& policy) {
  const auto& run = scale.run;
  checks::heat_run_input out{
      {},
      units::seconds(60.0 * policy.practice.heat_time_constant_min.value),
      policy.practice.heat_time_constant_factor.value,
      policy.practice.heat_two_parts_certainty.value,
      units::kelvins(policy.practice.heat_known_K.value),
      units::kelvins(policy.practice.heat_steady_K.value),
      {units::seconds(60.0 * policy.practice.heat_fast_shortest_min.value),
       units::seconds(60.0 * policy.practice.heat_fast_longest_min.value), policy.practice.heat_fast_share.value},
      units::kelvins(run.cold_C - run.ambient_C),
      units::kelvins(policy.practice.heat_moves_K.value)};
  for (std::size_t i = 0; i < run.time_s.size(); ++i) {
    const bool by_ohms = !run.resistance_ohm.empty();
    const double rise = by_ohms ? scale.rise(run.resistance_ohm[i]) : run.temperature_C[i] - run.ambient_C;
    const double u = by_ohms ? scale.per_ohm() * scale.digit_ohm
                             : units::in_kelvins(now.instruments.thermometer.digit_uncertainty());
    out.readings.push_back({units::seconds(run.time_s[i]), units::kelvins(rise), units::kelvins(u)});
  }
  return out;
}

void tell_cooling(const rise_scale& scale, verdict::rules::heat_results& found) {
  const auto& run = scale.run;
  if (run.cooling_time_s.empty()) return;
  checks::cooling_input in{{}, units::ohms(scale.at_ambient_ohm()), units::ohms(scale.digit_ohm)};
  for (std::size_t i = 0; i < run.cooling_time_s.size(); ++i)
    in.readings.push_back({units::seconds(run.cooling_time_s[i]), units::ohms(run.cooling_ohm[i])});
  found.cooling = checks::cooling(in);
  if (found.cooling->status == checks::cooling_status::not_cooling) return;
  const auto& at = found.cooling->at_switch_off;
  const double ohm = units::in_ohms(at.value);
  found.at_switch_off = {scale.rise(ohm),
                         std::hypot(scale.per_ohm() * units::in_ohms(at.standard_uncertainty), scale.common(ohm))};
}

/// What the losses of the fastest speed go with, at two voltages over the rated one: its watts where they were read,
/// else the current squared. Absent where a voltage lies further than a tenth of the rated one beyond the readings.
struct loss_curve {
  fit::current_curve curve;
  bool by_watts;

  std::optional<double> ratio(double to, double from) const {
    constexpr double tenth = 0.1;
    for (const double x : {to, from})
      if (x < curve.x_low - tenth || x > curve.x_high + tenth) return std::nullopt;
    const double log = fit::log_current(curve, to).value - fit::log_current(curve, from).value;
    return std::exp(by_watts ? log : 2.0 * log);
  }
};

std::optional<loss_curve> loss_curve_of(const analysis& seen) {
  const auto& speed = seen.record.machine.speeds.front();
  if (const auto* watts = seen.channels.curve_of(speed, fit::channel::power)) return loss_curve{*watts, true};
  const auto* current = seen.run_ups.curve_of(speed);
  return current == nullptr ? std::nullopt : std::optional{loss_curve{*current, false}};
}

std::optional<verdict::rules::losses_on_mains> losses_on_mains_of(const analysis& seen) {
  const auto& in = seen.record;
  const auto losses = in.visit.supply_voltage_V ? loss_curve_of(seen) : std::nullopt;
  if (!losses) return std::nullopt;
  const double rated_V = in.machine.rated_voltage_V;
  const auto ratio =
      losses->ratio(*in.visit.supply_voltage_V / rated_V, in.heat_run->voltage_V.value_or(rated_V) / rated_V);
  if (!ratio) return std::nullopt;
  return verdict::rules::losses_on_mains{*ratio, losses->by_watts};
}

}  // namespace

finding_list judge_heat_run(const analysis& seen) {
  const auto& now = seen.today();
  const auto& policy = seen.policy;
  if (!now.in.heat_run) return {verdict::rules::not_made(verdict::check::heat_run)};
  const auto scale = scale_of(now, policy);
  verdict::rules::heat_results found{checks::heat_run(heating_of(scale, now, policy)), common_at_end(scale)};
  tell_cooling(scale, found);
  found.on_mains = losses_on_mains_of(seen);
  found.entries_doubted = std::any_of(seen.contradictions.begin(), seen.contradictions.end(),
                                      [](const auto& each) { return each.place.starts_with("heat_run."); });
  return verdict::rules::heat_run(now.in, found, policy);
}

std::optional<heat_picture> heat_picture_of(const visit_facts& now, const verdict::policy& policy) {
  if (!now.in.heat_run) return std::nullopt;
  const auto scale = scale_of(now, policy);
  const auto input = heating_of(scale, now, policy);
  heat_picture out;
  for (std::size_t i = 0; i < input.readings.size(); ++i)
    out.readings.push_back(
        {static_cast<int>(i), units::in_seconds(input.readings[i].time), units::in_kelvins(input.readings[i].rise)});
  const auto found = checks::heat_run(input);
  if (found.status != checks::heat_run_status::projected) return out;
  for (std::size_t i = 0; i < found.at_readings.size(); ++i)
    add_point(out.fitted, out.readings[i].x, units::in_kelvins(found.at_readings[i]));
  const double further = common_at_end(scale);
  const auto [low, middle, high] =
      std::array{found.final_rise.quantile(0.025, further), found.final_rise.quantile(0.5, further),
                 found.final_rise.quantile(0.975, further)};
  const double last = out.readings.back().x;
  const double at_end = units::in_kelvins(found.at_end);
  const double tau = units::in_seconds(found.time_constants.front());
  constexpr int steps = 24;
  constexpr double shown = 3.0;  // time constants, after which 5 % of the way is left
  for (int i = 0; i <= steps; ++i) {
    const double after = shown * tau * i / steps;
    const double left = std::exp(-after / tau);
    const auto towards = [&](double final) { return final + (at_end - final) * left; };
    add_point(out.projected, last + after, towards(middle), towards(low), towards(high));
  }
  return out;
}

}  // namespace rewound::job
