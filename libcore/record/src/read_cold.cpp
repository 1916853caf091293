// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/record/readers.hpp>
#include <rewound/record/words.hpp>

// The keys of winding resistance, withstand, leakage and cord.
namespace rewound::record {

using base::error;
using base::error_code;

namespace {

/// The wire by its diameter or its gauge.
void read_wire(fields& in, resistance_section& out) {
  out.wire_diameter_mm = in.optional_number("wire_diameter_mm", above_zero);
  out.wire_awg = in.optional_whole("wire_awg", 0, 56);
  if (out.wire_diameter_mm && out.wire_awg)
    throw error(error_code::out_of_range, in.place_of("wire_awg"),
                std::to_string(*out.wire_awg) + " beside wire_diameter_mm", "wire_diameter_mm or wire_awg, not both");
  out.turns = in.optional_whole("turns", 1, 1000000);
  out.mean_turn_mm = in.optional_number("mean_turn_mm", above_zero);
  out.parallel = in.optional_whole("parallel", 1, 1000).value_or(1);
  out.material = in.optional_choice<record::conductor_material>("material", words::material)
                     .value_or(record::conductor_material::copper);
}

/// What the test leads add: a four-wire reading has nothing of them.
void read_leads(fields& in, resistance_section& out) {
  out.lead_resistance_ohm = in.optional_number("lead_resistance_ohm", not_negative);
  out.four_wire = in.optional_flag("four_wire").value_or(false);
  if (!out.lead_resistance_ohm) return;
  if (out.four_wire && *out.lead_resistance_ohm > 0.0)
    throw error(error_code::out_of_range, in.place_of("lead_resistance_ohm"), shown_number(*out.lead_resistance_ohm),
                "nothing, or 0: a four-wire reading holds no leads");
  if (*out.lead_resistance_ohm >= out.resistance_ohm)
    throw error(error_code::out_of_range, in.place_of("lead_resistance_ohm"), shown_number(*out.lead_resistance_ohm),
                "less than resistance_ohm, here " + shown_number(out.resistance_ohm));
}

std::string listed(const std::vector<std::string>& names) {
  std::string out;
  for (const auto& name : names) out += (out.empty() ? "" : ", ") + name;
  return out;
}

}  // namespace

resistance_section read_resistance(fields& in, const machine_section& machine) {
  resistance_section out;
  out.section = in.text("section");
  out.resistance_ohm = in.number("resistance_ohm", above_zero);
  out.winding_C = in.number("winding_C", temperature_range);
  out.expected_ohm = in.optional_number("expected_ohm", above_zero);
  out.expected_C = in.optional_number("expected_C", temperature_range).value_or(20.0);
  read_wire(in, out);
  read_leads(in, out);
  out.equal_group = in.optional_text("equal_group");
  out.speed = in.optional_text("speed");
  if (out.speed && std::find(machine.speeds.begin(), machine.speeds.end(), *out.speed) == machine.speeds.end())
    throw error(error_code::not_a_choice, in.place_of("speed"), "\"" + *out.speed + "\"",
                "a speed listed under [machine]: " + listed(machine.speeds));
  in.finish();
  return out;
}

void expect_sound_sections(const fields& root, const std::vector<resistance_section>& sections) {
  const auto count = [&](const auto& same) { return std::count_if(sections.begin(), sections.end(), same); };
  for (const auto& entry : sections) {
    if (entry.equal_group && count([&](const auto& other) { return other.equal_group == entry.equal_group; }) < 2)
      throw error(error_code::out_of_range, root.place_of("resistance"),
                  "equal_group \"" + *entry.equal_group + "\" of section \"" + entry.section + "\" alone",
                  "two sections or more in one equal_group");
    if (entry.speed && count([&](const auto& other) { return other.speed == entry.speed; }) > 1)
      throw error(error_code::repeated, root.place_of("resistance"), "speed \"" + *entry.speed + "\" a second time",
                  "one [[resistance]] a speed");
  }
}

withstand_section read_withstand(fields& in) {
  withstand_section out;
  out.circuit = in.text("circuit");
  out.voltage_V = in.number("voltage_V", above_zero);
  out.kind = in.choice<test_kind>("kind", words::withstand_kind);
  out.duration_s = in.number("duration_s", above_zero);
  out.leakage_mA = in.optional_number("leakage_mA", not_negative);
  out.broke_down = in.optional_flag("broke_down").value_or(false);
  out.state = in.choice<record::winding_state>("winding_state", words::winding_state);
  out.component = in.optional_flag("component").value_or(false);
  in.finish();
  return out;
}

leakage_section read_leakage(fields& in) {
  leakage_section out;
  out.condition = in.text("condition");
  out.current_mA = in.number("current_mA", not_negative);
  out.kind =
      in.optional_choice<record::leakage_kind>("kind", words::leakage_kind).value_or(record::leakage_kind::appliance);
  out.reversed = in.optional_choice<bool>("polarity", words::polarity);
  out.switched_on = in.optional_choice<bool>("switch", words::switched);
  out.voltage_V = in.optional_number("voltage_V", above_zero);
  in.finish();
  return out;
}

cord_section read_cord(fields& in) {
  cord_section out;
  out.conductor_mm2 = in.optional_number("conductor_mm2", range{0.01, 1000.0, "a cross-section from 0.01 to 1000 mm2"});
  out.conductor_awg = in.optional_whole("conductor_awg", 0, 40);
  if (out.conductor_mm2.has_value() == out.conductor_awg.has_value())
    throw error(out.conductor_mm2 ? error_code::out_of_range : error_code::missing_key, in.place(),
                out.conductor_mm2 ? "both sizes" : "no size", "conductor_mm2 or conductor_awg");
  out.length_m = in.optional_number("length_m", length_range);
  out.conductors = in.optional_whole("conductors", 2, 5);
  in.finish();
  return out;
}

}  // namespace rewound::record
