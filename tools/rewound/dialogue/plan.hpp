// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <tuple>
#include <vector>

#include <rewound/record/record.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::tool::dialogue {

/// The steps of a visit, in the order in which they are asked for: what is read cold first, nothing under voltage
/// before insulation.
enum class step_kind {
  earth,
  resistance,
  insulation,
  withstand,
  run_up,
  leakage,
  starting,
  coast_down,
  heat_run,
  checks
};

struct step {
  step_kind kind = step_kind::insulation;
  std::string speed;  ///< of a run-up

  std::string name() const;  ///< "run-up high", "insulation"
  friend bool operator==(const step&, const step&) = default;
  friend bool operator<(const step& a, const step& b) { return std::tie(a.kind, a.speed) < std::tie(b.kind, b.speed); }
};

struct planned_step {
  dialogue::step step;
  bool recorded = false;  ///< the record holds enough of it to go on
};

/// Whether a step puts the machine under its running voltage.
bool energises(step_kind kind);

/// Whether a step can be measured with what there is; yes where nothing is said of it.
bool has_meters_for(const std::vector<std::string>& have, step_kind kind);

/// Every step that the policy needs of this machine, and insulation always, in order; without those that there is no
/// meter for by the visit, or else by the policy's equipment of the shop.
std::vector<planned_step> plan_of(const record::visit_record& in, const verdict::policy& policy);

/// The first step that is neither recorded nor left by the person.
std::optional<step> next_step(const std::vector<planned_step>& plan, const std::set<step>& left);

/// The step that a person names: `insulation`, `heat run`, a speed; none for other words.
std::optional<step> step_named(std::string_view text, const record::visit_record& in);

/// Whether volts between nothing and the mains can be set: as the visit says, or as a reading at volts below all mains
/// shows.
bool has_variable_volts(const record::visit_record& in);

/// The voltages at which a speed is read: the rated one and today's mains, and where volts can be set those below.
std::vector<double> run_up_voltages(const record::visit_record& in);

/// The next of them for a speed: the first near which nothing was read.
std::optional<double> suggested_voltage(const record::visit_record& in, const std::string& speed);

}  // namespace rewound::tool::dialogue
