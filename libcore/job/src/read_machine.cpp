// SPDX-License-Identifier: MIT
#include <algorithm>

#include "readers.hpp"

namespace rewound::job {

using base::error;
using base::error_code;

namespace {

constexpr range volts_range{0.0, 100000.0, "a rated voltage above 0 and up to 100000 V", true};
constexpr range hertz_range{0.0, 1000.0, "a frequency above 0 and up to 1000 Hz", true};

std::optional<machine::insulation_class> insulation_class_of(fields& in) {
  using enum machine::insulation_class;
  return in.optional_choice<machine::insulation_class>(
      "insulation_class", {{"105", class_105}, {"120", class_120}, {"130", class_130}, {"155", class_155},
                           {"180", class_180}, {"A", class_105}, {"E", class_120}, {"B", class_130},
                           {"F", class_155}, {"H", class_180}});
}

machine::speed_control speed_control_of(fields& in) {
  using enum machine::speed_control;
  return in.choice<machine::speed_control>(
      "speed_control",
      {{"series_reactor", series_reactor}, {"tapped_winding", tapped_winding}, {"series_resistor", series_resistor},
       {"autotransformer", autotransformer}, {"series_capacitor", series_capacitor}, {"pole_change", pole_change},
       {"none", none}, {"unknown", unknown}});
}

machine::running_circuit running_circuit_of(fields& in) {
  using enum machine::running_circuit;
  return in.choice<machine::running_circuit>(
      "running_circuit", {{"start_winding_switched", start_winding_switched},
                          {"permanent_capacitor", permanent_capacitor}, {"shaded_pole", shaded_pole},
                          {"three_phase", three_phase}, {"unknown", unknown}});
}

std::optional<machine::appliance_class> appliance_class_of(fields& in) {
  using enum machine::appliance_class;
  return in.optional_choice<machine::appliance_class>(
      "appliance_class", {{"0", class_0}, {"0I", class_0I}, {"I", class_I}, {"II", class_II}, {"III", class_III}});
}

std::optional<machine::winding_kind> winding_kind_of(fields& in) {
  using enum machine::winding_kind;
  return in.optional_choice<machine::winding_kind>(
      "winding_kind",
      {{"random_wound", random_wound}, {"form_wound", form_wound}, {"field", field}, {"armature", armature}});
}

std::vector<std::string> speeds_of(fields& in) {
  auto speeds = in.texts("speeds");
  for (std::size_t i = 0; i < speeds.size(); ++i)
    if (std::find(speeds.begin(), speeds.begin() + static_cast<std::ptrdiff_t>(i), speeds[i]) !=
        speeds.begin() + static_cast<std::ptrdiff_t>(i))
      throw error(error_code::repeated, in.place_of("speeds"), "\"" + speeds[i] + "\" twice",
                  "names of speeds that differ");
  return speeds;
}

}  // namespace

machine_section read_machine(fields& in) {
  machine_section out;
  out.id = in.text("id");
  out.model = in.optional_text("model");
  out.description = in.optional_text("description");
  out.phases = in.whole("phases", 1, 3);
  if (out.phases == 2) throw error(error_code::out_of_range, in.place_of("phases"), "2", "1 or 3");
  out.rated_voltage_V = in.number("rated_voltage_V", volts_range);
  out.rated_frequency_Hz = in.number("rated_frequency_Hz", hertz_range);
  out.rated_current_A = in.optional_number("rated_current_A", above_zero);
  out.rated_power_W = in.optional_number("rated_power_W", above_zero);
  out.poles = in.optional_whole("poles", 2, 64);
  out.rotor_resistance_ohm = in.optional_number("rotor_resistance_ohm", above_zero);
  if (out.poles && *out.poles % 2 != 0)
    throw error(error_code::out_of_range, in.place_of("poles"), std::to_string(*out.poles), "an even number");
  out.speeds = speeds_of(in);
  out.speed_control = speed_control_of(in);
  out.running_circuit = running_circuit_of(in);
  out.winding_kind = winding_kind_of(in);
  out.insulation_class = insulation_class_of(in);
  out.insulation_system = in.optional_choice<machine::insulation_system>(
      "insulation_system", {{"thermosetting", machine::insulation_system::thermosetting},
                            {"thermoplastic", machine::insulation_system::thermoplastic}});
  out.wound_year = in.optional_whole("wound_year", 1850, 2200);
  out.appliance_class = appliance_class_of(in);
  out.frame_earthed = in.optional_flag("frame_earthed");
  out.portable = in.optional_flag("portable");
  in.finish();
  return out;
}

visit_section read_visit(fields& in) {
  visit_section out;
  out.day = in.day("date");
  out.state = in.choice<visit_state>("state", {{"as_found", visit_state::as_found},
                                               {"after_repair", visit_state::after_repair},
                                               {"recheck", visit_state::recheck}});
  out.work = in.optional_texts("work");
  out.ambient_C = in.optional_number("ambient_C", temperature_range);
  out.humidity_percent = in.optional_number("humidity_percent", percent_range);
  out.supply_voltage_V = in.optional_number("supply_voltage_V", volts_range);
  out.supply_frequency_Hz = in.optional_number("supply_frequency_Hz", hertz_range);
  out.shaft = in.optional_choice<shaft_condition>("shaft", {{"loaded", shaft_condition::loaded},
                                                            {"bare", shaft_condition::bare}})
                  .value_or(shaft_condition::loaded);
  in.finish();
  return out;
}

}  // namespace rewound::job
