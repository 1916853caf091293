// SPDX-License-Identifier: MIT
#include "analysis/turning.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/machine_kind_of.hpp"

namespace rewound::job {

namespace {

using record::running_circuit;
using verdict::rules::slow_turning;

double field_of_plate(const record::machine_section& of) { return field_of(of, of.rated_frequency_Hz); }

bool brushed(const record::machine_section& of) { return of.running_circuit == running_circuit::commutator; }

const record::run_up_section* run_named(const record::visit_record& in, const std::string& speed) {
  const auto place =
      std::find_if(in.run_up.begin(), in.run_up.end(), [&](const auto& run) { return run.speed == speed; });
  return place == in.run_up.end() ? nullptr : &*place;
}

bool with_its_fan_on(const record::visit_record& in) { return in.visit.shaft == record::shaft_condition::loaded; }

/// Beside the same speed of the same machine, at like volts.
std::optional<slow_turning> slower_than_before(const record::visit_record& now, const record::visit_record& before,
                                               const verdict::policy& policy) {
  if (!with_its_fan_on(before) || run_up_frequency_Hz(now) != run_up_frequency_Hz(before)) return std::nullopt;
  const auto most = policy.practice.rotation_fall_percent;
  for (const auto& run : now.run_up) {
    const auto* old_run = run_named(before, run.speed);
    const auto* row = rotation_near_rated(now, run);
    const auto* old = old_run == nullptr ? nullptr : rotation_near_rated(before, *old_run);
    if (row == nullptr || old == nullptr || *row->speed_rpm >= (1.0 - most.value / 100.0) * *old->speed_rpm) continue;
    return slow_turning{verdict::statement::turns_slower_than_before, run.speed, *row->speed_rpm, *old->speed_rpm,
                        most};
  }
  return std::nullopt;
}

/// The fastest speed alone: slower ones slip as their control lets them.
std::optional<slow_turning> slower_than_plate(const record::visit_record& now, const verdict::policy& policy) {
  const auto& m = now.machine;
  const auto* run = run_named(now, m.speeds.front());
  const auto* row = run == nullptr ? nullptr : rotation_near_rated(now, *run);
  if (row == nullptr) return std::nullopt;
  const bool marked = m.rated_speed_rpm && run_up_frequency_Hz(now) == m.rated_frequency_Hz && plate_can_turn(m);
  if (marked && *row->speed_rpm < *m.rated_speed_rpm && !turns_as_plate(now, *row, policy))
    return slow_turning{
        verdict::statement::turns_slow_of_mark, run->speed, *row->speed_rpm, *m.rated_speed_rpm,
        brushed(m) ? policy.practice.rotation_marked_commutator_percent : policy.practice.marked_slip_percent};
  const auto slip = usual_slip_of(m, policy);
  const double field = field_of(m, run_up_frequency_Hz(now));
  if (m.poles && !brushed(m) && *row->speed_rpm < (1.0 - slip.value / 100.0) * field)
    return slow_turning{verdict::statement::turns_slow_of_field, run->speed, *row->speed_rpm, field, slip};
  return std::nullopt;
}

}  // namespace

const record::run_up_row* rotation_near_rated(const record::visit_record& in, const record::run_up_section& run) {
  return nearest_to_rated(in, run, 0.05, [](const auto& row) { return row.speed_rpm && row.turns(); });
}

std::vector<double> stood_at(const record::visit_record& in, const record::run_up_section& run) {
  const bool some_turn = std::any_of(in.run_up.begin(), in.run_up.end(), [](const auto& each) {
    return std::any_of(each.rows.begin(), each.rows.end(), [](const auto& row) { return row.turns(); });
  });
  std::vector<double> out;
  for (const auto& row : run.rows)
    if (some_turn && !row.turns() && row.current_A > 0.0) out.push_back(row.voltage_V);
  return out;
}

double field_of(const record::machine_section& of, double hertz) { return 120.0 * hertz / of.poles.value_or(2); }

verdict::practice_limit usual_slip_of(const record::machine_section& of, const verdict::policy& policy) {
  return of.running_circuit == running_circuit::shaded_pole ? policy.practice.rotation_below_shaded_percent
                                                            : policy.practice.rotation_below_field_percent;
}

bool plate_can_turn(const record::machine_section& of) {
  return !of.rated_speed_rpm || !of.poles || brushed(of) || *of.rated_speed_rpm <= field_of_plate(of);
}

bool turns_as_plate(const record::visit_record& in, const record::run_up_row& row, const verdict::policy& policy) {
  const auto& m = in.machine;
  const double marked = m.rated_speed_rpm.value(), read = row.speed_rpm.value();
  if (brushed(m))
    return std::abs(read / marked - 1.0) <= policy.practice.rotation_marked_commutator_percent.value / 100.0;
  // More slip by 5 % less voltage, about.
  const double of_voltage = std::abs(std::pow(m.rated_voltage_V / row.voltage_V, 2.0) - 1.0);
  const auto agrees = [&](double field) {
    const double slip = field - marked;
    if (slip < 0.0) return false;
    const double allowed = (policy.practice.marked_slip_percent.value / 100.0 + of_voltage) * slip +
                           policy.practice.rotation_above_field_percent.value / 100.0 * marked;
    return std::abs(read - marked) <= allowed;
  };
  if (m.poles) return agrees(field_of_plate(m));
  // Any field that lies above what is marked.
  constexpr int most_pairs = 32;
  const double least_of_field = 1.0 - usual_slip_of(m, policy).value / 100.0;
  for (int pairs = 1; pairs <= most_pairs; ++pairs) {
    const double field = 60.0 * m.rated_frequency_Hz / pairs;
    if (marked >= least_of_field * field && agrees(field)) return true;
  }
  return false;
}

namespace {

/// Whether the fastest speed's current lies nearer to the marked one than before: what a weak capacitor or too many
/// turns take away leads away from it.
bool nearer_to_plate(double now_A, double before_A, double marked_A) {
  return std::abs(std::log(now_A / marked_A)) < std::abs(std::log(before_A / marked_A));
}

}  // namespace

bool mended_since(const record::visit_record& now, const record::visit_record& before) {
  using enum record::visit_state;
  if (before.visit.state != as_found || now.visit.state == as_found) return false;
  if (!now.machine.rated_current_A) return false;  // nothing else says what it should be
  constexpr double apart = 0.03;                   // two meters and two days (common practice, no source)
  bool better = false;
  for (const auto& run : now.run_up) {
    const auto* then = run_named(before, run.speed);
    if (then == nullptr) continue;
    const auto serves = [](const auto& row) { return row.turns() && !row.over_range && row.current_A > 0.0; };
    const auto* row = nearest_to_rated(now, run, 0.05, serves);
    const auto* old = nearest_to_rated(before, *then, 0.05, serves);
    if (row == nullptr || old == nullptr) continue;
    const double amperes = row->current_A / old->current_A;
    const double turns = row->speed_rpm && old->speed_rpm ? *row->speed_rpm / *old->speed_rpm : 1.0;
    if (amperes > 1.0 + apart || turns < 1.0 - apart) return false;
    if (amperes < 1.0 - apart && run.speed == now.machine.speeds.front() &&
        !nearer_to_plate(row->current_A, old->current_A, *now.machine.rated_current_A))
      return false;
    better = better || amperes < 1.0 - apart || turns > 1.0 + apart;
  }
  return better;
}

std::optional<slow_turning> slow_turning_of(const visit_facts& now, const std::optional<visit_facts>& before,
                                            const verdict::policy& policy) {
  if (!with_its_fan_on(now.in)) return std::nullopt;
  if (before)
    if (auto slower = slower_than_before(now.in, before->in, policy)) return slower;
  return slower_than_plate(now.in, policy);
}

}  // namespace rewound::job
