// SPDX-License-Identifier: MIT
#include <rewound/report/wording.hpp>

#include <optional>

#include <rewound/report/number_text.hpp>

namespace rewound::report {

namespace {

std::optional<std::string> own_number(const verdict::finding& f, std::string_view key) {
  const double half = f.low && f.high ? (*f.high - *f.low) / 2.0 : 0.0;
  const auto shown = [](const std::optional<double>& number, double half_width) {
    return number ? number_text(*number, half_width) : std::string("not known");
  };
  if (key == "value") return shown(f.value, half);
  if (key == "low") return shown(f.low, half);
  if (key == "high") return shown(f.high, half);
  if (key == "limit_low") return shown(f.limit_low, 0.0);
  if (key == "limit_high") return shown(f.limit_high, 0.0);
  if (key == "half") return number_text(half, half);
  if (key == "probability" && f.value) return probability_text(*f.value);
  return std::nullopt;
}

std::string render(std::string_view pattern, const verdict::finding& f);

std::string value_of(std::string_view key, const verdict::finding& f) {
  if (key == "subject") return f.subject;
  if (key == "unit") return f.unit;
  for (const auto& number : f.numbers)
    if (number.key == key) return number_text(number.value, measurement::coverage_95 * number.standard_uncertainty);
  for (const auto& [name, text] : f.texts)
    if (name == key) {
      const auto phrase = phrase_for(name, text);
      // Only phrases of our own are patterns: a text of the record may hold braces and is taken as it is.
      return phrase.data() == text.data() ? text : render(phrase, f);
    }
  if (const auto number = own_number(f, key)) return *number;
  std::string unknown = "{";
  unknown += key;
  unknown += '}';
  return unknown;
}

std::string render(std::string_view pattern, const verdict::finding& f) {
  std::string out;
  while (!pattern.empty()) {
    const auto open = pattern.find('{');
    const auto close = open == std::string_view::npos ? open : pattern.find('}', open);
    if (close == std::string_view::npos) break;
    out += pattern.substr(0, open);
    out += value_of(pattern.substr(open + 1, close - open - 1), f);
    pattern.remove_prefix(close + 1);
  }
  return out + std::string(pattern);
}

}  // namespace

std::string sentence(const verdict::finding& finding) { return render(words_for(finding.says).sentence, finding); }
std::string advice(const verdict::finding& finding) { return render(words_for(finding.says).advice, finding); }
std::string condition(const verdict::finding& finding) { return render(words_for(finding.says).condition, finding); }

std::string advice_for_absent(verdict::check check) {
  return "the policy needs the check \"" + std::string(verdict::name(check)) +
         "\", and the record holds nothing that this version judges for it";
}

std::string_view heading(verdict::check which) {
  using verdict::check;
  switch (which) {
    case check::draw: return "Draw";
    case check::steps: return "Speed steps";
    case check::supply: return "Supply";
    case check::insulation: return "Insulation";
    case check::polarization_index: return "Insulation, ten minutes";
    case check::resistance: return "Winding resistance";
    case check::withstand: return "Withstand";
    case check::leakage: return "Leakage";
    case check::earth: return "Earth";
    case check::starting: return "Starting";
    case check::coast_down: return "Coast-down";
    case check::heat_run: return "Heat run";
    case check::unbalance: return "Unbalance";
    case check::readings: return "Readings";
    case check::checks: return "Bench checks";
  }
  return "";
}

std::string outcome_words(verdict::outcome value) {
  return value == verdict::outcome::not_tested ? "not tested" : std::string(verdict::name(value));
}

}  // namespace rewound::report
