// SPDX-License-Identifier: MIT
#include "run_up_edit.hpp"

#include <algorithm>

#include <rewound/base/error.hpp>
#include <rewound/report/number_text.hpp>

#include "read_beside.hpp"

namespace rewound::tool::dialogue {

namespace {

using base::error;
using base::error_code;
using report::number_text;

record::run_up_section& section_for(record::visit_record& in, const std::string& speed) {
  for (auto& run : in.run_up)
    if (run.speed == speed) return run;
  in.run_up.push_back({.speed = speed});
  if (in.machine.phases == 3) in.run_up.back().line_current_A.resize(3);
  return in.run_up.back();
}

template <class Value>
void put(std::vector<Value>& list, std::size_t place, const Value& value) {
  if (place == list.size()) list.push_back(value);
  else list[place] = value;
}

/// A list that all readings of a speed have: the next one needs it too.
void put_channel(std::vector<double>& list, std::size_t place, const std::optional<double>& value, const char* what) {
  if (list.empty()) return;
  if (!value)
    throw error(error_code::missing_key, {"", 0, what}, "nothing",
                std::string(what) + " too, as at the readings before, or `drop " + what + "`");
  put(list, place, *value);
}

/// What this reading has that the speed's lists do not hold is noted beside it, until all its readings have it.
std::string tell_beside(const record::run_up_section& run, const run_up_entry& entry) {
  const bool watts = entry.power_W && run.power_W.empty();
  const bool rpm = entry.speed_rpm && run.speed_rpm.empty();
  if (!watts && !rpm) return "";
  return std::string(watts && rpm ? "watts and rpm are"
                     : watts      ? "watts are"
                                  : "rpm are") +
         " noted beside this reading and not judged yet: other readings have none. `correct 1 ...` with them completes "
         "the list";
}

void put_reading(record::visit_record& in, record::run_up_section& run, std::size_t place, const run_up_entry& entry,
                 std::string& told) {
  const std::size_t count = run.voltage_V.size();
  auto beside = take_beside(in, run);
  put_channel(run.power_W, place, entry.power_W, "watts");
  put_channel(run.speed_rpm, place, entry.speed_rpm, "rpm");
  double mean = 0.0;
  for (const double line : entry.current_A) mean += line;
  mean /= static_cast<double>(entry.current_A.size());  // as the record's reader has it, to the last digit
  put(run.voltage_V, place, entry.voltage_V);
  put(run.current_A, place, mean);
  put(beside, place, beside_reading{entry.power_W, entry.speed_rpm});
  for (std::size_t line = 0; line < run.line_current_A.size(); ++line)
    put(run.line_current_A[line], place, entry.current_A[line]);
  put_beside(in, run, beside);
  told = tell_beside(run, entry);
  const bool rpm_says = !run.speed_rpm.empty() && run.turning.empty();
  const bool stood = entry.stalled || (entry.speed_rpm && *entry.speed_rpm == 0.0);
  const bool marks = stood && !rpm_says;
  if (marks && run.turning.empty()) run.turning.assign(count, true);
  if (marks || !run.turning.empty()) put(run.turning, place, !stood);
}

void expect_reading_at(const record::run_up_section* run, std::size_t place) {
  const std::size_t count = run == nullptr ? 0 : run->voltage_V.size();
  if (place < count) return;
  throw error(error_code::out_of_range, {}, "reading " + std::to_string(place + 1),
              count == 0 ? "nothing: this speed has no reading yet" : "1 to " + std::to_string(count));
}

}  // namespace

const record::run_up_section* run_up_of(const record::visit_record& in, const std::string& speed) {
  for (const auto& run : in.run_up)
    if (run.speed == speed) return &run;
  return nullptr;
}

changed_run_up with_reading(record::visit_record in, const run_up_entry& entry) {
  changed_run_up out;
  auto& run = section_for(in, entry.speed);
  // Line voltages read by another hand: one more reading without them would leave the lists uneven.
  if (!run.line_voltage_V.empty())
    throw error(error_code::out_of_range, {"", 0, "line_voltage_V"}, "a speed with line voltages",
                "such a run-up is continued in the file");
  put_reading(in, run, run.voltage_V.size(), entry, out.told);
  out.record = std::move(in);
  return out;
}

changed_run_up with_reading_replaced(record::visit_record in, std::size_t place, const run_up_entry& entry) {
  expect_reading_at(run_up_of(in, entry.speed), place);
  changed_run_up out;
  put_reading(in, section_for(in, entry.speed), place, entry, out.told);
  out.record = std::move(in);
  return out;
}

record::visit_record without_reading(record::visit_record in, const std::string& speed, std::size_t place) {
  expect_reading_at(run_up_of(in, speed), place);
  auto& run = section_for(in, speed);
  auto beside = take_beside(in, run);
  beside.erase(beside.begin() + static_cast<std::ptrdiff_t>(place));
  const auto cut = [place](auto& list) {
    if (place < list.size()) list.erase(list.begin() + static_cast<std::ptrdiff_t>(place));
  };
  for (auto* list : {&run.voltage_V, &run.current_A, &run.power_W, &run.speed_rpm}) cut(*list);
  for (auto& line : run.line_current_A) cut(line);
  for (auto& line : run.line_voltage_V) cut(line);
  cut(run.turning);
  put_beside(in, run, beside);
  if (run.voltage_V.empty()) std::erase_if(in.run_up, [&](const auto& each) { return each.speed == speed; });
  return in;
}

record::visit_record with_stalled(record::visit_record in, const std::string& speed, std::size_t place) {
  expect_reading_at(run_up_of(in, speed), place);
  auto& run = section_for(in, speed);
  if (run.turning.empty()) run.turning.assign(run.voltage_V.size(), true);
  run.turning[place] = false;
  return in;
}

namespace {

/// A channel left out of a speed's list and of the notes beside its readings.
record::visit_record without_channel(record::visit_record in, const std::string& speed,
                                     std::vector<double> record::run_up_section::*list,
                                     std::optional<double> beside_reading::*channel) {
  expect_reading_at(run_up_of(in, speed), 0);
  auto& run = section_for(in, speed);
  auto beside = take_beside(in, run);
  (run.*list).clear();
  for (auto& each : beside) (each.*channel).reset();
  put_beside(in, run, beside);
  return in;
}

}  // namespace

record::visit_record without_watts(record::visit_record in, const std::string& speed) {
  return without_channel(std::move(in), speed, &record::run_up_section::power_W, &beside_reading::power_W);
}

record::visit_record without_rpm(record::visit_record in, const std::string& speed) {
  return without_channel(std::move(in), speed, &record::run_up_section::speed_rpm, &beside_reading::speed_rpm);
}

std::string reading_words(const record::visit_record& in, const std::string& speed, std::size_t place) {
  const auto* run = run_up_of(in, speed);
  if (run == nullptr || place >= run->voltage_V.size()) return "";
  std::string out = speed + (is_typed_number(speed) ? ": " : " ") + number_text(run->voltage_V[place]) + " V ";
  if (run->line_current_A.empty()) out += number_text(run->current_A[place]);
  for (std::size_t line = 0; line < run->line_current_A.size(); ++line)
    out += (line == 0 ? "" : " ") + number_text(run->line_current_A[line][place]);
  out += " A";
  const auto beside = beside_of(in, *run)[place];
  if (beside.power_W) out += " " + number_text(*beside.power_W) + " W";
  if (beside.speed_rpm) out += " " + number_text(*beside.speed_rpm) + " rpm";
  if (!run->power_W.empty()) out += " " + number_text(run->power_W[place]) + " W";
  if (!run->speed_rpm.empty()) out += " " + number_text(run->speed_rpm[place]) + " rpm";
  if (!run->turning.empty() && !run->turning[place]) out += " stalled";
  return out;
}

}  // namespace rewound::tool::dialogue
