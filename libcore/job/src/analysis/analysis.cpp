// SPDX-License-Identifier: MIT
#include "analysis/analysis.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include <rewound/base/error.hpp>
#include <rewound/checks/design_match.hpp>
#include <rewound/checks/fault_likelihood.hpp>
#include <rewound/job/expected_band.hpp>
#include <rewound/machine/air_gap.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/record/validate.hpp>

#include "analysis/coasting.hpp"
#include "analysis/insulation_analysis.hpp"
#include "analysis/contradictions.hpp"
#include "analysis/machine_kind_of.hpp"
#include "analysis/turning.hpp"
#include "evidence/slower_speeds.hpp"

namespace rewound::job {

namespace {

void expect_same_machine(const record::visit_record& now, const record::visit_record& earlier) {
  using base::error;
  using base::error_code;
  if (now.machine.id != earlier.machine.id)
    throw error(error_code::records_do_not_match, {"", 0, "machine.id"},
                "\"" + earlier.machine.id + "\" in the earlier visit",
                "the same machine, here \"" + now.machine.id + "\"");
  if (now.machine.rated_voltage_V != earlier.machine.rated_voltage_V ||
      now.machine.rated_frequency_Hz != earlier.machine.rated_frequency_Hz ||
      now.machine.phases != earlier.machine.phases)
    throw error(error_code::records_do_not_match, {"", 0, "machine.rated_voltage_V"},
                "another rated voltage, frequency or number of phases in the earlier visit", "the same rating in both");
  if (earlier.visit.day > now.visit.day)
    throw error(error_code::records_do_not_match, {"", 0, "visit.date"},
                earlier.visit.day.iso() + " for the earlier visit",
                "a day not after this visit's, " + now.visit.day.iso());
}

bool other_winding(const record::visit_record& now, const record::visit_record& earlier) {
  return now.machine.wound_year && earlier.machine.wound_year && *now.machine.wound_year != *earlier.machine.wound_year;
}

/// Current expected of each speed at the rated voltage, from the best source that knows it.
expected_currents expected_of(const visit_facts& visit, const run_up_analysis* before, const pooled_reference* model) {
  expected_currents out;
  for (const auto& speed : visit.in.machine.speeds) {
    const auto* earlier = before == nullptr ? nullptr : before->curve_of(speed);
    if (const auto mean = model == nullptr ? std::nullopt : mean_current(*model, speed)) out.emplace_back(speed, *mean);
    else if (earlier != nullptr)
      out.emplace_back(speed, units::amperes(std::exp(fit::log_current(*earlier, 1.0).value)));
    else if (visit.in.machine.rated_current_A && speed == visit.in.machine.speeds.front())
      out.emplace_back(speed, units::amperes(*visit.in.machine.rated_current_A));
  }
  return out;
}

/// What is known of the curves before they are read: the earlier visit as closely as it was read.
const pooled_reference* curves_expected(const std::optional<running_population>& population) {
  if (!population) return nullptr;
  return population->closely ? &population->closely->pooled : &population->pooled;
}

/// ln of the main winding's magnetising reactance by its turns and the core, where those were noted.
std::optional<measurement::uncertain<double>> log_magnetising_ohm(const record::visit_record& in,
                                                                  const verdict::policy& policy) {
  const auto turns = main_winding_turns(in);
  const auto& machine = in.machine;
  if (!turns || !machine.bore_mm || !machine.core_length_mm || !machine.poles || machine.phases != 1)
    return std::nullopt;
  const auto& usual = policy.practice;
  const double gap_mm = machine.air_gap_mm.value_or(usual.air_gap_mm.value);
  const double gap_percent = machine.air_gap_mm ? usual.air_gap_read_percent.value : usual.air_gap_percent.value;
  const auto ohms = machine::magnetising_reactance(
      {*machine.poles, *turns, usual.winding_factor.value, units::millimetres(*machine.bore_mm),
       units::millimetres(*machine.core_length_mm), units::millimetres(gap_mm), usual.gap_factor.value},
      units::hertz(machine.rated_frequency_Hz));
  return measurement::uncertain<double>{std::log(units::in_ohms(ohms)),
                                        std::hypot(gap_percent, usual.core_percent.value) / 100.0};
}

/// ln amperes of the fastest speed by the ohms of the main winding, and by its turns and core, where those are known.
std::optional<measurement::uncertain<double>> current_by_winding(const record::visit_record& in,
                                                                 const verdict::policy& policy) {
  if (!has_designs(in)) return std::nullopt;
  checks::known_winding known{{}, log_magnetising_ohm(in, policy)};
  if (const auto ohms = main_winding_ohm(in)) known.log_main_ohm = {std::log(*ohms), 0.0};
  if (!known.log_main_ohm && !known.log_magnetising_ohm) return std::nullopt;
  const std::vector<double> one_current(in.machine.speeds.size(), 1.0);
  const auto expected = checks::current_by_winding(machine::fan_population(machine_kind_of(in), one_current), known);
  return measurement::uncertain<double>{expected.log_current, expected.log_uncertainty};
}

/// Weighs the evidence once: the causes look at the same result.
void weigh(electrical_evidence& evidence, bool p_value_asked) {
  constexpr std::size_t draws = 600, first = 60;
  evidence.weighed = checks::fault_likelihood({evidence.observed, evidence.model, p_value_asked ? draws : 0, first});
}

/// ln amperes of the slower speeds at the rated voltage by the designs of the kind and the machine's own fastest speed.
/// Where no current is marked, that speed's own is the scale: what is asked for is relative to it.
std::vector<std::optional<measurement::uncertain<double>>> slower_speeds(const analysis& seen) {
  const auto& now = seen.today();
  const auto& machine = now.in.machine;
  if (machine.speeds.size() < 2) return {};
  const auto* fastest = seen.run_ups.curve_of(machine.speeds.front());
  if (fastest == nullptr) return {};
  const auto* evidence = seen.evidence ? &*seen.evidence : nullptr;
  std::optional<electrical_evidence> by_own_scale;
  const double scale_A = machine.rated_current_A.value_or(std::exp(fit::log_current(*fastest, 1.0).value));
  if (!machine.rated_current_A) {
    auto scaled = now.in;
    scaled.machine.rated_current_A = scale_A;
    by_own_scale = evidence_by_nameplate({scaled, now.instruments}, seen.channels.readings, seen.policy);
    evidence = by_own_scale ? &*by_own_scale : nullptr;
  }
  if (evidence == nullptr) return {};
  auto out = slower_by_fastest(*evidence, machine.speeds.size());
  const double step_spread = seen.policy.practice.nameplate_step_spread.value;
  for (std::size_t i = 0; i < out.size(); ++i) {
    if (!out[i]) continue;
    out[i]->value += std::log(scale_A);
    // A control may step otherwise than those of the designs, section by section.
    out[i]->standard_uncertainty =
        std::hypot(out[i]->standard_uncertainty, std::sqrt(static_cast<double>(i)) * step_spread);
  }
  return out;
}

/// The run-ups beside the population, or else beside designs scaled to the nameplate.
void compare_run_ups(analysis& seen) {
  const auto& now = seen.today();
  if (seen.population) {
    const auto& [by, machines, pooled, closely] = *seen.population;
    seen.comparison = compare_with_reference(now, *machines, pooled, seen.run_ups, seen.channels, by);
    if (seen.comparison) seen.joint_p_value = seen.comparison->p_value;
    seen.evidence = closely ? evidence_beside_visit(now, *closely, seen.channels.readings, seen.policy)
                            : evidence_beside(now, *machines, pooled, seen.channels.readings, seen.policy);
    // Where no design is like the machine, the distance from good ones alone is the test.
    const bool agree = seen.evidence && seen.evidence->designs_agree();
    if (seen.evidence) weigh(*seen.evidence, agree);
    if (agree) seen.joint_p_value = seen.evidence->weighed.p_value;
  } else if (!now.in.machine.rated_current_A) {
    seen.log_current_by_winding = current_by_winding(now.in, seen.policy);
  }
  if (seen.joint_p_value) return;
  seen.evidence = evidence_by_nameplate(now, seen.channels.readings, seen.policy);
  if (!seen.population) seen.log_slower_by_fastest = slower_speeds(seen);
  if (!seen.evidence) return;
  weigh(*seen.evidence, true);
  seen.nameplate_p_value = seen.evidence->weighed.p_value;
}

}  // namespace

compared_visits visits_of(const record::visit_record& now, const std::optional<record::visit_record>& earlier) {
  record::validate(now);
  if (earlier) record::validate(*earlier);
  if (earlier) expect_same_machine(now, *earlier);
  compared_visits out{{now, instruments_of(now)}, {}, earlier && other_winding(now, *earlier)};
  if (!earlier || out.rewound_since) return out;
  out.before.emplace(visit_facts{*earlier, instruments_of(*earlier)});
  out.mended_since = mended_since(now, *earlier);
  return out;
}

std::optional<running_population> population_beside(const compared_visits& visits,
                                                    const std::shared_ptr<const reference>& good,
                                                    const verdict::policy& policy) {
  if (auto model = usable_reference(visits.today.in, good.get(), policy))
    return running_population{verdict::expectation::reference, good, std::move(*model)};
  if (!visits.before || visits.before->in.visit.shaft != visits.today.in.visit.shaft ||
      visits.before->in.run_up.empty() || visits.mended_since)
    return std::nullopt;
  const auto channels = channels_of(*visits.before, analyse_run_ups(*visits.before, {}));
  auto itself = std::make_shared<const reference>(reference_of_channels(*visits.before, channels));
  auto pooled = pool_reference(*itself, between_visits(policy));
  auto closely = read_closely(*visits.before, channels, policy);
  return running_population{verdict::expectation::earlier, std::move(itself), std::move(pooled), std::move(closely)};
}

double band_factor(double level, const running_population& beside, const verdict::policy& policy) {
  const auto& pooled = beside.pooled.population;
  return beside.of_good_machines() ? one_more_machine_factor(level, pooled.units, policy)
                                   : measurement::coverage_factor(level, pooled.degrees_of_freedom);
}

std::optional<checks::expected_current_input> currents_of(const pooled_reference& in, const std::string& speed) {
  const auto place = in.place_of(speed, fit::channel::current);
  if (!place) return std::nullopt;
  return checks::expected_current_input{in.population, in.shapes[*place], static_cast<Eigen::Index>(3 * *place)};
}

analysis::analysis(const record::visit_record& now, const sources& beside, const verdict::policy& rules)
    : record(now),
      compare_with(beside),
      policy(rules),
      visits(visits_of(now, beside.earlier)),
      contradictions(contradictions_of(now, rules)),
      slow(slow_turning_of(visits.today, visits.before, rules)) {}

namespace {

/// The same circuit's value at the earlier visit, corrected as today's: by the system that decides today. A circuit
/// tested otherwise is another one.
std::optional<measurement::uncertain<units::resistance>> earlier_value(record::insulation_system today,
                                                                       const std::optional<visit_facts>& before,
                                                                       const record::insulation_section& entry,
                                                                       const verdict::policy& policy) {
  if (!before) return std::nullopt;
  for (const auto& old : before->in.insulation) {
    if (old.circuit != entry.circuit || old.connection != entry.connection) continue;
    const auto then = analyse_insulation(before->in, before->instruments, old, policy);
    if (!then.result.at_one_minute || !then.result.one_minute_read) return std::nullopt;
    const bool setting = today == record::insulation_system::thermosetting;
    return setting ? then.result.thermosetting_at_40 : then.result.thermoplastic_at_40;
  }
  return std::nullopt;
}

verdict::rules::circuit_insulation insulation_beside(const analysis& seen, const record::insulation_section& entry) {
  auto out = analyse_insulation(seen.record, seen.today().instruments, entry, seen.policy);
  if (!out.result.at_one_minute) return out;
  const auto system = verdict::rules::deciding_system(seen.record.machine.insulation_system, out.result);
  out.earlier_at_40 = earlier_value(system, seen.before(), entry, seen.policy);
  return out;
}

}  // namespace

std::shared_ptr<const analysis> analyse(const record::visit_record& now, const sources& compare_with,
                                        const verdict::policy& policy) {
  auto out = std::make_shared<analysis>(now, compare_with, policy);
  auto& seen = *out;
  seen.good = without_this_visit(compare_with.good, now);
  seen.population = population_beside(seen.visits, seen.good, policy);
  const auto& before = seen.before();
  std::optional<run_up_analysis> then;
  if (before && !seen.earlier_shaft_differs()) then = analyse_run_ups(*before, expected_of(*before, nullptr, nullptr));
  const auto* model = seen.population && seen.population->of_good_machines() ? &seen.population->pooled : nullptr;
  seen.run_ups = analyse_run_ups(seen.today(), expected_of(seen.today(), then ? &*then : nullptr, model),
                                 known_curves(curves_expected(seen.population)));
  seen.channels = analyse_channels(channels_of(seen.today(), seen.run_ups));
  compare_run_ups(seen);
  for (const auto& entry : now.insulation) seen.insulation.push_back(insulation_beside(seen, entry));
  seen.coast_down = analyse_coast_down(seen.visits.today, before, seen.good.get(), policy);
  return out;
}

}  // namespace rewound::job
