// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/record/appliance_class.hpp>
#include <rewound/record/conductor_material.hpp>
#include <rewound/record/date.hpp>
#include <rewound/record/document.hpp>
#include <rewound/record/insulation_class.hpp>
#include <rewound/record/leakage_kind.hpp>
#include <rewound/record/market.hpp>
#include <rewound/record/mechanics.hpp>
#include <rewound/record/speed_control.hpp>
#include <rewound/record/winding_state.hpp>

// All that was read on one machine in one visit, as it stands in the file: plain numbers whose names carry the unit.
namespace rewound::record {

struct machine_section {
  std::string id;
  std::optional<std::string> model;
  std::optional<std::string> description;
  int phases = 1;
  double rated_voltage_V = 0.0;
  double rated_frequency_Hz = 0.0;
  std::optional<double> rated_current_A;
  std::optional<double> rated_power_W;
  std::optional<double> rated_tolerance_percent;  ///< how far the marked current and power hold, both ways
  std::optional<double> rated_speed_rpm;          ///< as marked, at the fastest speed
  std::optional<int> poles;
  std::optional<double> rotor_resistance_ohm;  ///< referred to the stator, from a test at standstill
  std::optional<double> bore_mm;               ///< inner diameter of the stator
  std::optional<double> core_length_mm;        ///< of its iron, along the shaft
  std::optional<double> air_gap_mm;            ///< between stator and rotor
  std::vector<std::string> speeds;
  record::speed_control speed_control = record::speed_control::unknown;
  record::running_circuit running_circuit = record::running_circuit::unknown;
  std::optional<record::winding_kind> winding_kind;
  std::optional<record::insulation_class> insulation_class;
  std::optional<record::insulation_system> insulation_system;
  std::optional<int> wound_year;
  std::optional<record::appliance_class> appliance_class;
  std::optional<bool> frame_earthed;
  std::optional<bool> portable;  ///< carried about, or stationary
  std::optional<record::rotation_direction> rated_rotation;
  std::optional<record::thermal_protector> thermal_protector;
  std::optional<double> protector_C;  ///< at which the protector opens
  std::optional<double> fuse_A;
  std::optional<record::market> market;  ///< absent: the policy's, or by the rated frequency
  std::optional<std::string> serial;
  std::optional<std::string> owner;

  friend bool operator==(const machine_section&, const machine_section&) = default;
};

enum class visit_state { as_found, after_repair, recheck };
enum class shaft_condition { loaded, bare };

struct visit_section {
  date day;
  visit_state state = visit_state::as_found;
  std::vector<std::string> work;
  std::optional<double> ambient_C;
  std::optional<double> humidity_percent;
  std::optional<double> supply_voltage_V;
  std::optional<double> supply_frequency_Hz;
  std::optional<double> run_up_frequency_Hz;  ///< of the run-ups' supply; absent: the rated one
  shaft_condition shaft = shaft_condition::loaded;
  std::optional<record::rotation_direction> rotation;  ///< as it turned
  std::optional<double> end_play_mm;                   ///< of the shaft, along it
  std::optional<double> side_play_mm;                  ///< across it, at the bearing
  std::optional<record::running_noise> noise;
  std::vector<std::string> notes;
  std::vector<std::string> have;  ///< what there is to measure with, by the words of record/words.hpp

  friend bool operator==(const visit_section&, const visit_section&) = default;
};

/// Whether the person has what a measurement takes; yes where nothing is said of what there is, or nothing is needed. A
/// multimeter reads volts, amperes and ohms, a clamp amperes.
inline bool has_equipment(const std::vector<std::string>& have, std::string_view what) {
  const auto has = [&](std::string_view each) { return std::find(have.begin(), have.end(), each) != have.end(); };
  if (have.empty() || what.empty() || has(what)) return true;
  const bool amperes = what == "ammeter";
  return (has("multimeter") && (amperes || what == "voltmeter" || what == "ohmmeter")) ||
         (has("clamp_meter") && amperes);
}

struct instrument_section {
  std::optional<std::string> name;
  std::optional<double> reading_percent;  ///< this and the next two: what is usual of such a meter where not stated
  std::optional<double> digits;
  std::optional<double> resolution;  ///< in the SI unit of the quantity (degrees Celsius for a thermometer)
  std::optional<std::string>
      address;  ///< where it answers queries: tcp://host:port or serial:device; absent: read by eye
  std::optional<std::string> query;  ///< asked of it for one reading in SI units, as MEAS:CURR:AC?
  std::optional<double> timeout_s;   ///< how long an answer is waited for
  std::optional<bool> true_rms;
  std::optional<double> full_scale;  ///< of the range it was read on, in the SI unit of the quantity

  friend bool operator==(const instrument_section&, const instrument_section&) = default;
};

/// One number a line, or a pair of lines, of three phases.
using three_lines = std::array<double, 3>;

inline double mean_of(const three_lines& lines) { return (lines[0] + lines[1] + lines[2]) / 3.0; }

/// One reading of a run-up: all that the meters showed at one moment.
struct run_up_row {
  double voltage_V = 0.0;
  double current_A = 0.0;  ///< three-phase: the mean of the lines
  std::optional<double> power_W;
  std::optional<double> speed_rpm;
  std::optional<double> winding_C;  ///< at this reading, where it was followed
  bool turning = true;              ///< nobody writes down that a rotor turns
  bool over_range = false;          ///< the ammeter was beyond the end of its range, which is what current_A says
  std::optional<std::string> remark;
  std::optional<three_lines> line_current_A;
  std::optional<three_lines> line_voltage_V;

  /// A rotor of 0 rpm stands still, whether or not somebody says so.
  bool turns() const { return turning && speed_rpm != 0.0; }

  friend bool operator==(const run_up_row&, const run_up_row&) = default;
};

struct run_up_section {
  std::string speed;
  std::vector<run_up_row> rows;
  int leads_rolled = 0;  ///< three-phase: lines by which each lead was moved on
  std::optional<double> winding_C;

  /// A column as a list, of a value that every row has.
  std::vector<double> column(double run_up_row::*member) const {
    std::vector<double> out;
    for (const auto& row : rows) out.push_back(row.*member);
    return out;
  }

  /// A column as a list, of those rows that have the value.
  template <class Value>
  std::vector<Value> column(std::optional<Value> run_up_row::*member) const {
    std::vector<Value> out;
    for (const auto& row : rows)
      if (row.*member) out.push_back(*(row.*member));
    return out;
  }

  /// Was this read at any row, at every one?
  template <class Value>
  bool any_has(std::optional<Value> run_up_row::*member) const {
    return std::any_of(rows.begin(), rows.end(), [&](const auto& row) { return (row.*member).has_value(); });
  }
  template <class Value>
  bool each_has(std::optional<Value> run_up_row::*member) const {
    return std::all_of(rows.begin(), rows.end(), [&](const auto& row) { return (row.*member).has_value(); });
  }

  friend bool operator==(const run_up_section&, const run_up_section&) = default;
};

struct insulation_row {
  double time_s = 0.0;
  double resistance_Mohm = 0.0;
  bool over_range = false;  ///< at least resistance_Mohm, the end of the tester's range

  friend bool operator==(const insulation_row&, const insulation_row&) = default;
};

struct insulation_section {
  std::string circuit;
  std::optional<record::insulation_ends> ends;  ///< absent: what the circuit's name says
  double test_voltage_V = 0.0;
  std::optional<double> winding_C;  ///< absent: the air's, visit.ambient_C, is then there
  record::winding_connection connection = record::winding_connection::whole_winding;
  std::vector<insulation_row> rows;

  friend bool operator==(const insulation_section&, const insulation_section&) = default;
};

struct resistance_section {
  std::string section;
  double resistance_ohm = 0.0;
  double winding_C = 0.0;
  std::optional<double> expected_ohm;
  double expected_C = 20.0;
  std::optional<double> wire_diameter_mm;
  std::optional<int> turns;
  std::optional<double> mean_turn_mm;
  int parallel = 1;
  record::conductor_material material = record::conductor_material::copper;
  std::optional<int> wire_awg;
  std::optional<double> lead_resistance_ohm;  ///< of the test leads, contained in resistance_ohm
  bool four_wire = false;
  std::optional<std::string> equal_group;  ///< sections of one group should be equal
  std::optional<std::string> speed;        ///< read between common and the lead of this speed
  std::optional<std::string> to_speed;     ///< read between the leads of two speeds, `speed` and this

  friend bool operator==(const resistance_section&, const resistance_section&) = default;
};

enum class test_kind { ac, dc };

struct withstand_section {
  std::string circuit;
  double voltage_V = 0.0;
  test_kind kind = test_kind::ac;
  double duration_s = 0.0;
  std::optional<double> leakage_mA;
  bool broke_down = false;
  record::winding_state state = record::winding_state::as_new;
  bool component = false;  ///< a thermostat's or another part's circuit, not the winding

  friend bool operator==(const withstand_section&, const withstand_section&) = default;
};

struct leakage_section {
  std::string condition;
  double current_mA = 0.0;
  record::leakage_kind kind = record::leakage_kind::appliance;
  std::optional<bool> reversed;  ///< polarity of the plug
  std::optional<bool> switched_on;
  std::optional<double> voltage_V;  ///< at which it was read

  friend bool operator==(const leakage_section&, const leakage_section&) = default;
};

struct earth_section {
  double continuity_ohm = 0.0;
  std::optional<double> cord_length_m;

  friend bool operator==(const earth_section&, const earth_section&) = default;
};

struct cord_section {
  std::optional<double> conductor_mm2;
  std::optional<int> conductor_awg;
  std::optional<double> length_m;
  std::optional<int> conductors;  ///< the earth conductor among them

  friend bool operator==(const cord_section&, const cord_section&) = default;
};

struct starts_section {
  std::string position;
  std::optional<std::string> speed;  ///< on which the starts were made
  int attempts = 0;
  int successes = 0;
  std::optional<double> lowest_starting_V;
  std::optional<double> time_to_speed_s;
  bool needed_push = false;  ///< it ran only after a push by hand

  friend bool operator==(const starts_section&, const starts_section&) = default;
};

enum class capacitor_kind { run, start };

struct capacitor_section {
  std::string name;
  capacitor_kind kind = capacitor_kind::run;
  double marked_uF = 0.0;
  std::optional<double> marked_tolerance_percent;
  std::optional<double> marked_V;
  std::optional<double> measured_uF;
  std::optional<double> voltage_V;  ///< across it, in circuit, with current_A through it
  std::optional<double> current_A;
  std::optional<double> loss;  ///< tangent of the loss angle

  friend bool operator==(const capacitor_section&, const capacitor_section&) = default;
};

/// Brushes and armature of a commutator machine.
struct commutator_section {
  std::optional<double> brush_length_mm;    ///< the shorter one, as it is
  std::optional<double> brush_shortest_mm;  ///< to which the maker lets it wear
  std::optional<record::brush_neutral> neutral;
  std::vector<double> bar_ohm;  ///< between neighbouring bars, all round

  friend bool operator==(const commutator_section&, const commutator_section&) = default;
};

struct coast_down_section {
  std::optional<double> inertia_kgm2;  ///< of everything that turns
  std::vector<double> time_s;
  std::vector<double> speed_rpm;

  friend bool operator==(const coast_down_section&, const coast_down_section&) = default;
};

struct heat_run_section {
  std::optional<double> cold_ohm;  ///< there where anything was read in ohms
  double cold_C = 0.0;
  double ambient_C = 0.0;
  std::optional<double> voltage_V;  ///< of the supply during the run; absent: the rated one
  std::vector<double> time_s;
  std::vector<double> resistance_ohm;
  std::vector<double> temperature_C;
  std::vector<double> cooling_time_s;
  std::vector<double> cooling_ohm;

  friend bool operator==(const heat_run_section&, const heat_run_section&) = default;
};

struct visit_record {
  machine_section machine;
  visit_section visit;
  std::map<std::string, instrument_section> instruments;
  std::vector<run_up_section> run_up;
  std::vector<run_up_section> rolled_run_up;  ///< with the leads rolled: compared with run_up, and nothing else
  std::vector<insulation_section> insulation;
  std::vector<resistance_section> resistance;
  std::vector<withstand_section> withstand;
  std::vector<leakage_section> leakage;
  std::optional<earth_section> earth;
  std::optional<cord_section> cord;
  std::vector<starts_section> starts;
  std::vector<capacitor_section> capacitor;
  std::optional<commutator_section> commutator;
  std::optional<coast_down_section> coast_down;
  std::optional<heat_run_section> heat_run;
  std::map<std::string, bool> checks;

  friend bool operator==(const visit_record&, const visit_record&) = default;
};

/// Reads and checks a record's document; the only place that knows its keys.
///
/// @throws base::error with the place, what was read and what is allowed
visit_record record_from(const node& document);

/// The [machine] of a document of another kind, a machine to simulate. @throws base::error
machine_section machine_from(const node& document);

/// Reads a record file, and the comma-separated tables it names (relative to the record's folder).
visit_record load_record(const std::string& path);

/// The same of a file's text, where there may be no files; `name` stands in for the file's name in errors.
visit_record record_from_text(std::string_view text, const std::string& name);

/// The record as a file's text, format "rewound-record/1": load_record() of it gives the same record.
///
/// Three phases: the mean of the lines is worked out again when the text is read.
std::string record_text(const visit_record& in);

/// A commented blank record, as `rewound template` prints it.
std::string_view blank_record();

/// A shorter one, of what an ordinary job on a fan, a blower or a brushed machine needs (words::blank_kinds).
///
/// @throws base::error (not_a_choice) for another kind
std::string blank_record_for(std::string_view kind);

}  // namespace rewound::record
