// SPDX-License-Identifier: MIT
#include "dialogue/keeping/correction.hpp"

#include <cmath>
#include <tuple>
#include <utility>

#include <rewound/base/error.hpp>

#include "dialogue/entry/insulation_answer.hpp"
#include "dialogue/keeping/listing.hpp"
#include "dialogue/keeping/rehearsal.hpp"
#include "dialogue/entry/typed_reading.hpp"

namespace rewound::tool::dialogue {

namespace {

[[noreturn]] void refuse_correction(const std::string& text, const std::string& allowed) {
  throw base::error(base::error_code::out_of_range, {}, "\"" + text + "\"", allowed);
}

/// `240`, or `30 240` where the first of the two was wrong too.
void correct_pair(const std::string& text, double& first, quantity first_is, double& second, quantity second_is) {
  if (parse_line(text, {}).numbers.size() == 1) second = parse_number(text, second_is, 1.0);
  else std::tie(first, second) = parse_pair(text, first_is, 1.0, second_is, 1.0);
}

void correct_insulation(record::visit_record& in, std::size_t place, const std::string& text) {
  const auto at = insulation_place_of(in, place);
  const auto answer = parse_insulation(text);
  if (!answer.megohms) refuse_correction(text, "over range with the top of the range, as `>2000`");
  auto& row = in.insulation[at.test].rows[at.reading];
  row.resistance_Mohm = *answer.megohms;
  row.over_range = answer.over_range;
  if (answer.seconds) row.time_s = *answer.seconds;
}

void correct_withstand(record::withstand_section& entry, std::string text) {
  for (const auto& [word, broke] : {std::pair<std::string, bool>{"broke down", true}, {"held", false}}) {
    if (!text.ends_with(word)) continue;
    entry.broke_down = broke;
    text.resize(text.size() - word.size());
    if (text.find_first_not_of(' ') == std::string::npos) return;
  }
  entry.voltage_V = parse_number(text, quantity::voltage, 1.0);
}

int whole_of(const typed_number& number, const std::string& text) {
  if (number.what != quantity::plain || number.prefixed || number.value != std::round(number.value) ||
      std::abs(number.value) > 1e6)
    refuse_correction(text, "`5 4`: attempts, and how many of them started");
  return static_cast<int>(number.value);
}

void correct_starts(record::starts_section& entry, const std::string& text) {
  const auto line = parse_line(text, {});
  if (line.numbers.size() != 2) refuse_correction(text, "`5 4`: attempts, and how many of them started");
  entry.attempts = whole_of(line.numbers[0], text);
  entry.successes = whole_of(line.numbers[1], text);
}

void correct_heat(record::heat_run_section& run, std::size_t place, const std::string& text) {
  if (place >= run.time_s.size()) {
    place -= run.time_s.size();
    return correct_pair(text, run.cooling_time_s[place], quantity::time, run.cooling_ohm[place], quantity::resistance);
  }
  const bool ohms = !run.resistance_ohm.empty();
  correct_pair(text, run.time_s[place], quantity::time, ohms ? run.resistance_ohm[place] : run.temperature_C[place],
               ohms ? quantity::resistance : quantity::temperature);
}

void correct_check(record::visit_record& in, std::size_t place, const std::string& text) {
  auto& passed = in.checks.at(answered_checks(in)[place]);
  if (text == "yes" || text == "y") passed = true;
  else if (text == "no" || text == "n") passed = false;
  else refuse_correction(text, "yes or no");
}

}  // namespace

record::visit_record with_entry_corrected(record::visit_record in, const step& of, std::size_t place,
                                          const std::string& text) {
  expect_entry(in, of, place);
  switch (of.kind) {
    case step_kind::earth: in.earth->continuity_ohm = parse_number(text, quantity::resistance, 1.0); break;
    case step_kind::resistance: {
      auto& entry = in.resistance[place];
      if (parse_line(text, {}).numbers.size() == 1)
        entry.resistance_ohm = parse_number(text, quantity::resistance, 1.0);
      else
        std::tie(entry.resistance_ohm, entry.winding_C) =
            parse_pair(text, quantity::resistance, 1.0, quantity::temperature, 1.0);
      break;
    }
    case step_kind::insulation: correct_insulation(in, place, text); break;
    case step_kind::withstand: correct_withstand(in.withstand[place], text); break;
    case step_kind::run_up: refuse_correction(text, "a run-up's reading is corrected where the speed is asked for");
    case step_kind::leakage: in.leakage[place].current_mA = parse_number(text, quantity::current, 1e-3); break;
    case step_kind::starting: correct_starts(in.starts[place], text); break;
    case step_kind::coast_down:
      correct_pair(text, in.coast_down->time_s[place], quantity::time, in.coast_down->speed_rpm[place],
                   quantity::rotation);
      break;
    case step_kind::heat_run: correct_heat(*in.heat_run, place, text); break;
    case step_kind::checks: correct_check(in, place, text); break;
  }
  return in;
}

}  // namespace rewound::tool::dialogue
