// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <string_view>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/verdict/decision.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict {

namespace detail {

/// What is settled first: a shaky reading undermines every other finding, and nothing is energised before the tests
/// that are made cold.
constexpr int precedence(check which) {
  switch (which) {
    case check::readings: return 0;
    case check::insulation:
    case check::polarization_index:
    case check::resistance:
    case check::withstand: return 1;
    case check::earth:
    case check::leakage: return 2;
    default: return 3;
  }
}

/// 0: without power; 1: leakage, the first test under power; 2: all others.
inline int power_rank(const finding& f) {
  if (!advises_power(f)) return 0;
  return f.check == check::leakage ? 1 : 2;
}

/// Whether a check neither fails nor is open.
inline bool settled(const std::vector<finding>& findings, const decided& so_far, check which) {
  const auto of_it = [&](std::size_t place) { return findings[place].check == which; };
  return std::none_of(so_far.failing.begin(), so_far.failing.end(), of_it) &&
         std::none_of(so_far.open.begin(), so_far.open.end(), of_it) &&
         std::find(so_far.absent.begin(), so_far.absent.end(), which) == so_far.absent.end();
}

inline void order_steps(const std::vector<finding>& findings, decided& out) {
  const bool cold = settled(findings, out, check::insulation) && settled(findings, out, check::earth);
  out.may_energise = cold && settled(findings, out, check::leakage);
  const int most = out.may_energise ? 2 : cold ? 1 : 0;
  for (const auto* list : {&out.failing, &out.open})
    for (const auto place : *list)
      if (power_rank(findings[place]) <= most) out.steps.push_back(place);
  std::stable_sort(out.steps.begin(), out.steps.end(), [&](std::size_t a, std::size_t b) {
    const auto order = [&](std::size_t place) {
      return std::pair{findings[place].outcome != outcome::fails, power_rank(findings[place])};
    };
    return order(a) < order(b);
  });
}

}  // namespace detail

REWOUND_INLINE bool advises_power(const finding& f) {
  switch (f.says) {
    case statement::steps_swapped:
    case statement::steps_reversed:
    case statement::steps_merged:
    case statement::steps_equal:
    case statement::steps_tendency:
    case statement::steps_currents_against_rotation:
    case statement::steps_against_rotation:
    case statement::steps_unlike_good_machines:
    case statement::step_against_expected:
    case statement::supply_frequency_of_run_up:
    case statement::withstand_broke_down:
    case statement::earthing_unknown:
    case statement::earthing_contradiction:
    case statement::entries_contradict: return false;
    default: break;
  }
  switch (f.check) {
    case check::draw:
    case check::steps:
    case check::supply:
    case check::leakage:
    case check::starting:
    case check::coast_down:
    case check::heat_run:
    case check::unbalance:
    case check::withstand:
    case check::readings: return true;
    case check::insulation:
    case check::polarization_index:
    case check::resistance:
    case check::earth:
    case check::capacitor:
    case check::commutator:
    case check::mechanics:
    case check::checks: return false;
  }
  return true;
}

namespace detail {

/// A text of a finding; empty where it has none of that key.
inline std::string_view text_of(const finding& f, std::string_view key) {
  for (const auto& [name, text] : f.texts)
    if (name == key) return text;
  return {};
}

}  // namespace detail

REWOUND_INLINE std::string_view meter_for(const finding& f) {
  switch (f.says) {
    case statement::draw_watts_not_read:
    case statement::draw_below_fastest:
    case statement::power_against_nameplate:
    case statement::watts_impossible: return "wattmeter";
    case statement::steps_not_promised:
    case statement::steps_against_rotation: return "tachometer";
    case statement::steps_equal:
    case statement::steps_tendency:
    case statement::steps_currents_against_rotation:
    case statement::steps_merged:
    case statement::step_against_expected:
    case statement::draw_needs_heat:
    case statement::draw_outruns_on_mains: return "ohmmeter";
    case statement::insulation_unstated:
    case statement::earthing_unknown:
    case statement::earthing_contradiction:
    case statement::steps_swapped:
    case statement::steps_reversed:
    case statement::steps_unlike_good_machines:
    case statement::entries_contradict: return "";
    default: break;
  }
  switch (f.check) {
    case check::insulation:
    case check::polarization_index: return "insulation_tester";
    case check::resistance:
    case check::earth:
    case check::heat_run: return "ohmmeter";
    case check::leakage: return detail::text_of(f, "leakage_by") == "resistor" ? "voltmeter" : "leakage_meter";
    case check::capacitor: return f.says == statement::capacitor_not_measured ? "capacitance_meter" : "";
    case check::commutator: return f.subject == "armature" ? "ohmmeter" : "";
    case check::draw:
    case check::steps:
    case check::unbalance:
    case check::readings: return "ammeter";
    case check::coast_down: return "tachometer";
    case check::supply:
    case check::starting:
    case check::withstand:
    case check::mechanics:
    case check::checks: return "";
  }
  return "";
}

REWOUND_INLINE decided decide(const std::vector<finding>& findings, const policy& rules) {
  decided out{decision::release, {}, {}, {}, {}, true};
  for (std::size_t i = 0; i < findings.size(); ++i) {
    const auto& f = findings[i];
    if (f.outcome == outcome::fails) out.failing.push_back(i);
    if (f.bearing != bearing::decides) continue;
    // What was measured and came out undecided stands in the way whether or not the policy asked for it.
    if (f.outcome == outcome::undecided || (f.outcome == outcome::not_tested && rules.needs(f.check)))
      out.open.push_back(i);
  }
  for (const check needed : rules.needed) {
    const bool listed = std::any_of(findings.begin(), findings.end(), [&](const finding& f) {
      return f.check == needed && f.bearing != bearing::informs;
    });
    if (!listed) out.absent.push_back(needed);
  }
  std::stable_sort(out.open.begin(), out.open.end(), [&](std::size_t a, std::size_t b) {
    return detail::precedence(findings[a].check) < detail::precedence(findings[b].check);
  });
  if (!out.failing.empty()) out.decision = decision::hold;
  else if (!out.open.empty() || !out.absent.empty()) out.decision = decision::undecided;
  detail::order_steps(findings, out);
  return out;
}

}  // namespace rewound::verdict
