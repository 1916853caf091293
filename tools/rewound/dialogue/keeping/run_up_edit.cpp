// SPDX-License-Identifier: MIT
#include "dialogue/keeping/run_up_edit.hpp"

#include <algorithm>

#include <rewound/base/error.hpp>
#include <rewound/report/number_text.hpp>

namespace rewound::tool::dialogue {

namespace {

using base::error;
using base::error_code;
using report::number_text;

record::run_up_section& section_for(record::visit_record& in, const std::string& speed) {
  for (auto& run : in.run_up)
    if (run.speed == speed) return run;
  in.run_up.push_back({.speed = speed});
  return in.run_up.back();
}

/// A channel that all readings of a speed have: the next one should too, or a number was forgotten.
void expect_channel(const record::run_up_section& run, std::optional<double> record::run_up_row::*channel,
                    const std::optional<double>& value, const char* what) {
  if (value || run.rows.empty() || !run.each_has(channel)) return;
  throw error(error_code::missing_key, {"", 0, what}, "nothing",
              std::string(what) + " too, as at the readings before, or `drop " + what + "`");
}

void put_reading(record::run_up_section& run, std::size_t place, const run_up_entry& entry) {
  expect_channel(run, &record::run_up_row::power_W, entry.power_W, "watts");
  expect_channel(run, &record::run_up_row::speed_rpm, entry.speed_rpm, "rpm");
  if (place == run.rows.size()) run.rows.emplace_back();
  auto& row = run.rows[place];
  row.voltage_V = entry.voltage_V;
  row.power_W = entry.power_W;
  row.speed_rpm = entry.speed_rpm;
  if (entry.current_A.size() == 3) {
    row.line_current_A = {entry.current_A[0], entry.current_A[1], entry.current_A[2]};
    row.current_A = record::mean_of(*row.line_current_A);
  } else {
    row.current_A = entry.current_A.front();
  }
  row.turning = !entry.stalled && entry.speed_rpm != 0.0;
  row.over_range = entry.over_range;
}

void expect_reading_at(const record::run_up_section* run, std::size_t place) {
  const std::size_t count = run == nullptr ? 0 : run->rows.size();
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

record::visit_record with_reading(record::visit_record in, const run_up_entry& entry) {
  auto& run = section_for(in, entry.speed);
  // Line voltages read by another hand: one more reading without them would leave a gap.
  if (run.any_has(&record::run_up_row::line_voltage_V))
    throw error(error_code::out_of_range, {"", 0, "line_voltage_V"}, "a speed with line voltages",
                "such a run-up is continued in the file");
  put_reading(run, run.rows.size(), entry);
  return in;
}

record::visit_record with_reading_replaced(record::visit_record in, std::size_t place, const run_up_entry& entry) {
  expect_reading_at(run_up_of(in, entry.speed), place);
  put_reading(section_for(in, entry.speed), place, entry);
  return in;
}

record::visit_record without_reading(record::visit_record in, const std::string& speed, std::size_t place) {
  expect_reading_at(run_up_of(in, speed), place);
  auto& run = section_for(in, speed);
  run.rows.erase(run.rows.begin() + static_cast<std::ptrdiff_t>(place));
  if (run.rows.empty()) std::erase_if(in.run_up, [&](const auto& each) { return each.speed == speed; });
  return in;
}

record::visit_record with_stalled(record::visit_record in, const std::string& speed, std::size_t place) {
  expect_reading_at(run_up_of(in, speed), place);
  section_for(in, speed).rows[place].turning = false;
  return in;
}

namespace {

/// A channel left out of all readings of a speed.
record::visit_record without_channel(record::visit_record in, const std::string& speed,
                                     std::optional<double> record::run_up_row::*channel) {
  expect_reading_at(run_up_of(in, speed), 0);
  for (auto& row : section_for(in, speed).rows) (row.*channel).reset();
  return in;
}

}  // namespace

record::visit_record without_watts(record::visit_record in, const std::string& speed) {
  return without_channel(std::move(in), speed, &record::run_up_row::power_W);
}

record::visit_record without_rpm(record::visit_record in, const std::string& speed) {
  return without_channel(std::move(in), speed, &record::run_up_row::speed_rpm);
}

std::string reading_words(const record::visit_record& in, const std::string& speed, std::size_t place) {
  const auto* run = run_up_of(in, speed);
  if (run == nullptr || place >= run->rows.size()) return "";
  const auto& row = run->rows[place];
  std::string out = speed + (is_typed_number(speed) ? ":" : "") + " " + number_text(row.voltage_V) + " V";
  if (!row.line_current_A) out += (row.over_range ? " over " : " ") + number_text(row.current_A);
  else
    for (const double line : *row.line_current_A) out += " " + number_text(line);
  out += " A";
  if (row.power_W) out += " " + number_text(*row.power_W) + " W";
  if (row.speed_rpm) out += " " + number_text(*row.speed_rpm) + " rpm";
  if (!row.turns()) out += " stalled";
  return out;
}

}  // namespace rewound::tool::dialogue
