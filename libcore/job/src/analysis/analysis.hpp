// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/expected_current.hpp>
#include <rewound/job/analysis.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/verdict/rules/coast_down.hpp>
#include <rewound/verdict/rules/mechanics.hpp>
#include <rewound/verdict/rules/tested_circuit.hpp>

#include "evidence/electrical_evidence.hpp"
#include "judging/judge_parts.hpp"
#include "analysis/reference_comparison.hpp"
#include "analysis/run_up_analysis.hpp"

namespace rewound::job {

/// A visit and the one before it, with their instruments worked out.
struct compared_visits {
  visit_facts today;
  std::optional<visit_facts> before;
  bool rewound_since =
      false;  ///< another winding than at the earlier visit: nothing of that can be compared, it is left out
  bool mended_since = false;  ///< it was worse at the earlier visit: what it drew then is no yardstick
};

/// The records must live as long as what is returned.
///
/// @throws base::error (records_do_not_match) for an earlier visit of another machine or rating, or one that is later
compared_visits visits_of(const record::visit_record& now, const std::optional<record::visit_record>& earlier);

/// What the currents of a visit are held against, speed by speed: good machines, or else the earlier visit.
struct running_population {
  verdict::expectation by;
  std::shared_ptr<const reference> machines;  ///< less this very visit
  pooled_reference pooled;
  std::optional<close_reading> closely = {};  ///< of the earlier visit

  bool of_good_machines() const { return by == verdict::expectation::reference; }
};

/// Absent without either, or where they were read with another shaft condition.
std::optional<running_population> population_beside(const compared_visits& visits,
                                                    const std::shared_ptr<const reference>& good,
                                                    const verdict::policy& policy);

/// Half-width of a band for one more reading beside the population, in standard deviations: for one more good machine,
/// or for the machine itself.
double band_factor(double level, const running_population& beside, const verdict::policy& policy);

/// Where the currents of a speed stand in a pooled reference; absent where it does not know them. The voltage and the
/// meters are the caller's to fill in.
std::optional<checks::expected_current_input> currents_of(const pooled_reference& in, const std::string& speed);

/// See rewound/job/analysis.hpp.
struct analysis {
  analysis(const record::visit_record& now, const sources& beside, const verdict::policy& rules);

  const record::visit_record& record;
  const sources& compare_with;
  const verdict::policy& policy;
  compared_visits visits;
  std::vector<verdict::rules::contradiction> contradictions;  ///< entries of the record that cannot hold together
  std::optional<verdict::rules::slow_turning> slow;           ///< a rotor that turns slower than it should
  std::shared_ptr<const reference> good;         ///< good machines less this very visit; null without a reference
  std::optional<running_population> population;  ///< what the run-ups are held against
  run_up_analysis run_ups;
  channel_analysis channels;
  std::optional<level_comparison> comparison;   ///< with the population
  std::optional<electrical_evidence> evidence;  ///< beside the population, or else the nameplate
  std::optional<double> joint_p_value;          ///< of the comparison with healthy machines of the population
  std::optional<double> nameplate_p_value;      ///< of that with designs scaled to the nameplate
  std::optional<measurement::uncertain<double>>
      log_current_by_winding;  ///< ln A of the fastest speed, where nothing else tells
  std::vector<std::optional<measurement::uncertain<double>>>
      log_slower_by_fastest;  ///< ln A of each speed by the designs and the fastest one; empty beside a population
  std::vector<verdict::rules::circuit_insulation> insulation;  ///< one a circuit
  std::optional<verdict::rules::compared_coast_downs> coast_down;

  const visit_facts& today() const { return visits.today; }
  const std::optional<visit_facts>& before() const { return visits.before; }
  /// The earlier visit was made with another shaft condition: its run-ups and coast-down say nothing of these.
  bool earlier_shaft_differs() const { return visits.before && visits.before->in.visit.shaft != record.visit.shaft; }
};

}  // namespace rewound::job
