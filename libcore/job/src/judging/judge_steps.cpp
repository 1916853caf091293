// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <rewound/checks/order.hpp>
#include <rewound/checks/steps.hpp>
#include <rewound/verdict/rules/steps.hpp>

#include "analysis/analysis.hpp"

namespace rewound::job {

namespace {

using curve = fit::current_curve;

/// The voltage, over the rated one, where all speeds are compared: the rated voltage, moved into the range that
/// all of them were read in where there is one.
double common_x(const std::vector<const curve*>& curves) {
  double low = 0.0;
  double high = 1e9;
  for (const auto* each : curves) {
    low = std::max(low, each->x_low);
    high = std::min(high, each->x_high);
  }
  return low <= high ? std::clamp(1.0, low, high) : 1.0;
}

checks::steps_input currents_at(const std::vector<const curve*>& curves, double x,
                                const std::vector<std::string>& speeds, const verdict::policy& policy) {
  checks::steps_input out{
      {}, policy.practice.step_merged_percent.value / 100.0, policy.practice.conforming_probability.value};
  const double drift = policy.practice.repeatability_within_percent.value / 100.0;
  for (std::size_t i = 0; i < curves.size(); ++i) {
    const auto log = fit::log_current(*curves[i], x);
    out.speeds.push_back({speeds[i], log.value, std::hypot(log.standard_uncertainty, drift)});
  }
  return out;
}

/// Rpm at x between the two readings beside it: no curve follows a rotor that is still pulling in further down. Absent
/// where x lies outside what was read.
std::optional<double> rotation_between(const std::vector<fit::curve_reading>& readings, double x) {
  constexpr double barely = 0.01;  // of the voltage: a reading as near as this stands for x
  const fit::curve_reading *below = nullptr, *above = nullptr;
  for (const auto& each : readings) {
    if (each.x <= x * (1.0 + barely) && (below == nullptr || each.x > below->x)) below = &each;
    if (each.x >= x * (1.0 - barely) && (above == nullptr || each.x < above->x)) above = &each;
  }
  if (below == nullptr || above == nullptr) return std::nullopt;
  if (std::abs(above->x - below->x) <= barely * x) return 0.5 * (below->current + above->current);
  const double share = std::clamp((x - below->x) / (above->x - below->x), 0.0, 1.0);
  return below->current + share * (above->current - below->current);
}

/// Rpm of every speed at x; empty unless all were read.
std::vector<double> rotations(const analysis& seen, double x) {
  std::vector<double> out;
  for (const auto& speed : seen.record.machine.speeds) {
    const auto place = seen.channels.place_of(speed, fit::channel::rotation);
    const auto* fitted = seen.channels.curve_of(speed, fit::channel::rotation);
    if (!place || fitted == nullptr) return {};
    const auto read = rotation_between(seen.channels.readings[*place].readings, x);
    out.push_back(read ? *read : std::exp(fit::log_current(*fitted, x).value));
  }
  return out;
}

/// Every way in which the runs may belong to the speeds, weighed by the good machines; absent unless they know all.
/// An earlier visit may have had the same leads exchanged: only good machines say which speed is which.
std::optional<checks::order_result> order_beside(const analysis& seen) {
  if (!seen.population || !seen.population->of_good_machines()) return std::nullopt;
  const auto& model = seen.population->pooled;
  checks::order_input input{{}, {}, {}, model.population, 0.0, 0.95};
  const auto& speeds = seen.record.machine.speeds;
  for (const auto& speed : speeds) {
    const auto known = model.place_of(speed, fit::channel::current);
    const auto read = seen.channels.place_of(speed, fit::channel::current);
    if (!known || !read) continue;
    input.runs.push_back(seen.channels.blocks[*read].information);
    input.shapes.push_back(model.shapes[*known]);
    input.places.push_back(static_cast<Eigen::Index>(3 * *known));
  }
  constexpr std::size_t most = 6;  // 720 ways; more speeds than that are not met on small machines
  if (input.runs.size() != speeds.size() || input.runs.size() < 2 || input.runs.size() > most) return std::nullopt;
  input.common_uncertainty = remaining_current_gain(seen.today(), *seen.population->machines);
  return checks::order(input);
}

steps_summary summary_of(const analysis& seen, const verdict::rules::compared_steps& compared,
                         const verdict::rules::steps_judgement& judged) {
  steps_summary out;
  out.outcome = judged.finding.outcome;
  out.voltage_V = compared.common_voltage_V;
  for (const auto place : judged.best_order) out.best_order.push_back(seen.record.machine.speeds[place]);
  if (judged.flag) switch (*judged.flag) {
      case checks::step_flag::in_order: break;
      case checks::step_flag::swapped: out.flag = "swapped"; break;
      case checks::step_flag::reversed: out.flag = "reversed"; break;
      case checks::step_flag::merged: out.flag = "merged"; break;
      case checks::step_flag::unclear: out.flag = "unclear"; break;
    }
  return out;
}

/// Whether two speeds show the same amperes at every voltage that both were read at, to one digit of a display that
/// would show a usual step well.
bool same_amperes(const measurement::run_up& a, const measurement::run_up& b, const bench_instruments& meters) {
  constexpr double one_voltage = 0.005, shows_a_step = 0.05;  // shares (common practice, no source)
  const double digit = meters.ammeter.resolution.value() * 1.001;
  bool any = false;
  for (const auto& first : a.readings)
    for (const auto& second : b.readings) {
      const double volts = first.voltage.value();
      if (!first.turning || !second.turning || std::abs(second.voltage.value() - volts) > one_voltage * volts) continue;
      const double amperes = first.current.value();
      if (std::abs(second.current.value() - amperes) > digit || digit > shows_a_step * amperes) return false;
      any = true;
    }
  return any;
}

std::vector<std::size_t> equal_neighbours(const analysis& seen) {
  std::vector<std::size_t> out;
  const auto& speeds = seen.record.machine.speeds;
  const auto run_of = [&](const std::string& speed) {
    const auto& runs = seen.run_ups.input.run_ups;
    return std::find_if(runs.begin(), runs.end(), [&](const auto& run) { return run.speed == speed; });
  };
  for (std::size_t i = 0; i + 1 < speeds.size(); ++i)
    if (same_amperes(*run_of(speeds[i]), *run_of(speeds[i + 1]), seen.today().instruments)) out.push_back(i);
  return out;
}

/// Whether the fastest speed's own run-up, taken to three quarters of the common voltage or lower, shows that it takes
/// less current on less voltage: a choke or a resistor before the winding then takes it down as well.
bool falls_by_itself(const curve& fastest, double x, const verdict::policy& policy) {
  constexpr double three_quarters = 0.75;
  if (fastest.x_low > three_quarters * x) return false;
  const double fall = fit::log_current(fastest, x).value - fit::log_current(fastest, three_quarters * x).value;
  return fall > std::log1p(policy.practice.own_curve_fall_percent.value / 100.0);
}

/// Whether the ohms from common to every speed's lead were read and rise from each speed to the next slower one.
bool ohms_rise(const analysis& seen) {
  const auto read = ohms_by_speed_of(seen.today(), seen.policy);
  if (!read || read->speeds != seen.record.machine.speeds) return false;
  return std::all_of(read->rises.rise_percent.begin(), read->rises.rise_percent.end(), [&](const auto& rise) {
    return seen.policy.judge(rise.value, rise.standard_uncertainty, {0.0, {}}) == verdict::outcome::conforms;
  });
}

}  // namespace

judged_steps judge_steps(const analysis& seen) {
  verdict::rules::compared_steps compared;
  const auto& speeds = seen.record.machine.speeds;
  std::vector<const curve*> curves;
  for (const auto& speed : speeds) {
    const curve* found = seen.run_ups.curve_of(speed);
    if (found == nullptr) compared.without_curve.push_back(speed);
    else curves.push_back(found);
  }
  if (compared.without_curve.empty() && curves.size() >= 2) {
    const double x = common_x(curves);
    compared.common_voltage_V = x * seen.record.machine.rated_voltage_V;
    compared.result = checks::steps(currents_at(curves, x, speeds, seen.policy));
    compared.rotation_rpm = rotations(seen, x);
    compared.beside_good = order_beside(seen);
    compared.own_curve_falls = falls_by_itself(*curves.front(), x, seen.policy);
    compared.equal = equal_neighbours(seen);
    compared.ohms_in_order = ohms_rise(seen);
  }
  const auto judged = verdict::rules::steps(seen.record, compared, seen.policy);
  judged_steps out{{judged.finding}, summary_of(seen, compared, judged)};
  if (seen.comparison)
    for (const auto& ratio : seen.comparison->steps)
      out.findings.push_back(verdict::rules::step_size(ratio, seen.policy));
  return out;
}

}  // namespace rewound::job
