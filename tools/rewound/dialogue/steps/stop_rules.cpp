// SPDX-License-Identifier: MIT
#include "dialogue/steps/stop_rules.hpp"

#include <cmath>

#include <rewound/report/number_text.hpp>
#include <rewound/report/wording.hpp>

namespace rewound::tool::dialogue {

namespace {

constexpr std::string_view winding_circuit = "winding to frame";

using report::number_text;

/// How many times the expected or the marked current stops a run-up nearer the rated voltage (common practice, no
/// source).
constexpr double gross_share = 3.0;

/// Above the band of good machines and above the expected value by the policy's share; without either, above the marked
/// current, which a machine at low voltage does not reach unless its rotor stands or its winding is shorted. Nearer the
/// rated voltage only a gross excess stops: a moderate one is for the judgement.
std::optional<stop> far_above(const reading_facts& facts, const verdict::policy& policy) {
  if (!facts.turning) return std::nullopt;
  const bool low = facts.voltage_V < policy.practice.bench_low_voltage_percent.value / 100.0 * facts.rated_V;
  const double share = low ? 1.0 + policy.practice.bench_far_above_percent.value / 100.0 : gross_share;
  std::string beside;
  if (facts.expected) {
    const double expected = units::in_amperes(facts.expected->value);
    if (facts.current_A <= share * expected || facts.current_A <= units::in_amperes(facts.expected->far_high))
      return std::nullopt;
    beside = "expected " + number_text(expected) + " A";
  } else {
    if (!facts.rated_current_A || facts.current_A <= share * *facts.rated_current_A) return std::nullopt;
    beside = "marked " + number_text(*facts.rated_current_A) + " A at the rated voltage";
  }
  return stop{
      stop_reason::far_above,
      number_text(facts.current_A) + " A at " + number_text(facts.voltage_V) + " V is far too much (" + beside +
          "). Voltage to zero, switch off: is the rotor free, the tap right, the range right? Otherwise shorted turns.",
      facts.index};
}

std::optional<stop> not_following(const reading_facts& facts, const verdict::policy& policy) {
  if (!facts.before_V || !facts.before_A || *facts.before_V <= 0.0 || *facts.before_A <= 0.0 || facts.current_A <= 0.0)
    return std::nullopt;
  const double rise = std::log(facts.voltage_V / *facts.before_V);
  constexpr double smallest_step = 0.02;  // a smaller change of voltage leaves the exponent to the meters' digits
  if (rise < smallest_step) return std::nullopt;
  const double exponent = std::log(facts.current_A / *facts.before_A) / rise;
  if (exponent <= policy.practice.bench_exponent_high.value) return std::nullopt;
  return stop{stop_reason::not_following,
              "the current no longer follows the voltage: " + number_text(*facts.before_A) + " A at " +
                  number_text(*facts.before_V) + " V, now " + number_text(facts.current_A) + " A at " +
                  number_text(facts.voltage_V) + " V. Voltage to zero, switch off, and look before going on.",
              facts.index};
}

std::string misread_line(const measurement::suspect_reading& reading, bool just_read) {
  using measurement::suspicion;
  const std::string unit = reading.voltage ? " V" : "";
  const std::string read =
      (just_read ? "" : "reading " + std::to_string(reading.index + 1) + ", ") + number_text(reading.read) + unit;
  if (reading.would_fit) return read + "? " + number_text(*reading.would_fit) + " would fit: type it again, or `keep`";
  switch (reading.why) {
    case suspicion::falls_with_voltage: return read + "? It fell while the voltage rose: read it again, or `keep`";
    case suspicion::reads_zero: return read + "? The others show some current: read it again, or `keep`";
    case suspicion::current_without_voltage: return read + "? A current takes a voltage: read it again, or `keep`";
    case suspicion::rotor_at_rest: return read + "? The rotor seems to stand: type `stalled`, read it again, or `keep`";
    case suspicion::digits_transposed:
    case suspicion::decimal_slipped:
    case suspicion::wrong_range:
    case suspicion::off_curve:
    case suspicion::readings_disagree: break;
  }
  return read + "? It does not fit the others: type it again, or `keep`";
}

/// The reading just taken first; then one that it makes look wrong.
std::optional<stop> misread(const reading_facts& facts, const job::result& judged) {
  std::optional<stop> out;
  for (const auto& suspect : judged.suspects) {
    const bool here = suspect.speed == facts.speed && !facts.accepted.contains(suspect.reading.index);
    const bool just_read = suspect.reading.index == facts.index;
    if (!here || (out && !just_read)) continue;
    out = stop{stop_reason::misread, misread_line(suspect.reading, just_read), suspect.reading.index};
  }
  return out;
}

}  // namespace

std::vector<stop> stops_after(const reading_facts& facts, const job::result& judged, const verdict::policy& policy) {
  std::vector<stop> out;
  if (auto found = far_above(facts, policy)) out.push_back(std::move(*found));
  if (auto found = not_following(facts, policy)) out.push_back(std::move(*found));
  if (auto found = misread(facts, judged)) out.push_back(std::move(*found));
  return out;
}

energising may_energise(const job::result& judged) {
  using verdict::check;
  using verdict::outcome;
  bool measured = false;
  bool winding = false;
  std::string open;
  std::string circuits;
  for (const auto& finding : judged.findings) {
    const bool cold =
        finding.check == check::insulation || finding.check == check::earth || finding.check == check::withstand;
    if (cold && finding.outcome == outcome::fails) return {permission::refused, report::sentence(finding)};
    // A circuit without the frame only informs, but whoever goes under power is told that it was all there is.
    const bool one_minute = finding.quantity == "insulation_at_40_C";
    if (finding.check != check::insulation || (finding.bearing != verdict::bearing::decides && !one_minute)) continue;
    // Only the one-minute value is the judgement; a curve that falls is one more reason to wait.
    if (finding.value && one_minute) {
      measured = true;
      winding = winding || finding.subject == winding_circuit;
      circuits += (circuits.empty() ? "" : ", ") + finding.subject;
    }
    // Every open point is told: who agrees to one has not agreed to another.
    if (finding.outcome != outcome::conforms && finding.value)
      open += (open.empty() ? "" : " ") + report::sentence(finding);
  }
  if (!measured) return {permission::refused, "insulation has not been judged: a one-minute reading comes first"};
  if (!winding) open = "judged were only: " + circuits + "; \"" + std::string(winding_circuit) + "\" was not. " + open;
  if (!open.empty()) return {permission::ask, open};
  return {permission::granted, ""};
}

energising may_withstand(const job::result& judged, const std::string& circuit) {
  const auto may = may_energise(judged);
  if (may.permission == permission::refused) return may;
  bool measured = false;
  for (const auto& finding : judged.findings) {
    if (finding.check != verdict::check::insulation || finding.bearing != verdict::bearing::decides ||
        finding.subject != circuit)
      continue;
    if (finding.outcome != verdict::outcome::conforms) return {permission::refused, report::sentence(finding)};
    if (finding.value && finding.quantity == "insulation_at_40_C") measured = true;
  }
  if (measured) return {permission::granted, ""};
  return {permission::refused,
          "insulation of \"" + circuit + "\" has not been judged: a one-minute reading comes first"};
}

}  // namespace rewound::tool::dialogue
