// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cctype>
#include <cmath>
#include <numbers>

#include <rewound/checks/resistance.hpp>
#include <rewound/checks/section_balance.hpp>
#include <rewound/checks/section_order.hpp>
#include <rewound/machine/wire.hpp>
#include <rewound/record/names.hpp>
#include <rewound/verdict/rules/resistance.hpp>
#include <rewound/verdict/rules/resistance_sections.hpp>

#include "analysis/analysis.hpp"
#include "analysis/machine_kind_of.hpp"

namespace rewound::job {

namespace {

/// Stated leads are taken off as they are. Of assumed ones anything from nothing to their most may be in the reading:
/// half is taken off, rectangular (GUM 4.3.7).
checks::lead_error leads_of(const record::resistance_section& entry, const verdict::policy& policy) {
  if (entry.lead_resistance_ohm) return {units::ohms(*entry.lead_resistance_ohm), units::ohms(0.0)};
  const auto most = verdict::rules::assumed_leads_ohm(entry, policy);
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

bool wire_stated(const record::resistance_section& entry) { return entry.wire_diameter_mm || entry.wire_awg; }

std::optional<measurement::uncertain<units::resistance>> expected_from_wire(const record::resistance_section& entry,
                                                                            const verdict::policy& policy) {
  if (!wire_stated(entry) || !entry.turns || !entry.mean_turn_mm) return std::nullopt;
  const auto value = machine::wound_resistance(wire_of(entry));
  return measurement::uncertain<units::resistance>{value, verdict::rules::design_uncertainty(policy) * value};
}

/// Which wire, or how many turns, the measured resistance speaks for, the rest of the winding being as stated.
verdict::rules::wire_explanation explanation_of(const record::resistance_section& entry,
                                                const checks::resistance_result& result,
                                                const verdict::policy& policy) {
  verdict::rules::wire_explanation out;
  if (!entry.mean_turn_mm) return out;
  const auto& measured = result.at_20_C;
  const double u =
      std::hypot((measured.standard_uncertainty / measured.value).value(), verdict::rules::design_uncertainty(policy));
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

units::resistance at_20_C(const visit_facts& now, const record::resistance_section& entry,
                          const verdict::policy& policy) {
  checks::resistance_input in{.measured = reading_of(now, entry, policy), .earlier = {}, .expected = {}};
  in.material = entry.material;
  in.copper_K = policy.practice.copper_constant_K.value;
  return checks::resistance(in).at_20_C.value;
}

/// A section at 20 degC with the uncertainty of what differs from reading to reading: the digits, and the temperature
/// where the sections were not read at one temperature.
measurement::uncertain<units::resistance> apart(const visit_facts& now, const record::resistance_section& entry,
                                                bool one_temperature, const verdict::policy& policy) {
  const double copper_K = policy.practice.copper_constant_K.value;
  const double digits = now.instruments.ohmmeter.digit_uncertainty().value() / entry.resistance_ohm;
  const double kelvins = units::in_kelvins(winding_uncertainty(now, entry.winding_C));
  const double slope = machine::relative_slope_per_K(units::celsius(entry.winding_C), entry.material, copper_K);
  const double relative = std::hypot(digits, one_temperature ? 0.0 : slope * kelvins);
  const auto ohm = at_20_C(now, entry, policy);
  return {ohm, relative * ohm};
}

using section_list = std::vector<std::size_t>;

bool at_one_temperature(const record::visit_record& in, const section_list& places) {
  return std::all_of(places.begin(), places.end(), [&](std::size_t i) {
    return in.resistance[i].winding_C == in.resistance[places.front()].winding_C;
  });
}

std::vector<measurement::uncertain<units::resistance>> values_of(const visit_facts& now, const section_list& places,
                                                                 const verdict::policy& policy) {
  const bool one = at_one_temperature(now.in, places);
  std::vector<measurement::uncertain<units::resistance>> out;
  for (const auto i : places) out.push_back(apart(now, now.in.resistance[i], one, policy));
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
                                  [&](const auto& entry) { return record::speed_of(entry, in).has_value(); });
  if (out.empty() && !speeds && in.machine.phases == 3 && in.resistance.size() == 3)
    out.push_back({"phases", {0, 1, 2}});
  return out;
}

finding_list judge_sections(const visit_facts& now, const verdict::policy& policy) {
  finding_list out;
  for (const auto& [name, places] : equal_groups(now.in)) {
    const auto balance = checks::section_balance({values_of(now, places, policy)});
    out.push_back(verdict::rules::resistance_balance(name, now.in.resistance[places.at(balance.farthest)].section,
                                                     balance, now.in.machine.winding_kind, policy));
  }
  if (const auto order = ohms_by_speed_of(now, policy))
    out.push_back(verdict::rules::resistance_order(order->speeds, order->rises, now.in.machine.speed_control, policy,
                                                   order->by_name));
  return out;
}

std::string without_marks(const std::string& name) {
  std::string out;
  for (const char c : name)
    if (std::isalnum(static_cast<unsigned char>(c)) != 0)
      out += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

/// The one section that answers to a question; none where two do.
template <class Question>
const record::resistance_section* the_only(const std::vector<record::resistance_section>& in, const Question& answers) {
  const record::resistance_section* out = nullptr;
  for (const auto& each : in) {
    if (!answers(each)) continue;
    if (out != nullptr) return nullptr;
    out = &each;
  }
  return out;
}

/// The same section at the earlier visit: by its name, else by the leads that it was read between, else as the only
/// main or start winding of both visits. Names change from hand to hand.
const record::resistance_section* counterpart_of(const record::resistance_section& entry,
                                                 const std::vector<record::resistance_section>& now,
                                                 const std::vector<record::resistance_section>& before) {
  for (const auto& old : before)
    if (old.section == entry.section) return &old;
  if (const auto* same =
          the_only(before, [&](const auto& old) { return without_marks(old.section) == without_marks(entry.section); }))
    return same;
  if (entry.speed) {
    const auto leads = [&](const auto& old) { return old.speed == entry.speed && old.to_speed == entry.to_speed; };
    if (const auto* same = the_only(before, leads)) return same;
  }
  const auto which = winding_of(entry.section);
  if (!which) return nullptr;
  const auto alike = [&](const auto& each) {
    return winding_of(each.section) == which && each.speed == entry.speed && each.to_speed == entry.to_speed;
  };
  return the_only(now, alike) == nullptr ? nullptr : the_only(before, alike);
}

}  // namespace

std::optional<ohms_by_speed> ohms_by_speed_of(const visit_facts& now, const verdict::policy& policy) {
  ohms_by_speed out;
  section_list places;
  for (const auto& speed : now.in.machine.speeds)
    for (std::size_t i = 0; i < now.in.resistance.size(); ++i) {
      const auto& entry = now.in.resistance[i];
      if (entry.to_speed || record::speed_of(entry, now.in) != speed) continue;
      places.push_back(i);
      out.speeds.push_back(speed);
      out.by_name = out.by_name || !entry.speed;
    }
  if (places.size() < 2) return std::nullopt;
  out.rises = checks::section_order({values_of(now, places, policy)});
  return out;
}

finding_list judge_resistance(const analysis& seen, const std::vector<verdict::draw_row>& rows) {
  const auto& now = seen.today();
  const auto& before = seen.before();
  const auto& policy = seen.policy;
  if (now.in.resistance.empty()) return {verdict::rules::resistance_missing()};
  finding_list out;
  const auto running_A = running_current_A(now, rows);
  for (const auto& entry : now.in.resistance) {
    checks::resistance_input input{.measured = reading_of(now, entry, policy),
                                   .earlier = {},
                                   .expected = {},
                                   .expected_at = units::celsius(entry.expected_C),
                                   .material = entry.material,
                                   .copper_K = policy.practice.copper_constant_K.value,
                                   .from_wire = expected_from_wire(entry, policy)};
    if (entry.expected_ohm) input.expected = units::ohms(*entry.expected_ohm);
    const auto* old = before ? counterpart_of(entry, now.in.resistance, before->in.resistance) : nullptr;
    if (old != nullptr) input.earlier = reading_of(*before, *old, policy);
    if (before && old == nullptr && !before->in.resistance.empty())
      out.push_back(verdict::rules::resistance_without_counterpart(entry.section, before->in.resistance));
    const auto result = checks::resistance(input);
    append(out, verdict::rules::resistance(entry, now.in.machine, result, explanation_of(entry, result, policy),
                                           running_A, policy));
  }
  const bool main = std::any_of(now.in.resistance.begin(), now.in.resistance.end(), [](const auto& entry) {
    return winding_of(entry.section) != winding::auxiliary && !entry.to_speed;
  });
  if (!main) out.push_back(verdict::rules::resistance_without_main());
  append(out, judge_sections(now, policy));
  return out;
}

}  // namespace rewound::job
