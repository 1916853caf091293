// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <concepts>
#include <cstdio>

#include <rewound/record/words.hpp>

// The keys of a record, written: the counterpart of read_record.cpp, read_machine.cpp and read_cold.cpp.
namespace rewound::record {

namespace {

/// A text as TOML's basic string.
std::string in_quotes(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    if (static_cast<unsigned char>(c) >= 0x20 && c != 0x7f) {
      out += c;
      continue;
    }
    char escaped[8];
    std::snprintf(escaped, sizeof escaped, "\\u%04x", static_cast<unsigned>(static_cast<unsigned char>(c)));
    out += escaped;
  }
  return out + "\"";
}

/// A key as it stands, or quoted where TOML asks for it.
std::string key_of(const std::string& name) {
  const auto bare = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
  };
  return !name.empty() && std::all_of(name.begin(), name.end(), bare) ? name : in_quotes(name);
}

std::string written(const std::string& value) { return in_quotes(value); }
std::string written(bool value) { return value ? "true" : "false"; }
std::string written(int value) { return std::to_string(value); }
std::string written(const date& value) { return value.iso(); }

/// The shortest digits that give the same number again; a whole number is written as one.
std::string written(double value) {
  char text[40];
  const auto end = std::to_chars(text, text + sizeof text, value).ptr;
  return {text, end};
}

template <class Value>
std::string written(const std::vector<Value>& values) {
  std::string out;
  for (const auto& value : values) out += (out.empty() ? "" : ", ") + written(static_cast<Value>(value));
  return "[" + out + "]";
}

/// Gathers the lines of one file.
class lines {
 public:
  void head(const std::string& text) { text_ += "\n" + text + "\n"; }

  template <class Value>
  void key(const char* name, const Value& value) {
    text_ += std::string(name) + " = " + written(value) + "\n";
  }

  template <class Value>
  void key(const char* name, const std::optional<Value>& value) {
    if (value) key(name, *value);
  }

  template <class Value>
  void list(const char* name, const std::vector<Value>& values) {
    if (!values.empty()) key(name, values);
  }

  /// A value whose absence says the same.
  template <std::equality_comparable Value>
  void unless(const char* name, const Value& value, const Value& usual) {
    if (!(value == usual)) key(name, value);
  }

  /// A list of values as they are written, one a line.
  void block(const char* name, const std::vector<std::string>& values) {
    text_ += std::string(name) + " = [\n";
    for (const auto& value : values) text_ += "  " + value + ",\n";
    text_ += "]\n";
  }

  const std::string& text() const { return text_; }

 private:
  std::string text_;
};

/// The word that stands for a value, the first where there are several.
template <class Value, std::size_t Count>
std::string word_for(const Value& value, const std::array<words::word<Value>, Count>& known) {
  const auto found = std::find_if(known.begin(), known.end(), [&](const auto& entry) { return entry.second == value; });
  return found == known.end() ? std::string() : found->first;
}

template <class Value, std::size_t Count>
std::optional<std::string> word_for(const std::optional<Value>& value,
                                    const std::array<words::word<Value>, Count>& known) {
  if (!value) return std::nullopt;
  return word_for(*value, known);
}

void write_machine(const machine_section& in, lines& out) {
  out.head("[machine]");
  out.key("id", in.id);
  out.key("model", in.model);
  out.key("description", in.description);
  out.key("phases", in.phases);
  out.key("rated_voltage_V", in.rated_voltage_V);
  out.key("rated_frequency_Hz", in.rated_frequency_Hz);
  out.key("rated_current_A", in.rated_current_A);
  out.key("rated_power_W", in.rated_power_W);
  out.key("rated_tolerance_percent", in.rated_tolerance_percent);
  out.key("poles", in.poles);
  out.key("rotor_resistance_ohm", in.rotor_resistance_ohm);
  out.key("speeds", in.speeds);
  out.key("speed_control", word_for(in.speed_control, words::speed_control));
  out.key("running_circuit", word_for(in.running_circuit, words::running_circuit));
  out.key("winding_kind", word_for(in.winding_kind, words::winding_kind));
  out.key("insulation_class", word_for(in.insulation_class, words::insulation_class));
  out.key("insulation_system", word_for(in.insulation_system, words::insulation_system));
  out.key("wound_year", in.wound_year);
  out.key("appliance_class", word_for(in.appliance_class, words::appliance_class));
  out.key("frame_earthed", in.frame_earthed);
  out.key("portable", in.portable);
}

void write_visit(const visit_section& in, lines& out) {
  out.head("[visit]");
  out.key("date", in.day);
  out.key("state", word_for(in.state, words::state));
  out.list("work", in.work);
  out.key("ambient_C", in.ambient_C);
  out.key("humidity_percent", in.humidity_percent);
  out.key("supply_voltage_V", in.supply_voltage_V);
  out.key("supply_frequency_Hz", in.supply_frequency_Hz);
  out.key("shaft", word_for(in.shaft, words::shaft));
}

/// Three lists, one a line.
std::vector<std::vector<double>> by_line(const run_up_section& in, std::optional<three_lines> run_up_row::*member) {
  std::vector<std::vector<double>> out(3);
  for (const auto& lines : in.column(member))
    for (std::size_t line = 0; line < 3; ++line) out[line].push_back(lines[line]);
  return out;
}

/// Can lists side by side hold these rows? Each column has a value in every row or in none.
bool even(const run_up_section& in) {
  const auto all_or_none = [&](auto member) { return !in.any_has(member) || in.each_has(member); };
  const bool of_row = in.any_has(&run_up_row::remark) || in.any_has(&run_up_row::winding_C) ||
                      std::any_of(in.rows.begin(), in.rows.end(), [](const auto& row) { return row.over_range; });
  return !of_row && all_or_none(&run_up_row::power_W) && all_or_none(&run_up_row::speed_rpm) &&
         all_or_none(&run_up_row::line_current_A) && all_or_none(&run_up_row::line_voltage_V);
}

/// A row as a table on one line.
std::string row_text(const run_up_row& in) {
  std::string out;
  const auto add = [&](const char* name, const auto& value) {
    out += (out.empty() ? " " : ", ") + std::string(name) + " = " + written(value);
  };
  const auto add_known = [&](const char* name, const auto& value) {
    if (value) add(name, *value);
  };
  const auto in_list = [](const three_lines& lines) { return std::vector<double>(lines.begin(), lines.end()); };
  add("voltage_V", in.voltage_V);
  if (in.line_current_A) add("current_A", in_list(*in.line_current_A));
  else add("current_A", in.current_A);
  if (in.line_voltage_V) add("line_voltage_V", in_list(*in.line_voltage_V));
  add_known("power_W", in.power_W);
  add_known("speed_rpm", in.speed_rpm);
  if (!in.turns()) add("turning", false);
  add_known("winding_C", in.winding_C);
  if (in.over_range) add("over_range", true);
  add_known("remark", in.remark);
  return "{" + out + " }";
}

void write_lists(const run_up_section& in, lines& out) {
  out.key("voltage_V", in.column(&run_up_row::voltage_V));
  if (in.any_has(&run_up_row::line_current_A)) out.key("current_A", by_line(in, &run_up_row::line_current_A));
  else out.key("current_A", in.column(&run_up_row::current_A));
  if (in.any_has(&run_up_row::line_voltage_V)) out.key("line_voltage_V", by_line(in, &run_up_row::line_voltage_V));
  out.list("power_W", in.column(&run_up_row::power_W));
  out.list("speed_rpm", in.column(&run_up_row::speed_rpm));
  std::vector<bool> turning;
  for (const auto& row : in.rows) turning.push_back(row.turns());
  if (std::find(turning.begin(), turning.end(), false) != turning.end()) out.list("turning", turning);
}

void write_run_up(const run_up_section& in, lines& out) {
  out.head("[[run_up]]");
  out.key("speed", in.speed);
  if (in.leads_rolled != 0) out.key("leads", word_for(in.leads_rolled, words::leads));
  if (even(in)) {
    write_lists(in, out);
  } else {
    std::vector<std::string> rows;
    for (const auto& row : in.rows) rows.push_back(row_text(row));
    out.block("rows", rows);
  }
  out.key("winding_C", in.winding_C);
}

void write_insulation(const insulation_section& in, lines& out) {
  out.head("[[insulation]]");
  out.key("circuit", in.circuit);
  out.key("test_voltage_V", in.test_voltage_V);
  out.key("winding_C", in.winding_C);
  out.unless("connection", word_for(in.connection, words::connection), std::string(words::connection.front().first));
  out.key("time_s", in.time_s);
  out.key("resistance_Mohm", in.resistance_Mohm);
}

void write_resistance(const resistance_section& in, lines& out) {
  out.head("[[resistance]]");
  out.key("section", in.section);
  out.key("resistance_ohm", in.resistance_ohm);
  out.key("winding_C", in.winding_C);
  out.key("expected_ohm", in.expected_ohm);
  out.unless("expected_C", in.expected_C, resistance_section{}.expected_C);
  out.key("wire_diameter_mm", in.wire_diameter_mm);
  out.key("wire_awg", in.wire_awg);
  out.key("turns", in.turns);
  out.key("mean_turn_mm", in.mean_turn_mm);
  out.unless("parallel", in.parallel, 1);
  out.unless("material", word_for(in.material, words::material), std::string(words::material.front().first));
  out.key("lead_resistance_ohm", in.lead_resistance_ohm);
  out.unless("four_wire", in.four_wire, false);
  out.key("equal_group", in.equal_group);
  out.key("speed", in.speed);
}

void write_withstand(const withstand_section& in, lines& out) {
  out.head("[[withstand]]");
  out.key("circuit", in.circuit);
  out.key("voltage_V", in.voltage_V);
  out.key("kind", word_for(in.kind, words::withstand_kind));
  out.key("duration_s", in.duration_s);
  out.key("leakage_mA", in.leakage_mA);
  out.unless("broke_down", in.broke_down, false);
  out.key("winding_state", word_for(in.state, words::winding_state));
  out.unless("component", in.component, false);
}

void write_leakage(const leakage_section& in, lines& out) {
  out.head("[[leakage]]");
  out.key("condition", in.condition);
  out.key("current_mA", in.current_mA);
  out.key("kind", word_for(in.kind, words::leakage_kind));
  out.key("polarity", word_for(in.reversed, words::polarity));
  out.key("switch", word_for(in.switched_on, words::switched));
  out.key("voltage_V", in.voltage_V);
}

void write_touch(const visit_record& in, lines& out) {
  for (const auto& entry : in.withstand) write_withstand(entry, out);
  for (const auto& entry : in.leakage) write_leakage(entry, out);
  if (in.earth_continuity_ohm) {
    out.head("[earth]");
    out.key("continuity_ohm", *in.earth_continuity_ohm);
    out.key("cord_length_m", in.earth_cord_length_m);
  }
  if (!in.cord) return;
  out.head("[cord]");
  out.key("conductor_mm2", in.cord->conductor_mm2);
  out.key("conductor_awg", in.cord->conductor_awg);
  out.key("length_m", in.cord->length_m);
  out.key("conductors", in.cord->conductors);
}

void write_running_down(const visit_record& in, lines& out) {
  if (in.coast_down) {
    out.head("[coast_down]");
    out.key("inertia_kgm2", in.coast_down->inertia_kgm2);
    out.key("time_s", in.coast_down->time_s);
    out.key("speed_rpm", in.coast_down->speed_rpm);
  }
  if (!in.heat_run) return;
  out.head("[heat_run]");
  out.key("cold_ohm", in.heat_run->cold_ohm);
  out.key("cold_C", in.heat_run->cold_C);
  out.key("ambient_C", in.heat_run->ambient_C);
  out.key("voltage_V", in.heat_run->voltage_V);
  out.key("time_s", in.heat_run->time_s);
  out.list("resistance_ohm", in.heat_run->resistance_ohm);
  out.list("temperature_C", in.heat_run->temperature_C);
  out.list("cooling_time_s", in.heat_run->cooling_time_s);
  out.list("cooling_ohm", in.heat_run->cooling_ohm);
}

void write_instruments(const visit_record& in, lines& out) {
  for (const auto& [name, meter] : in.instruments) {
    out.head("[instruments." + name + "]");
    out.key("name", meter.name);
    out.key("reading_percent", meter.reading_percent);
    out.key("digits", meter.digits);
    out.key("resolution", meter.resolution);
    out.key("address", meter.address);
    out.key("query", meter.query);
    out.key("timeout_s", meter.timeout_s);
  }
}

}  // namespace

std::string record_text(const visit_record& in) {
  lines out;
  write_machine(in.machine, out);
  write_visit(in.visit, out);
  write_instruments(in, out);
  for (const auto* runs : {&in.run_up, &in.rolled_run_up})
    for (const auto& run : *runs) write_run_up(run, out);
  for (const auto& entry : in.insulation) write_insulation(entry, out);
  for (const auto& entry : in.resistance) write_resistance(entry, out);
  for (const auto& entry : in.starts) {
    out.head("[[starts]]");
    out.key("position", entry.position);
    out.key("attempts", entry.attempts);
    out.key("successes", entry.successes);
    out.key("lowest_starting_V", entry.lowest_starting_V);
    out.key("time_to_speed_s", entry.time_to_speed_s);
  }
  write_touch(in, out);
  write_running_down(in, out);
  if (!in.checks.empty()) out.head("[checks]");
  for (const auto& [name, passed] : in.checks) out.key(key_of(name).c_str(), passed);
  const bool nothing_run = in.run_up.empty() && in.rolled_run_up.empty();
  return "format = " + written(std::string(words::record_format)) + "\n" +
         (nothing_run ? "run_up = []  # none yet\n" : "") + out.text();
}

}  // namespace rewound::record
