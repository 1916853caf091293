// SPDX-License-Identifier: MIT
#include "dialogue/entry/run_up_reading.hpp"

#include <charconv>
#include <string_view>

#include <rewound/base/error.hpp>

namespace rewound::tool::dialogue {

namespace {

[[noreturn]] void refuse_reading(std::string_view read, std::string_view allowed) {
  throw base::error(base::error_code::out_of_range, {}, "\"" + std::string(read) + "\"", std::string(allowed));
}

std::optional<double> take(std::vector<typed_number>& from, quantity what) {
  for (auto each = from.begin(); each != from.end(); ++each) {
    if (each->what != what) continue;
    const double value = each->value;
    from.erase(each);
    return value;
  }
  return std::nullopt;
}

/// Whether the voltage is among the numbers without unit: not where it was typed with one, nor where only amperes are
/// left.
bool voltage_first(const std::vector<typed_number>& plain, std::size_t missing_currents, bool voltage_known) {
  return !voltage_known && plain.size() > missing_currents;
}

std::string digits_of(double value) {
  char text[32];
  const auto end = std::to_chars(text, text + sizeof text, value).ptr;
  return {text, end};
}

/// Numbers without units that no reading of this machine has. Amps alone may be volts, or both run together.
void expect_within_reason(const run_up_entry& entry, const run_up_prompt& prompt, bool plain_volts, bool plain_amps) {
  namespace reason = within_reason;
  const double amps = entry.current_A.front();
  const auto volts = digits_of(entry.voltage_V);
  if (plain_volts && !entry.stalled &&
      (entry.voltage_V > reason::highest_volts * prompt.rated_V ||
       entry.voltage_V < reason::lowest_volts * prompt.rated_V))
    refuse_reading(volts + " V on a machine of " + digits_of(prompt.rated_V) + " V",
                   "volts and amps with a blank between, as `" + digits_of(prompt.rated_V) +
                       " .61`; with its unit it is taken: " + volts + "V");
  if (!plain_amps) return;
  const bool alone = !plain_volts;
  const double most = prompt.rated_A ? (alone && amps >= reason::looks_like_volts * prompt.rated_V ? reason::amps_alone
                                                                                                   : reason::amps) *
                                           *prompt.rated_A
                                     : reason::unmarked_amps;
  const bool unmarked_fits = !prompt.rated_A && amps < reason::looks_like_volts * prompt.rated_V;
  if (amps <= most || unmarked_fits) return;
  refuse_reading(
      digits_of(amps) + " A" + (prompt.rated_A ? " where " + digits_of(*prompt.rated_A) + " A are marked" : ""),
      "volts and amps with a blank between, as `" + digits_of(prompt.rated_V) +
          " .61`; with its unit it is taken: " + digits_of(amps) + "A");
}

}  // namespace

run_up_entry as_run_up(const typed_line& line, const run_up_prompt& prompt) {
  run_up_entry out{.speed = line.speed.value_or(prompt.speed), .stalled = line.stalled};
  auto left = line.numbers;
  auto voltage = take(left, quantity::voltage);
  while (const auto current = take(left, quantity::current)) out.current_A.push_back(*current);
  out.power_W = take(left, quantity::power);
  out.speed_rpm = take(left, quantity::rotation);
  for (const auto& number : left)
    if (number.what != quantity::plain) refuse_reading("a unit", "volts, amperes, watts and rpm here");
  const bool amps_have_unit = !out.current_A.empty();
  const std::size_t wanted = prompt.phases == 3 ? 3 : 1;
  if (out.current_A.size() > wanted) refuse_reading("too many amperes", wanted == 3 ? "three, one a line" : "one");
  auto next = left.begin();
  const auto placed = [&](quantity what) {
    if (!fits(*next, what, 1.0))
      refuse_reading("a prefix without its unit", "volts, amperes, watts and rpm, as 110 610mA 48W");
    return (next++)->value;
  };
  const bool plain_volts = voltage_first(left, wanted - out.current_A.size(), voltage.has_value());
  if (plain_volts) voltage = placed(quantity::voltage);
  while (out.current_A.size() < wanted && next != left.end()) out.current_A.push_back(placed(quantity::current));
  if (!out.power_W && next != left.end()) out.power_W = placed(quantity::power);
  if (!out.speed_rpm && next != left.end()) out.speed_rpm = placed(quantity::rotation);
  if (next != left.end()) refuse_reading("too many numbers", "volts, amperes, watts, rpm");
  if (out.current_A.size() < wanted)
    refuse_reading("too few numbers",
                   wanted == 3 ? "three amperes, one a line, or volts before them" : "amperes, or volts and amperes");
  out.voltage_V = voltage.value_or(prompt.suggested_V);
  // Nobody runs up from a fiftieth of the rating at more amperes than volts (common practice, no source).
  if (out.voltage_V < 0.02 * prompt.rated_V && out.current_A.front() > out.voltage_V)
    refuse_reading("more amperes than volts", "volts first, then amperes");
  expect_within_reason(out, prompt, plain_volts, !amps_have_unit);
  return out;
}

}  // namespace rewound::tool::dialogue
