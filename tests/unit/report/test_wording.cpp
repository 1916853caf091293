// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>

#include <rewound/report/number_text.hpp>
#include <rewound/report/wording.hpp>

#include "words/cold_phrases.hpp"
#include "words/heat_sentences.hpp"
#include "words/insulation_phrases.hpp"
#include "words/running_sentences.hpp"
#include "words/short_sentences.hpp"

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
  f.texts.emplace_back("usually", "not");
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

namespace {

/// What is left of a pattern without what its braces stand for.
std::string own_words(std::string_view pattern) {
  std::string out;
  int depth = 0;
  for (const char c : pattern) {
    depth += c == '{' ? 1 : 0;
    if (depth == 0) out += c;
    depth -= c == '}' ? 1 : 0;
  }
  return out;
}

bool names_a_key(std::string_view pattern) {
  const std::string words = own_words(pattern);
  return words.find('_') != std::string::npos || words.find("--") != std::string::npos;
}

}  // namespace

TEST_CASE("no sentence names a key of a record or an option of a command") {
  CHECK(names_a_key("enter wound_year"));
  CHECK(names_a_key("judge with --earlier"));
  CHECK_FALSE(names_a_key("{limit_low} V"));
  for (int i = 0; i < static_cast<int>(statement::count_); ++i) {
    const auto& words = report::words_for(static_cast<statement>(i));
    for (const auto pattern : {words.sentence, words.advice, words.condition}) {
      CAPTURE(pattern);
      CHECK_FALSE(names_a_key(pattern));
    }
  }
  for (const auto& entry : report::short_sentences) {
    CAPTURE(entry.sentence);
    CHECK_FALSE(names_a_key(entry.sentence));
    CHECK_FALSE(names_a_key(entry.advice));
  }
  const auto check_phrases = [](const auto& table) {
    for (const auto& each : table) {
      CAPTURE(each.words);
      CHECK_FALSE(names_a_key(each.words));
    }
  };
  check_phrases(report::cold_phrases);
  check_phrases(report::heat_phrases);
  check_phrases(report::insulation_phrases);
  check_phrases(report::running_phrases);
}

TEST_CASE("a short sentence says more or less, and than when") {
  finding f{.subject = "high", .says = statement::draw_against_earlier};
  rewound::verdict::set_value(f, 13.21, 1.0, "%");
  f.outcome = outcome::fails;
  CHECK(report::short_sentence(f, "in May") == "high draws 13 % more than in May");
  rewound::verdict::set_value(f, -4.0, 1.0, "%");
  CHECK(report::short_sentence(f, "in May") == "high draws 4 % less than in May");
  rewound::verdict::set_value(f, 0.2, 1.0, "%");
  CHECK(report::short_sentence(f, "in May") == "high draws as much as in May");
  f.subject = "2";
  CHECK(report::short_sentence(f, "in May") == "speed 2 draws as much as in May");
}

TEST_CASE("a limit shows three digits, a stated number those that it has") {
  finding f{.says = statement::supply_voltage_window};
  f.value = 100.0 / 11.0;
  f.unit = "%";
  f.limit_low = -10.0;
  f.limit_high = 10.0;
  CHECK(report::sentence(f).find("9.09 %") != std::string::npos);
  finding large{.subject = "on", .says = statement::draw_against_nameplate};
  rewound::verdict::set_value(large, 84.2, 0.4, "A");
  large.limit_high = 102.0;
  large.numbers.push_back({"marked", 85.0, 0.005});
  CHECK(report::sentence(large).find("marked 85 A") != std::string::npos);
}

TEST_CASE("a long sentence is told up to its first clause's end") {
  CHECK(report::first_clause("short; and whole") == "short; and whole");
  const std::string told = "what stands first is told; " + std::string(140, 'x');
  CHECK(report::first_clause(told) == "what stands first is told");
}
