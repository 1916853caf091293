// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <numbers>
#include <optional>
#include <utility>
#include <vector>

#include <rewound/checks/detail/curve_evidence.hpp>
#include <rewound/checks/detail/misreading.hpp>
#include <rewound/checks/detail/known_curve.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/measurement/run_up.hpp>

namespace rewound::checks::detail {

/// A reading in logarithms, with the relative standard uncertainties that are independent from reading to reading.
struct log_point {
  int index;
  double z;  ///< ln(voltage / rated voltage)
  double log_current;
  double u_voltage;
  double u_current;
  double variance;  ///< of log current, that of its own scatter about the test's other readings, voltage included
  double voltage;   ///< as read, in SI units: what a report shows must be the record's own number
  double current;
};

// Thresholds of the search. Common practice, no source, unless said; tools/study prints what they do.
inline constexpr double lowest_plausible_exponent = -1.5;
inline constexpr double highest_plausible_exponent = 4.0;
inline constexpr double lowest_plausible_z = -3.0;  ///< of a slipped voltage: a twentieth of the rated one
inline constexpr double highest_plausible_z = 0.5;
inline constexpr double line_floor = 0.004;       ///< how well neighbours' exponents are known beyond the meters
inline constexpr double least_deviation = 0.03;   ///< smaller ones need more evidence
inline constexpr double least_misreading = 0.01;  ///< so little moves a fitted curve by less than the meters do
inline constexpr double alarm = 3.4;  ///< log Bayes factor, thirty to one; R. E. Kass, A. E. Raftery, J. Am. Stat.
                                      ///< Assoc. 90 (1995) 773-795 call above 3 strong evidence
inline constexpr double price_of_small = 1.0;  ///< of a deviation below least_deviation: curves depart so far from any
                                               ///< family now and then
inline constexpr double hopeless = 6.0;        ///< a culprit this much less likely is not weighed
inline constexpr double slip_bonus = 2.3;      ///< ten to one for a reading that a slip explains
inline constexpr std::size_t most_for_pairs = 16;     ///< with more readings wrong ones are found one by one
inline constexpr std::size_t most_explained = 16;     ///< likeliest readings for which a slip is looked for
inline constexpr std::size_t most_set_aside = 16;     ///< of one speed; with more the curve is not what is wrong
inline constexpr std::size_t most_at_rest = 64;       ///< places where a rotor may have begun to turn
inline constexpr double price_of_second = 4.0;        ///< two wrong readings in one run-up are much rarer than one
inline constexpr double certain = 0.75;               ///< probability at which readings are set aside
inline constexpr double certain_of_few = 0.95;        ///< the same with fewer than six readings
inline constexpr double worth_telling = 0.05;         ///< probability at which it is named among several
inline constexpr double least_excess_at_rest = 0.08;  ///< of a current at rest over the running one, in ln
inline constexpr double usual_excess_at_rest = 0.5;
inline constexpr double spread_of_excess_at_rest = 0.4;

/// Log points of the readings with a turning rotor, sorted by voltage; a reading of zero current, and one of current at
/// no voltage, are reported at once.
inline std::vector<log_point> usable_points(const measurement::run_up& run, units::voltage rated,
                                            const measurement::instrument<units::voltage>& voltmeter,
                                            const measurement::instrument<units::current>& ammeter,
                                            std::vector<suspect_reading>& found, std::size_t place) {
  std::vector<log_point> out;
  for (const auto& reading : run.readings) {
    if (!reading.turning) continue;
    if (reading.voltage.value() <= 0.0) {
      if (reading.current.value() >= 2.0 * ammeter.resolution.value())
        found.push_back({place, reading.index, true, suspicion::current_without_voltage, reading.voltage.value(),
                         std::nullopt, true});
      continue;
    }
    if (reading.current.value() < 0.5 * ammeter.resolution.value()) {
      found.push_back(
          {place, reading.index, false, suspicion::reads_zero, reading.current.value(), std::nullopt, true});
      continue;
    }
    const double own_voltage = own_digits(voltmeter) / reading.voltage.value();
    const double own_current = own_digits(ammeter) / reading.current.value();
    out.push_back({reading.index, std::log((reading.voltage / rated).value()), std::log(reading.current.value()),
                   (voltmeter.digit_uncertainty() / reading.voltage).value(),
                   (ammeter.digit_uncertainty() / reading.current).value(),
                   own_voltage * own_voltage + own_current * own_current, reading.voltage.value(),
                   reading.current.value()});
  }
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.z < b.z; });
  return out;
}

inline bool same_voltage(const log_point& a, const log_point& b) {
  return std::abs(a.z - b.z) <= 2.5 * std::hypot(a.u_voltage, b.u_voltage);
}

inline std::vector<shape_point> shape_points_of(const std::vector<log_point>& points) {
  std::vector<shape_point> out;
  for (const auto& point : points) out.push_back({point.z, point.log_current, point.variance});
  return out;
}

/// What a test's readings were taken with: one digit of each display, and how they scatter.
struct bench {
  double current_digit;
  double voltage_digit;
  scatter_shares scatter = usual_shares();
};

inline curve_evidence evidence_on(const bench& with, const std::vector<log_point>& points) {
  return evidence_of(shape_points_of(points), base::widest_lanes(), with.scatter);
}

/// The slip of current or voltage that brings the point closest to the curve of the others, if any brings it near.
inline suspect_reading explained(const log_point& point, const std::vector<log_point>& others, const bench& with) {
  suspect_reading out{0, point.index, false, suspicion::off_curve, point.current, std::nullopt, true};
  const auto curve = shape_points_of(others);
  // A value is offered only if it would not be suspect itself.
  double best = 1.0;
  const auto offer = [&](const slip& slip, double log_current, const shape_prediction& expected, bool voltage) {
    const double away =
        std::abs(log_current - expected.log_current) / std::max(least_deviation, 2.0 * expected.uncertainty);
    if (away >= best) return;
    best = away;
    out.why = slip.why;
    out.would_fit = slip.value;
    out.voltage = voltage;
    out.read = voltage ? point.voltage : point.current;
  };
  const auto here = predict_at(curve, point.z, point.variance, with.scatter);
  for (const auto& slip : possible_slips(point.current, with.current_digit))
    if (slip.value > 0.0) offer(slip, std::log(slip.value), here, false);
  if (out.would_fit) return out;
  for (const auto& slip : possible_slips(point.voltage, with.voltage_digit)) {
    const double z = point.z + std::log(slip.value / point.voltage);
    if (slip.value > 0.0 && z > lowest_plausible_z && z < highest_plausible_z)
      offer(slip, point.log_current, predict_at(curve, z, point.variance, with.scatter), true);
  }
  return out;
}

inline std::vector<log_point> without(const std::vector<log_point>& points, std::size_t place) {
  auto out = points;
  out.erase(out.begin() + static_cast<std::ptrdiff_t>(place));
  return out;
}

/// One or two readings being wrong, as an explanation of all: places in order.
struct hypothesis {
  std::vector<std::size_t> wrong;
  double gain;         ///< log Bayes factor against none being wrong; a second wrong one has its price
  double share = 0.0;  ///< probability among the hypotheses
};

/// Log Bayes factor of each reading being the wrong one; nothing for readings too near the others' curve to matter.
inline std::vector<hypothesis> single_hypotheses(const std::vector<log_point>& points, const bench& with) {
  const auto evidence = evidence_on(with, points);
  std::vector<hypothesis> out;
  double most = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double away = std::abs(points[i].log_current - evidence.by_others[i].log_current);
    if (away < least_misreading) continue;
    out.push_back({{i}, evidence.all_but[i] - evidence.all - (away < least_deviation ? price_of_small : 0.0)});
    most = std::max(most, out.back().gain);
  }
  // Of many readings only the likeliest are looked at: the search stays linear.
  double least = most - hopeless;
  if (out.size() > most_explained) {
    std::vector<double> gains;
    for (const auto& each : out) gains.push_back(each.gain);
    std::nth_element(gains.begin(), gains.begin() + most_explained, gains.end(), std::greater<>());
    least = std::max(least, gains[most_explained]);
  }
  for (auto& each : out) {
    // A slip that would put a reading right makes it likelier to be the wrong one.
    const std::size_t place = each.wrong.front();
    if (most >= alarm && each.gain > least && explained(points[place], without(points, place), with).would_fit)
      each.gain += slip_bonus;
  }
  return out;
}

inline std::vector<hypothesis> pair_hypotheses(const std::vector<log_point>& points,
                                               const std::vector<hypothesis>& singles, const bench& with) {
  std::map<std::pair<std::size_t, std::size_t>, double> gains;
  for (const auto& first : singles) {
    const std::size_t place = first.wrong.front();
    for (const auto& second : single_hypotheses(without(points, place), with)) {
      const std::size_t other = second.wrong.front() < place ? second.wrong.front() : second.wrong.front() + 1;
      const auto found = gains.try_emplace(std::minmax(place, other), -1e300).first;
      found->second = std::max(found->second, first.gain + second.gain - price_of_second);
    }
  }
  std::vector<hypothesis> out;
  for (const auto& [places, gain] : gains) out.push_back({{places.first, places.second}, gain});
  return out;
}

/// Explanations of the readings by one or two wrong ones, the likeliest first; none where no gain reaches the alarm.
inline std::vector<hypothesis> explanations_of(const std::vector<log_point>& points, bool in_pairs, const bench& with) {
  auto out = single_hypotheses(points, with);
  const auto less = [](const auto& a, const auto& b) { return a.gain < b.gain; };
  if (out.empty() || std::max_element(out.begin(), out.end(), less)->gain < alarm) return {};
  if (in_pairs) {
    const auto pairs = pair_hypotheses(points, out, with);
    out.insert(out.end(), pairs.begin(), pairs.end());
  }
  std::sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.gain > b.gain; });
  double sum = 0.0;
  for (const auto& each : out) sum += std::exp(each.gain - out.front().gain);
  for (auto& each : out) each.share = std::exp(each.gain - out.front().gain) / sum;
  return out;
}

/// Readings off the curve of the others. Those that are probably the wrong ones are set aside and the search goes on;
/// where several could be it, all of them are said to disagree and none is set aside.
inline std::vector<suspect_reading> off_curve(std::vector<log_point>& points, const bench& with) {
  std::vector<suspect_reading> out;
  const std::size_t most = std::min(points.size() / 3, most_set_aside);
  while (points.size() >= 4 && out.size() < most) {
    const bool in_pairs = points.size() <= most_for_pairs && out.size() + 2 <= most;  // so six are left at least
    const auto found = explanations_of(points, in_pairs, with);
    if (found.empty()) break;
    if (found.front().share < (points.size() >= 6 ? certain : certain_of_few)) {
      std::vector<double> probability(points.size(), 0.0);
      for (const auto& each : found)
        for (const std::size_t place : each.wrong) probability[place] += each.share;
      for (std::size_t i = 0; i < points.size(); ++i)
        if (probability[i] > worth_telling)
          out.push_back(
              {0, points[i].index, false, suspicion::readings_disagree, points[i].current, std::nullopt, false});
      break;
    }
    auto wrong = found.front().wrong;
    auto others = points;
    for (auto place = wrong.rbegin(); place != wrong.rend(); ++place) others = without(others, *place);
    for (const std::size_t place : wrong) out.push_back(explained(points[place], others, with));
    points = std::move(others);
  }
  return out;
}

/// How much better the `count` lowest readings are explained by a rotor at rest (current in proportion to voltage, well
/// above the running curve) than by the running curve of all.
inline double at_rest_gain(const std::vector<log_point>& points, std::size_t count, double all) {
  const std::vector<log_point> running(points.begin() + static_cast<std::ptrdiff_t>(count), points.end());
  const auto curve = shape_points_of(running);
  const auto& top = points[count - 1];
  const auto expected = predict_at(curve, top.z, top.u_current * top.u_current);
  const auto log_density = [](double away, double deviation) {
    return -0.5 * away * away / (deviation * deviation) - std::log(deviation) - 0.919;
  };
  const double excess = top.log_current - expected.log_current;
  if (excess < least_excess_at_rest) return -1e300;
  double gain = evidence_of(curve).all +
                log_density(excess - usual_excess_at_rest, std::hypot(spread_of_excess_at_rest, expected.uncertainty));
  for (std::size_t i = 0; i + 1 < count; ++i) {
    const double apart = top.z - points[i].z;
    gain += log_density(points[i].log_current - top.log_current + apart,
                        std::hypot(0.02, points[i].u_current, 0.15 * apart));
  }
  return gain - all;
}

/// Whether the current steps down, seen with rising voltage, between the `count` lowest readings and the next: only
/// there can a rotor have begun to turn. Spares the search where it cannot find anything.
inline bool steps_down_after(const std::vector<log_point>& points, std::size_t count) {
  const auto slope = [&](std::size_t i) {
    return (points[i + 1].log_current - points[i].log_current) / std::max(points[i + 1].z - points[i].z, 1e-3);
  };
  std::vector<double> above;
  for (std::size_t i = count; i + 1 < points.size(); ++i) above.push_back(slope(i));
  std::nth_element(above.begin(), above.begin() + static_cast<std::ptrdiff_t>(above.size() / 2), above.end());
  return slope(count - 1) < above[above.size() / 2] - 0.25;
}

/// Lowest readings that a rotor at rest explains better than anything else: they are taken out of `points`.
inline std::vector<suspect_reading> at_rest(std::vector<log_point>& points) {
  std::vector<suspect_reading> out;
  std::vector<std::size_t> counts;
  for (std::size_t count = 1; count + 3 < points.size() && 2 * count <= points.size() && counts.size() < most_at_rest;
       ++count)
    if (steps_down_after(points, count)) counts.push_back(count);
  if (counts.empty()) return out;
  const auto evidence = evidence_of(shape_points_of(points));
  double blunder = 0.0;
  for (const double each : evidence.all_but) blunder = std::max(blunder, each - evidence.all);
  std::size_t best = 0;
  double most = std::max(alarm, blunder);
  for (const std::size_t count : counts) {
    const double gain = at_rest_gain(points, count, evidence.all);
    if (gain <= most) continue;
    most = gain;
    best = count;
  }
  for (std::size_t i = 0; i < best; ++i)
    out.push_back({0, points[i].index, false, suspicion::rotor_at_rest, points[i].current, std::nullopt, true});
  points.erase(points.begin(), points.begin() + static_cast<std::ptrdiff_t>(best));
  return out;
}

inline bool plausible_between(const log_point& low, const log_point& high) {
  const double dz = high.z - low.z;
  const double di = high.log_current - low.log_current;
  const double slack =
      3.0 * std::hypot(low.u_current, high.u_current, 2.0 * std::hypot(low.u_voltage, high.u_voltage)) + line_floor;
  return di <= highest_plausible_exponent * dz + slack && di >= lowest_plausible_exponent * dz - slack;
}

inline bool all_plausible(const std::vector<log_point>& points) {
  for (std::size_t i = 0; i + 1 < points.size(); ++i)
    if (!plausible_between(points[i], points[i + 1])) return false;
  return true;
}

/// With two or three readings: if the exponents between neighbours cannot be, the one reading that a slip of its
/// current explains is named; where none or several would do, they are said to disagree.
inline std::vector<suspect_reading> implausible(const std::vector<log_point>& points, double current_digit) {
  std::vector<suspect_reading> out;
  if (all_plausible(points)) return out;
  for (std::size_t i = 0; i < points.size(); ++i) {
    double best = 0.6;
    std::optional<suspect_reading> slip_found;
    for (const auto& slip : possible_slips(points[i].current, current_digit)) {
      auto changed = points;
      changed[i].log_current = std::log(slip.value);
      if (slip.value <= 0.0 || !all_plausible(changed)) continue;
      const double rise = changed.back().log_current - changed.front().log_current;
      const double away = std::abs(rise / (changed.back().z - changed.front().z + 1e-12) - 1.0);
      if (away > best) continue;
      best = away;
      slip_found = {0, points[i].index, false, slip.why, points[i].current, slip.value, true};
    }
    if (slip_found) out.push_back(*slip_found);
  }
  if (out.size() == 1) return out;
  out.clear();
  for (const auto& point : points)
    out.push_back({0, point.index, false, suspicion::readings_disagree, point.current, std::nullopt, false});
  return out;
}

/// Repeated readings of one voltage that differ by more than the meter and a few percent of drift allow.
inline void disagreements(const std::vector<log_point>& points, std::vector<suspect_reading>& out) {
  for (std::size_t i = 0; i + 1 < points.size(); ++i) {
    if (!same_voltage(points[i], points[i + 1])) continue;
    const double allowed = 3.0 * std::hypot(points[i].u_current, points[i + 1].u_current) + least_deviation;
    if (std::abs(points[i].log_current - points[i + 1].log_current) <= allowed) continue;
    for (const auto& point : {points[i], points[i + 1]})
      if (std::none_of(out.begin(), out.end(), [&](const auto& s) { return s.index == point.index; }))
        out.push_back({0, point.index, false, suspicion::readings_disagree, point.current, std::nullopt, false});
  }
}

/// Neighbours between which the current falls although the voltage rises, beyond their uncertainty.
inline void falls(const std::vector<log_point>& points, std::vector<suspect_reading>& out) {
  for (std::size_t i = 0; i + 1 < points.size(); ++i) {
    if (same_voltage(points[i], points[i + 1])) continue;
    const double allowed = 3.0 * std::hypot(points[i].u_current, points[i + 1].u_current) + least_deviation / 3.0;
    if (points[i].log_current - points[i + 1].log_current <= allowed) continue;
    const auto& point = points[i + 1];
    if (std::none_of(out.begin(), out.end(), [&](const auto& s) { return s.index == point.index; }))
      out.push_back({0, point.index, false, suspicion::falls_with_voltage, point.current, std::nullopt, false});
  }
}

/// Whether a fall has to be told: always with few readings; with four or more only where the current falls at the top,
/// because a loaded fan may well draw more at low voltage, smoothly, and most of all with a low-slip rotor.
inline bool fall_is_odd(const std::vector<log_point>& points) {
  return points.size() < 4 || points.back().log_current < points[points.size() - 2].log_current;
}

/// How the readings of one speed are likely to scatter, by those of the test's other speeds: one person read the same
/// meters. Some speeds are read less steadily than others.
///
/// @param evidence  ln evidence of each size of scatter, one list a speed; empty where a speed says nothing
inline scatter_shares shares_beside(const std::vector<std::optional<scatter_shares>>& evidence, std::size_t which) {
  constexpr double alike = 0.9;  // common practice, no source
  scatter_shares logs;
  for (std::size_t i = 0; i < logs.size(); ++i) logs[i] = std::log(extra_scatters[i].share);
  for (std::size_t speed = 0; speed < evidence.size(); ++speed)
    if (speed != which && evidence[speed])
      for (std::size_t i = 0; i < logs.size(); ++i) logs[i] += (*evidence[speed])[i];
  const double top = *std::max_element(logs.begin(), logs.end());
  double sum = 0.0;
  for (auto& each : logs) sum += each = std::exp(each - top);
  for (std::size_t i = 0; i < logs.size(); ++i)
    logs[i] = alike * logs[i] / sum + (1.0 - alike) * extra_scatters[i].share;
  return logs;
}

/// All suspect readings of one speed.
inline std::vector<suspect_reading> search_one_speed(std::vector<log_point> points, const bench& with) {
  auto out = at_rest(points);
  auto wrong = points.size() >= 4   ? off_curve(points, with)
               : points.size() >= 2 ? implausible(points, with.current_digit)
                                    : std::vector<suspect_reading>{};
  const bool quiet = wrong.empty();
  out.insert(out.end(), wrong.begin(), wrong.end());
  disagreements(points, out);
  if ((quiet || points.size() >= 4) && fall_is_odd(points)) falls(points, out);
  return out;
}

}  // namespace rewound::checks::detail
