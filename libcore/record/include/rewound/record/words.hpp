// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <utility>

#include <rewound/record/record.hpp>

// The words of a record that stand for values, one list a key: read by read_*.cpp, written by write_record.cpp.
namespace rewound::record::words {

template <class Value>
using word = std::pair<const char*, Value>;

inline constexpr const char* record_format = "rewound-record/1";

inline constexpr auto speed_control = [] {
  using enum record::speed_control;
  return std::to_array<word<record::speed_control>>({{"series_reactor", series_reactor},
                                                     {"tapped_winding", tapped_winding},
                                                     {"series_resistor", series_resistor},
                                                     {"autotransformer", autotransformer},
                                                     {"series_capacitor", series_capacitor},
                                                     {"pole_change", pole_change},
                                                     {"none", none},
                                                     {"unknown", unknown}});
}();

inline constexpr auto running_circuit = [] {
  using enum record::running_circuit;
  return std::to_array<word<record::running_circuit>>({{"start_winding_switched", start_winding_switched},
                                                       {"permanent_capacitor", permanent_capacitor},
                                                       {"shaded_pole", shaded_pole},
                                                       {"three_phase", three_phase},
                                                       {"commutator", commutator},
                                                       {"unknown", unknown}});
}();

inline constexpr auto winding_kind = [] {
  using enum record::winding_kind;
  return std::to_array<word<record::winding_kind>>(
      {{"random_wound", random_wound}, {"form_wound", form_wound}, {"field", field}, {"armature", armature}});
}();

/// By degrees, or by letter; degrees are written.
inline constexpr auto insulation_class = [] {
  using enum record::insulation_class;
  return std::to_array<word<record::insulation_class>>({{"105", class_105},
                                                        {"120", class_120},
                                                        {"130", class_130},
                                                        {"155", class_155},
                                                        {"180", class_180},
                                                        {"A", class_105},
                                                        {"E", class_120},
                                                        {"B", class_130},
                                                        {"F", class_155},
                                                        {"H", class_180}});
}();

inline constexpr auto insulation_system =
    std::to_array<word<record::insulation_system>>({{"thermosetting", record::insulation_system::thermosetting},
                                                    {"thermoplastic", record::insulation_system::thermoplastic}});

inline constexpr auto appliance_class = [] {
  using enum record::appliance_class;
  return std::to_array<word<record::appliance_class>>(
      {{"0", class_0}, {"0I", class_0I}, {"I", class_I}, {"II", class_II}, {"III", class_III}});
}();

inline constexpr auto state = std::to_array<word<visit_state>>({{"as_found", visit_state::as_found},
                                                                {"after_repair", visit_state::after_repair},
                                                                {"recheck", visit_state::recheck}});

inline constexpr auto shaft =
    std::to_array<word<shaft_condition>>({{"loaded", shaft_condition::loaded}, {"bare", shaft_condition::bare}});

inline constexpr auto leads = std::to_array<word<int>>({{"as_marked", 0}, {"rolled_once", 1}, {"rolled_twice", 2}});

inline constexpr auto connection =
    std::to_array<word<record::winding_connection>>({{"whole_winding", record::winding_connection::whole_winding},
                                                     {"others_grounded", record::winding_connection::others_grounded},
                                                     {"others_guarded", record::winding_connection::others_guarded}});

inline constexpr auto material = std::to_array<word<record::conductor_material>>(
    {{"copper", record::conductor_material::copper}, {"aluminium", record::conductor_material::aluminium}});

inline constexpr auto withstand_kind = std::to_array<word<test_kind>>({{"ac", test_kind::ac}, {"dc", test_kind::dc}});

inline constexpr auto winding_state =
    std::to_array<word<record::winding_state>>({{"new", record::winding_state::as_new},
                                                {"part_rewound", record::winding_state::part_rewound},
                                                {"overhauled", record::winding_state::overhauled},
                                                {"repeat", record::winding_state::repeat}});

inline constexpr auto leakage_kind =
    std::to_array<word<record::leakage_kind>>({{"appliance", record::leakage_kind::appliance},
                                               {"touch", record::leakage_kind::touch},
                                               {"protective_conductor", record::leakage_kind::protective_conductor}});

inline constexpr auto polarity = std::to_array<word<bool>>({{"normal", false}, {"reversed", true}});
inline constexpr auto switched = std::to_array<word<bool>>({{"on", true}, {"off", false}});

inline constexpr auto rotation = std::to_array<word<record::rotation_direction>>(
    {{"clockwise", record::rotation_direction::clockwise},
     {"counterclockwise", record::rotation_direction::counterclockwise}});

inline constexpr auto noise = [] {
  using enum record::running_noise;
  return std::to_array<word<record::running_noise>>({{"quiet", quiet},
                                                     {"hum", hum},
                                                     {"rattle", rattle},
                                                     {"scraping", scraping},
                                                     {"knocking", knocking},
                                                     {"squeal", squeal}});
}();

inline constexpr auto thermal_protector = [] {
  using enum record::thermal_protector;
  return std::to_array<word<record::thermal_protector>>({{"none", none},
                                                         {"self_resetting", self_resetting},
                                                         {"manual_reset", manual_reset},
                                                         {"thermal_fuse", thermal_fuse}});
}();

inline constexpr auto market =
    std::to_array<word<record::market>>({{"IEC", record::market::iec}, {"UL", record::market::north_america}});

inline constexpr auto neutral = std::to_array<word<record::brush_neutral>>(
    {{"on_neutral", record::brush_neutral::on_neutral}, {"off_neutral", record::brush_neutral::off_neutral}});

inline constexpr auto insulation_ends =
    std::to_array<word<record::insulation_ends>>({{"winding_and_frame", record::insulation_ends::winding_and_frame},
                                                  {"windings", record::insulation_ends::windings}});

inline constexpr auto capacitor_kind = std::to_array<word<record::capacitor_kind>>(
    {{"run", record::capacitor_kind::run}, {"start", record::capacitor_kind::start}});

/// The tables under [instruments].
inline constexpr auto instruments =
    std::to_array<const char*>({"voltmeter", "ammeter", "wattmeter", "tachometer", "ohmmeter", "insulation_tester",
                                "thermometer", "leakage_meter", "capacitance_meter"});

/// The machines that shorter blank records are for.
inline constexpr auto blank_kinds = std::to_array<const char*>({"fan", "blower", "brushed"});

/// What there may be to measure with.
inline constexpr auto equipment = std::to_array<const char*>(
    {"voltmeter", "ammeter", "wattmeter", "tachometer", "ohmmeter", "insulation_tester", "thermometer", "multimeter",
     "clamp_meter", "capacitance_meter", "leakage_meter", "withstand_tester", "variable_transformer"});

}  // namespace rewound::record::words
