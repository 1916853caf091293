// SPDX-License-Identifier: MIT
#include "dialogue/steps/remark.hpp"

#include <algorithm>
#include <cmath>

#include <rewound/report/number_text.hpp>

namespace rewound::tool::dialogue {

namespace {

using report::number_text;

std::string signed_percent(double value, double half) {
  return (value >= 0.0 ? "+" : "") + number_text(value, half) + " %";
}

const verdict::draw_row* row_of(const job::result& judged, const std::string& speed) {
  for (const auto& row : judged.draw)
    if (row.speed == speed) return &row;
  return nullptr;
}

const verdict::finding* draw_finding(const job::result& judged, const std::string& speed) {
  for (const auto& finding : judged.findings)
    if (finding.check == verdict::check::draw && finding.subject == speed &&
        finding.bearing == verdict::bearing::decides)
      return &finding;
  return nullptr;
}

/// How the whole speed stands, by its row and finding in the judgement.
std::string standing(const job::result& judged, const verdict::draw_row& row, const std::string& speed,
                     double rated_V) {
  using verdict::expectation;
  const bool by_curve = row.judged_by == expectation::reference || row.judged_by == expectation::earlier;
  if (by_curve && row.level_percent) {
    const double half = measurement::coverage_95 * row.level_percent->standard_uncertainty;
    // Far from the rating a level conforms by what healthy machines do rather than by what was read.
    const bool early = row.far_from_rated && row.outcome == verdict::outcome::conforms;
    return "speed so far " + signed_percent(row.level_percent->value, half) + " +- " + number_text(half, half) + ": " +
           outcome_words(early ? verdict::outcome::undecided : row.outcome);
  }
  const std::string at = "at " + number_text(rated_V) + " V ";
  if (row.far_from_rated || !row.at_rated) return "not enough yet: nothing near " + number_text(rated_V) + " V";
  const double now = units::in_amperes(row.at_rated->value);
  const double half = measurement::coverage_95 * units::in_amperes(row.at_rated->standard_uncertainty);
  const auto* finding = draw_finding(judged, speed);
  std::string out = at + report::with_uncertainty(now, half) + " A";
  if (row.judged_by == expectation::nameplate && row.expected_at_rated)
    out += ", marked " + number_text(units::in_amperes(*row.expected_at_rated)) + " A, " +
           signed_percent(row.level_percent->value, half / now * 100.0);
  else if (row.judged_by == expectation::nameplate_ceiling && finding != nullptr && finding->limit_high)
    out += ", ceiling " + number_text(*finding->limit_high) + " A";
  else return out + "; nothing to hold it against: not enough yet";
  return out + ": " + outcome_words(row.outcome);
}

}  // namespace

std::string outcome_words(verdict::outcome value) {
  switch (value) {
    case verdict::outcome::conforms: return "inside";
    case verdict::outcome::fails: return "OUTSIDE";
    case verdict::outcome::undecided:
    case verdict::outcome::not_tested: return "not enough yet";
  }
  return "";
}

std::string run_up_remark(const job::result& judged, const std::optional<job::expected_reading>& expected,
                          const std::string& speed, double current_A, double rated_V) {
  std::string out;
  if (expected) {
    const double mean = units::in_amperes(expected->value);
    const double half = 0.5 * (units::in_amperes(expected->high) - units::in_amperes(expected->low));
    const double off = 100.0 * (current_A / mean - 1.0);
    out = "expected " + report::with_uncertainty(mean, half) + " A, read " + signed_percent(off, 100.0 * half / mean) +
          "; ";
  }
  const auto* row = row_of(judged, speed);
  return out + (row == nullptr ? "not enough yet" : standing(judged, *row, speed, rated_V));
}

namespace {

/// The worse of two outcomes is the one to tell.
int badness(const verdict::finding& finding) {
  using verdict::outcome;
  return finding.outcome == outcome::fails ? 2 : finding.outcome == outcome::conforms ? 0 : 1;
}

std::string in_words(const verdict::finding& finding) {
  std::string quantity = finding.quantity;
  std::replace(quantity.begin(), quantity.end(), '_', ' ');
  const double half = finding.low && finding.high ? 0.5 * (*finding.high - *finding.low) : 0.0;
  return quantity + " " + number_text(*finding.value, half) + (finding.unit == "1" ? "" : " " + finding.unit);
}

/// What was found and decides nothing, such as a coast-down with no other to hold it against. A finding that decides
/// and has no value yet waits for more readings.
std::string standing_for_information(const job::result& judged, verdict::check which, const std::string& subject) {
  const verdict::finding* first = nullptr;
  for (const auto& finding : judged.findings) {
    if (finding.check != which || (!subject.empty() && finding.subject != subject)) continue;
    if (finding.bearing == verdict::bearing::decides) return "not enough yet";
    if (first == nullptr && finding.value && finding.bearing == verdict::bearing::informs) first = &finding;
  }
  return first == nullptr ? "not enough yet" : in_words(*first) + ": found, nothing to hold it against";
}

}  // namespace

std::string cold_remark(const job::result& judged, verdict::check which, const std::string& subject) {
  const verdict::finding* best = nullptr;
  for (const auto& finding : judged.findings) {
    if (finding.check != which || (!subject.empty() && finding.subject != subject)) continue;
    if (finding.bearing != verdict::bearing::decides || !finding.value) continue;
    if (best == nullptr || badness(finding) > badness(*best)) best = &finding;
  }
  if (best == nullptr) return standing_for_information(judged, which, subject);
  std::string out = in_words(*best);
  if (best->limit_low) out += ", at least " + number_text(*best->limit_low);
  if (best->limit_high) out += ", at most " + number_text(*best->limit_high);
  if (!best->limit_low && !best->limit_high) {
    if (best->outcome == verdict::outcome::conforms) return out + ": recorded, no limit";
    out += ", no limit";
  }
  return out + ": " + outcome_words(best->outcome);
}

}  // namespace rewound::tool::dialogue
