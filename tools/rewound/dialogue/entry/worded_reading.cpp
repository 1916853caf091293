// SPDX-License-Identifier: MIT
#include "dialogue/entry/worded_reading.hpp"

#include <cmath>

#include <rewound/base/error.hpp>

#include "dialogue/entry/typed_reading.hpp"

namespace rewound::tool::dialogue {

namespace {

[[noreturn]] void refuse_line(std::string_view text, const char* allowed) {
  throw base::error(base::error_code::out_of_range, {}, "\"" + std::string(text) + "\"", allowed);
}

/// The words before the first number, and the rest.
struct named_rest {
  std::string name;
  std::string rest;
};

named_rest name_at_head(std::string_view text) {
  named_rest out;
  while (!text.empty()) {
    const auto blank = text.find(' ');
    const auto word = text.substr(0, blank);
    const char c = word.empty() ? ' ' : word.front();
    if ((c >= '0' && c <= '9') || c == '.' || c == '-' || c == '+') break;
    if (!word.empty()) out.name += (out.name.empty() ? "" : " ") + std::string(word);
    text = blank == std::string_view::npos ? "" : text.substr(blank + 1);
  }
  out.rest = std::string(text);
  return out;
}

constexpr const char* resistance_help =
    "ohms, as `18.4`; a section's name before them, its temperature behind, as `aux 32.1 25C`; `expected 18.3` for "
    "what "
    "it should have";
constexpr const char* capacitor_help = "microfarads marked and measured, as `capacitor 2.5 2.4`";
constexpr const char* starts_help =
    "tries and how many of them started, as `20 20`; a position before them; behind them the lowest voltage and the "
    "time "
    "to speed, as `150V 3.2s`; `on low` for the speed, `push` where one was needed";

/// Of ohms the bare prefixes are milli and what is above one.
bool reads_ohms(const typed_number& number) {
  if (number.what == quantity::resistance) return true;
  return number.what == quantity::plain && (!number.prefixed || number.factor == 1e-3 || number.factor > 1.0);
}

int count_of(const typed_number& number, std::string_view text) {
  if (number.prefixed || number.value != std::round(number.value) || number.value < 0.0 || number.value >= 1e6)
    refuse_line(text, "whole numbers of tries, as `20 20`");
  return static_cast<int>(number.value);
}

}  // namespace

resistance_answer parse_resistance(std::string_view text) {
  resistance_answer out;
  std::string line(text);
  constexpr std::string_view expected = "expected ";
  if (const auto found = line.find(expected); found != std::string::npos) {
    out.expected_ohm = parse_number(line.substr(found + expected.size()), quantity::resistance, 1.0);
    line.resize(found);
  }
  const auto named = name_at_head(line);
  out.section = named.name;
  for (const auto& number : parse_line(named.rest, {}).numbers) {
    if (number.what == quantity::temperature && !out.winding_C) out.winding_C = number.value;
    else if (!out.ohms && reads_ohms(number)) out.ohms = number.value;
    else refuse_line(text, resistance_help);
  }
  if (out.expected_ohm && !out.ohms) refuse_line(text, resistance_help);
  return out;
}

earth_answer parse_earth(std::string_view text) {
  if (parse_line(text, {}).numbers.size() < 2) return {parse_number(text, quantity::resistance, 1.0), {}};
  const auto [ohms, metres] = parse_pair(text, quantity::resistance, 1.0, quantity::length, 1.0);
  return {ohms, metres};
}

leakage_answer parse_leakage(std::string_view text) {
  leakage_answer out;
  const auto named = name_at_head(text);
  std::string word;
  for (const char c : named.name.empty() ? "" : named.name + " ") {
    if (c != ' ') {
      word += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
      continue;
    }
    if (word == "normal" || word == "reversed") out.reversed = word == "reversed";
    else if (word == "on" || word == "off") out.switched_on = word == "on";
    else refuse_line(text, "milliamps, as `.2`; `reversed` or `normal` and `on` or `off` before them");
    word.clear();
  }
  constexpr double milliamp = 1e-3;
  if (parse_line(named.rest, {}).numbers.size() < 2) {
    out.milliamps = parse_number(named.rest, quantity::current, milliamp);
    return out;
  }
  const auto [current, volts] = parse_pair(named.rest, quantity::current, milliamp, quantity::voltage, 1.0);
  out.milliamps = current;
  out.voltage_V = volts;
  return out;
}

std::optional<capacitor_answer> parse_capacitor(std::string_view text) {
  const auto named = name_at_head(text);
  if (named.name != "capacitor" && named.name != "cap") return std::nullopt;
  std::string numbers;
  for (const char c : named.rest)  // microfarads are what a capacitor is marked in
    if ((c >= '0' && c <= '9') || c == '.' || c == ' ') numbers += c;
    else if (std::string_view("uF\xc2\xb5\xce\xbc").find(c) == std::string_view::npos)
      refuse_line(text, capacitor_help);
  const auto read = parse_line(numbers, {}).numbers;
  if (read.empty() || read.size() > 2) refuse_line(text, capacitor_help);
  capacitor_answer out{read[0].value, {}};
  if (read.size() == 2) out.measured_uF = read[1].value;
  return out;
}

starts_answer parse_starts(std::string_view text, const std::vector<std::string>& speeds) {
  starts_answer out{.position = {}, .speed = {}, .lowest_V = {}, .to_speed_s = {}};
  std::string line = " " + std::string(text) + " ";
  const auto taken = [&line](const std::string& words) {
    const auto at = line.find(" " + words + " ");
    if (at == std::string::npos) return false;
    line.erase(at, words.size() + 1);
    return true;
  };
  out.needed_push = taken("push");
  for (const auto& speed : speeds)
    if (!out.speed && taken("on " + speed)) out.speed = speed;
  const auto named = name_at_head(line);
  out.position = named.name;
  int counts = 0;
  for (const auto& number : parse_line(named.rest, {}).numbers) {
    if (number.what == quantity::voltage && !out.lowest_V) out.lowest_V = number.value;
    else if (number.what == quantity::time && !out.to_speed_s) out.to_speed_s = number.value;
    else if (number.what == quantity::plain && counts < 2)
      (counts++ == 0 ? out.attempts : out.successes) = count_of(number, text);
    else refuse_line(text, starts_help);
  }
  if (counts < 2) refuse_line(text, starts_help);
  return out;
}

}  // namespace rewound::tool::dialogue
