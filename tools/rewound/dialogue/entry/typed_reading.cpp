// SPDX-License-Identifier: MIT
#include "dialogue/entry/typed_reading.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include <rewound/base/error.hpp>

namespace rewound::tool::dialogue {

namespace {

using base::error;
using base::error_code;

struct unit_word {
  std::string_view text;
  double factor;
  quantity what;
  bool prefixed;
};

/// Units as they are typed. Megamperes are no one's reading: `MA` is not listed, so that a capital slip is asked again.
constexpr auto unit_words = std::to_array<unit_word>({
    {"V", 1.0, quantity::voltage, false},
    {"v", 1.0, quantity::voltage, false},
    {"Vac", 1.0, quantity::voltage, false},
    {"Vdc", 1.0, quantity::voltage, false},
    {"volt", 1.0, quantity::voltage, false},
    {"volts", 1.0, quantity::voltage, false},
    {"mV", 1e-3, quantity::voltage, true},
    {"kV", 1e3, quantity::voltage, true},
    {"A", 1.0, quantity::current, false},
    {"a", 1.0, quantity::current, false},
    {"amp", 1.0, quantity::current, false},
    {"amps", 1.0, quantity::current, false},
    {"mA", 1e-3, quantity::current, true},
    {"ma", 1e-3, quantity::current, true},
    {"uA", 1e-6, quantity::current, true},
    {"\u00b5A", 1e-6, quantity::current, true},
    {"\u03bcA", 1e-6, quantity::current, true},
    {"W", 1.0, quantity::power, false},
    {"w", 1.0, quantity::power, false},
    {"watt", 1.0, quantity::power, false},
    {"watts", 1.0, quantity::power, false},
    {"kW", 1e3, quantity::power, true},
    {"mW", 1e-3, quantity::power, true},
    {"rpm", 1.0, quantity::rotation, false},
    {"RPM", 1.0, quantity::rotation, false},
    {"r/min", 1.0, quantity::rotation, false},
    {"1/min", 1.0, quantity::rotation, false},
    {"ohm", 1.0, quantity::resistance, true},
    {"ohms", 1.0, quantity::resistance, true},
    {"Ohm", 1.0, quantity::resistance, true},
    {"\u03a9", 1.0, quantity::resistance, true},
    {"\u2126", 1.0, quantity::resistance, true},
    {"mohm", 1e-3, quantity::resistance, true},
    {"m\u03a9", 1e-3, quantity::resistance, true},
    {"m\u2126", 1e-3, quantity::resistance, true},
    {"kohm", 1e3, quantity::resistance, true},
    {"kOhm", 1e3, quantity::resistance, true},
    {"k\u03a9", 1e3, quantity::resistance, true},
    {"k\u2126", 1e3, quantity::resistance, true},
    {"Mohm", 1e6, quantity::resistance, true},
    {"Mohms", 1e6, quantity::resistance, true},
    {"MOhm", 1e6, quantity::resistance, true},
    {"megohm", 1e6, quantity::resistance, true},
    {"megohms", 1e6, quantity::resistance, true},
    {"M\u03a9", 1e6, quantity::resistance, true},
    {"M\u2126", 1e6, quantity::resistance, true},
    {"Gohm", 1e9, quantity::resistance, true},
    {"Gohms", 1e9, quantity::resistance, true},
    {"GOhm", 1e9, quantity::resistance, true},
    {"G\u03a9", 1e9, quantity::resistance, true},
    {"G\u2126", 1e9, quantity::resistance, true},
    {"s", 1.0, quantity::time, false},
    {"sec", 1.0, quantity::time, false},
    {"min", 60.0, quantity::time, true},
    {"h", 3600.0, quantity::time, true},
    {"C", 1.0, quantity::temperature, false},
    {"degC", 1.0, quantity::temperature, false},
    {"\u00b0C", 1.0, quantity::temperature, false},
    {"\u00baC", 1.0, quantity::temperature, false},
    {"\u2103", 1.0, quantity::temperature, false},
    {"Hz", 1.0, quantity::frequency, false},
    {"hz", 1.0, quantity::frequency, false},
    {"HZ", 1.0, quantity::frequency, false},
    {"%", 1.0, quantity::percent, false},
    {"percent", 1.0, quantity::percent, false},
    {"%RH", 1.0, quantity::percent, false},
    {"cm", 1e-2, quantity::length, true},
    {"mm", 1e-3, quantity::length, true},
    {"m", 1e-3, quantity::plain, true},
    {"u", 1e-6, quantity::plain, true},
    {"k", 1e3, quantity::plain, true},
    {"K", 1e3, quantity::plain, true},
    {"M", 1e6, quantity::plain, true},
    {"G", 1e9, quantity::plain, true},
});

const unit_word* unit_named(std::string_view text) {
  const auto found =
      std::find_if(unit_words.begin(), unit_words.end(), [&](const auto& each) { return each.text == text; });
  return found == unit_words.end() ? nullptr : &*found;
}

[[noreturn]] void refuse(std::string_view word, std::string_view allowed) {
  throw error(error_code::out_of_range, {}, "\"" + std::string(word) + "\"", std::string(allowed));
}

constexpr std::string_view number_help = "a number as 110, .61, 610mA, 1.2k or 48W";

std::vector<std::string_view> words_of(std::string_view text) {
  std::vector<std::string_view> out;
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == ';' || c == '\r'; };
  for (std::size_t i = 0; i < text.size();) {
    if (blank(text[i])) {
      ++i;
      continue;
    }
    const auto begin = i;
    while (i < text.size() && !blank(text[i])) ++i;
    out.push_back(text.substr(begin, i - begin));
  }
  return out;
}

void give_unit(typed_number& number, const unit_word& unit) {
  number.typed = number.value;
  number.factor = unit.factor;
  number.value *= unit.factor;
  number.what = unit.what;
  number.prefixed = unit.prefixed;
}

typed_number number_of(std::string_view word) {
  std::string_view digits = word;
  if (digits.starts_with('+')) digits.remove_prefix(1);
  typed_number out;
  const auto [end, code] = std::from_chars(digits.data(), digits.data() + digits.size(), out.value);
  if (code != std::errc() || !std::isfinite(out.value)) refuse(word, number_help);
  const std::string_view rest(end, static_cast<std::size_t>(digits.data() + digits.size() - end));
  if (rest.starts_with(',')) refuse(word, "a decimal point, as in 0.61, and blanks between numbers");
  if (rest.empty()) return out;
  const auto* unit = unit_named(rest);
  if (unit == nullptr) refuse(word, number_help);
  give_unit(out, *unit);
  return out;
}

/// Whether a word would be taken for a number: 2, .5, 5A.
bool is_one_number(std::string_view word) {
  try {
    number_of(word);
    return true;
  } catch (const error&) {
    return false;
  }
}

bool starts_number(std::string_view word) {
  const char c = word.front();
  return (c >= '0' && c <= '9') || c == '.' || c == '-' || c == '+';
}

/// A speed's name at the head of the line; a name may hold blanks, the longest that fits is meant. A colon may end it,
/// and has to end one that is a number: `2: 110 .61`.
std::optional<std::string> speed_at_head(std::string_view& text, const std::vector<std::string>& speeds) {
  const std::string* best = nullptr;
  for (const auto& speed : speeds) {
    if (!text.starts_with(speed)) continue;
    const char behind = text.size() == speed.size() ? ' ' : text[speed.size()];
    const bool fits = behind == ':' || (behind == ' ' && !is_one_number(speed));
    if (fits && (best == nullptr || speed.size() > best->size())) best = &speed;
  }
  if (best == nullptr) return std::nullopt;
  text.remove_prefix(best->size());
  if (text.starts_with(':')) text.remove_prefix(1);
  return *best;
}

/// A bare number that is also a speed's name may be meant either way: asked again, with both ways told.
void expect_unambiguous(std::string_view text, const std::vector<std::string>& speeds) {
  const auto words = words_of(text);
  if (words.empty()) return;
  for (const auto& speed : speeds)
    if (words.front() == speed && is_one_number(speed))
      refuse(speed, "`" + speed + ":` for the speed of that name, or a unit behind the number, as " + speed + "V or " +
                        speed + "A");
}

std::string names(const std::vector<std::string>& speeds) {
  std::string out;
  for (const auto& speed : speeds) out += ", " + speed;
  return out;
}

}  // namespace

typed_line parse_line(std::string_view text, const std::vector<std::string>& speeds) {
  while (text.starts_with(' ')) text.remove_prefix(1);
  typed_line out;
  out.speed = speed_at_head(text, speeds);
  if (!out.speed) expect_unambiguous(text, speeds);
  for (const auto word : words_of(text)) {
    if (word == "stalled") {
      out.stalled = true;
      continue;
    }
    const auto* unit = unit_named(word);
    if (unit != nullptr && !out.numbers.empty() && out.numbers.back().what == quantity::plain &&
        !out.numbers.back().prefixed) {
      give_unit(out.numbers.back(), *unit);
      continue;
    }
    if (!starts_number(word)) refuse(word, std::string(number_help) + names(speeds) + ", a command (help lists them)");
    out.numbers.push_back(number_of(word));
  }
  return out;
}

namespace {

/// Whether a prefix without a unit makes sense: of amperes, watts and ohms; `m` behind a length is metres.
bool prefix_fits(double factor, quantity what, double unit_in_si) {
  switch (what) {
    case quantity::voltage: return factor == 1e3;
    case quantity::current: return factor < 1.0;
    case quantity::power: return factor == 1e-3 || factor == 1e3;
    case quantity::resistance: return factor >= 1e-3 && (factor > 1.0 || unit_in_si <= 1.0);
    case quantity::length: return factor == 1e-3;
    case quantity::plain:
    case quantity::rotation:
    case quantity::time:
    case quantity::temperature:
    case quantity::frequency:
    case quantity::percent: return false;
  }
  return false;
}

}  // namespace

bool fits(const typed_number& number, quantity what, double unit_in_si) {
  if (number.what == quantity::plain) return !number.prefixed || prefix_fits(number.factor, what, unit_in_si);
  // Milliohms where megohms are read are a slip of the capital.
  return number.what == what && (what != quantity::resistance || unit_in_si <= 1.0 || number.factor >= 1.0);
}

namespace {

double value_of(const typed_number& number, quantity what, double unit_in_si) {
  const bool metres = what == quantity::length && number.what == quantity::plain && number.prefixed;
  return metres ? number.typed : number.in(unit_in_si);
}

}  // namespace

std::pair<double, double> parse_pair(std::string_view text, quantity first, double first_unit, quantity second,
                                     double second_unit) {
  const auto line = parse_line(text, {});
  if (line.numbers.size() != 2 || line.stalled) refuse(text, "two numbers");
  const auto& a = line.numbers[0];
  const auto& b = line.numbers[1];
  if (fits(a, first, first_unit) && fits(b, second, second_unit))
    return {value_of(a, first, first_unit), value_of(b, second, second_unit)};
  const bool told_apart = a.what == second || b.what == first;  // a bare prefix tells nothing
  if (told_apart && fits(b, first, first_unit) && fits(a, second, second_unit))
    return {value_of(b, first, first_unit), value_of(a, second, second_unit)};
  refuse(text, "two numbers without units, or with those asked for");
}

double parse_number(std::string_view text, quantity expected, double unit_in_si) {
  const auto line = parse_line(text, {});
  if (line.numbers.size() != 1 || line.stalled) refuse(text, "one number");
  const auto& number = line.numbers.front();
  if (!fits(number, expected, unit_in_si)) refuse(text, "a number without a unit, or with the one asked for");
  return value_of(number, expected, unit_in_si);
}

bool is_typed_number(std::string_view word) { return is_one_number(word); }

}  // namespace rewound::tool::dialogue
