// SPDX-License-Identifier: MIT
#include "dialogue/keeping/listing.hpp"

#include <rewound/base/error.hpp>
#include <rewound/report/number_text.hpp>

#include "dialogue/keeping/rehearsal.hpp"
#include "dialogue/keeping/run_up_edit.hpp"

namespace rewound::tool::dialogue {

namespace {

using report::number_text;

/// The readings of all tests, in order.
std::vector<insulation_place> insulation_places(const record::visit_record& in) {
  std::vector<insulation_place> out;
  for (std::size_t test = 0; test < in.insulation.size(); ++test)
    for (std::size_t i = 0; i < in.insulation[test].rows.size(); ++i) out.push_back({test, i});
  return out;
}

std::vector<std::string> insulation_lines(const record::visit_record& in) {
  std::vector<std::string> out;
  for (const auto& test : in.insulation)
    for (const auto& row : test.rows) out.push_back(insulation_words(test.circuit, row));
  return out;
}

void drop_insulation(record::visit_record& in, std::size_t place) {
  const auto at = insulation_place_of(in, place);
  auto& test = in.insulation[at.test];
  test.rows.erase(test.rows.begin() + static_cast<std::ptrdiff_t>(at.reading));
  if (test.rows.empty()) in.insulation.erase(in.insulation.begin() + static_cast<std::ptrdiff_t>(at.test));
}

template <class Entry, class Words>
std::vector<std::string> lines_of(const std::vector<Entry>& entries, const Words& words) {
  std::vector<std::string> out;
  for (const auto& entry : entries) out.push_back(words(entry));
  return out;
}

template <class Entry>
void drop_from(std::vector<Entry>& entries, std::size_t place) {
  entries.erase(entries.begin() + static_cast<std::ptrdiff_t>(place));
}

std::vector<std::string> pairs(const std::vector<double>& times, const std::vector<double>& values, const char* unit) {
  std::vector<std::string> out;
  for (std::size_t i = 0; i < times.size(); ++i)
    out.push_back(number_text(times[i]) + " s " + number_text(values[i]) + " " + unit);
  return out;
}

std::vector<std::string> heat_lines(const record::heat_run_section& run) {
  auto out = run.resistance_ohm.empty() ? pairs(run.time_s, run.temperature_C, "degC")
                                        : pairs(run.time_s, run.resistance_ohm, "ohm");
  for (const auto& line : pairs(run.cooling_time_s, run.cooling_ohm, "ohm")) out.push_back("switched off " + line);
  return out;
}

void drop_heat(record::visit_record& in, std::size_t place) {
  auto& run = *in.heat_run;
  if (place >= run.time_s.size()) {
    place -= run.time_s.size();
    drop_from(run.cooling_time_s, place);
    drop_from(run.cooling_ohm, place);
    return;
  }
  drop_from(run.time_s, place);
  if (!run.resistance_ohm.empty()) drop_from(run.resistance_ohm, place);
  if (!run.temperature_C.empty()) drop_from(run.temperature_C, place);
  if (run.time_s.empty()) in.heat_run.reset();
}

void drop_coasting(record::visit_record& in, std::size_t place) {
  drop_from(in.coast_down->time_s, place);
  drop_from(in.coast_down->speed_rpm, place);
  if (in.coast_down->time_s.empty()) in.coast_down.reset();
}

}  // namespace

std::string insulation_words(const std::string& circuit, const record::insulation_row& row) {
  return circuit + " " + number_text(row.time_s) + " s " + (row.over_range ? "over " : "") +
         number_text(row.resistance_Mohm) + " Mohm" + (row.over_range ? ", beyond the range" : "");
}

insulation_place insulation_place_of(const record::visit_record& in, std::size_t place) {
  return insulation_places(in)[place];
}

std::vector<std::string> entries_of(const record::visit_record& in, const step& of) {
  std::vector<std::string> out;
  switch (of.kind) {
    case step_kind::earth:
      if (in.earth) out.push_back("earth " + number_text(in.earth->continuity_ohm) + " ohm");
      return out;
    case step_kind::resistance:
      return lines_of(in.resistance, [](const auto& e) {
        return e.section + " " + number_text(e.resistance_ohm) + " ohm at " + number_text(e.winding_C) + " degC";
      });
    case step_kind::insulation: return insulation_lines(in);
    case step_kind::withstand:
      return lines_of(in.withstand, [](const auto& e) {
        return e.circuit + " " + number_text(e.voltage_V) + " V " + (e.broke_down ? "broke down" : "held");
      });
    case step_kind::run_up:
      if (const auto* run = run_up_of(in, of.speed))
        for (std::size_t i = 0; i < run->rows.size(); ++i) out.push_back(reading_words(in, of.speed, i));
      return out;
    case step_kind::leakage:
      return lines_of(in.leakage, [](const auto& e) { return e.condition + " " + number_text(e.current_mA) + " mA"; });
    case step_kind::starting:
      return lines_of(in.starts, [](const auto& e) {
        return e.position + " " + std::to_string(e.successes) + " of " + std::to_string(e.attempts);
      });
    case step_kind::coast_down:
      return in.coast_down ? pairs(in.coast_down->time_s, in.coast_down->speed_rpm, "rpm") : out;
    case step_kind::heat_run: return in.heat_run ? heat_lines(*in.heat_run) : out;
    case step_kind::checks:
      for (const auto& key : answered_checks(in)) out.push_back(key + (in.checks.at(key) ? " yes" : " no"));
      return out;
  }
  return out;
}

void expect_entry(const record::visit_record& in, const step& of, std::size_t place) {
  const auto count = entries_of(in, of).size();
  if (place < count) return;
  throw base::error(base::error_code::out_of_range, {}, std::to_string(place + 1),
                    count == 0 ? "nothing: there is no entry" : "1 to " + std::to_string(count));
}

record::visit_record without_entry(record::visit_record in, const step& of, std::size_t place) {
  expect_entry(in, of, place);
  switch (of.kind) {
    case step_kind::earth: in.earth.reset(); break;
    case step_kind::resistance: drop_from(in.resistance, place); break;
    case step_kind::insulation: drop_insulation(in, place); break;
    case step_kind::withstand: drop_from(in.withstand, place); break;
    case step_kind::run_up: return without_reading(std::move(in), of.speed, place);
    case step_kind::leakage: drop_from(in.leakage, place); break;
    case step_kind::starting: drop_from(in.starts, place); break;
    case step_kind::coast_down: drop_coasting(in, place); break;
    case step_kind::heat_run: drop_heat(in, place); break;
    case step_kind::checks: in.checks.erase(answered_checks(in)[place]); break;
  }
  return in;
}

}  // namespace rewound::tool::dialogue
