// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <utility>

#include <rewound/checks/fault_likelihood.hpp>
#include <rewound/verdict/equipment.hpp>
#include <rewound/verdict/rules/causes.hpp>

#include "analysis/analysis.hpp"
#include "analysis/machine_kind_of.hpp"
#include "analysis/turning.hpp"
#include "judging/next_steps.hpp"

namespace rewound::job {

namespace {

/// The worst outcome of a check's findings that decide; absent where nothing was judged.
std::optional<verdict::outcome> worst_of(const std::vector<verdict::finding>& findings, verdict::check check) {
  std::optional<verdict::outcome> out;
  const auto rank = [](verdict::outcome value) {
    return value == verdict::outcome::fails ? 2 : value == verdict::outcome::undecided ? 1 : 0;
  };
  for (const auto& finding : findings) {
    if (finding.check != check || finding.bearing != verdict::bearing::decides) continue;
    // How far above the dew point a winding was tells of the reading, not of the winding.
    if (finding.outcome == verdict::outcome::not_tested || finding.quantity == "above_dew_point") continue;
    if (!out || rank(finding.outcome) > rank(*out)) out = finding.outcome;
  }
  return out;
}

/// Appends ohms against what is expected of them as further observations; whether there were any.
bool observe_ohms(const std::vector<verdict::finding>& findings, electrical_evidence& evidence) {
  bool any = false;
  for (const auto& finding : findings) {
    if (finding.check != verdict::check::resistance || finding.quantity != "resistance_deviation" || !finding.value ||
        finding.bearing != verdict::bearing::decides || *finding.value <= -100.0)
      continue;
    const auto which = winding_of(finding.subject);
    if (!which) continue;
    const double ratio = 1.0 + *finding.value / 100.0;
    const double u = (*finding.high - *finding.low) / (2.0 * measurement::coverage_95) / (100.0 * ratio);
    auto& seen = evidence.observed;
    const Eigen::Index rows = seen.values.size();
    const Eigen::Index columns = seen.observation.cols();
    seen.values.conservativeResize(rows + 1);
    seen.values[rows] = std::log(ratio);
    seen.observation.conservativeResize(rows + 1, columns);
    seen.observation.row(rows).setZero();
    seen.observation(rows, evidence.resistance_entry(*which == winding::auxiliary)) = 1.0;
    seen.noise.conservativeResize(rows + 1, rows + 1);
    seen.noise.row(rows).setZero();
    seen.noise.col(rows).setZero();
    seen.noise(rows, rows) = u * u;
    any = true;
  }
  return any;
}

/// Slower speeds that take next to nothing while the fastest runs; absent where no slower one was tried.
std::optional<bool> some_speed_dead(const record::visit_record& in) {
  constexpr double next_to_nothing = 0.02;  // of the fastest speed's current (common practice, no source)
  const auto most_of = [&](const std::string& speed) -> std::optional<double> {
    std::optional<double> out;
    for (const auto& run : in.run_up) {
      if (run.speed != speed) continue;
      for (const auto& row : run.rows)
        if (row.voltage_V > 0.0) out = std::max(out.value_or(0.0), row.current_A);
    }
    return out;
  };
  if (in.machine.phases != 1 || in.machine.speeds.empty()) return std::nullopt;
  const auto fastest = most_of(in.machine.speeds.front());
  if (!fastest || *fastest <= 0.0) return std::nullopt;
  std::optional<bool> out;
  for (std::size_t i = 1; i < in.machine.speeds.size(); ++i)
    if (const auto most = most_of(in.machine.speeds[i]))
      out = out.value_or(false) || *most < next_to_nothing * *fastest;
  return out;
}

constexpr double impossible = -50.0;  // finite, so that other evidence can still be added (project's choice)

/// ln evidence of every cause; one that leaves no trace in the run-ups looks as a healthy machine does.
std::vector<double> log_electrical(const checks::fault_likelihood_result& weighed,
                                   const std::optional<bool>& speed_dead) {
  auto out = weighed.log_evidence;
  // What the list does not name moves the run-ups anyhow.
  const auto unnamed = static_cast<std::size_t>(verdict::cause::something_else);
  out[unnamed] = std::min(weighed.log_unknown, 600.0);
  out = verdict::rules::as_believed(std::move(out));
  for (const auto cause :
       {verdict::cause::none, verdict::cause::damp_insulation, verdict::cause::contaminated_insulation,
        verdict::cause::aged_insulation, verdict::cause::misread_reading})
    out[static_cast<std::size_t>(cause)] = 0.0;
  // As often it leaves no trace in them (project's choice).
  out[unnamed] = std::log(0.5 + 0.5 * std::exp(std::min(out[unnamed], 600.0)));
  // Speeds that run do so as ever; where all run, no section is open.
  out[static_cast<std::size_t>(verdict::cause::speed_section_open)] = speed_dead.value_or(true) ? 0.0 : impossible;
  for (auto& each : out) each = std::max(each, impossible);
  return out;
}

/// One speed has no sections, and only some circuits have a capacitor or a start winding that can stay in.
std::vector<verdict::cause> without_part(const record::visit_record& in) {
  using enum record::running_circuit;
  using verdict::cause;
  const auto circuit = in.machine.running_circuit;
  std::vector<cause> out;
  if (in.machine.speeds.size() < 2)
    out = {cause::speed_leads_exchanged, cause::speed_section_shorted, cause::speed_section_open};
  if (circuit != permanent_capacitor && circuit != unknown && in.capacitor.empty())
    out.push_back(cause::weak_capacitor);
  if (circuit != start_winding_switched && circuit != unknown) out.push_back(cause::start_winding_left_in);
  if (circuit == commutator) out.push_back(cause::rotor_fault);
  return out;
}

/// A rotor that stood still at a voltage at which fans turn, or good machines of its model.
bool stalled_at_use(const record::visit_record& in, const finding_list& findings) {
  constexpr double usual = 0.7;  // of the rated one: further below, good fans stall too (common practice, no source)
  const auto at_use = [&](double volts) { return volts >= usual * in.machine.rated_voltage_V; };
  return std::any_of(in.run_up.begin(), in.run_up.end(),
                     [&](const auto& run) {
                       const auto stood = stood_at(in, run);
                       return std::any_of(stood.begin(), stood.end(), at_use);
                     }) ||
         std::any_of(findings.begin(), findings.end(),
                     [](const auto& finding) { return finding.says == verdict::statement::stalled_where_others_turn; });
}

/// The checks that a finding failed, each once.
std::vector<verdict::check> failed_checks(const finding_list& findings) {
  std::vector<verdict::check> out;
  for (const auto& finding : findings)
    if (finding.outcome == verdict::outcome::fails && std::find(out.begin(), out.end(), finding.check) == out.end())
      out.push_back(finding.check);
  return out;
}

/// Patterns of starts: none succeeded; one position fails and another does not.
void add_start_patterns(const record::visit_record& in, std::vector<verdict::rules::pattern>& out) {
  using verdict::rules::pattern;
  int successes = 0, attempts = 0;
  bool some_fail = false, some_hold = false;
  for (const auto& starts : in.starts) {
    attempts += starts.attempts;
    successes += starts.successes;
    some_fail = some_fail || starts.successes < starts.attempts;
    some_hold = some_hold || (starts.attempts > 0 && starts.successes == starts.attempts);
  }
  if (std::any_of(in.starts.begin(), in.starts.end(), [](const auto& starts) { return starts.needed_push; }))
    out.push_back(pattern::needs_push);
  if (attempts > 0 && successes == 0) out.push_back(pattern::never_starts);
  else if (some_fail && some_hold) out.push_back(pattern::one_position);
}

std::vector<verdict::rules::pattern> patterns_of(const analysis& seen, const finding_list& findings) {
  using verdict::rules::pattern;
  std::vector<verdict::rules::pattern> out;
  for (const auto& finding : findings) switch (finding.says) {
      case verdict::statement::steps_equal:
      case verdict::statement::steps_merged: out.push_back(pattern::equal_taps); break;
      case verdict::statement::steps_swapped:
      case verdict::statement::steps_reversed:
      case verdict::statement::steps_tendency:
      case verdict::statement::steps_against_rotation: out.push_back(pattern::order_wrong); break;
      case verdict::statement::steps_currents_against_rotation: out.push_back(pattern::slower_takes_more); break;
      case verdict::statement::capacitor_value:
        if (finding.outcome == verdict::outcome::fails)
          out.push_back(*finding.value < 0.0 ? pattern::capacitor_off : pattern::capacitor_other);
        break;
      case verdict::statement::capacitor_voltage:
        if (finding.outcome == verdict::outcome::fails) out.push_back(pattern::capacitor_other);
        break;
      case verdict::statement::resistance_order_by_name: out.push_back(pattern::ohms_order); break;
      case verdict::statement::resistance_order:
        if (finding.outcome == verdict::outcome::fails) out.push_back(pattern::ohms_order);
        break;
      case verdict::statement::turns_slower_than_before:
      case verdict::statement::turns_slow_of_mark:
      case verdict::statement::turns_slow_of_field: out.push_back(pattern::turns_slow); break;
      case verdict::statement::turns_the_other_way: out.push_back(pattern::turns_wrong); break;
      case verdict::statement::insulation_fell:
        if (finding.bearing == verdict::bearing::decides) out.push_back(pattern::insulation_fell);
        break;
      default: break;
    }
  add_start_patterns(seen.record, out);
  return out;
}

}  // namespace

judged_causes judge_causes(const analysis& seen, const finding_list& findings, bool may_energise) {
  const auto& now = seen.today();
  verdict::rules::cause_facts facts;
  for (const auto& starts : now.in.starts) {
    facts.start_attempts += starts.attempts;
    facts.start_failures += starts.attempts - starts.successes;
  }
  facts.insulation = worst_of(findings, verdict::check::insulation);
  facts.polarization_index = worst_of(findings, verdict::check::polarization_index);
  facts.coast_down = worst_of(findings, verdict::check::coast_down);
  facts.heat_run = worst_of(findings, verdict::check::heat_run);
  if (!now.in.run_up.empty()) facts.suspect_reading = !seen.run_ups.suspects.readings.empty();
  facts.patterns = patterns_of(seen, findings);
  facts.failed = failed_checks(findings);
  facts.without_part = without_part(now.in);
  // Leads that were exchanged would show in the order.
  if (worst_of(findings, verdict::check::steps) == verdict::outcome::conforms)
    facts.without_part.push_back(verdict::cause::speed_leads_exchanged);
  const auto& machine = now.in.machine;
  constexpr double another_frequency = 0.02;  // as far off a grid never strays for long (common practice, no source)
  // The mains that it will meet is a condition; what was read shows the frequency that the run-ups were made on.
  const auto hertz = now.in.visit.run_up_frequency_Hz;
  const auto mains = now.in.visit.supply_frequency_Hz;
  const auto other = [&](double Hz) { return std::abs(Hz / machine.rated_frequency_Hz - 1.0) > another_frequency; };
  if (hertz) facts.other_frequency = other(*hertz);
  else if (mains && !other(*mains)) facts.other_frequency = false;
  const auto speed_dead = some_speed_dead(now.in);
  if (speed_dead.value_or(false)) facts.patterns.push_back(verdict::rules::pattern::dead_speed);
  if (stalled_at_use(now.in, findings)) facts.patterns.push_back(verdict::rules::pattern::stalls);
  auto with_ohms = seen.evidence;
  if (with_ohms) {
    if (observe_ohms(findings, *with_ohms))
      with_ohms->weighed = checks::fault_likelihood({with_ohms->observed, with_ohms->model, 0});
    facts.log_electrical = log_electrical(with_ohms->weighed, speed_dead);
    // A capacitor for the start leaves no trace while the machine runs.
    const auto circuit = machine.running_circuit;
    if (!now.in.capacitor.empty() && circuit == record::running_circuit::start_winding_switched)
      facts.log_electrical[static_cast<std::size_t>(verdict::cause::weak_capacitor)] = 0.0;
  }
  auto causes = verdict::rules::rank_causes(facts);
  pending_steps steps(
      [known = next_step_facts_of(now, std::move(with_ohms), std::move(facts), causes, may_energise,
                                  verdict::equipment_of(now.in.visit, seen.policy))] { return next_steps(known); });
  return {std::move(causes), std::move(steps)};
}

}  // namespace rewound::job
