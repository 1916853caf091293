// SPDX-License-Identifier: MIT
#pragma once

#include <iterator>
#include <optional>
#include <vector>

#include <rewound/job/reference.hpp>
#include <rewound/job/result.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/readings.hpp>

#include "instruments.hpp"

namespace rewound::job {

/// One visit's record with its instruments worked out.
struct visit_facts {
  const record::visit_record& in;
  bench_instruments instruments;
};

struct electrical_evidence;

/// Run-up, draw, steps and supply: appends findings and fills the result's rows. What the run-ups tell of causes is
/// handed on in `evidence`, where there is something to compare them with.
void judge_running(const visit_facts& now, const std::optional<visit_facts>& before,
                   const std::optional<reference>& good, const verdict::policy& policy,
                   std::optional<electrical_evidence>& evidence, result& out);

/// Causes of what was found, and the measurement that would tell most: after all findings.
void judge_causes(const visit_facts& now, std::optional<electrical_evidence> evidence, result& out);

/// Insulation: one circuit after another.
void judge_insulation(const visit_facts& now, const std::optional<visit_facts>& before, const verdict::policy& policy,
                      result& out);

/// Insulation, winding resistance, leakage and earth, starts, bench checks: appends findings.
void judge_cold(const visit_facts& now, const std::optional<visit_facts>& before, const verdict::policy& policy,
                result& out);

/// Winding resistance, balance and order of sections: appends findings.
void judge_resistance(const visit_facts& now, const std::optional<visit_facts>& before, const verdict::policy& policy,
                      result& out);

/// Starts by position, lowest starting voltage, time to speed: appends findings.
void judge_starting(const visit_facts& now, const verdict::policy& policy, result& out);

/// Power factor, and core loss apart from friction where the shaft was bare: appends findings.
void judge_no_load(const visit_facts& now, const verdict::policy& policy, result& out);

/// Line currents and voltages of three-phase machines: appends findings.
void judge_unbalance(const visit_facts& now, const verdict::policy& policy, result& out);

/// Whether a reading's watts can be: not above volts times amperes by more than the meters' limits of error.
bool watts_possible(const visit_facts& visit, const record::run_up_section& run, std::size_t i);

/// Each speed with watts that cannot be.
std::vector<verdict::rules::impossible_watts> impossible_watts_of(const visit_facts& now);

/// Entries of one record that cannot both be true, or that nothing real is like.
std::vector<verdict::rules::contradiction> contradictions_of(const record::visit_record& in,
                                                             const verdict::policy& policy);

/// Withstand, leakage, earth and cord: appends findings.
void judge_touch(const visit_facts& now, const std::optional<visit_facts>& before, const verdict::policy& policy,
                 result& out);

/// Heat run: appends findings; after judge_running, whose draw tells the losses on today's mains.
void judge_heat_run(const visit_facts& now, const verdict::policy& policy, result& out);

/// Coast-down, beside those of the earlier visit and of good machines: appends findings.
void judge_coast_down(const visit_facts& now, const std::optional<visit_facts>& before,
                      const std::optional<reference>& good, const verdict::policy& policy, result& out);

inline units::temperature_difference winding_uncertainty(const visit_facts& visit, double winding_C) {
  return visit.instruments.thermometer.standard_uncertainty(units::kelvins(winding_C));
}

inline void append(std::vector<verdict::finding>& to, std::vector<verdict::finding> more) {
  to.insert(to.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end()));
}

}  // namespace rewound::job
