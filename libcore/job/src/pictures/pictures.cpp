// SPDX-License-Identifier: MIT
#include <rewound/job/pictures.hpp>

#include <algorithm>
#include <cmath>

#include <rewound/checks/absorption.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/units/rotation.hpp>

#include "analysis/analysis.hpp"
#include "pictures/picture_parts.hpp"

namespace rewound::job {

namespace {

constexpr int steps_of_a_curve = 48;

/// From the lowest turning reading in use to the highest, the rated voltage and the mains if those lie above.
struct voltage_span {
  double low;
  double high;
};

voltage_span span_of(const visit_facts& now, const fit::current_curve& curve) {
  const double rated = now.in.machine.rated_voltage_V;
  const double beyond = std::max(rated, now.in.visit.supply_voltage_V.value_or(rated));
  constexpr double furthest = 1.6;  // a voltage that is misread does not stretch the picture
  return {curve.x_low * rated, std::min(std::max(curve.x_high * rated, beyond), furthest * beyond)};
}

drawn_curve fitted_curve(const fit::current_curve& curve, const voltage_span& span, double rated_V) {
  drawn_curve out;
  for (int i = 0; i <= steps_of_a_curve; ++i) {
    const double volts = span.low + (span.high - span.low) * i / steps_of_a_curve;
    const auto log = fit::log_current(curve, volts / rated_V);
    const double half = measurement::coverage_95 * log.standard_uncertainty;
    add_point(out, volts, std::exp(log.value), std::exp(log.value - half), std::exp(log.value + half));
  }
  return out;
}

/// One more reading by these meters on one more machine of the population.
drawn_curve expected_curve(const running_population& beside, const std::string& speed, double gain,
                           const voltage_span& span, double rated_V, const verdict::policy& policy) {
  drawn_curve out;
  auto input = currents_of(beside.pooled, speed);
  if (!input) return out;
  input->ammeter_uncertainty = gain;
  const double factor = band_factor(0.95, beside, policy);
  for (int i = 0; i <= steps_of_a_curve; ++i) {
    const double volts = span.low + (span.high - span.low) * i / steps_of_a_curve;
    input->x = volts / rated_V;
    const auto expected = checks::expected_current(*input);
    const double half = factor * expected.log_uncertainty;
    add_point(out, volts, std::exp(expected.log_value), std::exp(expected.log_value - half),
              std::exp(expected.log_value + half));
  }
  return out;
}

std::vector<drawn_reading> readings_of(const run_up_analysis& today, std::size_t run) {
  std::vector<drawn_reading> out;
  for (const auto& reading : today.as_read[run].readings)
    out.push_back({reading.index, reading.voltage.value(), reading.current.value(), false, !reading.turning});
  for (const auto& suspect : today.suspects.readings)
    if (suspect.run == run)
      for (auto& each : out)
        if (each.index == suspect.index) each.suspect = true;
  return out;
}

std::vector<draw_picture> draw_pictures(const analysis& seen) {
  std::vector<draw_picture> out;
  const auto& now = seen.today();
  const auto& run_ups = seen.run_ups;
  const auto& beside = seen.population;
  const double gain = beside ? remaining_current_gain(now, *beside->machines) : 0.0;
  const double rated = now.in.machine.rated_voltage_V;
  for (std::size_t run = 0; run < run_ups.as_read.size(); ++run) {
    draw_picture picture{run_ups.as_read[run].speed, readings_of(run_ups, run), {}, {}};
    if (const auto* curve = run_ups.curve_of(picture.speed)) {
      const auto span = span_of(now, *curve);
      picture.fitted = fitted_curve(*curve, span, rated);
      if (beside) picture.expected = expected_curve(*beside, picture.speed, gain, span, rated, seen.policy);
    }
    out.push_back(std::move(picture));
  }
  return out;
}

std::vector<drawn_reading> readings_of(const std::vector<double>& x, const std::vector<double>& y) {
  std::vector<drawn_reading> out;
  for (std::size_t i = 0; i < x.size(); ++i) out.push_back({static_cast<int>(i), x[i], y[i]});
  return out;
}

/// Leakage and absorption from the first reading to the last, or to ten minutes, at equal steps of the logarithm.
drawn_curve absorption_curve(const checks::absorption_result& split, double first_s, double last_s) {
  drawn_curve out;
  constexpr double ten_minutes_s = 600.0;
  const double end = std::max(last_s, ten_minutes_s);
  for (int i = 0; i <= steps_of_a_curve / 2; ++i) {
    const double time = first_s * std::pow(end / first_s, 2.0 * i / steps_of_a_curve);
    const auto there = checks::predicted_resistance(split, units::seconds(time));
    add_point(out, time, units::in_megohms(there.value), units::in_megohms(there.range.low),
              units::in_megohms(there.range.high));
  }
  return out;
}

std::vector<drawn_reading> megohms_of(const record::insulation_section& entry) {
  std::vector<double> times, megohms;
  for (const auto& row : entry.rows) {
    times.push_back(row.time_s);
    megohms.push_back(row.resistance_Mohm);
  }
  return readings_of(times, megohms);
}

std::vector<insulation_picture> insulation_pictures(const analysis& seen) {
  std::vector<insulation_picture> out;
  const auto& before = seen.before();
  for (std::size_t i = 0; i < seen.insulation.size(); ++i) {
    const auto& entry = seen.record.insulation[i];
    const auto& facts = seen.insulation[i];
    insulation_picture picture{entry.circuit, megohms_of(entry), {}, {}};
    if (facts.split && facts.split->usable())
      picture.fitted = absorption_curve(*facts.split, entry.rows.front().time_s, entry.rows.back().time_s);
    if (before)
      for (const auto& then : before->in.insulation)
        if (then.circuit == entry.circuit) picture.earlier = megohms_of(then);
    out.push_back(std::move(picture));
  }
  return out;
}

std::optional<coast_picture> coast_picture_of(const analysis& seen) {
  if (!seen.coast_down) return std::nullopt;
  const auto& now = seen.today();
  const auto& before = seen.before();
  const auto& section = *now.in.coast_down;
  coast_picture out{readings_of(section.time_s, section.speed_rpm), {}, {}};
  if (before && before->in.coast_down && before->in.visit.shaft == now.in.visit.shaft)
    out.earlier = readings_of(before->in.coast_down->time_s, before->in.coast_down->speed_rpm);
  const auto& fitted = seen.coast_down->now;
  if (fitted.status != checks::coast_down_status::fitted) return out;
  const double last = section.time_s.back() - section.time_s.front();
  const double stop = checks::coasting_time(fitted.initial, fitted.terms);
  constexpr double twice = 2.0;  // a run broken off early is not drawn far beyond what was seen
  const double end = std::min(stop, twice * last);
  for (int i = 0; i <= steps_of_a_curve; ++i) {
    const double time = end * i / steps_of_a_curve;
    const double rpm =
        units::in_rpm(units::angular_velocity::from_value(checks::coasting_speed(fitted.initial, fitted.terms, time)));
    if (std::isfinite(rpm)) add_point(out.fitted, section.time_s.front() + time, std::max(0.0, rpm));
  }
  return out;
}

}  // namespace

pictures pictures_of(const analysis& seen) {
  return {draw_pictures(seen), insulation_pictures(seen), heat_picture_of(seen.today(), seen.policy),
          coast_picture_of(seen)};
}

pictures pictures_of(const record::visit_record& now, const sources& compare_with, const verdict::policy& policy) {
  return pictures_of(*analyse(now, compare_with, policy));
}

}  // namespace rewound::job
