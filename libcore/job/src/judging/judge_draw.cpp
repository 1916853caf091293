// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <rewound/checks/rise.hpp>
#include <rewound/job/spread.hpp>
#include <rewound/verdict/limit_tables.hpp>
#include <rewound/verdict/rules/draw.hpp>

#include "analysis/analysis.hpp"

namespace rewound::job {

namespace {

/// Current at a voltage; beyond the last reading with what saturation may do there.
measurement::uncertain<units::current> current_beyond(const analysis& seen, const fit::current_curve& curve,
                                                      units::voltage voltage) {
  auto out = checks::current_at(curve, voltage, seen.run_ups.input);
  constexpr double barely = 1.02;  // a voltage just beyond the last reading is no extrapolation worth a word
  const double beyond = (voltage / seen.run_ups.input.rated_voltage).value() / curve.x_high;
  if (beyond <= barely) return out;
  const double more = seen.policy.practice.beyond_reading_exponent.value * std::log(beyond);
  const double relative = std::hypot((out.standard_uncertainty / out.value).value(), more);
  out.standard_uncertainty = relative * out.value;
  return out;
}

verdict::draw_row row_of(const analysis& seen, const std::string& speed) {
  verdict::draw_row row{.speed = speed};
  const auto* now = seen.run_ups.curve_of(speed);
  if (now == nullptr) return row;
  const auto& input = seen.run_ups.input;
  row.at_rated = current_beyond(seen, *now, input.rated_voltage);
  row.exponent = fit::exponent(*now, 1.0);
  constexpr double barely = 0.02;  // a rating just beyond the last reading is no extrapolation worth a word
  row.extrapolated = now->x_low > 1.0 + barely || now->x_high < 1.0 - barely;
  constexpr double tenth = 0.1;
  row.far_from_rated = now->x_high < 1.0 - tenth || now->x_low > 1.0 + tenth;
  if (const auto& mains = seen.record.visit.supply_voltage_V)
    row.at_supply = current_beyond(seen, *now, units::volts(*mains));
  if (const auto place = seen.channels.place_of(speed, fit::channel::current))
    row.readings = static_cast<int>(seen.channels.readings[*place].readings.size());
  return row;
}

void tell_level(const speed_level& level, verdict::expectation by, verdict::draw_row& row) {
  row.judged_by = by;
  row.level_percent = level.percent;
  row.expected_at_rated = level.expected;
  row.expected_spread_percent = level.spread_percent;
  row.uncertainty = level.uncertainty;
}

verdict::rules::compared_draw compared_of(const analysis& seen) {
  const auto& good = seen.compare_with.good;
  const bool beside_good = seen.population && seen.population->of_good_machines();
  verdict::rules::compared_draw out;
  out.log_current_by_winding = seen.log_current_by_winding;
  out.log_slower_by_fastest = seen.log_slower_by_fastest;
  for (const auto& speed : seen.record.machine.speeds) out.watts.push_back(watts_at(seen, speed, 1.0));
  out.reading_in_doubt = !seen.run_ups.suspects.readings.empty();
  out.joint_p_value = seen.joint_p_value;
  // Entries that contradict each other condemn no machine.
  if (!seen.population && seen.contradictions.empty() && !seen.slow) out.nameplate_p_value = seen.nameplate_p_value;
  if (seen.comparison) out.good_machines = seen.comparison->good_machines;
  out.own_spread = has_own_spread(seen.policy);
  out.reference_shaft_differs = good && !beside_good;
  out.visit_in_reference = good && seen.good->machines.size() < good->machines.size();
  const bool earlier = seen.before() && !seen.earlier_shaft_differs();
  out.earlier_without_common_speed = earlier && !beside_good && !seen.joint_p_value;
  out.earlier_same_day = seen.before() && seen.before()->in.visit.day == seen.record.visit.day;
  out.earlier_shaft_differs = seen.earlier_shaft_differs();
  return out;
}

}  // namespace

std::optional<measurement::uncertain<double>> watts_at(const analysis& seen, const std::string& speed, double x) {
  const auto* fitted = seen.channels.curve_of(speed, fit::channel::power);
  if (fitted == nullptr) return std::nullopt;
  const auto log = fit::log_current(*fitted, x);
  const double slope = fit::evaluate(fitted->family, fitted->parameters, x).exponent;
  const auto& meters = seen.today().instruments;
  const double u = std::hypot(log.standard_uncertainty, meters.wattmeter.gain_uncertainty(),
                              slope * meters.voltmeter.gain_uncertainty());
  const double watts = std::exp(log.value);
  return measurement::uncertain<double>{watts, u * watts};
}

std::vector<verdict::draw_row> rows_of(const analysis& seen) {
  std::vector<verdict::draw_row> out;
  for (std::size_t i = 0; i < seen.record.machine.speeds.size(); ++i) {
    out.push_back(row_of(seen, seen.record.machine.speeds[i]));
    if (seen.comparison && seen.comparison->speeds[i])
      tell_level(*seen.comparison->speeds[i], seen.comparison->by, out.back());
  }
  return out;
}

verdict::rules::draw_judgement judge_draw(const analysis& seen, std::vector<verdict::draw_row> rows,
                                          bool heat_settles) {
  auto compared = compared_of(seen);
  compared.rows = std::move(rows);
  compared.heat_settles = heat_settles;
  const bool beside_others = seen.comparison.has_value();
  auto judged = verdict::rules::draw(seen.record, std::move(compared), seen.policy);
  const auto& machine = seen.record.machine;
  // Where watts are all that is marked and nothing better is known, the draw itself was judged by them.
  if (machine.rated_power_W && (machine.rated_current_A || beside_others))
    if (const auto watts = watts_at(seen, machine.speeds.front(), 1.0))
      judged.findings.push_back(
          verdict::rules::power(machine.speeds.front(), *machine.rated_power_W, *watts, seen.policy));
  return judged;
}

finding_list judge_draw_on_mains(const analysis& seen, const std::vector<verdict::draw_row>& rows, bool heat_settles) {
  finding_list out;
  const auto& mains = seen.record.visit.supply_voltage_V;
  const double rated_V = seen.record.machine.rated_voltage_V;
  const double window = verdict::tables::supply_window.front().voltage_percent / 100.0;
  constexpr double barely = 1.02, rounding = 1e-9;
  // Outside its window the machine does not run on the mains as it is; on another frequency its curve says nothing.
  const auto& window_of = seen.policy.supply_window(seen.record.machine);
  const double hertz = 100.0 * (seen.record.visit.supply_frequency_Hz.value_or(seen.record.machine.rated_frequency_Hz) /
                                    seen.record.machine.rated_frequency_Hz -
                                1.0);
  if (hertz < -window_of.frequency_low_percent || hertz > window_of.frequency_high_percent) return out;
  if (!mains || *mains < barely * rated_V || *mains > (1.0 + window) * rated_V + rounding) return out;
  const double x = *mains / rated_V;
  for (const auto& row : rows) {
    const auto* curve = seen.run_ups.curve_of(row.speed);
    if (curve == nullptr || !row.at_rated || !row.at_supply) continue;
    std::optional<checks::rise_result> rise;
    if (const auto exponent = fit::exponent(*curve, std::sqrt(x)))
      rise = checks::rise({*exponent, units::volts(rated_V), units::volts(*mains),
                           seen.record.visit.shaft == record::shaft_condition::bare});
    out.push_back(
        verdict::rules::draw_on_mains(seen.record, row, curve->x_high * rated_V, rise, heat_settles, seen.policy));
  }
  return out;
}

}  // namespace rewound::job
