// SPDX-License-Identifier: MIT
#include "analysis/insulation_analysis.hpp"

#include <rewound/record/names.hpp>
#include "judging/judge_parts.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace rewound::job {

namespace {

/// A winding's temperature that was not measured is taken to be the air's, which it is only roughly.
units::temperature_difference temperature_uncertainty(const bench_instruments& instruments, double celsius,
                                                      bool from_air, const verdict::policy& policy) {
  const double read = units::in_kelvins(instruments.thermometer.standard_uncertainty(units::kelvins(celsius)));
  const double stands_in = from_air ? policy.practice.ambient_as_winding_K.value / std::numbers::sqrt3 : 0.0;
  return units::kelvins(std::hypot(read, stands_in));
}

/// The tester's readings. Of one whose accuracy is not stated each reading has an error of its own: testers change
/// ranges over a curve, and the finest digit of the record says nothing of the coarser ranges.
checks::insulation_input input_of(const bench_instruments& instruments, const record::insulation_section& entry,
                                  double winding_C, units::temperature_difference winding_u,
                                  const verdict::policy& policy) {
  checks::insulation_input out{{}, units::celsius(winding_C), winding_u, instruments.insulation_tester};
  if (out.tester.assumed) {
    out.tester.resolution = units::ohms(0.0);
    out.reading_spread = policy.practice.insulation_reading_percent.value / 100.0 / std::numbers::sqrt3;
  }
  out.time_limit = units::seconds(policy.practice.insulation_time_s.value);
  out.divisor = verdict::rules::connection_divisor(entry.connection);
  for (const auto& row : entry.rows)
    out.readings.push_back({units::seconds(row.time_s), units::megohms(row.resistance_Mohm)});
  return out;
}

/// A curve is fitted where three readings or more span a factor of four in time.
std::optional<checks::absorption_result> split_of(const checks::insulation_input& in, double test_voltage_V) {
  if (in.readings.size() < 3 || in.readings.back().time < 4.0 * in.readings.front().time) return std::nullopt;
  checks::absorption_input out{{}, units::volts(test_voltage_V)};
  for (std::size_t i = 0; i < in.readings.size(); ++i) {
    // A tester stated as exact still rounds; without any uncertainty nothing could be weighed.
    const double u = std::max(1e-6, checks::independent_uncertainty(in, i));
    out.readings.push_back({in.readings[i].time, in.readings[i].resistance, u});
  }
  return checks::absorption(out);
}

/// What can be worked with. A reading beyond the tester's range is a least value: at one minute it can err to the safe
/// side only and stays; at other times it would bend the curve and the ratios.
record::insulation_section usable(record::insulation_section entry, double one_minute_within_s) {
  const auto stays = [&](const auto& row) {
    return !row.over_range || std::abs(row.time_s - 60.0) <= one_minute_within_s;
  };
  if (std::any_of(entry.rows.begin(), entry.rows.end(), stays))
    std::erase_if(entry.rows, [&](const auto& row) { return !stays(row); });
  return entry;
}

bool any_over_range(const record::insulation_section& entry) {
  return std::any_of(entry.rows.begin(), entry.rows.end(), [](const auto& row) { return row.over_range; });
}

bool read_at(const record::insulation_section& entry, double seconds) {
  return std::any_of(entry.rows.begin(), entry.rows.end(),
                     [&](const auto& row) { return std::abs(row.time_s - seconds) < 0.5; });
}

bool within(const record::insulation_section& entry, double seconds) {
  return entry.rows.front().time_s <= seconds && entry.rows.back().time_s >= seconds;
}

/// An interval of the curve widened by the tester's gain error, which all readings share.
checks::predicted<units::resistance> with_gain(const checks::predicted<units::resistance>& in, double gain) {
  const auto widened = [&](units::resistance edge) {
    const double factor = std::log((edge / in.value).value());
    return std::exp(std::copysign(std::hypot(factor, measurement::coverage_95 * gain), factor)) * in.value;
  };
  return {in.value, {widened(in.range.low), widened(in.range.high)}};
}

/// What was not read and can be had from the curve: the one-minute value between readings, the ten-minute value and
/// the two ratios beyond them.
void predict(const record::insulation_section& entry, checks::insulation_input& input,
             verdict::rules::circuit_insulation& out) {
  const auto& split = *out.split;
  const double gain = input.tester.gain_uncertainty();
  if (!read_at(entry, 60.0) && within(entry, 60.0)) {
    const auto there = with_gain(checks::predicted_resistance(split, units::seconds(60.0)), gain);
    const double half = 0.5 * std::log((there.range.high / there.range.low).value()) / measurement::coverage_95;
    input.fitted_one_minute = {there.value, half * there.value};
  }
  if (!read_at(entry, 600.0) && entry.rows.back().time_s < 600.0 && entry.rows.back().time_s >= 60.0) {
    out.index = checks::predicted_ratio(split, units::seconds(600.0), units::seconds(60.0));
    out.ten_minutes = with_gain(checks::predicted_resistance(split, units::seconds(600.0)), gain);
  }
  if (!(read_at(entry, 30.0) && read_at(entry, 60.0)) && within(entry, 30.0) && within(entry, 60.0))
    out.ratio = checks::predicted_ratio(split, units::seconds(60.0), units::seconds(30.0));
}

/// The ten-minute reading over the last one of the second or third minute.
std::optional<double> late_ratio_of(const record::insulation_section& entry) {
  std::optional<double> before;
  for (const auto& row : entry.rows) {
    if (row.time_s >= 90.0 && row.time_s <= 180.0) before = row.resistance_Mohm;
    if (before && std::abs(row.time_s - 600.0) < 0.5) return row.resistance_Mohm / *before;
  }
  return std::nullopt;
}

std::optional<checks::dew_point_result> dew_point_of(const record::visit_record& in,
                                                     const bench_instruments& instruments,
                                                     const checks::insulation_input& input,
                                                     const verdict::policy& policy) {
  if (!in.visit.ambient_C || !in.visit.humidity_percent || *in.visit.humidity_percent <= 0.0) return std::nullopt;
  const double humidity_u = policy.practice.hygrometer_percent.value / 100.0 / std::numbers::sqrt3;
  return checks::dew_point({units::celsius(*in.visit.ambient_C),
                            instruments.thermometer.standard_uncertainty(units::kelvins(*in.visit.ambient_C)),
                            *in.visit.humidity_percent / 100.0, humidity_u, input.winding, input.winding_uncertainty});
}

/// A winding stated warmer than the air by more than it usually is: what it would be at 40 degC had it the air's
/// temperature, by the correction that decides there. Without the air's, 20 degC stand in.
void tell_if_at_air(const record::visit_record& in, const record::insulation_section& entry,
                    checks::insulation_input input, const verdict::policy& policy,
                    verdict::rules::circuit_insulation& out) {
  if (!out.result.at_one_minute || !entry.winding_C) return;
  constexpr double usual_room_C = 20.0;
  const double air_C = in.visit.ambient_C.value_or(usual_room_C);
  if (*entry.winding_C - air_C <= policy.practice.insulation_off_air_K.value) return;
  input.winding = units::celsius(air_C);
  const auto there = checks::insulation(input);
  const auto system = verdict::rules::deciding_system(in.machine.insulation_system, there);
  out.if_at_air =
      system == record::insulation_system::thermosetting ? there.thermosetting_at_40 : there.thermoplastic_at_40;
}

}  // namespace

double tester_gain_uncertainty(const bench_instruments& instruments) {
  return instruments.insulation_tester.gain_uncertainty();
}

verdict::rules::circuit_insulation analyse_insulation(const record::visit_record& in,
                                                      const bench_instruments& instruments,
                                                      const record::insulation_section& as_read,
                                                      const verdict::policy& policy) {
  const auto entry = usable(as_read, policy.practice.insulation_time_s.value);
  const double winding_C = verdict::rules::winding_C(in, entry);
  const auto winding_u = temperature_uncertainty(instruments, winding_C, !entry.winding_C, policy);
  auto input = input_of(instruments, entry, winding_C, winding_u, policy);
  verdict::rules::circuit_insulation out;
  out.longest_time_s = entry.rows.back().time_s;
  out.winding_standard_uncertainty_K = units::in_kelvins(winding_u);
  if (!any_over_range(entry)) out.split = split_of(input, entry.test_voltage_V);
  out.late_ratio = late_ratio_of(entry);
  out.dew_point = dew_point_of(in, instruments, input, policy);
  out.to_frame =
      entry.ends ? *entry.ends == record::insulation_ends::winding_and_frame : record::names_the_frame(entry.circuit);
  if (out.split) predict(entry, input, out);
  checks::insulation_curve_input curve{{}, policy.practice.curve_certainty.value};
  for (std::size_t i = 0; i < input.readings.size(); ++i)
    curve.readings.push_back({input.readings[i].time, input.readings[i].resistance,
                              std::max(1e-6, checks::independent_uncertainty(input, i))});
  out.curve = checks::insulation_curve(curve);
  out.result = checks::insulation(input);
  tell_if_at_air(in, entry, input, policy, out);
  return out;
}

}  // namespace rewound::job
