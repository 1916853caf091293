// SPDX-License-Identifier: MIT
#pragma once

#include <iterator>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/checks/section_order.hpp>
#include <rewound/job/analysis.hpp>
#include <rewound/job/reference.hpp>
#include <rewound/job/result.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/draw.hpp>
#include <rewound/verdict/rules/readings.hpp>

#include "analysis/instruments.hpp"

namespace rewound::job {

/// One visit's record with its instruments worked out.
struct visit_facts {
  const record::visit_record& in;
  bench_instruments instruments;
};

using finding_list = std::vector<verdict::finding>;

/// The rows before they are judged: what was read and what is expected.
std::vector<verdict::draw_row> rows_of(const analysis& seen);

/// @param heat_settles  a heat run stands for a plate that says nothing
verdict::rules::draw_judgement judge_draw(const analysis& seen, std::vector<verdict::draw_row> rows, bool heat_settles);

/// Every speed on today's mains, where it lies above the rated voltage and the machine may run on it.
finding_list judge_draw_on_mains(const analysis& seen, const std::vector<verdict::draw_row>& rows, bool heat_settles);

/// The order of the speeds, from currents and rpm, and from good machines where a reference is there.
struct judged_steps {
  finding_list findings;
  steps_summary summary;
};

judged_steps judge_steps(const analysis& seen);

/// A channel's curve at a voltage with everything that its reading is uncertain by; absent without readings of it.
std::optional<measurement::uncertain<double>> watts_at(const analysis& seen, const std::string& speed, double x);

/// Readings that look misread, with their speeds.
std::vector<verdict::rules::named_suspect> suspects_of(const analysis& seen);

/// Whether the readings of the run-ups can be trusted.
finding_list judge_readings(const analysis& seen);

/// The mains, and what the machine takes on it.
finding_list judge_supply(const analysis& seen, const std::vector<verdict::draw_row>& rows);

/// Insulation: one circuit after another.
finding_list judge_insulation(const analysis& seen);

/// Insulation, winding resistance, starts, withstand, leakage, earth and cord, bench checks.
finding_list judge_cold(const analysis& seen, const std::vector<verdict::draw_row>& rows);

/// Winding resistance, balance and order of sections.
finding_list judge_resistance(const analysis& seen, const std::vector<verdict::draw_row>& rows);

/// Ohms from common to the leads of the speeds that have some, fastest first.
struct ohms_by_speed {
  std::vector<std::string> speeds;
  bool by_name = false;  ///< of some section only its name says whose it is
  checks::section_order_result rises;
};

/// Absent unless two were read or more.
std::optional<ohms_by_speed> ohms_by_speed_of(const visit_facts& now, const verdict::policy& policy);

/// Starts by position, lowest starting voltage, time to speed.
finding_list judge_starting(const analysis& seen);

/// Withstand, leakage, earth and cord.
finding_list judge_touch(const analysis& seen, const std::vector<verdict::draw_row>& rows);

/// Power factor, and core loss apart from friction where the shaft was bare.
finding_list judge_no_load(const analysis& seen);

/// Line currents and voltages of three-phase machines.
finding_list judge_unbalance(const analysis& seen);

finding_list judge_heat_run(const analysis& seen);

/// Coast-down, beside those of the earlier visit and of good machines.
finding_list judge_coast_down(const analysis& seen);

/// Causes of what was found, and the measurement that would tell most.
struct judged_causes {
  std::vector<verdict::rules::ranked_cause> causes;
  pending_steps next_steps;
};

/// @param may_energise  measurements under power may be proposed
judged_causes judge_causes(const analysis& seen, const finding_list& findings, bool may_energise);

/// Whether a reading's watts can be: not above volts times amperes by more than the meters' limits of error.
bool watts_possible(const visit_facts& visit, const record::run_up_row& row);

/// Each speed with watts that cannot be.
std::vector<verdict::rules::impossible_watts> impossible_watts_of(const visit_facts& now);

inline units::temperature_difference winding_uncertainty(const visit_facts& visit, double winding_C) {
  return visit.instruments.thermometer.standard_uncertainty(units::kelvins(winding_C));
}

inline void append(finding_list& to, finding_list more) {
  to.insert(to.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end()));
}

}  // namespace rewound::job
