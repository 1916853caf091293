// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <cstdio>
#include <random>
#include <string>

#include <rewound/base/characters.hpp>
#include <rewound/base/number_text.hpp>

using namespace rewound;

namespace {

std::string printed(const char* form, int digits, double value) {
  char text[512];
  std::snprintf(text, sizeof text, form, digits, value);
  return text;
}

}  // namespace

TEST_CASE("digits are those of printf in the C locale") {
  constexpr unsigned seed = 5;
  CAPTURE(seed);
  std::mt19937_64 random(seed);
  std::uniform_real_distribution<double> exponent(-310.0, 308.0), mantissa(-10.0, 10.0);
  for (int i = 0; i < 20000; ++i) {
    const double value = i == 0 ? 0.0 : i == 1 ? -0.0 : mantissa(random) * std::pow(10.0, exponent(random));
    for (const int digits : {4, 6, 10}) REQUIRE(base::general_digits(value, digits) == printed("%.*g", digits, value));
    for (const int digits : {0, 1, 6}) REQUIRE(base::fixed_digits(value, digits) == printed("%.*f", digits, value));
    REQUIRE(base::signed_digits(value, 1) == printed("%+.*f", 1, value));
  }
}

TEST_CASE("text is UTF-8 or not, a replacement character that was written being one of its own") {
  for (const char* whole : {"", "GH-07", "\xC3\xA9", "\xEF\xBF\xBD", "\xF0\x9F\x8C\xB4"}) CHECK(base::is_utf8(whole));
  for (const char* broken : {"\xFF", "a\xC3", "\xC0\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80", "\x80"})
    CHECK_FALSE(base::is_utf8(broken));
}
