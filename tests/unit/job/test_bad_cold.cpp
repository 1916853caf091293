// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>
#include <vector>

#include <judged.hpp>
#include <rewound/base/error.hpp>

using rewound::base::error;
using rewound::base::error_code;
using rewound::testing::good;
using rewound::testing::policy_of;

// One defect at a time in the keys of the cold tests; for each what has to be said of it.
namespace {

struct defect {
  std::string lines;  ///< set in place of the expected resistance, or after the record
  error_code code;
  std::string field;
  std::string read;
  std::string allowed;
};

template <class Read>
void refused(const defect& bad, const Read& read) {
  CAPTURE(bad.lines);
  try {
    read();
    FAIL_CHECK("no error");
  } catch (const error& trouble) {
    CHECK(name(trouble.code()) == name(bad.code));
    CHECK(trouble.where().field == bad.field);
    CHECK(trouble.where().line > 0);
    CHECK_MESSAGE(trouble.read().find(bad.read) != std::string::npos, trouble.what());
    CHECK_MESSAGE(trouble.allowed().find(bad.allowed) != std::string::npos, trouble.what());
    CHECK(std::string(trouble.what()).find('\n') == std::string::npos);
  }
}

const std::vector<defect> of_resistance{
    {"wire_awg = 57", error_code::out_of_range, "resistance[0].wire_awg", "57", "0 to 56"},
    {"wire_awg = 28.5", error_code::out_of_range, "resistance[0].wire_awg", "28.5", "whole number"},
    {"wire_awg = 28\nwire_diameter_mm = 0.3", error_code::out_of_range, "resistance[0].wire_awg", "28 beside",
     "not both"},
    {"lead_resistance_ohm = -0.1", error_code::out_of_range, "resistance[0].lead_resistance_ohm", "-0.1",
     "a resistance of 0, or"},
    {"lead_resistance_ohm = 18.4", error_code::out_of_range, "resistance[0].lead_resistance_ohm", "18.4",
     "less than resistance_ohm"},
    {"four_wire = true\nlead_resistance_ohm = 0.1", error_code::out_of_range, "resistance[0].lead_resistance_ohm",
     "0.1", "four-wire"},
    {"four_wire = \"yes\"", error_code::wrong_type, "resistance[0].four_wire", "yes", "true or false"},
    {"speed = \"turbo\"", error_code::not_a_choice, "resistance[0].speed", "turbo", "high, medium, low"},
    {"equal_group = \"poles\"", error_code::out_of_range, "resistance", "poles", "two sections"},
    {"equal_group = \"\"", error_code::out_of_range, "resistance[0].equal_group", "", "text"},
    {"lead_resistence_ohm = 0.1", error_code::unknown_key, "resistance[0].lead_resistence_ohm", "",
     "lead_resistance_ohm?"},
    {"turns = 0", error_code::out_of_range, "resistance[0].turns", "0", "1 to"},
    {"mean_turn_mm = nan", error_code::out_of_range, "resistance[0].mean_turn_mm", "nan", "to 100000 mm"},
    {"material = \"tin\"", error_code::not_a_choice, "resistance[0].material", "tin", "aluminium"},
};

const std::string leak = "[[leakage]]\ncondition = \"a\"\ncurrent_mA = 0.1\n";
const std::string test = "[[withstand]]\ncircuit = \"a\"\nvoltage_V = 1500\nkind = \"ac\"\nduration_s = 60\n";

const std::vector<defect> of_touch{
    {leak + "polarity = \"backwards\"", error_code::not_a_choice, "leakage[0].polarity", "backwards",
     "normal, reversed"},
    {leak + "switch = true", error_code::wrong_type, "leakage[0].switch", "true", "one of on, off"},
    {leak + "voltage_V = 0", error_code::out_of_range, "leakage[0].voltage_V", "0", "from 0.001 to 100000 V"},
    {leak + "kind = \"hand\"", error_code::not_a_choice, "leakage[0].kind", "hand", "protective_conductor"},
    {"[cord]\nlength_m = 3", error_code::missing_key, "cord", "no size", "conductor_mm2 or conductor_awg"},
    {"[cord]\nconductor_mm2 = 1\nconductor_awg = 18", error_code::out_of_range, "cord", "both sizes",
     "conductor_mm2 or"},
    {"[cord]\nconductor_mm2 = 0", error_code::out_of_range, "cord.conductor_mm2", "0", "0.01 to 1000"},
    {"[cord]\nconductor_awg = 18\nlength_m = -3", error_code::out_of_range, "cord.length_m", "-3", "above 0"},
    {"[cord]\nconductor_awg = 18\nconductors = 1", error_code::out_of_range, "cord.conductors", "1", "2 to 5"},
    {"[cord]\nconductor_awg = 18\nlenght_m = 3", error_code::unknown_key, "cord.lenght_m", "", "length_m?"},
    {test + "winding_state = \"new\"\ncomponent = 1", error_code::wrong_type, "withstand[0].component", "1",
     "true or false"},
    {test + "winding_state = \"used\"", error_code::not_a_choice, "withstand[0].winding_state", "used", "overhauled"},
};

const std::vector<defect> of_policies{
    {"withstand_standard = \"UL\"", error_code::not_a_choice, "withstand_standard", "UL",
     "by_frequency, IEC, NEMA, stricter"},
    {"leakage_all_combinations = 1", error_code::wrong_type, "leakage_all_combinations", "1", "true or false"},
    {"[limits.leakage_maxima.class_0]\nstrict_mA = 1\nsource = \"x\"", error_code::unknown_key, "limits.leakage_maxima",
     "", "leakage_maximum?"},
    {"[limits.leakage_maximum.clas_0]\nstrict_mA = 1\nsource = \"x\"", error_code::unknown_key,
     "limits.leakage_maximum.clas_0", "", "class_0?"},
    {"[limits.leakage_maximum.class_0]\nstrikt_mA = 1\nsource = \"x\"", error_code::unknown_key,
     "limits.leakage_maximum.class_0.strikt_mA", "", "strict_mA?"},
    {"[limits.leakage_maximum.class_0]\nstrict_mA = 1", error_code::missing_key,
     "limits.leakage_maximum.class_0.source", "nothing", "required"},
    {"[limits.leakage_maximum.class_0]\nsource = \"x\"", error_code::missing_key, "limits.leakage_maximum.class_0",
     "no number", "a number"},
    {"[limits.withstand_factor.direct]\nfactor = 0\nsource = \"x\"", error_code::out_of_range,
     "limits.withstand_factor.direct.factor", "0", "above 0"},
    {"[limits.supply_window.10]\nvoltage_percent = 5\nsource = \"x\"", error_code::not_a_choice, "limits.supply_window",
     "no policy lays over", "leakage_maximum"},
    {"[limits]\nresistance_percent = { value = 8 }", error_code::missing_key, "limits.resistance_percent.source",
     "nothing", "required"},
    {"[limits]\ncopper_constant_K = 250", error_code::out_of_range, "limits.copper_constant_K", "250",
     "from 230 to 240 K, ours is 234.5"},
};

}  // namespace

TEST_CASE("every defect in the keys of a resistance is refused in one line") {
  for (const auto& bad : of_resistance) refused(bad, [&] { good.replaced("expected_ohm = 18.2", bad.lines).record(); });
}

TEST_CASE("every defect in the keys of withstand, leakage and cord is refused in one line") {
  for (const auto& bad : of_touch) refused(bad, [&] { good.with(bad.lines).record(); });
}

TEST_CASE("one speed's lead read twice is refused") {
  const auto entry =
      std::string("[[resistance]]\nsection = \"a\"\nresistance_ohm = 18\nwinding_C = 21\nspeed = \"low\"\n");
  refused({"", error_code::repeated, "resistance", "low", "one [[resistance]] a speed"},
          [&] { good.with(entry + entry).record(); });
}

TEST_CASE("every defect in the shop's own limits is refused in one line") {
  for (const auto& bad : of_policies) refused(bad, [&] { policy_of(bad.lines + "\n"); });
}
