// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>

#include <rewound/report/number_text.hpp>
#include <rewound/report/wording.hpp>

namespace report = rewound::report;
using rewound::verdict::finding;
using rewound::verdict::outcome;
using rewound::verdict::statement;

TEST_CASE("every statement has its sentence") {
  for (int i = 0; i < static_cast<int>(statement::count_); ++i) {
    CAPTURE(i);
    CHECK_FALSE(report::words_for(static_cast<statement>(i)).sentence.empty());
  }
}

TEST_CASE("a sentence holds the finding's own numbers, rounded by their uncertainty") {
  finding f{.subject = "high", .says = statement::draw_under_nameplate_ceiling};
  rewound::verdict::set_value(f, 0.42123, 0.005, "A");
  f.limit_high = 0.504;
  f.texts.emplace_back("extrapolated", "no");
  const std::string sentence = report::sentence(f);
  CHECK(sentence.find("speed high draws 0.421 A") != std::string::npos);
  CHECK(sentence.find("0.504") != std::string::npos);
  CHECK(sentence.find("weak test") != std::string::npos);
  CHECK(sentence.find('{') == std::string::npos);
}

TEST_CASE("a number shows as many decimals as its uncertainty supports") {
  CHECK(report::number_text(0.42123, 0.01) == "0.421");
  CHECK(report::number_text(0.42123, 0.05) == "0.42");
  CHECK(report::number_text(1234.5, 30.0) == "1230");
  CHECK(report::number_text(0.3) == "0.3");
}

TEST_CASE("a probability never pretends to be certain") {
  CHECK(report::probability_text(0.99999) == "over 0.999");
  CHECK(report::probability_text(0.5) == "0.500");
  CHECK(report::probability_text(1e-9) == "under 0.001");
}
