// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>

#include "dialogue/entry/run_up_reading.hpp"

namespace dialogue = rewound::tool::dialogue;
using rewound::testing::near_relative;

namespace {

const std::vector<std::string> speeds{"high", "medium", "low"};
const dialogue::run_up_prompt single{"medium", 110.0, 230.0, 1};

dialogue::run_up_entry typed(const std::string& text, const dialogue::run_up_prompt& prompt = single) {
  return dialogue::as_run_up(dialogue::parse_line(text, speeds), prompt);
}

}  // namespace

TEST_CASE("a run-up reading is taken as a person types it") {
  struct line {
    const char* text;
    const char* speed;
    double volts;
    double amperes;
    std::optional<double> watts;
  };
  const std::vector<line> lines{{"110 0.61", "medium", 110, 0.61, {}},       {"0.61", "medium", 110, 0.61, {}},
                                {"610mA", "medium", 110, 0.61, {}},          {"610 mA", "medium", 110, 0.61, {}},
                                {"high 110 .61 48W", "high", 110, 0.61, 48}, {"high .61", "high", 110, 0.61, {}},
                                {"120V 610mA", "medium", 120, 0.61, {}},     {"610mA 120V", "medium", 120, 0.61, {}},
                                {"120 V .61 A 48", "medium", 120, 0.61, 48}, {"120 .61 48", "medium", 120, 0.61, 48},
                                {"  low   90  .3 ", "low", 90, 0.3, {}},     {"0.12kV .61", "medium", 120, 0.61, {}},
                                {"120 610m", "medium", 120, 0.61, {}},       {"6.1e-1", "medium", 110, 0.61, {}},
                                {"+.61", "medium", 110, 0.61, {}},           {"48W 120 .61", "medium", 120, 0.61, 48}};
  for (const auto& each : lines) {
    CAPTURE(each.text);
    const auto entry = typed(each.text);
    CHECK(entry.speed == each.speed);
    CHECK(near_relative(entry.voltage_V, each.volts, 1e-12));
    REQUIRE(entry.current_A.size() == 1);
    CHECK(near_relative(entry.current_A[0], each.amperes, 1e-12));
    REQUIRE(entry.power_W.has_value() == each.watts.has_value());
    if (each.watts) CHECK(near_relative(*entry.power_W, *each.watts, 1e-12));
  }
}

TEST_CASE("a rotor that stood and its revolutions are typed beside the reading") {
  CHECK(typed("60 .4 stalled").stalled);
  CHECK_FALSE(typed("60 .4").stalled);
  CHECK(near_relative(*typed("110 .61 1340rpm").speed_rpm, 1340.0, 1e-12));
  CHECK(near_relative(*typed("110 .61 48 1340").speed_rpm, 1340.0, 1e-12));
}

TEST_CASE("three phases have three amperes, with or without volts before them") {
  const dialogue::run_up_prompt three{"high", 400.0, 400.0, 3};
  const auto bare = typed("1.1 1.2 1.3", three);
  CHECK(bare.voltage_V == 400.0);
  CHECK(bare.current_A == std::vector<double>{1.1, 1.2, 1.3});
  const auto full = typed("380 1.1 1.2 1.3 500W", three);
  CHECK(full.voltage_V == 380.0);
  CHECK(full.current_A.size() == 3);
  CHECK(*full.power_W == 500.0);
  CHECK_THROWS_AS(typed("380 1.1", three), rewound::base::error);
}

TEST_CASE("what cannot be a reading is refused with the word that was read") {
  struct bad {
    const char* text;
    const char* names;
  };
  for (const auto& each : std::vector<bad>{{"11o 0.61", "11o"},
                                           {"0,61", "0,61"},
                                           {"fast 110 .61", "fast"},
                                           {"110 .61 48W 5 6", "too many"},
                                           {"110V", "too few"},
                                           {"", "too few"},
                                           {"nan", "nan"},
                                           {"110 inf", "inf"},
                                           {"1e999", "1e999"},
                                           {"110 .61x", ".61x"},
                                           {".61 110", "more amperes than volts"},
                                           {"610MA", "610MA"},
                                           {"1 2 3 4 5 6 7", "too many"},
                                           {"35C", "unit"},
                                           {"110 .61 .62A .63A", "too many amperes"}}) {
    CAPTURE(each.text);
    try {
      typed(each.text);
      FAIL("taken");
    } catch (const rewound::base::error& trouble) {
      CHECK(std::string(trouble.what()).find(each.names) != std::string::npos);
    }
  }
}

TEST_CASE("a name of a speed that is a number needs a colon, and is asked again without one") {
  const std::vector<std::string> numbered{"1", "2", "3"};
  const auto named = dialogue::parse_line("2: 110 .61", numbered);
  CHECK(named.speed == "2");
  CHECK(named.numbers.size() == 2);
  CHECK(dialogue::parse_line("2:", numbered).speed == "2");
  for (const char* text : {"2", "2 110 .61", "1 .61", "3 0.61 48W"}) {
    CAPTURE(text);
    try {
      dialogue::parse_line(text, numbered);
      FAIL("taken");
    } catch (const rewound::base::error& trouble) {
      const std::string said = trouble.what();
      const std::string name(1, text[0]);
      CHECK(said.find("`" + name + ":`") != std::string::npos);
      CHECK(said.find(name + "A") != std::string::npos);
    }
  }
  CHECK_FALSE(dialogue::parse_line("2A", numbered).speed.has_value());
  CHECK_FALSE(dialogue::parse_line("110 2", numbered).speed.has_value());
  CHECK(dialogue::parse_line("1 speed 2 110 .6", {"1 speed", "1 speed 2"}).speed == "1 speed 2");
  CHECK(dialogue::parse_line("high: 110 .6", speeds).speed == "high");
}

TEST_CASE("one number comes in the prompt's unit, or in its own") {
  CHECK(near_relative(dialogue::parse_number("1.2k", dialogue::quantity::resistance, 1.0), 1200.0, 1e-12));
  CHECK(near_relative(dialogue::parse_number("310", dialogue::quantity::resistance, 1e6), 310.0, 1e-12));
  CHECK(near_relative(dialogue::parse_number("1.2G", dialogue::quantity::resistance, 1e6), 1200.0, 1e-12));
  CHECK(near_relative(dialogue::parse_number("310k", dialogue::quantity::resistance, 1e6), 0.31, 1e-12));
  CHECK(near_relative(dialogue::parse_number("80mohm", dialogue::quantity::resistance, 1.0), 0.08, 1e-12));
  CHECK(near_relative(dialogue::parse_number("50uA", dialogue::quantity::current, 1e-3), 0.05, 1e-12));
  CHECK(near_relative(dialogue::parse_number("2 min", dialogue::quantity::time, 1.0), 120.0, 1e-12));
  CHECK_THROWS_AS(dialogue::parse_number("48W", dialogue::quantity::resistance, 1.0), rewound::base::error);
  CHECK_THROWS_AS(dialogue::parse_number("1 2", dialogue::quantity::resistance, 1.0), rewound::base::error);
}

TEST_CASE("a bare prefix is taken only where the quantity has it") {
  for (const char* text : {"110m .61", "110 .61 48 1k"}) CHECK_THROWS_AS(typed(text), rewound::base::error);
  CHECK_THROWS_AS(dialogue::parse_number("1m", dialogue::quantity::time, 1.0), rewound::base::error);
  CHECK_THROWS_AS(dialogue::parse_number("3k", dialogue::quantity::length, 1.0), rewound::base::error);
  CHECK_THROWS_AS(dialogue::parse_number("5k", dialogue::quantity::plain, 1.0), rewound::base::error);
  CHECK_THROWS_AS(dialogue::parse_number("310m", dialogue::quantity::resistance, 1e6), rewound::base::error);
}

TEST_CASE("units are taken as people write them where they belong, and refused elsewhere") {
  using enum dialogue::quantity;
  struct line {
    const char* text;
    dialogue::quantity what;
    double unit_in_si;
    double value;
  };
  constexpr double mega = 1e6;
  const std::vector<line> lines{{"50Hz", frequency, 1.0, 50},
                                {"50 Hz", frequency, 1.0, 50},
                                {"21\u00b0C", temperature, 1.0, 21},
                                {"21 \u00b0C", temperature, 1.0, 21},
                                {"21 C", temperature, 1.0, 21},
                                {"21\u2103", temperature, 1.0, 21},
                                {"310M\u03a9", resistance, mega, 310},
                                {"310 M\u2126", resistance, mega, 310},
                                {"310 Mohm", resistance, mega, 310},
                                {"2 G\u03a9", resistance, mega, 2000},
                                {"1.2k\u03a9", resistance, 1.0, 1200},
                                {"80m\u03a9", resistance, 1.0, 0.08},
                                {"48%", percent, 1.0, 48},
                                {"48 %", percent, 1.0, 48},
                                {"500Vdc", voltage, 1.0, 500},
                                {"230 volts", voltage, 1.0, 230},
                                {"2h", time, 1.0, 7200},
                                {"50\u00b5A", current, 1e-3, 0.05}};
  for (const auto& each : lines) {
    CAPTURE(each.text);
    CHECK(near_relative(dialogue::parse_number(each.text, each.what, each.unit_in_si), each.value, 1e-12));
    for (const auto other : {frequency, temperature, percent, rotation})
      if (other != each.what) CHECK_THROWS_AS(dialogue::parse_number(each.text, other, 1.0), rewound::base::error);
  }
  CHECK_THROWS_AS(dialogue::parse_number("310m\u03a9", resistance, mega), rewound::base::error);
  CHECK_THROWS_AS(typed("110 .61 50Hz"), rewound::base::error);
}

TEST_CASE("volts and amps run together, and a current that is missing, are caught; with its unit any number is taken") {
  const dialogue::run_up_prompt marked{"medium", 110.0, 110.0, 1, 0.85};
  const dialogue::run_up_prompt unmarked{"medium", 110.0, 110.0, 1, {}};
  for (const char* text :
       {"120.68", "120", "12068", "110.", "1200 .68", "12 .68", "120 68", "high 120.68", "medium 120", "20.68"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(typed(text, marked), rewound::base::error);
  }
  for (const char* text : {"120.68", "120", "1200 .68"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(typed(text, unmarked), rewound::base::error);
  }
  CHECK(typed("120.68A", marked).current_A.front() == 120.68);
  CHECK(typed("1200V .68", marked).voltage_V == 1200.0);
  CHECK(typed("120 5", marked).current_A.front() == 5.0);
  CHECK(typed("4.2", marked).current_A.front() == 4.2);
  CHECK(typed("12 3 stalled", marked).stalled);
  CHECK(typed("12", unmarked).current_A.front() == 12.0);
  try {
    typed("120.68", marked);
    FAIL("taken");
  } catch (const rewound::base::error& trouble) {
    CHECK(std::string(trouble.what()).find("a blank between, as `110 .61`") != std::string::npos);
  }
}
