// SPDX-License-Identifier: MIT
#include <rewound/report/wording.hpp>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <optional>

#include <rewound/measurement/rounding.hpp>
#include <rewound/report/number_text.hpp>

#include "words/short_sentences.hpp"

namespace rewound::report {

namespace {

/// A limit, or another number without an uncertainty of its own: three digits, more only before the point.
std::string without_interval(double value) {
  if (!std::isfinite(value) || std::abs(value) >= 100.0 || value == 0.0) return number_text(value);
  const int decimals = 2 - static_cast<int>(std::floor(std::log10(std::abs(value))));
  return number_text(measurement::rounded(value, decimals));
}

double half_width(const verdict::finding& f) { return f.low && f.high ? (*f.high - *f.low) / 2.0 : 0.0; }

std::optional<std::string> own_number(const verdict::finding& f, std::string_view key) {
  const double half = half_width(f);
  const auto shown = [](const std::optional<double>& number, double half_of_it) {
    if (!number) return std::string("not known");
    return half_of_it > 0.0 ? number_text(*number, half_of_it) : without_interval(*number);
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

/// Numbers that were stated, not measured, or that only say where something was looked at.
bool is_stated(std::string_view key) {
  return key == "marked" || key == "supply_V" || key == "voltage" || key == "rpm" || key == "full";
}

/// A key of a record, or a list of them, in words: their underscores are blanks.
std::string spaced(std::string text) {
  std::replace(text.begin(), text.end(), '_', ' ');
  return text;
}

std::string render(std::string_view pattern, const verdict::finding& f);

std::string value_of(std::string_view key, const verdict::finding& f) {
  if (key == "subject") return f.subject;
  if (key == "unit") return f.unit;
  for (const auto& number : f.numbers)
    if (number.key == key) {
      if (is_stated(key) || !(number.standard_uncertainty > 0.0)) return without_interval(number.value);
      return number_text(number.value, measurement::coverage_95 * number.standard_uncertainty);
    }
  for (const auto& [name, text] : f.texts)
    if (name == key) {
      const auto phrase = phrase_for(name, text);
      // Only phrases of our own are patterns: a text of the record may hold braces and is taken as it is.
      if (phrase.data() != text.data()) return render(phrase, f);
      return key == "instruments" || key == "what" ? spaced(text) : text;
    }
  if (const auto number = own_number(f, key)) return *number;
  std::string unknown = "{";
  unknown += key;
  unknown += '}';
  return unknown;
}

template <class Lookup>
std::string filled(std::string_view pattern, const Lookup& value) {
  std::string out;
  while (!pattern.empty()) {
    const auto open = pattern.find('{');
    const auto close = open == std::string_view::npos ? open : pattern.find('}', open);
    if (close == std::string_view::npos) break;
    out += pattern.substr(0, open);
    out += value(pattern.substr(open + 1, close - open - 1));
    pattern.remove_prefix(close + 1);
  }
  return out + std::string(pattern);
}

std::string render(std::string_view pattern, const verdict::finding& f) {
  return filled(pattern, [&](std::string_view key) { return value_of(key, f); });
}

/// A percentage without its sign: a tenth only below 3 % and where it is known so well.
std::string coarse(const verdict::finding& f) {
  constexpr double few = 3.0;
  const double size = std::abs(f.value.value_or(0.0));
  const bool tenths = size < few && half_width(f) < 0.5;
  return number_text(measurement::rounded(size, tenths ? 1 : 0));
}

std::string more_or_less(const verdict::finding& f) {
  return coarse(f) + (f.value.value_or(0.0) < 0.0 ? " % less" : " % more");
}

/// How far an undecided value may lie off, and what is allowed.
std::string doubt_of(const verdict::finding& f, std::string_view unit) {
  if (f.outcome != verdict::outcome::undecided) return "";
  const double half = half_width(f);
  std::string out = half > 0.0 ? ", give or take " + number_text(half, half) + " " + std::string(unit) : "";
  if (unit == "%" && f.limit_high) out += "; up to " + without_interval(*f.limit_high) + " % is allowed";
  return out;
}

/// Whether a speed's name stands by itself in a sentence: no number, Arabic or Roman, and not "on".
bool reads_as_name(const std::string& speed) {
  const auto all_of = [&](std::string_view of) { return speed.find_first_not_of(of) == std::string::npos; };
  const bool letters = std::any_of(speed.begin(), speed.end(), [](char c) { return std::isalpha(c & 0x7f); });
  return letters && speed.size() > 2 && !all_of("IVXivx") && speed != "off" && speed != "run";
}

std::string short_value(std::string_view key, const verdict::finding& f, std::string_view then) {
  if (key == "speed") {
    return reads_as_name(f.subject) ? f.subject : "speed " + f.subject;
  }
  constexpr double worth_a_digit = 0.02;  // of the value: an answer of a line needs no finer ones
  if (key == "value" && f.value && half_width(f) > 0.0)
    return number_text(*f.value, std::max(half_width(f), worth_a_digit * std::abs(*f.value)));
  if (key == "off") return more_or_less(f);
  if (key == "off_ohms") return coarse(f) + (f.value.value_or(0.0) < 0.0 ? " % fewer" : " % more");
  if (key == "off_than") return coarse(f) == "0" ? "as much as" : more_or_less(f) + " than";
  if (key == "then") return std::string(then);
  if (key == "short") return coarse(f);
  if (key == "doubt") return doubt_of(f, "%");
  if (key == "doubt_K") return doubt_of(f, "K");
  return value_of(key, f);
}

const short_entry* short_words(verdict::statement says) {
  for (const auto& entry : short_sentences)
    if (entry.says == says) return &entry;
  return nullptr;
}

std::string shortly(std::string_view pattern, const verdict::finding& f, std::string_view then) {
  return first_clause(filled(pattern, [&](std::string_view key) { return short_value(key, f, then); }));
}

}  // namespace

std::string first_clause(std::string_view text) {
  constexpr std::size_t two_lines = 136;
  if (text.size() <= two_lines) return std::string(text);
  for (const std::string_view end : {"; ", ": ", " (", ", "}) {
    const auto at = text.find(end, 24);
    if (at <= two_lines) return std::string(text.substr(0, at));
  }
  return std::string(text);
}

std::string short_sentence(const verdict::finding& finding, std::string_view then) {
  const auto* entry = short_words(finding.says);
  return entry && !entry->sentence.empty() ? shortly(entry->sentence, finding, then) : first_clause(sentence(finding));
}

std::string short_advice(const verdict::finding& finding, std::string_view then) {
  const auto* entry = short_words(finding.says);
  return entry && !entry->advice.empty() ? shortly(entry->advice, finding, then) : first_clause(advice(finding));
}

std::string sentence(const verdict::finding& finding) { return render(words_for(finding.says).sentence, finding); }
std::string advice(const verdict::finding& finding) { return render(words_for(finding.says).advice, finding); }
std::string condition(const verdict::finding& finding) { return render(words_for(finding.says).condition, finding); }

std::string advice_for_absent(verdict::check check) {
  return "the policy needs the check of " + check_words(check) +
         ", and the record holds nothing that this version judges for it";
}

std::string_view heading(verdict::check which) {
  using verdict::check;
  switch (which) {
    case check::draw: return "Draw";
    case check::steps: return "Speed steps";
    case check::supply: return "Supply";
    case check::insulation: return "Insulation";
    case check::polarization_index: return "Insulation over ten minutes";
    case check::resistance: return "Winding resistance";
    case check::withstand: return "Withstand";
    case check::leakage: return "Leakage";
    case check::earth: return "Earth";
    case check::starting: return "Starting";
    case check::coast_down: return "Coast-down";
    case check::heat_run: return "Heat run";
    case check::unbalance: return "Unbalance";
    case check::capacitor: return "Capacitor";
    case check::commutator: return "Commutator";
    case check::mechanics: return "Running and bearings";
    case check::readings: return "Readings";
    case check::checks: return "Bench checks";
  }
  return "";
}

std::string check_words(verdict::check which) {
  std::string out(heading(which));
  out.front() = static_cast<char>(out.front() - 'A' + 'a');
  return out;
}

std::string outcome_words(verdict::outcome value) {
  return value == verdict::outcome::not_tested ? "not tested" : std::string(verdict::name(value));
}

}  // namespace rewound::report
