// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/record/readers.hpp>
#include <rewound/record/words.hpp>

namespace rewound::record {

using base::error;
using base::error_code;

namespace {

constexpr range volts_range{0.0, 100000.0, "a rated voltage above 0 and up to 100000 V", true};
constexpr range hertz_range{0.0, 1000.0, "a frequency above 0 and up to 1000 Hz", true};

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
  out.rated_tolerance_percent =
      in.optional_number("rated_tolerance_percent", range{0.1, 100.0, "a percentage from 0.1 to 100"});
  out.poles = in.optional_whole("poles", 2, 64);
  out.rotor_resistance_ohm = in.optional_number("rotor_resistance_ohm", above_zero);
  if (out.poles && *out.poles % 2 != 0)
    throw error(error_code::out_of_range, in.place_of("poles"), std::to_string(*out.poles), "an even number");
  out.speeds = speeds_of(in);
  out.speed_control = in.choice<record::speed_control>("speed_control", words::speed_control);
  out.running_circuit = in.choice<record::running_circuit>("running_circuit", words::running_circuit);
  out.winding_kind = in.optional_choice<record::winding_kind>("winding_kind", words::winding_kind);
  out.insulation_class = in.optional_choice<record::insulation_class>("insulation_class", words::insulation_class);
  out.insulation_system = in.optional_choice<record::insulation_system>("insulation_system", words::insulation_system);
  out.wound_year = in.optional_whole("wound_year", 1850, 2200);
  out.appliance_class = in.optional_choice<record::appliance_class>("appliance_class", words::appliance_class);
  out.frame_earthed = in.optional_flag("frame_earthed");
  out.portable = in.optional_flag("portable");
  in.finish();
  return out;
}

visit_section read_visit(fields& in) {
  visit_section out;
  out.day = in.day("date");
  out.state = in.choice<visit_state>("state", words::state);
  out.work = in.optional_texts("work");
  out.ambient_C = in.optional_number("ambient_C", temperature_range);
  out.humidity_percent = in.optional_number("humidity_percent", percent_range);
  out.supply_voltage_V = in.optional_number("supply_voltage_V", volts_range);
  out.supply_frequency_Hz = in.optional_number("supply_frequency_Hz", hertz_range);
  out.shaft = in.optional_choice<shaft_condition>("shaft", words::shaft).value_or(shaft_condition::loaded);
  in.finish();
  return out;
}

}  // namespace rewound::record
