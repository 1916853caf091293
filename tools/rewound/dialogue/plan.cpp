// SPDX-License-Identifier: MIT
#include "dialogue/plan.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <rewound/verdict/equipment.hpp>

namespace rewound::tool::dialogue {

namespace {

constexpr auto step_names =
    std::to_array<std::string_view>({"earth", "resistance", "insulation", "withstand", "run-up", "leakage", "starting",
                                     "coast-down", "heat run", "checks"});

const record::run_up_section* run_of(const record::visit_record& in, const std::string& speed) {
  for (const auto& run : in.run_up)
    if (run.speed == speed) return &run;
  return nullptr;
}

/// Two readings nearer than this are of one voltage (common practice, no source).
constexpr double one_voltage = 0.02;

/// Of the rated voltage: no supply falls as low (common practice, no source).
constexpr double lowest_mains = 0.85;

bool near(double volts, double other, double within) { return std::abs(volts / other - 1.0) <= within; }

bool read_near(const record::run_up_section* run, double volts, double within) {
  return run != nullptr && std::any_of(run->rows.begin(), run->rows.end(),
                                       [&](const auto& row) { return near(row.voltage_V, volts, within); });
}

/// The rated voltage and today's mains, where the machine is made for those.
std::vector<double> fixed_voltages(const record::visit_record& in) {
  const double rated = in.machine.rated_voltage_V;
  const double mains = in.visit.supply_voltage_V.value_or(rated);
  std::vector<double> out{rated};
  if (!near(mains, rated, one_voltage) && mains >= lowest_mains * rated && mains <= 1.1 * rated) out.push_back(mains);
  return out;
}

/// What is asked for at rest was read; with volts that can be set four readings at least (as the report advises).
bool run_up_recorded(const record::visit_record& in, const std::string& speed) {
  const auto* run = run_of(in, speed);
  constexpr double near_rating = 0.05;  // as policy.practice.near_rating_percent
  for (const double volts : fixed_voltages(in))
    if (!read_near(run, volts, volts == in.machine.rated_voltage_V ? near_rating : one_voltage)) return false;
  return !has_variable_volts(in) || run->rows.size() >= 4;
}

bool insulation_recorded(const record::visit_record& in, bool ten_minutes) {
  const double until = ten_minutes ? 600.0 : 60.0;
  return std::any_of(in.insulation.begin(), in.insulation.end(),
                     [&](const auto& test) { return test.rows.back().time_s >= until - 0.5; });
}

/// Whether the frame is known to be earthed; nothing where the record does not say.
std::optional<bool> earthed(const record::machine_section& machine) {
  using enum record::appliance_class;
  if (machine.appliance_class == class_I) return true;
  if (machine.appliance_class) return false;
  return machine.frame_earthed;
}

bool checks_recorded(const record::visit_record& in, const verdict::policy& policy) {
  return std::all_of(policy.required_checks.begin(), policy.required_checks.end(),
                     [&](const auto& key) { return in.checks.contains(key); });
}

}  // namespace

std::string step::name() const {
  std::string out(step_names[static_cast<std::size_t>(kind)]);
  return speed.empty() ? out : out + " " + speed;
}

bool energises(step_kind kind) {
  switch (kind) {
    case step_kind::run_up:
    case step_kind::leakage:
    case step_kind::starting:
    case step_kind::coast_down:
    case step_kind::heat_run: return true;
    case step_kind::earth:
    case step_kind::resistance:
    case step_kind::insulation:
    case step_kind::withstand:
    case step_kind::checks: return false;
  }
  return true;
}

bool has_meters_for(const std::vector<std::string>& have, step_kind kind) {
  const auto has = [&](std::string_view what) { return record::has_equipment(have, what); };
  switch (kind) {
    case step_kind::earth:
    case step_kind::resistance: return has("ohmmeter");
    case step_kind::insulation: return has("insulation_tester");
    case step_kind::withstand: return has("withstand_tester");
    case step_kind::run_up: return has("ammeter");
    case step_kind::leakage: return has("leakage_meter");
    case step_kind::coast_down: return has("tachometer");
    case step_kind::heat_run: return has("ohmmeter") || has("thermometer");
    case step_kind::starting:
    case step_kind::checks: return true;
  }
  return true;
}

std::vector<planned_step> plan_of(const record::visit_record& in, const verdict::policy& policy) {
  using verdict::check;
  std::vector<planned_step> out;
  const auto add = [&](step_kind kind, bool recorded) { out.push_back({{kind, ""}, recorded}); };
  const auto frame = earthed(in.machine);
  const bool low_voltage = in.machine.appliance_class == record::appliance_class::class_III;
  if (policy.needs(check::earth) && frame.value_or(true)) add(step_kind::earth, in.earth.has_value());
  if (policy.needs(check::resistance)) add(step_kind::resistance, !in.resistance.empty());
  add(step_kind::insulation, insulation_recorded(in, policy.needs(check::polarization_index)));
  if (policy.needs(check::withstand)) add(step_kind::withstand, !in.withstand.empty());
  if (policy.needs(check::draw) || policy.needs(check::steps))
    for (const auto& speed : in.machine.speeds) out.push_back({{step_kind::run_up, speed}, run_up_recorded(in, speed)});
  if (policy.needs(check::leakage) && !frame.value_or(false) && !low_voltage)
    add(step_kind::leakage, !in.leakage.empty());
  if (policy.needs(check::starting)) add(step_kind::starting, !in.starts.empty());
  if (policy.needs(check::coast_down)) add(step_kind::coast_down, in.coast_down.has_value());
  if (policy.needs(check::heat_run)) add(step_kind::heat_run, in.heat_run.has_value());
  if (!policy.required_checks.empty()) add(step_kind::checks, checks_recorded(in, policy));
  const auto& have = verdict::equipment_of(in.visit, policy);
  std::erase_if(out, [&](const auto& each) { return !has_meters_for(have, each.step.kind); });
  return out;
}

std::optional<step> next_step(const std::vector<planned_step>& plan, const std::set<step>& left) {
  for (const auto& each : plan)
    if (!each.recorded && !left.contains(each.step)) return each.step;
  return std::nullopt;
}

std::optional<step> step_named(std::string_view text, const record::visit_record& in) {
  for (const auto& speed : in.machine.speeds)
    if (text == speed || text == "run-up " + speed) return step{step_kind::run_up, speed};
  for (std::size_t i = 0; i < step_names.size(); ++i) {
    if (text != step_names[i]) continue;
    const auto kind = static_cast<step_kind>(i);
    return step{kind, kind == step_kind::run_up ? in.machine.speeds.front() : ""};
  }
  return std::nullopt;
}

bool has_variable_volts(const record::visit_record& in) {
  const auto& have = in.visit.have;
  if (!have.empty()) return std::find(have.begin(), have.end(), "variable_transformer") != have.end();
  for (const auto& run : in.run_up)
    for (const auto& row : run.rows)
      if (row.voltage_V < lowest_mains * in.machine.rated_voltage_V) return true;
  return false;
}

std::vector<double> run_up_voltages(const record::visit_record& in) {
  auto out = fixed_voltages(in);
  if (!has_variable_volts(in)) return out;
  // Steps on which a curve's exponent and curvature show; below half of the rating many rotors stand (common practice,
  // no source).
  for (const double share : {0.50, 0.65, 0.80, 0.90}) out.push_back(std::round(share * in.machine.rated_voltage_V));
  return out;
}

std::optional<double> suggested_voltage(const record::visit_record& in, const std::string& speed) {
  const auto* run = run_of(in, speed);
  for (const double volts : run_up_voltages(in))
    if (!read_near(run, volts, one_voltage)) return volts;
  return std::nullopt;
}

}  // namespace rewound::tool::dialogue
