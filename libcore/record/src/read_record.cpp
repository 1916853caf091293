// SPDX-License-Identifier: MIT
#include <rewound/record/record.hpp>

#include <algorithm>
#include <filesystem>

#include "blank_record_text.hpp"
#include <rewound/record/readers.hpp>
#include <rewound/record/words.hpp>
#include "tables.hpp"

namespace rewound::record {

using base::error;
using base::error_code;

namespace {

constexpr long most_starts = 1000000;

/// Lists that belong together: `list` has to be as long as `leader`; an absent list is not held against anybody.
void same_length(const fields& in, const char* list, std::size_t length, const char* leader, std::size_t expected) {
  if (length == expected) return;
  throw error(error_code::unequal_lengths, in.place_of(list), std::to_string(length) + " values",
              std::to_string(expected) + ", as many as in " + leader);
}

void rising(const fields& in, const char* list, const std::vector<double>& times) {
  for (std::size_t i = 1; i < times.size(); ++i)
    if (!(times[i] > times[i - 1]))
      throw error(error_code::not_rising, in.place_of(list),
                  std::to_string(times[i]) + " after " + std::to_string(times[i - 1]), "times that rise");
}

/// An instrument that answers by itself has an address and a query; one of them alone says nothing.
void hold_link_against(const fields& in, const instrument_section& out) {
  if (out.address.has_value() != out.query.has_value())
    throw error(error_code::missing_key, in.place_of(out.address ? "query" : "address"), "nothing",
                out.address ? "query beside address" : "address beside query");
  if (!out.address) return;
  const auto starts = [&](std::string_view with) {
    return out.address->starts_with(with) && out.address->size() > with.size();
  };
  if (!starts("tcp://") && !starts("serial:"))
    throw error(error_code::out_of_range, in.place_of("address"), "\"" + *out.address + "\"",
                "tcp://host:port or serial:/dev/name, with @baud behind it where it is not 9600");
}

instrument_section read_instrument(fields& in) {
  instrument_section out;
  out.name = in.optional_text("name");
  out.reading_percent = in.number("reading_percent", percent_range);
  out.digits = in.number("digits", range{0.0, 10000.0, "a number from 0 to 10000"});
  out.resolution = in.number("resolution", above_zero);
  out.address = in.optional_text("address");
  out.query = in.optional_text("query");
  out.timeout_s = in.optional_number("timeout_s", range{0.0, 600.0, "a time above 0 and up to 600 s", true});
  hold_link_against(in, out);
  in.finish();
  return out;
}

/// Fills a column of the rows, from a list as long as they are.
template <class Value>
void fill(const fields& in, const char* list, const std::vector<Value>& values, std::vector<run_up_row>& rows,
          std::optional<Value> run_up_row::*member) {
  if (values.empty()) return;
  same_length(in, list, values.size(), "voltage_V", rows.size());
  for (std::size_t i = 0; i < rows.size(); ++i) rows[i].*member = values[i];
}

/// Three lists, one a line.
void fill_lines(const fields& in, const char* key, const std::vector<std::vector<double>>& lists,
                std::vector<run_up_row>& rows, std::optional<three_lines> run_up_row::*member) {
  for (const auto& list : lists) same_length(in, key, list.size(), "voltage_V", rows.size());
  for (std::size_t i = 0; i < rows.size(); ++i) rows[i].*member = three_lines{lists[0][i], lists[1][i], lists[2][i]};
}

void read_currents(fields& in, int phases, std::vector<run_up_row>& rows) {
  if (phases == 1) {
    const auto currents = in.numbers("current_A", not_negative);
    same_length(in, "current_A", currents.size(), "voltage_V", rows.size());
    for (std::size_t i = 0; i < rows.size(); ++i) rows[i].current_A = currents[i];
    return;
  }
  const auto lines = in.number_lists("current_A", not_negative);
  if (lines.size() != 3)
    throw error(error_code::unequal_lengths, in.place_of("current_A"), std::to_string(lines.size()) + " lists",
                "three lists, one a line");
  fill_lines(in, "current_A", lines, rows, &run_up_row::line_current_A);
  for (auto& row : rows) row.current_A = mean_of(*row.line_current_A);
}

/// A rotor of 0 rpm does not turn, whether or not the record says so in words; and none outruns its field.
///
/// @param said  that the rotor turned or not; nothing where the record is silent
/// @param at    which reading of a list
void hold_rotation_against(const fields& in, const machine_section& machine, std::optional<bool> said, run_up_row& row,
                           const std::string& at) {
  constexpr double meter_leeway = 1.02;
  row.turning = said.value_or(row.speed_rpm != 0.0);
  if (!row.speed_rpm) return;
  const double rpm = *row.speed_rpm;
  if (said && *said != (rpm > 0.0))
    throw error(error_code::out_of_range, in.place_of("speed_rpm"), shown_number(rpm) + at,
                std::string("a speed that agrees with turning = ") + (*said ? "true" : "false"));
  const double fastest = 120.0 * machine.rated_frequency_Hz / machine.poles.value_or(2);
  if (rpm > meter_leeway * fastest)
    throw error(error_code::out_of_range, in.place_of("speed_rpm"), shown_number(rpm) + at,
                "at most the synchronous speed, " + shown_number(fastest) +
                    (machine.poles ? " for these poles" : " for two poles"));
}

void read_leads(fields& in, int phases, run_up_section& out) {
  out.leads_rolled = in.optional_choice<int>("leads", words::leads).value_or(0);
  if (phases != 3 && in.has("leads"))
    throw error(error_code::out_of_range, in.place_of("leads"), "leads on one phase",
                "nothing: three phases have leads to roll");
}

/// The meter's voltage lies among those of the three lines.
void hold_lines_against(const fields& in, int phases, const char* key, const std::vector<run_up_row>& rows) {
  constexpr double slack = 0.02;  // of another meter, or another moment; common practice, no source
  for (const auto& row : rows) {
    if (!row.line_voltage_V) continue;
    if (phases != 3)
      throw error(error_code::unequal_lengths, in.place_of(key), "line_voltage_V, phases = " + std::to_string(phases),
                  "line_voltage_V on a machine of three phases");
    const auto [low, high] = std::minmax_element(row.line_voltage_V->begin(), row.line_voltage_V->end());
    if (row.voltage_V < *low * (1.0 - slack) || row.voltage_V > *high * (1.0 + slack))
      throw error(
          error_code::out_of_range, in.place_of(key),
          shown_number(*low) + " to " + shown_number(*high) + " beside voltage_V " + shown_number(row.voltage_V),
          "voltage_V between the lowest and the highest of the three lines");
  }
}

/// Volts between the lines, for keys that only a three-phase machine has.
void read_lines(fields& in, int phases, run_up_section& out) {
  read_leads(in, phases, out);
  if (!in.has("line_voltage_V")) return;
  const auto lines = in.number_lists("line_voltage_V", not_negative);
  if (phases != 3 || lines.size() != 3)
    throw error(error_code::unequal_lengths, in.place_of("line_voltage_V"),
                std::to_string(lines.size()) + " lists, phases = " + std::to_string(phases),
                "three lists, one a pair of lines, on a machine of three phases");
  fill_lines(in, "line_voltage_V", lines, out.rows, &run_up_row::line_voltage_V);
  hold_lines_against(in, phases, "line_voltage_V", out.rows);
}

/// The readings of a speed as lists side by side.
void read_lists(fields& in, const machine_section& machine, run_up_section& out) {
  for (const double volts : in.numbers("voltage_V", not_negative)) out.rows.push_back({.voltage_V = volts});
  read_currents(in, machine.phases, out.rows);
  read_lines(in, machine.phases, out);
  fill(in, "power_W", in.optional_numbers("power_W", not_negative), out.rows, &run_up_row::power_W);
  fill(in, "speed_rpm", in.optional_numbers("speed_rpm", not_negative), out.rows, &run_up_row::speed_rpm);
  const auto turning = in.optional_flags("turning");
  if (!turning.empty()) same_length(in, "turning", turning.size(), "voltage_V", out.rows.size());
  for (std::size_t i = 0; i < out.rows.size(); ++i)
    hold_rotation_against(in, machine, turning.empty() ? std::nullopt : std::optional<bool>(turning[i]), out.rows[i],
                          " at reading " + std::to_string(i + 1));
}

/// Three numbers, one a line.
three_lines read_three(fields& in, const char* key) {
  const auto lines = in.numbers(key, not_negative);
  if (lines.size() != 3)
    throw error(error_code::unequal_lengths, in.place_of(key), std::to_string(lines.size()) + " values",
                "three, one a line");
  return {lines[0], lines[1], lines[2]};
}

run_up_row read_row(fields& in, const machine_section& machine) {
  run_up_row out;
  out.voltage_V = in.number("voltage_V", not_negative);
  if (machine.phases == 1) {
    out.current_A = in.number("current_A", not_negative);
  } else {
    out.line_current_A = read_three(in, "current_A");
    out.current_A = mean_of(*out.line_current_A);
  }
  if (in.has("line_voltage_V")) out.line_voltage_V = read_three(in, "line_voltage_V");
  out.power_W = in.optional_number("power_W", not_negative);
  out.speed_rpm = in.optional_number("speed_rpm", not_negative);
  const auto turning = in.optional_flag("turning");
  if (turning) out.turning = *turning;
  hold_rotation_against(in, machine, turning, out, "");
  out.winding_C = in.optional_number("winding_C", temperature_range);
  out.over_range = in.optional_flag("over_range").value_or(false);
  out.remark = in.optional_text("remark");
  in.finish();
  return out;
}

/// The readings of a speed as rows.
void read_rows(fields& in, const machine_section& machine, run_up_section& out) {
  for (const char* list : {"voltage_V", "current_A", "line_voltage_V", "power_W", "speed_rpm", "turning"})
    if (in.has(list))
      throw error(error_code::unknown_key, in.place_of(list), "a list beside rows", "rows or lists, not both");
  for (auto& row : in.tables("rows")) out.rows.push_back(read_row(row, machine));
  if (out.rows.empty())
    throw error(error_code::empty_list, in.place_of("rows"), "an empty list", "at least one reading");
  read_leads(in, machine.phases, out);
  hold_lines_against(in, machine.phases, "rows", out.rows);
}

run_up_section read_run_up(fields& in, const machine_section& machine) {
  run_up_section out;
  out.speed = in.text("speed");
  if (std::find(machine.speeds.begin(), machine.speeds.end(), out.speed) == machine.speeds.end()) {
    std::string listed;
    for (const auto& speed : machine.speeds) listed += (listed.empty() ? "" : ", ") + speed;
    throw error(error_code::not_a_choice, in.place_of("speed"), "\"" + out.speed + "\"",
                "a speed listed under [machine]: " + listed);
  }
  if (in.has("rows")) read_rows(in, machine, out);
  else read_lists(in, machine, out);
  out.winding_C = in.optional_number("winding_C", temperature_range);
  in.finish();
  return out;
}

std::vector<run_up_section> read_run_ups(fields& root, const machine_section& machine) {
  auto entries = root.tables("run_up");
  // An explicit empty list says that nothing was run up yet; a list that is not there was forgotten.
  if (entries.empty() && !root.has("run_up"))
    throw error(error_code::missing_key, root.place_of("run_up"), "no run-up",
                "at least one [[run_up]] with voltage_V and current_A");
  std::vector<run_up_section> out;
  for (auto& entry : entries) {
    out.push_back(read_run_up(entry, machine));
    for (std::size_t i = 0; i + 1 < out.size(); ++i)
      if (out[i].speed == out.back().speed && out[i].leads_rolled == out.back().leads_rolled)
        throw error(error_code::repeated, entry.place_of("speed"), "\"" + out.back().speed + "\" a second time",
                    "one [[run_up]] a speed; repeated readings belong in its lists");
  }
  for (std::size_t i = 0; i < out.size(); ++i)
    if (out[i].leads_rolled != 0 && std::none_of(out.begin(), out.end(), [&](const auto& one) {
          return one.speed == out[i].speed && one.leads_rolled == 0;
        }))
      throw error(error_code::missing_key, entries[i].place_of("leads"), "rolled leads alone",
                  "a [[run_up]] of speed " + out[i].speed + " with the leads as marked beside it");
  return out;
}

insulation_section read_insulation(fields& in, const visit_section& visit) {
  insulation_section out;
  out.circuit = in.text("circuit");
  out.test_voltage_V = in.number("test_voltage_V", above_zero);
  out.winding_C = in.optional_number("winding_C", temperature_range);
  if (!out.winding_C && !visit.ambient_C)
    throw error(error_code::missing_key, in.place_of("winding_C"), "nothing",
                "winding_C, or ambient_C under [visit], which then stands in for it");
  out.connection = in.optional_choice<record::winding_connection>("connection", words::connection)
                       .value_or(record::winding_connection::whole_winding);
  out.time_s = in.numbers("time_s", above_zero);
  out.resistance_Mohm = in.numbers("resistance_Mohm", above_zero);
  same_length(in, "resistance_Mohm", out.resistance_Mohm.size(), "time_s", out.time_s.size());
  rising(in, "time_s", out.time_s);
  in.finish();
  return out;
}

starts_section read_starts(fields& in) {
  starts_section out;
  out.position = in.text("position");
  out.attempts = in.whole("attempts", 1, 1000000);
  out.successes = in.whole("successes", 0, 1000000);
  if (out.successes > out.attempts)
    throw error(error_code::out_of_range, in.place_of("successes"), std::to_string(out.successes),
                "a count from 0 to attempts, here " + std::to_string(out.attempts));
  out.lowest_starting_V = in.optional_number("lowest_starting_V", above_zero);
  out.time_to_speed_s = in.optional_number("time_to_speed_s", above_zero);
  in.finish();
  return out;
}

coast_down_section read_coast_down(fields& in) {
  coast_down_section out;
  out.inertia_kgm2 = in.optional_number("inertia_kgm2", above_zero);
  out.time_s = in.numbers("time_s", not_negative);
  out.speed_rpm = in.numbers("speed_rpm", not_negative);
  same_length(in, "speed_rpm", out.speed_rpm.size(), "time_s", out.time_s.size());
  rising(in, "time_s", out.time_s);
  in.finish();
  return out;
}

heat_run_section read_heat_run(fields& in) {
  heat_run_section out;
  out.cold_ohm = in.number("cold_ohm", above_zero);
  out.cold_C = in.number("cold_C", temperature_range);
  out.ambient_C = in.number("ambient_C", temperature_range);
  out.voltage_V = in.optional_number("voltage_V", above_zero);
  out.time_s = in.numbers("time_s", not_negative);
  rising(in, "time_s", out.time_s);
  out.resistance_ohm = in.optional_numbers("resistance_ohm", above_zero);
  out.temperature_C = in.optional_numbers("temperature_C", temperature_range);
  if (out.resistance_ohm.empty() == out.temperature_C.empty())
    throw error(error_code::missing_key, in.place(), out.resistance_ohm.empty() ? "neither list" : "both lists",
                "either resistance_ohm or temperature_C");
  if (!out.resistance_ohm.empty())
    same_length(in, "resistance_ohm", out.resistance_ohm.size(), "time_s", out.time_s.size());
  else same_length(in, "temperature_C", out.temperature_C.size(), "time_s", out.time_s.size());
  out.cooling_time_s = in.optional_numbers("cooling_time_s", not_negative);
  rising(in, "cooling_time_s", out.cooling_time_s);
  out.cooling_ohm = in.optional_numbers("cooling_ohm", above_zero);
  same_length(in, "cooling_ohm", out.cooling_ohm.size(), "cooling_time_s", out.cooling_time_s.size());
  in.finish();
  return out;
}

void read_instruments(fields& root, visit_record& out) {
  auto section = root.optional_table("instruments");
  if (!section) return;
  for (const char* name :
       {"voltmeter", "ammeter", "wattmeter", "tachometer", "ohmmeter", "insulation_tester", "thermometer"})
    if (auto instrument = section->optional_table(name)) out.instruments.emplace(name, read_instrument(*instrument));
  section->finish();
}

void read_sections(fields& root, visit_record& out) {
  for (auto& entry : root.tables("insulation")) out.insulation.push_back(read_insulation(entry, out.visit));
  for (auto& entry : root.tables("resistance")) out.resistance.push_back(read_resistance(entry, out.machine));
  expect_sound_sections(root, out.resistance);
  for (auto& entry : root.tables("withstand")) out.withstand.push_back(read_withstand(entry));
  for (auto& entry : root.tables("leakage")) out.leakage.push_back(read_leakage(entry));
  if (auto earth = root.optional_table("earth")) {
    out.earth_continuity_ohm = earth->number("continuity_ohm", not_negative);
    out.earth_cord_length_m = earth->optional_number("cord_length_m", length_range);
    earth->finish();
  }
  if (auto cord = root.optional_table("cord")) out.cord = read_cord(*cord);
  for (auto& entry : root.tables("starts")) {
    out.starts.push_back(read_starts(entry));
    long total = 0;
    for (const auto& one : out.starts) total += one.attempts;
    if (total > most_starts)
      throw error(error_code::out_of_range, entry.place_of("attempts"), std::to_string(total) + " attempts in all",
                  "1000000 attempts or fewer in one visit");
  }
  if (auto entry = root.optional_table("coast_down")) out.coast_down = read_coast_down(*entry);
  if (auto entry = root.optional_table("heat_run")) out.heat_run = read_heat_run(*entry);
  if (auto entry = root.optional_table("checks"))
    for (auto& [key, passed] : entry->free_flags()) out.checks.emplace(key, passed);
}

}  // namespace

visit_record record_from(const node& document) {
  fields root(document, "");
  root.expect_format(words::record_format);
  visit_record out;
  auto machine = root.table("machine");
  out.machine = read_machine(machine);
  auto visit = root.table("visit");
  out.visit = read_visit(visit);
  read_instruments(root, out);
  for (auto& run : read_run_ups(root, out.machine))
    (run.leads_rolled == 0 ? out.run_up : out.rolled_run_up).push_back(std::move(run));
  read_sections(root, out);
  root.finish();
  return out;
}

visit_record load_record(const std::string& path) {
  auto document = read_toml_file(path);
  expand_tables(document, std::filesystem::path(path).parent_path().string());
  return record_from(document);
}

std::string_view blank_record() { return detail::blank_record_text; }

}  // namespace rewound::record
