// SPDX-License-Identifier: MIT
#include "dialogue/entry/insulation_answer.hpp"

#include <string>

#include <rewound/base/error.hpp>

#include "dialogue/entry/over_range.hpp"
#include "dialogue/entry/typed_reading.hpp"

namespace rewound::tool::dialogue {

namespace {

constexpr double ohms_in_megohm = 1e6;

/// Above it a bare number is rather a time and a reading run together, `60310` (common practice, no source).
constexpr double most_without_unit = 20000.0;

std::optional<double> time_before(const std::string& text) {
  if (text.empty()) return std::nullopt;
  return parse_number(text, quantity::time, 1.0);
}

}  // namespace

insulation_answer parse_insulation(std::string_view text) {
  if (const auto over = over_range_in(text)) {
    const auto seconds = time_before(over->before);
    if (over->least.empty()) return {seconds, std::nullopt, true};
    return {seconds, parse_number(over->least, quantity::resistance, ohms_in_megohm), true};
  }
  const auto count = parse_line(text, {}).numbers.size();
  if (count == 1) {
    const auto megohms = parse_number(text, quantity::resistance, ohms_in_megohm);
    if (megohms > most_without_unit && parse_line(text, {}).numbers.front().what == quantity::plain)
      throw base::error(base::error_code::out_of_range, {}, "\"" + std::string(text) + "\"",
                        "seconds and megohms with a blank between, as `60 310`; with its unit it is taken");
    return {std::nullopt, megohms, false};
  }
  if (count != 2)
    throw base::error(base::error_code::out_of_range, {}, "\"" + std::string(text) + "\"",
                      "megohms, or seconds and megohms; over range: >2000 or OL");
  const auto [seconds, megohms] = parse_pair(text, quantity::time, 1.0, quantity::resistance, ohms_in_megohm);
  return {seconds, megohms, false};
}

}  // namespace rewound::tool::dialogue
