// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>

#include "dialogue/entry/worded_reading.hpp"

namespace dialogue = rewound::tool::dialogue;
using rewound::testing::near_relative;

TEST_CASE("ohms are taken with a section before them, a temperature and what is expected behind") {
  const auto bare = dialogue::parse_resistance("18.4");
  CHECK(bare.section.empty());
  CHECK(bare.ohms == 18.4);
  CHECK_FALSE(bare.winding_C.has_value());
  const auto whole = dialogue::parse_resistance("start winding 32.1 25C expected 31.8");
  CHECK(whole.section == "start winding");
  CHECK(whole.ohms == 32.1);
  CHECK(whole.winding_C == 25.0);
  CHECK(whole.expected_ohm == 31.8);
  CHECK(dialogue::parse_resistance("aux").section == "aux");
  CHECK_FALSE(dialogue::parse_resistance("aux").ohms.has_value());
  CHECK(near_relative(*dialogue::parse_resistance("main 184 m").ohms, 0.184, 1e-12));
  CHECK(near_relative(*dialogue::parse_resistance("1.2 kohm").ohms, 1200.0, 1e-12));
  // Of two bare numbers the second may be a temperature or ohms: it is asked again.
  for (const char* text : {"18.4 25", "18.4 5A", "18.4 18.3 18.2", "expected 18.3", "18.4 20C 21C", "18,4", "5V"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(dialogue::parse_resistance(text), rewound::base::error);
  }
}

TEST_CASE("earth is taken with the cord's length behind it") {
  CHECK(dialogue::parse_earth(".08").ohms == 0.08);
  CHECK_FALSE(dialogue::parse_earth(".08").cord_m.has_value());
  const auto with_cord = dialogue::parse_earth("80m 3m");
  CHECK(near_relative(with_cord.ohms, 0.08, 1e-12));
  CHECK(near_relative(*with_cord.cord_m, 3.0, 1e-12));
  for (const char* text : {"", ".08 3s", ".08 3 4", "5A", "cord"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(dialogue::parse_earth(text), rewound::base::error);
  }
}

TEST_CASE("starts are counts of tries and successes, with volts and seconds told by their units") {
  const auto plain = dialogue::parse_starts("20 19");
  CHECK(plain.position.empty());
  CHECK(plain.attempts == 20);
  CHECK(plain.successes == 19);
  const auto whole = dialogue::parse_starts("on its side 5 4 150V 3.2s");
  CHECK(whole.position == "on its side");
  CHECK(whole.successes == 4);
  CHECK(whole.lowest_V == 150.0);
  CHECK(whole.to_speed_s == 3.2);
  for (const char* text : {"", "20", "upright", "4.6 4", "20 19 18", "-1 0", "20 20 5A", "2k 5"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(dialogue::parse_starts(text), rewound::base::error);
  }
}

TEST_CASE("leakage is milliamps, with polarity and switch in words where they are not those asked for") {
  const auto plain = dialogue::parse_leakage(".2");
  CHECK(plain.milliamps == 0.2);
  CHECK_FALSE(plain.reversed.has_value());
  CHECK_FALSE(plain.switched_on.has_value());
  const auto whole = dialogue::parse_leakage("OFF Reversed 50uA 243V");
  CHECK(whole.reversed == true);
  CHECK(whole.switched_on == false);
  CHECK(near_relative(whole.milliamps, 0.05, 1e-12));
  CHECK(whole.voltage_V == 243.0);
  for (const char* text : {"", "rev .2", "reversed", ".2 3s", "on 5V", ".2 243 5", "0,2"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(dialogue::parse_leakage(text), rewound::base::error);
  }
}

TEST_CASE("starts say the speed that they were made on and whether a push was needed, in any order") {
  const std::vector<std::string> two_speeds{"high", "low"};
  for (const char* text : {"on low 20 19 push", "push on low 20 19", "20 19 on low push"}) {
    CAPTURE(text);
    const auto read = dialogue::parse_starts(text, two_speeds);
    CHECK(read.speed == "low");
    CHECK(read.needed_push);
    CHECK(read.position.empty());
    CHECK(read.attempts == 20);
    CHECK(read.successes == 19);
  }
  const auto side = dialogue::parse_starts("on its side on high 5 5 150V", two_speeds);
  CHECK(side.position == "on its side");
  CHECK(side.speed == "high");
  CHECK_FALSE(side.needed_push);
  CHECK(side.lowest_V == 150.0);
}

TEST_CASE("a capacitor is typed with what is marked and what was measured") {
  const auto both = dialogue::parse_capacitor("capacitor 2.5 2.4uF");
  REQUIRE(both);
  CHECK(both->marked_uF == 2.5);
  CHECK(both->measured_uF == 2.4);
  CHECK_FALSE(dialogue::parse_capacitor("cap 4\u00b5F")->measured_uF.has_value());
  CHECK_FALSE(dialogue::parse_capacitor("aux 32").has_value());
  for (const char* text : {"capacitor", "capacitor 2.5nF", "capacitor 1 2 3"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(dialogue::parse_capacitor(text), rewound::base::error);
  }
}
