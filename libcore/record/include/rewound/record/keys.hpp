// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <type_traits>

#include <rewound/record/range.hpp>
#include <rewound/record/record.hpp>
#include <rewound/record/words.hpp>

// The one list of a record's keys. A key is a line here and a member in record.hpp: the TOML reader and writer, the
// comma-separated columns, the Python dict and frame, the blank record, validate() and the table of keys all visit
// this list, so that none of them can know a key that another does not.
//
// A visitor has
//   key(name, member, facts)                        texts, numbers, flags, dates, lists of them; optional or not
//   word(name, member, words, facts)                a value that stands for a word, one of `words`
//   bounded(name, member, over_range, facts)        a number that may lie beyond the end of a meter's range
//   current(name, mean, lines, over_range, facts)   the same, or three of them on three phases
//   lines(name, member, facts)                      three numbers, one a line
//   rows(member, leader)                            readings side by side, each with the keys of its own describe()
// and, for describe_record(), table, optional_table, tables, named_tables, run_ups, free_flags.
namespace rewound::record {

struct key_facts {
  const char* doc;      ///< one sentence, or less
  const char* example;  ///< as it may stand in a file
  range allowed{-1e12, 1e12, "a finite number"};
  bool needed = false;
  bool ordinary = false;  ///< of the handful that an ordinary job needs
  bool always = false;    ///< written even where its absence says the same
  bool row_only = false;  ///< no list of a section holds it, only a row
  bool rising = false;    ///< of a list: each number above the one before
  bool prose = false;     ///< a text that may be longer than a name
};

/// How much a record may hold; what is larger is refused with its place. A bench writes a tenth of it at most.
namespace largest {
inline constexpr std::size_t name = 400;       ///< bytes of a text
inline constexpr std::size_t prose = 4000;     ///< bytes of a remark, note, description
inline constexpr std::size_t readings = 1000;  ///< of a list, or rows of a speed
inline constexpr std::size_t sections = 300;   ///< [[resistance]], [[starts]] and the like, flags of [checks]
}  // namespace largest

/// A section or its const.
template <class Section, class Kind>
concept section_of = std::same_as<std::remove_const_t<Section>, Kind>;

template <class V, section_of<machine_section> S>
void describe(V& v, S& s) {
  v.key("id", s.id, {.doc = "your own number for it", .example = "\"MACHINE-1\"", .needed = true, .ordinary = true});
  v.key("model", s.model, {.doc = "machines of one make-up share this name", .example = "\"model-a\""});
  v.key("description", s.description,
        {.doc = "what and where it is", .example = "\"ceiling fan of the palm house\"", .prose = true});
  v.key(
      "phases", s.phases,
      {.doc = "1 or 3", .example = "1", .allowed = {1, 3, "1 or 3"}, .needed = true, .ordinary = true, .always = true});
  v.key("rated_voltage_V", s.rated_voltage_V,
        {.doc = "as marked", .example = "230", .allowed = volts_range, .needed = true, .ordinary = true});
  v.key("rated_frequency_Hz", s.rated_frequency_Hz,
        {.doc = "as marked", .example = "50", .allowed = hertz_range, .needed = true, .ordinary = true});
  v.key("rated_current_A", s.rated_current_A,
        {.doc = "as marked, at the fastest speed: what the draw is held against",
         .example = "0.42",
         .allowed = amperes_range,
         .ordinary = true});
  v.key("rated_power_W", s.rated_power_W,
        {.doc = "as marked, input", .example = "75", .allowed = watts_range, .ordinary = true});
  v.key("rated_tolerance_percent", s.rated_tolerance_percent,
        {.doc = "how far the marked current and power hold, both ways; not stated: the standard's deviation",
         .example = "10",
         .allowed = {0.1, 100.0, "a percentage from 0.1 to 100"}});
  v.key("rated_speed_rpm", s.rated_speed_rpm,
        {.doc = "as marked, at the fastest speed", .example = "1365", .allowed = rpm_range});
  v.key("poles", s.poles,
        {.doc = "of the fastest speed", .example = "4", .allowed = {2, 64, "an even whole number from 2 to 64"}});
  v.key("rotor_resistance_ohm", s.rotor_resistance_ohm,
        {.doc = "of one single-phase winding, referred to the stator, from a test at standstill",
         .example = "20",
         .allowed = ohms_range});
  v.key("bore_mm", s.bore_mm,
        {.doc =
             "inner diameter of the stator; with the core's length and the main winding's turns it says what to expect",
         .example = "46",
         .allowed = millimetres_range});
  v.key("core_length_mm", s.core_length_mm,
        {.doc = "of the stator's iron, along the shaft", .example = "18", .allowed = millimetres_range});
  v.key("air_gap_mm", s.air_gap_mm,
        {.doc = "between stator and rotor; left out: a usual one, with more uncertainty",
         .example = "0.3",
         .allowed = millimetres_range});
  v.key("speeds", s.speeds,
        {.doc = "fastest first",
         .example = "[\"high\", \"medium\", \"low\"]",
         .needed = true,
         .ordinary = true,
         .always = true});
  v.word("speed_control", s.speed_control, words::speed_control,
         {.doc = "what makes the slower speeds",
          .example = "\"unknown\"",
          .needed = true,
          .ordinary = true,
          .always = true});
  v.word("running_circuit", s.running_circuit, words::running_circuit,
         {.doc = "how it starts and runs", .example = "\"unknown\"", .needed = true, .ordinary = true, .always = true});
  v.word("winding_kind", s.winding_kind, words::winding_kind,
         {.doc = "random wound where small", .example = "\"random_wound\""});
  v.word("insulation_class", s.insulation_class, words::insulation_class,
         {.doc = "thermal class, by degrees or by letter", .example = "\"130\""});
  v.word("insulation_system", s.insulation_system, words::insulation_system,
         {.doc = "not stated: both corrections are shown, the stricter decides", .example = "\"thermosetting\""});
  v.key("wound_year", s.wound_year,
        {.doc = "of the present winding",
         .example = "2026",
         .allowed = {1850, 2200, "a whole number from 1850 to 2200"},
         .ordinary = true});
  v.word("appliance_class", s.appliance_class, words::appliance_class,
         {.doc = "which of earth and leakage is asked for", .example = "\"I\"", .ordinary = true});
  v.key("frame_earthed", s.frame_earthed,
        {.doc = "whether the frame is connected to earth", .example = "true", .ordinary = true});
  v.key("portable", s.portable,
        {.doc = "carried about; false: stationary. Not stated: the stricter limit is taken", .example = "true"});
  v.word("rated_rotation", s.rated_rotation, words::rotation,
         {.doc = "looking at the shaft's end, as it should turn", .example = "\"clockwise\""});
  v.word("thermal_protector", s.thermal_protector, words::thermal_protector,
         {.doc = "what opens when the winding grows too hot", .example = "\"self_resetting\""});
  v.key("protector_C", s.protector_C,
        {.doc = "temperature at which it opens", .example = "120", .allowed = temperature_range});
  v.key("fuse_A", s.fuse_A, {.doc = "of the machine's own fuse", .example = "1", .allowed = amperes_range});
  v.word("market", s.market, words::market,
         {.doc = "whose standards decide where they differ; not stated: the policy's, UL and NEMA for 60 Hz",
          .example = "\"IEC\""});
  v.key("serial", s.serial, {.doc = "serial number", .example = "\"A-1042\""});
  v.key("owner", s.owner, {.doc = "whose it is", .example = "\"Botanical garden\""});
}

template <class V, section_of<visit_section> S>
void describe(V& v, S& s) {
  v.key("date", s.day, {.doc = "of the readings", .example = "2026-01-01", .needed = true, .ordinary = true});
  v.word("state", s.state, words::state,
         {.doc = "when in the job", .example = "\"after_repair\"", .needed = true, .ordinary = true, .always = true});
  v.key("work", s.work, {.doc = "what was done", .example = "[\"stator rewound\", \"bearings oiled\"]", .prose = true});
  v.key("ambient_C", s.ambient_C,
        {.doc = "of the air; stands in for a winding that has stood long enough",
         .example = "21",
         .allowed = temperature_range,
         .ordinary = true});
  v.key("humidity_percent", s.humidity_percent,
        {.doc = "of the air, relative", .example = "48", .allowed = percent_range});
  v.key("supply_voltage_V", s.supply_voltage_V,
        {.doc = "today's mains where it will run", .example = "240", .allowed = volts_range, .ordinary = true});
  v.key("supply_frequency_Hz", s.supply_frequency_Hz,
        {.doc = "of these mains", .example = "50", .allowed = hertz_range, .ordinary = true});
  v.key("run_up_frequency_Hz", s.run_up_frequency_Hz,
        {.doc = "of the run-ups' supply; not stated: the rated one", .example = "50", .allowed = hertz_range});
  v.word(
      "shaft", s.shaft, words::shaft,
      {.doc = "its fan on, or bare: a curve of one never judges the other", .example = "\"loaded\"", .always = true});
  v.word("rotation", s.rotation, words::rotation,
         {.doc = "as it turned, looking at the shaft's end", .example = "\"clockwise\""});
  v.key("end_play_mm", s.end_play_mm,
        {.doc = "of the shaft, along it", .example = "0.3", .allowed = {0, 100, "a play from 0 to 100 mm"}});
  v.key("side_play_mm", s.side_play_mm,
        {.doc = "of the shaft, across it at the bearing",
         .example = "0.05",
         .allowed = {0, 100, "a play from 0 to 100 mm"}});
  v.word("noise", s.noise, words::noise, {.doc = "what is heard as it runs", .example = "\"quiet\""});
  v.key("notes", s.notes, {.doc = "whatever should be kept", .example = "[\"oil wick replaced\"]", .prose = true});
  v.key("have", s.have,
        {.doc = "what there is to measure with: what needs more is asked for last, and of a shop that has it",
         .example = "[\"voltmeter\", \"ammeter\", \"insulation_tester\"]"});
}

template <class V, section_of<instrument_section> S>
void describe(V& v, S& s) {
  v.key("name", s.name,
        {.doc = "the same name in two records: its gain error is common to both", .example = "\"bench voltmeter 1\""});
  v.key(
      "reading_percent", s.reading_percent,
      {.doc = "accuracy, percent of the reading; not stated: a usual one", .example = "0.5", .allowed = percent_range});
  v.key("digits", s.digits,
        {.doc = "accuracy, digits of the display; not stated: a usual one",
         .example = "2",
         .allowed = {0, 10000, "a number from 0 to 10000", false, 1e-6}});
  v.key("resolution", s.resolution,
        {.doc = "one digit of its display in V, A, W, ohm ...; not stated: by the readings",
         .example = "0.1",
         .allowed = one_digit_range});
  v.key("address", s.address,
        {.doc = "or \"serial:/dev/ttyUSB0@9600\": `bench` then reads it by itself",
         .example = "\"tcp://192.0.2.7:5025\""});
  v.key("query", s.query,
        {.doc = "SCPI, answered in volts, amperes, watts, rpm, ohms, degC", .example = "\"MEAS:VOLT:AC?\""});
  v.key("timeout_s", s.timeout_s,
        {.doc = "how long an answer is waited for",
         .example = "3",
         .allowed = {0, 600, "a time above 0 and up to 600 s", true}});
  v.key("true_rms", s.true_rms,
        {.doc = "false: an ammeter's peaked waves are read less well, which is allowed for", .example = "true"});
  v.key("full_scale", s.full_scale,
        {.doc = "end of the range it was read on, in V, A, W, ohm ...: what OL means",
         .example = "600",
         .allowed = full_scale_range});
}

template <class V, section_of<run_up_row> S>
void describe(V& v, S& s) {
  v.key("voltage_V", s.voltage_V,
        {.doc = "at the terminals; the rated voltage among them",
         .example = "[120, 150, 180, 210, 230]",
         .allowed = read_volts_range,
         .needed = true,
         .ordinary = true});
  v.current("current_A", s.current_A, s.line_current_A, s.over_range,
            {.doc = "three phases: three lists, lines L1, L2, L3; \">2\": beyond the end of the range",
             .example = "[0.21, 0.26, 0.32, 0.38, 0.42]",
             .allowed = read_amperes_range,
             .needed = true,
             .ordinary = true});
  v.lines("line_voltage_V", s.line_voltage_V,
          {.doc = "three phases: three lists, volts of L1-L2, L2-L3, L3-L1",
           .example = "[[229, 230], [230, 231], [231, 230]]",
           .allowed = read_volts_range});
  v.key("power_W", s.power_W, {.doc = "input", .example = "[20, 31, 45, 62, 75]", .allowed = read_watts_range});
  v.key("speed_rpm", s.speed_rpm,
        {.doc = "of the shaft", .example = "[1080, 1200, 1290, 1340, 1365]", .allowed = read_rpm_range});
  v.key("turning", s.turning,
        {.doc = "false: the rotor stood still at this reading", .example = "[true, true, true, true, true]"});
  v.key("winding_C", s.winding_C,
        {.doc = "at this reading", .example = "35", .allowed = temperature_range, .row_only = true});
  v.key("remark", s.remark, {.doc = "of this reading", .example = "\"hums\"", .row_only = true, .prose = true});
}

template <class V, section_of<run_up_section> S>
void describe(V& v, S& s) {
  v.key("speed", s.speed, {.doc = "one of [machine] speeds", .example = "\"high\"", .needed = true, .ordinary = true});
  v.word("leads", s.leads_rolled, words::leads,
         {.doc = "three phases: rolled_once when each lead was moved on by one line, rolled_twice by two; beside the "
                 "run-up as marked",
          .example = "\"as_marked\""});
  v.rows(s.rows, "voltage_V");
  v.key("winding_C", s.winding_C, {.doc = "of the winding meanwhile", .example = "35", .allowed = temperature_range});
}

template <class V, section_of<insulation_row> S>
void describe(V& v, S& s) {
  v.key("time_s", s.time_s,
        {.doc = "since full voltage, at constant voltage; 600 s for the polarization index",
         .example = "[15, 30, 60]",
         .allowed = seconds_range,
         .needed = true,
         .ordinary = true,
         .rising = true});
  v.bounded("resistance_Mohm", s.resistance_Mohm, s.over_range,
            {.doc = "\">2000\": beyond the tester's range",
             .example = "[180, 240, 310]",
             .allowed = megohms_range,
             .needed = true,
             .ordinary = true});
}

template <class V, section_of<insulation_section> S>
void describe(V& v, S& s) {
  v.key("circuit", s.circuit,
        {.doc = "between what", .example = "\"winding to frame\"", .needed = true, .ordinary = true});
  v.word("ends", s.ends, words::insulation_ends,
         {.doc = "not stated: what the circuit's name says", .example = "\"winding_and_frame\""});
  v.key("test_voltage_V", s.test_voltage_V,
        {.doc = "direct voltage", .example = "500", .allowed = volts_range, .needed = true, .ordinary = true});
  v.key("winding_C", s.winding_C,
        {.doc = "left out: ambient_C stands in, with more uncertainty",
         .example = "21",
         .allowed = temperature_range,
         .ordinary = true});
  v.word("connection", s.connection, words::connection,
         {.doc = "or one phase: others_grounded, others_guarded", .example = "\"whole_winding\""});
  v.rows(s.rows, "time_s");
}

template <class V, section_of<resistance_section> S>
void describe(V& v, S& s) {
  v.key("section", s.section, {.doc = "its name", .example = "\"main\"", .needed = true, .ordinary = true});
  v.key("resistance_ohm", s.resistance_ohm,
        {.doc = "as read", .example = "18.4", .allowed = ohms_range, .needed = true, .ordinary = true});
  v.key("winding_C", s.winding_C,
        {.doc = "of the winding then",
         .example = "21",
         .allowed = temperature_range,
         .needed = true,
         .ordinary = true,
         .always = true});
  v.key("expected_ohm", s.expected_ohm, {.doc = "at expected_C", .example = "18.0", .allowed = ohms_range});
  v.key("expected_C", s.expected_C, {.doc = "20 degC where not stated", .example = "20", .allowed = temperature_range});
  v.key("wire_diameter_mm", s.wire_diameter_mm,
        {.doc = "bare; with turns, mean_turn_mm and parallel it says what to expect",
         .example = "0.315",
         .allowed = millimetres_range});
  v.key("wire_awg", s.wire_awg,
        {.doc = "instead of wire_diameter_mm", .example = "28", .allowed = {0, 56, "a whole number from 0 to 56"}});
  v.key("turns", s.turns,
        {.doc = "in series", .example = "640", .allowed = {1, 1e6, "a whole number from 1 to 1000000"}});
  v.key("mean_turn_mm", s.mean_turn_mm, {.doc = "length of a turn", .example = "130", .allowed = millimetres_range});
  v.key("parallel", s.parallel,
        {.doc = "wires in hand", .example = "1", .allowed = {1, 1000, "a whole number from 1 to 1000"}});
  v.word("material", s.material, words::material, {.doc = "or aluminium", .example = "\"copper\""});
  v.key("lead_resistance_ohm", s.lead_resistance_ohm,
        {.doc = "of the test leads, contained in resistance_ohm", .example = "0.08", .allowed = read_ohms_range});
  v.key("four_wire", s.four_wire, {.doc = "true: the reading holds no test leads", .example = "true"});
  v.key("equal_group", s.equal_group, {.doc = "sections of one group should be equal", .example = "\"poles\""});
  v.key("speed", s.speed, {.doc = "read between common and this speed's lead", .example = "\"high\""});
  v.key("to_speed", s.to_speed,
        {.doc = "read between the leads of two speeds, `speed` and this", .example = "\"medium\""});
}

template <class V, section_of<starts_section> S>
void describe(V& v, S& s) {
  v.key("position", s.position,
        {.doc = "how it stood or lay", .example = "\"upright\"", .needed = true, .ordinary = true});
  v.key("speed", s.speed, {.doc = "on which the starts were made", .example = "\"low\""});
  v.key("attempts", s.attempts,
        {.doc = "tries from rest",
         .example = "10",
         .allowed = {1, 1e6, "a whole number from 1 to 1000000"},
         .needed = true,
         .ordinary = true,
         .always = true});
  v.key("successes", s.successes,
        {.doc = "how many of them started",
         .example = "10",
         .allowed = {0, 1e6, "a whole number from 0 to 1000000"},
         .needed = true,
         .ordinary = true,
         .always = true});
  v.key("lowest_starting_V", s.lowest_starting_V,
        {.doc = "the lowest voltage at which it started from rest", .example = "150", .allowed = volts_range});
  v.key("time_to_speed_s", s.time_to_speed_s,
        {.doc = "from rest at the rated voltage", .example = "3.5", .allowed = seconds_range});
  v.key("needed_push", s.needed_push, {.doc = "true: it ran only after a push by hand", .example = "false"});
}

template <class V, section_of<capacitor_section> S>
void describe(V& v, S& s) {
  v.key("name", s.name, {.doc = "its name", .example = "\"run\"", .needed = true});
  v.word("kind", s.kind, words::capacitor_kind,
         {.doc = "run or start", .example = "\"run\"", .needed = true, .always = true});
  v.key("marked_uF", s.marked_uF,
        {.doc = "as marked", .example = "4", .allowed = microfarads_range, .needed = true, .always = true});
  v.key("marked_tolerance_percent", s.marked_tolerance_percent,
        {.doc = "as marked, both ways", .example = "5", .allowed = percent_range});
  v.key("marked_V", s.marked_V, {.doc = "as marked", .example = "450", .allowed = volts_range});
  v.key("measured_uF", s.measured_uF,
        {.doc = "out of circuit, discharged", .example = "3.9", .allowed = read_microfarads_range});
  v.key("voltage_V", s.voltage_V,
        {.doc = "across it in circuit, with current_A through it", .example = "310", .allowed = volts_range});
  v.key("current_A", s.current_A,
        {.doc = "through it in circuit, with voltage_V across it", .example = "0.38", .allowed = read_amperes_range});
  v.key("loss", s.loss,
        {.doc = "tangent of the loss angle", .example = "0.002", .allowed = {0, 10, "a number from 0 to 10"}});
}

template <class V, section_of<commutator_section> S>
void describe(V& v, S& s) {
  v.key("brush_length_mm", s.brush_length_mm,
        {.doc = "of the shorter brush, as it is", .example = "9", .allowed = millimetres_range});
  v.key("brush_shortest_mm", s.brush_shortest_mm,
        {.doc = "to which it may wear", .example = "5", .allowed = millimetres_range});
  v.word("neutral", s.neutral, words::neutral, {.doc = "where the brushes stand", .example = "\"on_neutral\""});
  v.key("bar_ohm", s.bar_ohm,
        {.doc = "between neighbouring bars, all round", .example = "[0.41, 0.42, 0.41]", .allowed = read_ohms_range});
}

template <class V, section_of<withstand_section> S>
void describe(V& v, S& s) {
  v.key("circuit", s.circuit, {.doc = "between what", .example = "\"winding to frame\"", .needed = true});
  v.key("voltage_V", s.voltage_V, {.doc = "held", .example = "1500", .allowed = volts_range, .needed = true});
  v.word("kind", s.kind, words::withstand_kind, {.doc = "or dc", .example = "\"ac\"", .needed = true, .always = true});
  v.key("duration_s", s.duration_s, {.doc = "how long", .example = "60", .allowed = seconds_range, .needed = true});
  v.key("leakage_mA", s.leakage_mA, {.doc = "meanwhile", .example = "1.2", .allowed = milliamperes_range});
  v.key("broke_down", s.broke_down, {.doc = "true: it did not hold", .example = "false"});
  v.word("winding_state", s.state, words::winding_state,
         {.doc = "which voltage is due", .example = "\"new\"", .needed = true, .always = true});
  v.key("component", s.component, {.doc = "true: a thermostat's or another part's circuit", .example = "false"});
}

template <class V, section_of<leakage_section> S>
void describe(V& v, S& s) {
  v.key("condition", s.condition, {.doc = "where and how", .example = "\"frame, switch on, normal\"", .needed = true});
  v.key("current_mA", s.current_mA,
        {.doc = "as read", .example = "0.05", .allowed = milliamperes_range, .needed = true, .always = true});
  v.word(
      "kind", s.kind, words::leakage_kind,
      {.doc = "or touch, protective_conductor (the after-repair tests)", .example = "\"appliance\"", .always = true});
  v.word("polarity", s.reversed, words::polarity, {.doc = "of the plug", .example = "\"normal\""});
  v.word("switch", s.switched_on, words::switched, {.doc = "of the appliance", .example = "\"on\""});
  v.key("voltage_V", s.voltage_V,
        {.doc = "1.06 times the rated one; lower readings are brought up", .example = "243.8", .allowed = volts_range});
}

template <class V, section_of<earth_section> S>
void describe(V& v, S& s) {
  v.key("continuity_ohm", s.continuity_ohm,
        {.doc = "class I: frame to earth pin",
         .example = "0.08",
         .allowed = read_ohms_range,
         .needed = true,
         .ordinary = true,
         .always = true});
  v.key("cord_length_m", s.cord_length_m,
        {.doc = "of the cord that is in the reading", .example = "3", .allowed = length_range});
}

template <class V, section_of<cord_section> S>
void describe(V& v, S& s) {
  v.key("conductor_mm2", s.conductor_mm2,
        {.doc = "cross-section of a conductor",
         .example = "0.75",
         .allowed = {0.01, 1000, "a cross-section from 0.01 to 1000 mm2"}});
  v.key("conductor_awg", s.conductor_awg,
        {.doc = "instead of conductor_mm2", .example = "18", .allowed = {0, 40, "a whole number from 0 to 40"}});
  v.key("length_m", s.length_m, {.doc = "of the cord", .example = "3", .allowed = length_range});
  v.key("conductors", s.conductors,
        {.doc = "the earth conductor among them", .example = "3", .allowed = {2, 5, "a whole number from 2 to 5"}});
}

template <class V, section_of<coast_down_section> S>
void describe(V& v, S& s) {
  v.key("inertia_kgm2", s.inertia_kgm2,
        {.doc = "of all that turns; without it only ratios of the friction are known",
         .example = "0.002",
         .allowed = inertia_range});
  v.key("time_s", s.time_s,
        {.doc = "supply off, windings open; ten readings or more, down to a slow turning",
         .example = "[0, 1, 2, 3, 4, 5]",
         .allowed = since_seconds_range,
         .needed = true,
         .rising = true});
  v.key("speed_rpm", s.speed_rpm,
        {.doc = "at these times",
         .example = "[1340, 1120, 950, 815, 700, 605]",
         .allowed = read_rpm_range,
         .needed = true});
}

template <class V, section_of<heat_run_section> S>
void describe(V& v, S& s) {
  v.key("cold_ohm", s.cold_ohm,
        {.doc = "of the winding before; by thermometer alone not needed",
         .example = "18.40",
         .allowed = ohms_range,
         .always = true});
  v.key("cold_C", s.cold_C,
        {.doc = "of the winding then", .example = "21", .allowed = temperature_range, .needed = true, .always = true});
  v.key(
      "ambient_C", s.ambient_C,
      {.doc = "of the air, at the end", .example = "22", .allowed = temperature_range, .needed = true, .always = true});
  v.key("voltage_V", s.voltage_V,
        {.doc = "of the supply during the run; left out: the rated one", .example = "230", .allowed = volts_range});
  v.key("time_s", s.time_s,
        {.doc = "since switched on",
         .example = "[0, 600, 1200, 1800, 2400]",
         .allowed = since_seconds_range,
         .needed = true,
         .rising = true});
  v.key("resistance_ohm", s.resistance_ohm,
        {.doc = "or temperature_C by thermometer", .example = "[18.4, 20.1, 21.3, 22.1, 22.6]", .allowed = ohms_range});
  v.key("temperature_C", s.temperature_C,
        {.doc = "instead of resistance_ohm", .example = "[21, 35, 44, 50, 54]", .allowed = temperature_range});
  v.key("cooling_time_s", s.cooling_time_s,
        {.doc = "since switch-off, carried back to it",
         .example = "[20, 40, 60, 90]",
         .allowed = since_seconds_range,
         .rising = true});
  v.key("cooling_ohm", s.cooling_ohm,
        {.doc = "at these times", .example = "[22.5, 22.3, 22.2, 21.9]", .allowed = ohms_range});
}

struct section_facts {
  const char* doc;
  bool ordinary = false;
};

template <class V, section_of<visit_record> R>
void describe_record(V& v, R& r) {
  v.table("machine", r.machine, {"what stands on its plate and what is known of it", true});
  v.table("visit", r.visit, {"when, and under what", true});
  v.named_tables("instruments", r.instruments, words::instruments,
                 {"how well each instrument reads: percent of reading, digits, and one digit of its display"});
  v.run_ups(
      "run_up", r.run_up, r.rolled_run_up,
      {"needed for a release: volts and amps on each speed, the rated voltage and today's mains among the readings",
       true});
  v.tables(
      "insulation", r.insulation,
      {"needed for a release, before anything is energised: discharge, disconnect electronics, then winding to frame",
       true});
  v.tables("resistance", r.resistance, {"needed for a release: ohms of the winding, cold, machine disconnected", true});
  v.tables("starts", r.starts,
           {"needed for a release: tries to start from rest, in the position of use, on the slowest speed", true});
  v.tables("capacitor", r.capacitor,
           {"capacitors, discharged before they are touched: a run-up shows little of one that has lost its value"});
  v.optional_table("commutator", r.commutator, {"brushes and armature of a commutator machine"});
  v.tables("withstand", r.withstand, {"by a qualified person, once, after the insulation resistance conforms"});
  v.tables("leakage", r.leakage,
           {"needed for a release where the frame is not earthed: by both polarities, switch on and off"});
  v.optional_table("earth", r.earth, {"needed for a release where the frame is earthed: frame to earth pin", true});
  v.optional_table("cord", r.cord, {"the supply cord"});
  v.optional_table("coast_down", r.coast_down, {"how it slows down by itself"});
  v.optional_table("heat_run", r.heat_run, {"from cold, near the rated voltage, under the usual load"});
  v.free_flags("checks", r.checks, {"whatever you look at, true or false"});
}

}  // namespace rewound::record
