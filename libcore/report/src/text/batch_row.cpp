// SPDX-License-Identifier: MIT
#include <rewound/report/batch_row.hpp>

#include <array>
#include <cmath>
#include <initializer_list>
#include <vector>

#include <rewound/base/number_text.hpp>
#include <rewound/measurement/normal.hpp>
#include <rewound/report/number_text.hpp>
#include <rewound/report/view.hpp>
#include <rewound/report/wording.hpp>

namespace rewound::report {

namespace {

constexpr std::array<std::string_view, 12> batch_columns{"machine",
                                                         "file",
                                                         "decision",
                                                         "reasons",
                                                         "next",
                                                         "levels",
                                                         "suspect_readings",
                                                         "likeliest_cause",
                                                         "cause_probability",
                                                         "abnormality",
                                                         "reference_machines",
                                                         "error"};

bool is_number(std::string_view text) {
  if (text.starts_with('+')) text.remove_prefix(1);
  const auto value = base::whole_number_text(text);
  return value && std::isfinite(*value);
}

bool looks_like_formula(std::string_view text) {
  if (text.empty() || is_number(text)) return false;
  if (text.front() == '\t' || text.front() == '\r') return true;
  for (const std::string_view wide : {"\uFF1D", "\uFF0B", "\uFF0D", "\uFF20"})  // the same signs in full width
    if (text.starts_with(wide)) return true;
  // Some spreadsheets pass over blanks before a formula.
  for (const char c : text)
    if (static_cast<unsigned char>(c) > 0x20) return c == '=' || c == '+' || c == '-' || c == '@';
  return false;
}

std::string row_of(std::initializer_list<std::string> cells) {
  std::string out;
  for (const auto& cell : cells) (out += out.empty() && &cell == cells.begin() ? "" : ",") += csv_cell(cell);
  return out + "\n";
}

std::string joined_by(std::string_view between, const std::vector<std::string>& parts) {
  std::string out;
  for (const auto& part : parts) (out += out.empty() ? std::string_view() : between) += part;
  return out;
}

/// Signed, and finer than it is sure, since it may be worked with further.
std::string signed_percent(double value) { return base::signed_digits(value, 1); }

/// "high +2.3 % (-1.0 to +5.6)", the interval at 95 %.
std::vector<std::string> level_texts(const job::result& in) {
  std::vector<std::string> out;
  for (const auto& row : in.draw) {
    if (!row.level_percent) continue;
    const double value = row.level_percent->value;
    const double half = measurement::coverage_95 * row.level_percent->standard_uncertainty;
    out.push_back(row.speed + " " + signed_percent(value) + " % (" + signed_percent(value - half) + " to " +
                  signed_percent(value + half) + ")");
  }
  return out;
}

/// "high reading 4, current 0.318: digits transposed".
std::vector<std::string> suspect_texts(const job::result& in) {
  std::vector<std::string> out;
  for (const auto& [speed, suspect] : in.suspects)
    out.push_back(speed + " reading " + std::to_string(suspect.index + 1) + ", " +
                  (suspect.voltage ? "voltage " : "current ") + number_text(suspect.read) + ": " +
                  std::string(phrase_for("why", verdict::rules::name(suspect.why))));
  return out;
}

}  // namespace

std::string csv_cell(std::string_view text) {
  std::string out = looks_like_formula(text) ? "'" : "";
  for (const char c : text) out += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? ' ' : c;
  const bool blank_ends = !out.empty() && (out.front() == ' ' || out.back() == ' ');
  if (out.find_first_of(",\"") == std::string::npos && !blank_ends) return out;
  std::string quoted = "\"";
  for (const char c : out) quoted += c == '"' ? "\"\"" : std::string(1, c);
  return quoted + "\"";
}

std::string batch_head() {
  std::string out;
  for (const auto column : batch_columns) (out += out.empty() ? "" : ",") += column;
  return out + "\n";
}

std::string batch_row(std::string_view file, const job::result& result) {
  const auto shown = view_of(result);
  const auto* cause = result.causes.empty() ? nullptr : &result.causes.front();
  return row_of({result.machine.id, std::string(file), shown.decision, joined_by(" | ", shown.reasons),
                 shown.brief.next.empty() ? "" : shown.brief.next.front(), joined_by(" | ", level_texts(result)),
                 joined_by(" | ", suspect_texts(result)), cause ? std::string(verdict::name(cause->cause)) : "",
                 cause ? number_text(cause->probability) : "",
                 result.abnormality ? number_text(*result.abnormality) : "", std::to_string(result.reference_machines),
                 ""});
}

std::string batch_trouble_row(std::string_view machine, std::string_view file, std::string_view trouble) {
  return row_of({std::string(machine), std::string(file), "", "", "", "", "", "", "", "", "", std::string(trouble)});
}

}  // namespace rewound::report
