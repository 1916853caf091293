// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/resistance.hpp>
#include <rewound/machine/wire.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/resistance.hpp>

namespace rewound::verdict::rules {

REWOUND_INLINE std::optional<double> assumed_leads_ohm(const record::resistance_section& of, const policy& rules) {
  if (of.four_wire || of.lead_resistance_ohm) return std::nullopt;
  if (of.resistance_ohm >= rules.practice.low_ohmic_ohm.value) return std::nullopt;
  return std::min(rules.practice.lead_resistance_ohm.value, of.resistance_ohm);
}

REWOUND_INLINE double design_uncertainty(const policy& rules) {
  return machine::wound_resistance_uncertainty(rules.practice.wire_resistance_percent.value / 100.0,
                                               rules.practice.mean_turn_percent.value / 100.0);
}

namespace detail {

inline bool carries_the_line(const std::string& section) {
  for (const auto* word : {"start", "aux"})
    if (section.find(word) != std::string::npos) return false;
  for (const auto* word : {"main", "run", "stator", "winding"})
    if (section.find(word) != std::string::npos) return true;
  return false;
}

/// What the running current leaves room for; absent where that is not known.
struct resistance_bounds {
  std::optional<double> most_ohm;
  std::optional<double> least_ohm;
};

/// A winding that carries the current cannot drop more than the supply, whatever else is in its way, nor take more than
/// the watts that go in; a start winding carries less, and twice the machine's impedance leaves room for it (common
/// practice, no source). Nor does a winding drop next to nothing.
inline resistance_bounds bounds_of(const record::resistance_section& of, const record::machine_section& machine,
                                   const std::optional<double>& running_A, const policy& rules) {
  if (!running_A) return {};
  const double impedance = machine.rated_voltage_V / *running_A;
  if (machine.phases != 1 || !carries_the_line(of.section)) return {2.0 * impedance, {}};
  return {rules.practice.resistance_drop_percent.value / 100.0 * impedance,
          rules.practice.resistance_least_percent.value / 100.0 * impedance};
}

inline void tell_resistance(finding& f, const checks::resistance_result& result) {
  const auto& at_25 = result.at_25_C;
  f.numbers.push_back(
      {"ohm", units::in_ohms(result.at_20_C.value), units::in_ohms(result.at_20_C.standard_uncertainty)});
  f.numbers.push_back({"ohm_25", units::in_ohms(at_25.value), units::in_ohms(at_25.standard_uncertainty)});
}

/// Beside the machine's volts and amps no winding has these ohms, or the reading does not differ from none at all.
inline bool implausible(const checks::resistance_result& result, const resistance_bounds& bounds) {
  const double ohm = units::in_ohms(result.at_20_C.value);
  const double half = measurement::coverage_95 * units::in_ohms(result.at_20_C.standard_uncertainty);
  return ohm - half <= 0.0 || (bounds.most_ohm && ohm - half > *bounds.most_ohm) ||
         (bounds.least_ohm && ohm + half < *bounds.least_ohm);
}

/// Nothing to compare with: what was shown is that the section conducts, and the finding says no more.
inline finding alone(finding f, const checks::resistance_result& result) {
  f.says = statement::resistance_alone;
  f.bearing = bearing::noted;
  f.quantity = "resistance_at_20_C";
  f.source = "common practice, no source (the section conducts)";
  set_value(f, units::in_ohms(result.at_20_C.value), units::in_ohms(result.at_20_C.standard_uncertainty), "ohm");
  return f;
}

inline finding implausible_section(finding f, const checks::resistance_result& result, const resistance_bounds& bounds,
                                   const policy& rules) {
  f = alone(std::move(f), result);
  f.says = statement::resistance_implausible;
  f.bearing = bearing::decides;
  f.outcome = outcome::undecided;
  f.limit_low = bounds.least_ohm;
  f.limit_high = bounds.most_ohm;
  f.source = rules.practice.resistance_drop_percent.source;
  f.texts.emplace_back("bounds", bounds.most_ohm && bounds.least_ohm ? "both" : bounds.most_ohm ? "most" : "none");
  return f;
}

/// What measured ohms may lie off: of a design value the practice's percent and, in quadrature, what the wire and the
/// mean turn of a sound winding do to the value itself. A limit that the shop set itself stands as it is.
inline limit allowed_deviation(checks::resistance_basis basis, const policy& rules) {
  const bool by_wire = basis == checks::resistance_basis::wire;
  const auto& stated = by_wire ? rules.practice.resistance_wire_percent : rules.practice.resistance_percent;
  limit out{stated.value, std::string(stated.source)};
  if (basis != checks::resistance_basis::design || policy::shops_own(out.source)) return out;
  constexpr double tenths = 10.0;  // of a percent, as shown
  out.value =
      std::round(tenths * std::hypot(out.value, 100.0 * measurement::coverage_95 * design_uncertainty(rules))) / tenths;
  out.source += ", with the design value's own: wire (IEC 60317-0-1) and mean turn";
  return out;
}

inline statement says_of(checks::resistance_basis basis) {
  if (basis == checks::resistance_basis::earlier) return statement::resistance_against_earlier;
  if (basis == checks::resistance_basis::wire) return statement::resistance_against_wire;
  return statement::resistance_against_expected;
}

inline finding section(const std::string& name, const checks::resistance_result& result,
                       const resistance_bounds& bounds, const policy& rules) {
  finding f{.check = check::resistance, .subject = name};
  tell_resistance(f, result);
  if (implausible(result, bounds)) return implausible_section(std::move(f), result, bounds, rules);
  if (!result.deviation_percent) return alone(std::move(f), result);
  const auto limit = allowed_deviation(result.basis, rules);
  const auto& deviation = *result.deviation_percent;
  f.says = says_of(result.basis);
  f.quantity = "resistance_deviation";
  set_value(f, deviation.value, deviation.standard_uncertainty, "%");
  f.limit_low = -limit.value;
  f.limit_high = limit.value;
  f.source = limit.source;
  f.outcome = rules.judge(deviation.value, deviation.standard_uncertainty, {-limit.value, limit.value});
  f.numbers.push_back(
      {"expected", units::in_ohms(*result.expected_at_20_C), units::in_ohms(result.at_20_C.standard_uncertainty)});
  return f;
}

/// A comparison that does not decide, since a better one does.
inline void tell_beside(const std::string& section, checks::resistance_basis decides,
                        const std::optional<checks::resistance_comparison>& comparison, checks::resistance_basis basis,
                        statement says, std::vector<finding>& out) {
  if (!comparison || decides == basis) return;
  finding f{.check = check::resistance,
            .subject = section,
            .bearing = bearing::informs,
            .says = says,
            .quantity = "resistance_deviation",
            .source = "for comparison, without a limit"};
  set_value(f, comparison->deviation_percent.value, comparison->deviation_percent.standard_uncertainty, "%");
  f.numbers = {{"expected", units::in_ohms(comparison->expected_at_20_C.value),
                units::in_ohms(comparison->expected_at_20_C.standard_uncertainty)}};
  out.push_back(std::move(f));
}

inline void tell_leads(const record::resistance_section& of, const policy& rules, std::vector<finding>& out) {
  const auto most = assumed_leads_ohm(of, rules);
  if (!most) return;
  finding f{.check = check::resistance,
            .subject = of.section,
            .bearing = bearing::informs,
            .says = statement::resistance_leads_assumed,
            .quantity = "lead_resistance",
            .source = std::string(rules.practice.lead_resistance_ohm.source)};
  set_value(f, 0.5 * *most, 0.0, "ohm");
  f.numbers = {{"most", *most}, {"taken_off", 0.5 * *most}};
  out.push_back(std::move(f));
}

inline void tell_explanation(const std::string& section, const wire_explanation& wire, std::vector<finding>& out) {
  if (!wire.diameter_mm && !wire.turns) return;
  finding f{.check = check::resistance,
            .subject = section,
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

REWOUND_INLINE std::vector<finding> resistance(const record::resistance_section& of,
                                               const record::machine_section& machine,
                                               const checks::resistance_result& result,
                                               const wire_explanation& explained,
                                               const std::optional<double>& running_A, const policy& rules) {
  using checks::resistance_basis;
  std::vector<finding> out{
      detail::section(of.section, result, detail::bounds_of(of, machine, running_A, rules), rules)};
  detail::tell_beside(of.section, result.basis, result.against_earlier, resistance_basis::earlier,
                      statement::resistance_beside_earlier, out);
  detail::tell_beside(of.section, result.basis, result.against_wire, resistance_basis::wire,
                      statement::resistance_beside_wire, out);
  detail::tell_explanation(of.section, explained, out);
  detail::tell_leads(of, rules, out);
  return out;
}

REWOUND_INLINE finding resistance_missing() {
  return {.check = check::resistance, .says = statement::resistance_not_measured, .quantity = "resistance_at_20_C"};
}

REWOUND_INLINE finding resistance_without_main() {
  return {.check = check::resistance,
          .outcome = outcome::undecided,
          .says = statement::resistance_without_main,
          .quantity = "resistance_at_20_C",
          .source = "common practice, no source (the winding that carries the current is among those measured)"};
}

REWOUND_INLINE finding resistance_without_counterpart(const std::string& section,
                                                      const std::vector<record::resistance_section>& before) {
  std::string names;
  for (const auto& each : before) names += (names.empty() ? "" : ", ") + each.section;
  return {.check = check::resistance,
          .subject = section,
          .bearing = bearing::informs,
          .says = statement::resistance_without_counterpart,
          .quantity = "resistance_deviation",
          .source = "the names of both records",
          .texts = {{"sections", names}}};
}

}  // namespace rewound::verdict::rules
