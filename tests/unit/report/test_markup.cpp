// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "pictures/axis.hpp"
#include "pages/markup.hpp"

namespace report = rewound::report;

TEST_CASE("markup in a text is shown, never taken") {
  CHECK(report::escaped("<script>alert('x')</script>") == "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;");
  CHECK(report::escaped("a \"b\" & c") == "a &quot;b&quot; &amp; c");
}

TEST_CASE("control characters, marks of direction and broken bytes are shown as the replacement character") {
  const std::string shown = "\xEF\xBF\xBD";
  CHECK(report::escaped(std::string("a\0b", 3)) == "a" + shown + "b");
  CHECK(report::escaped("a\x1b[31m") == "a" + shown + "[31m");
  CHECK(report::escaped("\u202Eabc") == shown + "abc");
  CHECK(report::escaped("\u0085") == shown);
  CHECK(report::escaped("\xC3(") == shown + "(");
  CHECK(report::escaped("\xED\xA0\x80") == shown + shown + shown);  // a surrogate is no character
  CHECK(report::escaped("\xC0\xAF") == shown + shown);              // nor is a slash in two bytes
  CHECK(report::escaped("two\nlines\tand tab") == "two lines and tab");
}

TEST_CASE("text of any script is kept") { CHECK(report::escaped("Gewächshaus Ω 温室") == "Gewächshaus Ω 温室"); }

TEST_CASE("signs are typeset in sentences, and in whole words alone") {
  CHECK(report::typeset("0.61 A +- 0.01") == "0.61 A \u00b1 0.01");
  CHECK(report::typeset("240 Mohm at 40 degC") == "240 M\u03a9 at 40 \u00b0C");
  CHECK(report::typeset("18.4 ohm, look at ohms and watts") == "18.4 \u03a9, look at ohms and watts");
  CHECK(report::typeset("a < b +- c") == "a &lt; b \u00b1 c");
}

TEST_CASE("a label is cut between characters and says so") {
  CHECK(report::shortened("medium", 6) == "medium");
  CHECK(report::shortened("medium low", 6) == "mediu\u2026");
  CHECK(report::shortened("ωωωω", 3) == "ωω\u2026");
}

TEST_CASE("a linear axis holds all values and its ticks are round") {
  report::extent values;
  values.take({0.21, 0.455});
  const auto axis = report::linear_axis(values, "A", 5);
  CHECK(axis.low < 0.21);
  CHECK(axis.high > 0.455);
  REQUIRE(axis.ticks.size() >= 3);
  for (const auto& tick : axis.ticks) {
    CHECK(tick.value >= axis.low);
    CHECK(tick.value <= axis.high);
    CHECK(std::abs(std::stod(tick.text) - tick.value) < 1e-9);
  }
}

TEST_CASE("an axis whose values reach near zero begins there, and never shows minus nothing") {
  report::extent values;
  values.take({0.1, 9.0});
  const auto axis = report::linear_axis(values, "K", 5);
  CHECK(axis.low == 0.0);
  CHECK(report::tick_text(-1e-17, 1.0) == "0");
}

TEST_CASE("a logarithmic axis places equal ratios at equal distances") {
  report::extent values;
  values.take({2.0, 800.0});
  const auto axis = report::logarithmic_axis(values, "Mohm");
  const double decade = axis.place(40.0) - axis.place(4.0);
  CHECK(std::abs(axis.place(400.0) - axis.place(40.0) - decade) < 1e-12);
  CHECK(axis.place(axis.low) == 0.0);
  REQUIRE(axis.ticks.size() >= 2);
}

TEST_CASE("a logarithmic axis of less than a decade has ticks enough to be read") {
  report::extent values;
  values.take({120.0, 190.0});
  CHECK(report::logarithmic_axis(values, "Mohm").ticks.size() >= 3);
}

TEST_CASE("marks piled on a letter are kept to three, and characters that are not seen are shown") {
  std::string piled = "e";
  for (int i = 0; i < 300; ++i) piled += "\u0301";
  CHECK(report::escaped(piled) == "e\u0301\u0301\u0301");
  CHECK(report::escaped("GH\u200B-07") == "GH\xEF\xBF\xBD-07");
  CHECK(report::escaped("GH\u00AD-07") == "GH\xEF\xBF\xBD-07");
}
