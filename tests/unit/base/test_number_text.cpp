// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <random>

#include <rewound/base/number_text.hpp>

using namespace rewound::base;

TEST_CASE("a number's shortest text by the C library gives the number again, as short as the standard's own") {
  std::mt19937_64 draw(20261130);
  for (int i = 0; i < 20000; ++i) {
    // Half of them readings with few digits, half any bits at all.
    const double value = i % 2 == 0
                             ? static_cast<double>(draw() % 1000000) / std::pow(10.0, static_cast<int>(draw() % 7))
                             : std::bit_cast<double>(draw());
    if (!std::isfinite(value)) continue;
    const auto text = detail::shortest_by_c(value);
    CAPTURE(text);
    CHECK(whole_number_text(text) == value);
    const auto own = shortest_text(value);
    CHECK(text.size() <= own.size() + 1);
    if (i % 2 == 0) CHECK(text == own);
  }
}

TEST_CASE("the C library reads of a text what the standard's own reader does") {
  for (const auto* text : {"0.42", "-0.5", ".5", "5.", "1e3", "1e", "1e+",  "1.5e-3V", "230 V", "+1",
                           " 1",   "0x10", "",   "-",  ".",   "e5", "12,5", "1e999",   "00012", "1.2.3"}) {
    CAPTURE(text);
    const auto own = number_at_start(text);
    const auto by_c = detail::number_by_c(text);
    REQUIRE(own.has_value() == by_c.has_value());
    if (own) {
      CHECK(own->value == by_c->value);
      CHECK(own->length == by_c->length);
    }
  }
}

TEST_CASE("a text that goes on behind its number is no number as a whole") {
  CHECK(whole_number_text("230") == 230.0);
  CHECK_FALSE(whole_number_text("230 V").has_value());
  CHECK_FALSE(whole_number_text("").has_value());
}
