// SPDX-License-Identifier: MIT
#include "running_basis.hpp"

#include <cmath>
#include <utility>

#include <rewound/base/error.hpp>

#include "reference_comparison.hpp"

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

}  // namespace

compared_visits visits_of(const record::visit_record& now, const std::optional<record::visit_record>& earlier) {
  if (earlier) expect_same_machine(now, *earlier);
  compared_visits out{{now, instruments_of(now)}, {}, earlier && other_winding(now, *earlier)};
  if (earlier && !out.rewound_since) out.before.emplace(visit_facts{*earlier, instruments_of(*earlier)});
  return out;
}

std::optional<running_population> population_beside(const compared_visits& visits,
                                                    const std::shared_ptr<const reference>& beside,
                                                    std::optional<pooled_reference> model,
                                                    const verdict::policy& policy) {
  if (model) return running_population{verdict::expectation::reference, *beside, std::move(*model)};
  if (!visits.before || visits.before->in.visit.shaft != visits.today.in.visit.shaft ||
      visits.before->in.run_up.empty())
    return std::nullopt;
  auto itself = reference_of(visits.before->in);
  auto pooled = pool_reference(itself, between_visits(policy));
  return running_population{verdict::expectation::earlier, std::move(itself), std::move(pooled)};
}

std::optional<checks::expected_current_input> currents_of(const pooled_reference& in, const std::string& speed) {
  for (std::size_t i = 0; i < in.blocks.size(); ++i)
    if (in.blocks[i].speed == speed && in.blocks[i].what == fit::channel::current)
      return checks::expected_current_input{in.population, in.shapes[i], static_cast<Eigen::Index>(3 * i)};
  return std::nullopt;
}

running_basis running_basis_of(const visit_facts& now, const std::optional<visit_facts>& before,
                               const std::optional<reference>& good, const verdict::policy& policy) {
  running_basis out;
  if (before && before->in.visit.shaft == now.in.visit.shaft)
    out.then = analyse(*before, expected_of(*before, nullptr, nullptr));
  out.beside = without_this_visit(good, now.in);
  out.model = usable_reference(now.in, out.beside.get(), policy);
  out.today = analyse(now, expected_of(now, out.then ? &*out.then : nullptr, out.model ? &*out.model : nullptr));
  return out;
}

}  // namespace rewound::job
