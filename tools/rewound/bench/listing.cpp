// SPDX-License-Identifier: MIT
#include "listing.hpp"

#include <rewound/base/error.hpp>
#include <rewound/report/number_text.hpp>

#include "run_up_edit.hpp"

namespace rewound::tool::bench {

namespace {

using report::number_text;

std::vector<std::string> insulation_lines(const job::record& in) {
  std::vector<std::string> out;
  for (const auto& test : in.insulation)
    for (std::size_t i = 0; i < test.time_s.size(); ++i)
      out.push_back(test.circuit + " " + number_text(test.time_s[i]) + " s " + number_text(test.resistance_Mohm[i]) + " Mohm");
  return out;
}

void drop_insulation(job::record& in, std::size_t place) {
  for (auto test = in.insulation.begin(); test != in.insulation.end(); ++test) {
    if (place >= test->time_s.size()) {
      place -= test->time_s.size();
      continue;
    }
    test->time_s.erase(test->time_s.begin() + static_cast<std::ptrdiff_t>(place));
    test->resistance_Mohm.erase(test->resistance_Mohm.begin() + static_cast<std::ptrdiff_t>(place));
    if (test->time_s.empty()) in.insulation.erase(test);
    return;
  }
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
  for (std::size_t i = 0; i < times.size(); ++i) out.push_back(number_text(times[i]) + " s " + number_text(values[i]) + " " + unit);
  return out;
}

void drop_heat(job::record& in, std::size_t place) {
  auto& run = *in.heat_run;
  drop_from(run.time_s, place);
  if (!run.resistance_ohm.empty()) drop_from(run.resistance_ohm, place);
  if (!run.temperature_C.empty()) drop_from(run.temperature_C, place);
  if (run.time_s.empty()) in.heat_run.reset();
}

void drop_coasting(job::record& in, std::size_t place) {
  drop_from(in.coast_down->time_s, place);
  drop_from(in.coast_down->speed_rpm, place);
  if (in.coast_down->time_s.empty()) in.coast_down.reset();
}

}  // namespace

std::vector<std::string> entries_of(const job::record& in, const step& of) {
  std::vector<std::string> out;
  switch (of.kind) {
    case step_kind::earth:
      if (in.earth_continuity_ohm) out.push_back("earth " + number_text(*in.earth_continuity_ohm) + " ohm");
      return out;
    case step_kind::resistance:
      return lines_of(in.resistance, [](const auto& e) { return e.section + " " + number_text(e.resistance_ohm) + " ohm at " + number_text(e.winding_C) + " degC"; });
    case step_kind::insulation: return insulation_lines(in);
    case step_kind::withstand:
      return lines_of(in.withstand, [](const auto& e) { return e.circuit + " " + number_text(e.voltage_V) + " V " + (e.broke_down ? "broke down" : "held"); });
    case step_kind::run_up:
      if (const auto* run = run_up_of(in, of.speed))
        for (std::size_t i = 0; i < run->voltage_V.size(); ++i) out.push_back(reading_words(in, of.speed, i));
      return out;
    case step_kind::leakage: return lines_of(in.leakage, [](const auto& e) { return e.condition + " " + number_text(e.current_mA) + " mA"; });
    case step_kind::starting:
      return lines_of(in.starts, [](const auto& e) { return e.position + " " + std::to_string(e.successes) + " of " + std::to_string(e.attempts); });
    case step_kind::coast_down: return in.coast_down ? pairs(in.coast_down->time_s, in.coast_down->speed_rpm, "rpm") : out;
    case step_kind::heat_run:
      if (!in.heat_run) return out;
      return in.heat_run->resistance_ohm.empty() ? pairs(in.heat_run->time_s, in.heat_run->temperature_C, "degC")
                                                 : pairs(in.heat_run->time_s, in.heat_run->resistance_ohm, "ohm");
    case step_kind::checks:
      for (const auto& [key, passed] : in.checks) out.push_back(key + (passed ? " yes" : " no"));
      return out;
  }
  return out;
}

job::record without_entry(job::record in, const step& of, std::size_t place) {
  const auto count = entries_of(in, of).size();
  if (place >= count)
    throw base::error(base::error_code::out_of_range, {}, std::to_string(place + 1), count == 0 ? "nothing: there is no entry" : "1 to " + std::to_string(count));
  switch (of.kind) {
    case step_kind::earth:
      in.earth_continuity_ohm.reset();
      in.earth_cord_length_m.reset();
      break;
    case step_kind::resistance: drop_from(in.resistance, place); break;
    case step_kind::insulation: drop_insulation(in, place); break;
    case step_kind::withstand: drop_from(in.withstand, place); break;
    case step_kind::run_up: return without_reading(std::move(in), of.speed, place);
    case step_kind::leakage: drop_from(in.leakage, place); break;
    case step_kind::starting: drop_from(in.starts, place); break;
    case step_kind::coast_down: drop_coasting(in, place); break;
    case step_kind::heat_run: drop_heat(in, place); break;
    case step_kind::checks: in.checks.erase(std::next(in.checks.begin(), static_cast<std::ptrdiff_t>(place))); break;
  }
  return in;
}

}  // namespace rewound::tool::bench
