// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/resistance.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/resistance.hpp>

namespace rewound::verdict::rules {

namespace detail {

inline void tell_resistance(finding& f, const checks::resistance_result& result) {
  const auto& at_25 = result.at_25_C;
  f.numbers.push_back(
      {"ohm", units::in_ohms(result.at_20_C.value), units::in_ohms(result.at_20_C.standard_uncertainty)});
  f.numbers.push_back({"ohm_25", units::in_ohms(at_25.value), units::in_ohms(at_25.standard_uncertainty)});
}

/// Beside the machine's volts and amps no winding has these ohms, or the reading does not differ from none at all.
inline bool implausible(const resistance_facts& facts) {
  const double ohm = units::in_ohms(facts.result.at_20_C.value);
  const double half = measurement::coverage_95 * units::in_ohms(facts.result.at_20_C.standard_uncertainty);
  return ohm - half <= 0.0 || (facts.most_ohm && ohm - half > *facts.most_ohm) ||
         (facts.least_ohm && ohm + half < *facts.least_ohm);
}

/// Nothing to compare with: what was shown is that the section conducts, and the finding says no more.
inline finding alone(finding f, const resistance_facts& facts) {
  f.says = statement::resistance_alone;
  f.bearing = bearing::noted;
  f.quantity = "resistance_at_20_C";
  f.source = "common practice, no source (the section conducts)";
  set_value(f, units::in_ohms(facts.result.at_20_C.value), units::in_ohms(facts.result.at_20_C.standard_uncertainty),
            "ohm");
  return f;
}

inline finding implausible_section(finding f, const resistance_facts& facts, const policy& rules) {
  f = alone(std::move(f), facts);
  f.says = statement::resistance_implausible;
  f.bearing = bearing::decides;
  f.outcome = outcome::undecided;
  f.limit_low = facts.least_ohm;
  f.limit_high = facts.most_ohm;
  f.source = rules.practice.resistance_drop_percent.source;
  f.texts.emplace_back("bounds", facts.most_ohm && facts.least_ohm ? "both" : facts.most_ohm ? "most" : "none");
  return f;
}

/// What measured ohms may lie off: of a design value the practice's percent and, in quadrature, what the wire and the
/// mean turn of a sound winding do to the value itself. A limit that the shop set itself stands as it is.
inline limit allowed_deviation(const resistance_facts& facts, const policy& rules) {
  const bool by_wire = facts.result.basis == checks::resistance_basis::wire;
  const auto& stated = by_wire ? rules.practice.resistance_wire_percent : rules.practice.resistance_percent;
  limit out{stated.value, std::string(stated.source)};
  if (facts.result.basis != checks::resistance_basis::design || policy::shops_own(out.source)) return out;
  constexpr double tenths = 10.0;  // of a percent, as shown
  out.value =
      std::round(tenths * std::hypot(out.value, 100.0 * measurement::coverage_95 * facts.design_uncertainty)) / tenths;
  out.source += ", with the design value's own: wire (IEC 60317-0-1) and mean turn";
  return out;
}

inline statement says_of(checks::resistance_basis basis) {
  if (basis == checks::resistance_basis::earlier) return statement::resistance_against_earlier;
  if (basis == checks::resistance_basis::wire) return statement::resistance_against_wire;
  return statement::resistance_against_expected;
}

inline finding section(const resistance_facts& facts, const policy& rules) {
  finding f{.check = check::resistance, .subject = facts.section};
  tell_resistance(f, facts.result);
  if (implausible(facts)) return implausible_section(std::move(f), facts, rules);
  if (!facts.result.deviation_percent) return alone(std::move(f), facts);
  const auto limit = allowed_deviation(facts, rules);
  const auto& deviation = *facts.result.deviation_percent;
  f.says = says_of(facts.result.basis);
  f.quantity = "resistance_deviation";
  set_value(f, deviation.value, deviation.standard_uncertainty, "%");
  f.limit_low = -limit.value;
  f.limit_high = limit.value;
  f.source = limit.source;
  f.outcome = rules.judge(deviation.value, deviation.standard_uncertainty, {-limit.value, limit.value});
  f.numbers.push_back({"expected", units::in_ohms(*facts.result.expected_at_20_C),
                       units::in_ohms(facts.result.at_20_C.standard_uncertainty)});
  return f;
}

/// A comparison that does not decide, since a better one does.
inline void tell_beside(const resistance_facts& facts, const std::optional<checks::resistance_comparison>& comparison,
                        checks::resistance_basis basis, statement says, std::vector<finding>& out) {
  if (!comparison || facts.result.basis == basis) return;
  finding f{.check = check::resistance,
            .subject = facts.section,
            .bearing = bearing::informs,
            .says = says,
            .quantity = "resistance_deviation",
            .source = "for comparison, without a limit"};
  set_value(f, comparison->deviation_percent.value, comparison->deviation_percent.standard_uncertainty, "%");
  f.numbers = {{"expected", units::in_ohms(comparison->expected_at_20_C.value),
                units::in_ohms(comparison->expected_at_20_C.standard_uncertainty)}};
  out.push_back(std::move(f));
}

inline void tell_leads(const resistance_facts& facts, const policy& rules, std::vector<finding>& out) {
  if (!facts.assumed_leads_ohm) return;
  finding f{.check = check::resistance,
            .subject = facts.section,
            .bearing = bearing::informs,
            .says = statement::resistance_leads_assumed,
            .quantity = "lead_resistance",
            .source = std::string(rules.practice.lead_resistance_ohm.source)};
  set_value(f, 0.5 * *facts.assumed_leads_ohm, 0.0, "ohm");
  f.numbers = {{"most", *facts.assumed_leads_ohm}, {"taken_off", 0.5 * *facts.assumed_leads_ohm}};
  out.push_back(std::move(f));
}

inline void tell_explanation(const resistance_facts& facts, std::vector<finding>& out) {
  const auto& wire = facts.explained;
  if (!wire.diameter_mm && !wire.turns) return;
  finding f{.check = check::resistance,
            .subject = facts.section,
            .bearing = bearing::informs,
            .says = statement::resistance_explained,
            .quantity = wire.diameter_mm ? "wire_diameter" : "turns",
            .source = "resistance of a round wire, IEC 60317-0-1 or ASTM B258 with IEC 60028"};
  const auto& first = wire.diameter_mm ? *wire.diameter_mm : *wire.turns;
  set_value(f, first.value, first.standard_uncertainty, wire.diameter_mm ? "mm" : "1");
  if (wire.diameter_mm)
    f.numbers.push_back({"diameter", wire.diameter_mm->value, wire.diameter_mm->standard_uncertainty});
  if (wire.awg) f.numbers.push_back({"awg", *wire.awg, 0.3});
  if (wire.turns) f.numbers.push_back({"turns", wire.turns->value, wire.turns->standard_uncertainty});
  f.texts = {{"by_wire", wire.diameter_mm ? "yes" : "no"},
             {"by_turns", !wire.turns        ? "no"
                          : wire.diameter_mm ? "too"
                                             : "alone"}};
  out.push_back(std::move(f));
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> resistance(const std::vector<resistance_facts>& sections, const policy& rules) {
  using checks::resistance_basis;
  std::vector<finding> out;
  for (const auto& facts : sections) {
    out.push_back(detail::section(facts, rules));
    detail::tell_beside(facts, facts.result.against_earlier, resistance_basis::earlier,
                        statement::resistance_beside_earlier, out);
    detail::tell_beside(facts, facts.result.against_wire, resistance_basis::wire, statement::resistance_beside_wire,
                        out);
    detail::tell_explanation(facts, out);
    detail::tell_leads(facts, rules, out);
  }
  if (out.empty())
    out.push_back(
        {.check = check::resistance, .says = statement::resistance_not_measured, .quantity = "resistance_at_20_C"});
  return out;
}

}  // namespace rewound::verdict::rules
