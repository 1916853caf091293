// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>
#include <string>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/order.hpp>
#include <rewound/checks/steps.hpp>
#include <rewound/machine/speed_control.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/steps.hpp>

namespace rewound::verdict::rules {

namespace detail {

inline statement steps_statement(checks::step_flag flag) {
  switch (flag) {
    case checks::step_flag::in_order: return statement::steps_in_order;
    case checks::step_flag::swapped: return statement::steps_swapped;
    case checks::step_flag::reversed: return statement::steps_reversed;
    case checks::step_flag::merged: return statement::steps_merged;
    case checks::step_flag::unclear: return statement::steps_unclear;
  }
  return statement::steps_unclear;
}

/// Steps of rpm smaller than this share say nothing (common practice, no source: a bare rotor runs within 1 % of
/// one speed on all taps).
inline constexpr double least_rotation_step = 0.02;

/// Whether rpm falls from every speed to the next: yes, no, or not told.
inline std::optional<bool> rotation_in_order(const std::vector<double>& rpm) {
  if (rpm.size() < 2) return std::nullopt;
  bool falls_everywhere = true;
  for (std::size_t i = 0; i + 1 < rpm.size(); ++i) {
    const double step = std::log(rpm[i] / rpm[i + 1]);
    if (step < -least_rotation_step) return false;
    falls_everywhere = falls_everywhere && step > least_rotation_step;
  }
  return falls_everywhere ? std::optional<bool>(true) : std::nullopt;
}

inline std::vector<std::size_t> sorted_falling(const std::vector<double>& values) {
  std::vector<std::size_t> out(values.size());
  std::iota(out.begin(), out.end(), std::size_t{0});
  std::stable_sort(out.begin(), out.end(), [&](std::size_t a, std::size_t b) { return values[a] > values[b]; });
  return out;
}

/// What one witness says: a flag, how sure, and the order.
struct witness {
  checks::step_flag flag;
  statement says;
  double certainty;
  std::vector<std::size_t> best_order;
};

inline witness by_good_machines(const checks::order_result& result, double certain) {
  const auto& best = result.assignments.front();
  witness out{checks::step_flag::unclear, statement::steps_unclear, best.probability,
              std::vector<std::size_t>(best.speed_of_run.size())};
  bool listed = true;
  for (std::size_t run = 0; run < best.speed_of_run.size(); ++run) {
    out.best_order[best.speed_of_run[run]] = run;
    listed = listed && best.speed_of_run[run] == run;
  }
  if (best.probability < certain) return out;
  out.flag = listed ? checks::step_flag::in_order : checks::order_flag(out.best_order);
  out.says = listed ? statement::steps_as_good_machines : statement::steps_unlike_good_machines;
  return out;
}

inline witness by_rotation(const std::vector<double>& rpm, bool in_order) {
  witness out{checks::step_flag::in_order, statement::steps_by_rotation, 1.0, sorted_falling(rpm)};
  if (!in_order) {
    out.flag = checks::order_flag(out.best_order);
    out.says = statement::steps_against_rotation;
  }
  return out;
}

/// Whether some slower speed takes more than the next faster one by more than taps on the auxiliary axis make it.
inline bool rises_far(const compared_steps& compared, const policy& rules) {
  const double most = std::log1p(rules.practice.auxiliary_step_percent.value / 100.0);
  const auto& steps = compared.result->steps;
  return std::any_of(steps.begin(), steps.end(), [&](const auto& step) { return -step.log_ratio > most; });
}

/// Whether a slower speed that takes more current is a fault and no peculiarity: an autotransformer passes on less; on
/// a bare shaft less voltage on the winding is less current; so it is under a fan where the machine's own run-up shows
/// it. Taps on the auxiliary axis may raise the current a little; what an unknown control does is not known.
inline bool order_is_promised(const record::visit_record& in, const compared_steps& compared, const policy& rules) {
  using enum record::speed_control;
  const bool bare = in.visit.shaft == record::shaft_condition::bare;
  switch (in.machine.speed_control) {
    case autotransformer: return true;
    case series_reactor:
    case series_resistor: return bare || compared.own_curve_falls;
    case tapped_winding: return bare || rises_far(compared, rules);
    case series_capacitor:
    case pole_change:
    case unknown:
    case none: return false;
  }
  return false;
}

/// Whether a slower speed cannot take more current for what is in its path, whatever the rpm say: it has more winding,
/// choke, resistor or capacitor there, or an autotransformer that passes on less. Of an unknown control that holds
/// where it takes far more: no tap of a sound winding does.
inline bool takes_more_by_a_fault(const record::visit_record& in, const compared_steps& compared, const policy& rules) {
  using enum record::speed_control;
  const auto control = in.machine.speed_control;
  return machine::resistance_rises(control) || control == series_capacitor || control == autotransformer ||
         (control == unknown && rises_far(compared, rules));
}

inline bool out_of_order(checks::step_flag flag) {
  return flag == checks::step_flag::swapped || flag == checks::step_flag::reversed;
}

inline witness by_currents(const record::visit_record& in, const compared_steps& compared, const policy& rules) {
  const auto& result = *compared.result;
  witness out{result.flag, steps_statement(result.flag), result.certainty, result.best_order};
  if (machine::promised_order(in.machine.speed_control) == machine::order_promise::none) {
    out.flag = checks::step_flag::unclear;
    out.says = statement::steps_not_promised;
  } else if (out_of_order(out.flag) && !order_is_promised(in, compared, rules)) {
    out.says = statement::steps_tendency;
  }
  return out;
}

/// The best witness there is: good machines of the model, then rpm, then the tendency of currents. Two taps of one
/// current are merged whatever else is known, unless good machines have them so; where a slower speed has more in its
/// path, rpm in order do not excuse that it takes more.
inline witness best_witness(const record::visit_record& in, const compared_steps& compared, double certain,
                            const policy& rules) {
  // Windings of several pole numbers may well take alike; rpm tell them apart.
  const bool promised = machine::promised_order(in.machine.speed_control) != machine::order_promise::none;
  const bool merged = promised && compared.result->flag == checks::step_flag::merged;
  if (compared.beside_good) {
    const auto good = by_good_machines(*compared.beside_good, certain);
    if (good.flag != checks::step_flag::unclear && !merged) return good;
  }
  auto currents = by_currents(in, compared, rules);
  if (promised && !compared.equal.empty() && !merged && currents.flag != checks::step_flag::swapped) {
    currents.flag = checks::step_flag::merged;
    currents.says = statement::steps_equal;
    return currents;
  }
  const auto rotation = rotation_in_order(compared.rotation_rpm);
  if (!rotation || merged) return currents;
  // Ohms in order besides: no section is bridged, and a low-slip rotor may take somewhat more behind a choke.
  const bool cleared = compared.ohms_in_order && !rises_far(compared, rules);
  if (*rotation && out_of_order(currents.flag) && takes_more_by_a_fault(in, compared, rules) && !cleared) {
    currents.says = statement::steps_currents_against_rotation;
    currents.flag = checks::step_flag::unclear;  // two witnesses against each other
    return currents;
  }
  return by_rotation(compared.rotation_rpm, *rotation);
}

inline outcome outcome_of(const witness& told) {
  if (told.flag == checks::step_flag::in_order) return outcome::conforms;
  const bool open = told.flag == checks::step_flag::unclear || told.says == statement::steps_tendency ||
                    told.says == statement::steps_equal;
  return open ? outcome::undecided : outcome::fails;
}

inline std::string equal_speeds(const std::vector<std::string>& speeds, const std::vector<std::size_t>& equal) {
  std::string out;
  for (const auto place : equal) out += (out.empty() ? "" : ", ") + speeds[place] + " and " + speeds[place + 1];
  return out;
}

inline steps_judgement without_currents(const std::vector<std::string>& without, finding f) {
  f.says = statement::steps_speed_missing;
  f.outcome = outcome::undecided;
  std::string missing;
  for (const auto& speed : without) missing += (missing.empty() ? "" : ", ") + speed;
  f.texts.emplace_back("missing", missing);
  return {f, std::nullopt, {}};
}

}  // namespace detail

REWOUND_INLINE steps_judgement steps(const record::visit_record& in, const compared_steps& compared,
                                     const policy& rules) {
  finding f{.check = check::steps,
            .quantity = "order_probability",
            .source = "common practice, no source (the faster speed draws more at one voltage)"};
  if (in.machine.speeds.size() < 2) {
    f.bearing = bearing::does_not_apply;
    f.says = statement::steps_single_speed;
    return {f, std::nullopt, {}};
  }
  if (!compared.without_curve.empty()) return detail::without_currents(compared.without_curve, f);
  const double certain = rules.practice.conforming_probability.value;
  const auto told = detail::best_witness(in, compared, certain, rules);
  f.says = told.says;
  f.outcome = detail::outcome_of(told);
  f.value = told.certainty;
  f.unit = "1";
  f.limit_low = certain;
  std::string order;
  for (const auto place : told.best_order) order += (order.empty() ? "" : ", ") + in.machine.speeds[place];
  f.texts.emplace_back("best_order", order);
  f.texts.emplace_back("equal", detail::equal_speeds(in.machine.speeds, compared.equal));
  if (compared.common_voltage_V) f.numbers.push_back({"voltage", *compared.common_voltage_V, 0.5});
  return {f, told.flag, told.best_order};
}

}  // namespace rewound::verdict::rules
