// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <numbers>

#include <rewound/checks/resistance.hpp>
#include <rewound/checks/section_balance.hpp>
#include <rewound/checks/section_order.hpp>
#include <rewound/machine/wire.hpp>
#include <rewound/verdict/rules/resistance.hpp>
#include <rewound/verdict/rules/resistance_sections.hpp>

#include "analysis.hpp"

namespace rewound::job {

namespace {

/// The most that leads may add to a low-ohmic reading of which the record says nothing: the practice's, or the whole
/// reading where that is less. Absent where they are stated, or small beside the reading.
std::optional<double> assumed_leads_ohm(const record::resistance_section& entry, const verdict::policy& policy) {
  if (entry.four_wire || entry.lead_resistance_ohm) return std::nullopt;
  if (entry.resistance_ohm >= policy.practice.low_ohmic_ohm.value) return std::nullopt;
  return std::min(policy.practice.lead_resistance_ohm.value, entry.resistance_ohm);
}

/// Stated leads are taken off as they are. Of assumed ones anything from nothing to their most may be in the reading:
/// half is taken off, rectangular (GUM 4.3.7).
checks::lead_error leads_of(const record::resistance_section& entry, const verdict::policy& policy) {
  if (entry.lead_resistance_ohm) return {units::ohms(*entry.lead_resistance_ohm), units::ohms(0.0)};
  const auto most = assumed_leads_ohm(entry, policy);
  if (!most) return {};
  const double half = 0.5 * *most;
  return {units::ohms(half), units::ohms(half / std::numbers::sqrt3)};
}

checks::resistance_reading reading_of(const visit_facts& visit, const record::resistance_section& entry,
                                      const verdict::policy& policy) {
  return {units::ohms(entry.resistance_ohm), units::celsius(entry.winding_C),
          winding_uncertainty(visit, entry.winding_C), visit.instruments.ohmmeter, leads_of(entry, policy)};
}

/// The wire as far as the record states it; what is not stated is 1 mm, one turn, one metre, and must not be used.
machine::wound_wire wire_of(const record::resistance_section& entry) {
  const auto diameter = entry.wire_awg ? machine::awg_diameter(*entry.wire_awg)
                                       : units::millimetres(entry.wire_diameter_mm.value_or(1.0));
  return {diameter,
          static_cast<double>(entry.turns.value_or(1)),
          units::millimetres(entry.mean_turn_mm.value_or(1000.0)),
          entry.parallel,
          entry.material,
          entry.wire_awg ? machine::wire_standard::awg : machine::wire_standard::metric};
}

double wire_uncertainty(const verdict::policy& policy) {
  return machine::wound_resistance_uncertainty(policy.practice.wire_resistance_percent.value / 100.0,
                                               policy.practice.mean_turn_percent.value / 100.0);
}

bool wire_stated(const record::resistance_section& entry) { return entry.wire_diameter_mm || entry.wire_awg; }

std::optional<measurement::uncertain<units::resistance>> expected_from_wire(const record::resistance_section& entry,
                                                                            const verdict::policy& policy) {
  if (!wire_stated(entry) || !entry.turns || !entry.mean_turn_mm) return std::nullopt;
  const auto value = machine::wound_resistance(wire_of(entry));
  return measurement::uncertain<units::resistance>{value, wire_uncertainty(policy) * value};
}

/// Which wire, or how many turns, the measured resistance speaks for, the rest of the winding being as stated.
verdict::rules::wire_explanation explanation_of(const record::resistance_section& entry,
                                                const checks::resistance_result& result,
                                                const verdict::policy& policy) {
  verdict::rules::wire_explanation out;
  if (!entry.mean_turn_mm) return out;
  const auto& measured = result.at_20_C;
  const double u = std::hypot((measured.standard_uncertainty / measured.value).value(), wire_uncertainty(policy));
  const auto wire = wire_of(entry);
  if (entry.turns) {
    const auto diameter = machine::diameter_that_explains(measured.value, wire);
    const double mm = units::in_millimetres(diameter);
    out.diameter_mm = {mm, 0.5 * u * mm};  // d goes as R^-1/2
    out.awg = machine::awg_of(diameter);
  }
  if (wire_stated(entry)) {
    const double turns = machine::turns_that_explain(measured.value, wire);
    out.turns = {turns, u * turns};
  }
  return out;
}

/// Amperes of the fastest speed at the rated voltage: read, or else marked.
std::optional<double> running_current_A(const visit_facts& now, const std::vector<verdict::draw_row>& rows) {
  if (!rows.empty() && rows.front().at_rated && rows.front().at_rated->value.value() > 0.0)
    return units::in_amperes(rows.front().at_rated->value);
  return now.in.machine.rated_current_A;
}

bool carries_the_line(const std::string& section) {
  for (const auto* word : {"start", "aux"})
    if (section.find(word) != std::string::npos) return false;
  for (const auto* word : {"main", "run", "stator", "winding"})
    if (section.find(word) != std::string::npos) return true;
  return false;
}

/// What the running current leaves room for. A winding that carries it cannot drop more than the supply, whatever else
/// is in its way, nor take more than the watts that go in; a start winding carries less, and twice the machine's
/// impedance leaves room for it (common practice, no source). Nor does a winding drop next to nothing.
void tell_bounds(const visit_facts& now, const std::vector<verdict::draw_row>& rows,
                 const record::resistance_section& entry, const verdict::policy& policy,
                 verdict::rules::resistance_facts& facts) {
  const auto amperes = running_current_A(now, rows);
  if (!amperes) return;
  const double impedance = now.in.machine.rated_voltage_V / *amperes;
  const bool main = now.in.machine.phases == 1 && carries_the_line(entry.section);
  facts.most_ohm = main ? policy.practice.resistance_drop_percent.value / 100.0 * impedance : 2.0 * impedance;
  if (main) facts.least_ohm = policy.practice.resistance_least_percent.value / 100.0 * impedance;
}

/// A section at 20 degC with the uncertainty of what differs from reading to reading: the digits, and the temperature
/// where the sections were not read at one temperature.
measurement::uncertain<units::resistance> apart(const visit_facts& now, const record::resistance_section& entry,
                                                const checks::resistance_result& result, bool one_temperature,
                                                double copper_K) {
  const double digits = now.instruments.ohmmeter.digit_uncertainty().value() / entry.resistance_ohm;
  const double kelvins = units::in_kelvins(winding_uncertainty(now, entry.winding_C));
  const double slope = machine::relative_slope_per_K(units::celsius(entry.winding_C), entry.material, copper_K);
  const double relative = std::hypot(digits, one_temperature ? 0.0 : slope * kelvins);
  return {result.at_20_C.value, relative * result.at_20_C.value};
}

using section_list = std::vector<std::size_t>;

bool at_one_temperature(const record::visit_record& in, const section_list& places) {
  return std::all_of(places.begin(), places.end(), [&](std::size_t i) {
    return in.resistance[i].winding_C == in.resistance[places.front()].winding_C;
  });
}

std::vector<measurement::uncertain<units::resistance>> values_of(
    const visit_facts& now, const section_list& places, const std::vector<verdict::rules::resistance_facts>& facts,
    const verdict::policy& policy) {
  const double copper_K = policy.practice.copper_constant_K.value;
  const bool one = at_one_temperature(now.in, places);
  std::vector<measurement::uncertain<units::resistance>> out;
  for (const auto i : places) out.push_back(apart(now, now.in.resistance[i], facts[i].result, one, copper_K));
  return out;
}

/// Groups that the record names; three sections of a three-phase machine without a word about groups are its phases.
std::vector<std::pair<std::string, section_list>> equal_groups(const record::visit_record& in) {
  std::vector<std::pair<std::string, section_list>> out;
  for (std::size_t i = 0; i < in.resistance.size(); ++i) {
    if (!in.resistance[i].equal_group) continue;
    const auto& name = *in.resistance[i].equal_group;
    const auto found = std::find_if(out.begin(), out.end(), [&](const auto& group) { return group.first == name; });
    if (found == out.end()) out.push_back({name, {i}});
    else found->second.push_back(i);
  }
  const bool speeds = std::any_of(in.resistance.begin(), in.resistance.end(),
                                  [](const auto& entry) { return entry.speed.has_value(); });
  if (out.empty() && !speeds && in.machine.phases == 3 && in.resistance.size() == 3)
    out.push_back({"phases", {0, 1, 2}});
  return out;
}

finding_list judge_sections(const visit_facts& now, const std::vector<verdict::rules::resistance_facts>& facts,
                            const verdict::policy& policy) {
  finding_list out;
  for (const auto& [name, places] : equal_groups(now.in)) {
    verdict::rules::balance_facts balance{
        name, {}, checks::section_balance({values_of(now, places, facts, policy)}), now.in.machine.winding_kind};
    for (const auto i : places) balance.sections.push_back(now.in.resistance[i].section);
    out.push_back(verdict::rules::resistance_balance(balance, policy));
  }
  section_list by_speed;
  verdict::rules::order_facts order{{}, {}, now.in.machine.speed_control};
  for (const auto& speed : now.in.machine.speeds)
    for (std::size_t i = 0; i < now.in.resistance.size(); ++i)
      if (now.in.resistance[i].speed == speed) {
        by_speed.push_back(i);
        order.speeds.push_back(speed);
      }
  if (by_speed.size() < 2) return out;
  order.result = checks::section_order({values_of(now, by_speed, facts, policy)});
  out.push_back(verdict::rules::resistance_order(order, policy));
  return out;
}

}  // namespace

finding_list judge_resistance(const analysis& seen, const std::vector<verdict::draw_row>& rows) {
  const auto& now = seen.today();
  const auto& before = seen.before();
  const auto& policy = seen.policy;
  std::vector<verdict::rules::resistance_facts> sections;
  for (const auto& entry : now.in.resistance) {
    checks::resistance_input input{.measured = reading_of(now, entry, policy),
                                   .earlier = {},
                                   .expected = {},
                                   .expected_at = units::celsius(entry.expected_C),
                                   .material = entry.material,
                                   .copper_K = policy.practice.copper_constant_K.value,
                                   .from_wire = expected_from_wire(entry, policy)};
    if (entry.expected_ohm) input.expected = units::ohms(*entry.expected_ohm);
    if (before)
      for (const auto& old : before->in.resistance)
        if (old.section == entry.section) input.earlier = reading_of(*before, old, policy);
    const auto result = checks::resistance(input);
    sections.push_back({entry.section, result, assumed_leads_ohm(entry, policy), explanation_of(entry, result, policy),
                        wire_uncertainty(policy)});
    tell_bounds(now, rows, entry, policy, sections.back());
  }
  auto out = verdict::rules::resistance(sections, policy);
  append(out, judge_sections(now, sections, policy));
  return out;
}

}  // namespace rewound::job
