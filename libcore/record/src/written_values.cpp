// SPDX-License-Identifier: MIT
#include "written_values.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <rewound/base/number_text.hpp>
#include <rewound/record/beyond_range_words.hpp>
#include <rewound/record/fields.hpp>
#include <rewound/record/key_table.hpp>

namespace rewound::record {

namespace {

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

/// A number at the beginning of a text, and what follows it.
std::optional<std::pair<double, std::string_view>> leading_number(std::string_view text) {
  std::string digits(text);
  const bool plus = digits.starts_with("+");
  if (plus) digits.erase(0, 1);
  const auto read = base::number_at_start(digits);
  if (!read || !std::isfinite(read->value)) return std::nullopt;
  return std::pair{read->value, trimmed(text.substr(read->length + (plus ? 1 : 0)))};
}

bool only_digits(std::string_view text) {
  return !text.empty() && std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
}

struct prefix {
  std::string_view text;
  double factor;
};
constexpr std::array<prefix, 6> prefixes{{{"k", 1e3}, {"m", 1e-3}, {"u", 1e-6}, {"M", 1e6}, {"G", 1e9}, {"", 1.0}}};

std::optional<double> factor_of(std::string_view unit, std::string_view base) {
  if (!unit.ends_with(base)) return std::nullopt;
  unit.remove_suffix(base.size());
  for (const auto& each : prefixes)
    if (each.text == unit) return each.factor;
  return std::nullopt;
}

/// The factor of a unit's prefix, and the unit without it; nothing where it is no unit of a bench.
std::optional<std::pair<double, std::string_view>> unit_and_base(std::string_view unit) {
  for (const std::string_view base : {"ohm", "Hz", "A", "V", "W", "F", "s", "m"})
    if (const auto factor = factor_of(unit, base)) return std::pair{*factor, base};
  return std::nullopt;
}

/// What to write for a text in the place of a number.
std::string instead_of(std::string_view text, std::string_view key) {
  const auto read = leading_number(text);
  if (!read) return "";
  const auto [value, rest] = *read;
  if (rest.empty()) return "without quotation marks: " + shown_number(value);
  if (rest.front() == ',' && only_digits(rest.substr(1)))
    return "with a decimal point: " + std::string(text.substr(0, text.find(','))) + "." + std::string(rest.substr(1));
  const bool fahrenheit = rest == "F" || rest == "degF" ||
                          rest ==
                              "\xc2\xb0"
                              "F";
  if (fahrenheit && unit_of(key) == "C") return "in degC: " + shown_number(std::round((value - 32.0) / 0.18) / 10.0);
  const auto unit = unit_of(key);
  // A number is offered only where it is the one that is meant.
  if (unit.empty()) return "a number alone";
  if (rest == unit) return "the number alone, in " + std::string(unit) + " as the key says: " + shown_number(value);
  if (const auto a = unit_and_base(rest), b = unit_and_base(unit); a && b && a->second == b->second)
    return "in " + std::string(unit) + ": " + shown_number(value * (a->first / b->first));
  return "one number, in " + std::string(unit) + " as the key says";
}

struct conversion {
  std::string_view from, to, words;
};
/// Units that no prefix parts.
constexpr std::array<conversion, 12> conversions{{{"F", "C", "(degF - 32) / 1.8"},
                                                  {"K", "C", "K - 273.15"},
                                                  {"min", "s", "minutes times 60"},
                                                  {"h", "s", "hours times 3600"},
                                                  {"in", "mm", "inches times 25.4"},
                                                  {"inch", "mm", "inches times 25.4"},
                                                  {"cm", "mm", "centimetres times 10"},
                                                  {"ft", "m", "feet times 0.3048"},
                                                  {"HP", "W", "horsepower of input times 746"},
                                                  {"hp", "W", "horsepower of input times 746"},
                                                  {"nF", "uF", "nF divided by 1000"},
                                                  {"fraction", "percent", "the fraction times 100"}}};

/// How a number in one unit becomes one in another; empty where the two have nothing to do with each other.
std::string converted(std::string_view from, std::string_view to) {
  for (const auto& each : conversions)
    if (each.from == from && each.to == to) return std::string(each.words);
  for (const std::string_view base : {"A", "V", "W", "ohm", "Hz", "F", "s", "m"}) {
    const auto a = factor_of(from, base);
    const auto b = factor_of(to, base);
    if (!a || !b) continue;
    const double ratio = *a / *b;
    return std::string(from) + (ratio >= 1.0 ? " times " + shown_number(std::round(ratio))
                                             : " divided by " + shown_number(std::round(1.0 / ratio)));
  }
  return "";
}

std::string_view stem_of(std::string_view key) {
  const auto unit = unit_of(key);
  return unit.empty() ? key : key.substr(0, key.size() - unit.size() - 1);
}

}  // namespace

std::string_view unit_of(std::string_view key) {
  constexpr std::array<std::string_view, 34> known{"V",   "A",  "W",   "Hz",   "rpm",  "C",       "F",    "K",    "s",
                                                   "min", "h",  "ohm", "Mohm", "kohm", "Gohm",    "mohm", "mA",   "uA",
                                                   "kV",  "mV", "kW",  "mm",   "cm",   "m",       "in",   "inch", "ft",
                                                   "mm2", "uF", "nF",  "HP",   "hp",   "percent", "kgm2"};
  const auto last = key.rfind('_');
  if (last == std::string_view::npos) return {};
  const auto unit = key.substr(last + 1);
  return std::find(known.begin(), known.end(), unit) == known.end() ? std::string_view{} : unit;
}

written_number number_written(const node& value, std::string_view key) {
  if (const auto* number = std::get_if<double>(&value.value)) return {*number, ""};
  if (const auto* whole = std::get_if<std::int64_t>(&value.value)) return {static_cast<double>(*whole), ""};
  if (const auto* text = std::get_if<std::string>(&value.value)) {
    if (beyond_range_written(value))
      return {std::nullopt, "beyond a meter's range is known of insulation resistance and of run-up currents only"};
    return {std::nullopt, instead_of(trimmed(*text), key)};
  }
  if (const auto* list = std::get_if<node_list>(&value.value); list != nullptr && list->size() == 1)
    return {std::nullopt, "one number, without brackets: " + text_of(list->front())};
  return {};
}

std::optional<beyond_range> beyond_range_written(const node& value) {
  if (const auto* number = std::get_if<double>(&value.value); number != nullptr && std::isinf(*number) && *number > 0.0)
    return beyond_range{};
  const auto* text = std::get_if<std::string>(&value.value);
  if (text == nullptr) return std::nullopt;
  const auto left = words::small_letters(trimmed(*text));
  if (std::find(words::beyond_range.begin(), words::beyond_range.end(), left) != words::beyond_range.end())
    return beyond_range{};
  for (const auto sign : words::signs_of_more) {
    if (!left.starts_with(sign)) continue;
    const auto number = leading_number(trimmed(std::string_view(left).substr(sign.size())));
    if (number && number->second.empty()) return beyond_range{number->first};
    return std::nullopt;
  }
  return std::nullopt;
}

key_advice known_keys_near(const std::string& key, const std::vector<std::string>& known, const std::string& section) {
  for (const auto& each : known) {
    if (unit_of(key).empty() || stem_of(each) != stem_of(key)) continue;
    const auto how = converted(unit_of(key), unit_of(each));
    if (!how.empty()) return {each + " = ..., in " + std::string(unit_of(each)) + ": " + how, each};
  }
  for (const auto& each : known)
    if (!unit_of(each).empty() && stem_of(each) == key) return {"did you mean " + each + "?", each};
  for (const auto& each : listed_keys())
    if (each.name == key) {
      const auto& all = listed_sections();
      const auto there = std::find_if(all.begin(), all.end(), [&](const auto& s) { return s.name == each.section; });
      return {"a key of " + there->heading + ": it stands there", ""};
    }
  if (const auto meant = nearest(key, known)) return {"did you mean " + *meant + "?", *meant};
  std::string out;
  for (const auto& each : known) out += (out.empty() ? "" : ", ") + each;
  return {section.empty() ? "one of " + out : "a key of " + section + ": " + out, ""};
}

}  // namespace rewound::record
