// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <set>

#include <judged.hpp>
#include <rewound/base/error.hpp>
#include <rewound/record/words.hpp>

#include "dialogue/facts/basics.hpp"
#include "dialogue/facts/facts.hpp"

namespace dialogue = rewound::tool::dialogue;
namespace record = rewound::record;
using rewound::testing::good;

namespace {

std::string refusal(const dialogue::typed_facts& facts) {
  try {
    dialogue::with_facts(good.record(), facts);
    return "";
  } catch (const rewound::base::error& trouble) {
    return trouble.what();
  }
}

dialogue::beginning nothing_known() { return dialogue::beginning_of({}, "2026-05-14"); }

}  // namespace

TEST_CASE("a fact is named by its key, with blanks or underscores, with its unit or without") {
  for (const char* text :
       {"rated voltage 240", "rated_voltage_V 240", "Rated Voltage V  240", "machine.rated_voltage_V 240"}) {
    CAPTURE(text);
    const auto typed = dialogue::fact_named(text);
    CHECK(typed.key->name == "rated_voltage_V");
    CHECK(typed.value == "240");
  }
  CHECK(dialogue::fact_named("rated current").value.empty());
  CHECK(dialogue::fact_named("rated power 75W").key->name == "rated_power_W");
  for (const char* text : {"", "colour red", "rated 240", "current_A 2"})
    CHECK_THROWS_AS(dialogue::fact_named(text), rewound::base::error);
}

TEST_CASE("a fact is taken with its unit, by its word, taken out, and read by the record's own reader") {
  const auto in = good.record();
  CHECK(dialogue::with_facts(in, {{"machine.rated_current_A", "0.82 A"}}).machine.rated_current_A == 0.82);
  CHECK(dialogue::with_facts(in, {{"machine.poles", "6"}}).machine.poles == 6);
  CHECK_FALSE(dialogue::with_facts(in, {{"machine.poles", ""}}).machine.poles.has_value());
  CHECK(dialogue::with_facts(in, {{"machine.speed_control", "tapped winding"}}).machine.speed_control ==
        record::speed_control::tapped_winding);
  CHECK(dialogue::with_facts(in, {{"machine.frame_earthed", "no"}}).machine.frame_earthed == false);
  CHECK(dialogue::with_facts(in, {{"visit.notes", "hums; oil wick new"}}).visit.notes ==
        std::vector<std::string>{"hums", "oil wick new"});
  CHECK(dialogue::with_facts(in, {{"visit.end_play_mm", "0.3"}}).visit.end_play_mm == 0.3);
  CHECK(refusal({{"machine.poles", "3"}}).find("even") != std::string::npos);
  CHECK(refusal({{"machine.rated_voltage_V", "230Hz"}}).find("without a unit") != std::string::npos);
  CHECK(refusal({{"machine.rated_voltage_V", ""}}).find("rated_voltage_V") != std::string::npos);
  CHECK(refusal({{"machine.shaft", "bare"}}).find("a key of the record") != std::string::npos);
}

TEST_CASE("every fact that is stated is listed by the name by which it is corrected") {
  const auto in = good.record();
  const auto lines = dialogue::facts_stated(in);
  CHECK(lines.size() > 8);
  for (const auto& line : lines) {
    CAPTURE(line);
    const auto colon = line.find(": ");
    REQUIRE(colon != std::string::npos);
    const auto named = dialogue::fact_named(line.substr(0, colon));
    CHECK(dialogue::fact_text(in, *named.key) == line.substr(colon + 2));
  }
}

TEST_CASE("a question that is about a key explains it by the key's own sentence, example and range") {
  const auto explained = dialogue::key_explained(*dialogue::key_at("machine.rated_voltage_V"));
  CHECK(explained == "rated voltage, V: as marked; a voltage from 0.001 to 100000 V; as 230");
  CHECK(dialogue::key_at("machine.nothing") == nullptr);
  for (const auto& each : dialogue::basic_questions(nothing_known()))
    for (const auto& key : each.keys) {
      CAPTURE(key);
      CHECK(dialogue::key_at(key) != nullptr);
    }
}

TEST_CASE("the choices of a question are the words of the record, all of them") {
  for (const auto& each : dialogue::basic_questions(nothing_known())) {
    if (each.name != "control" && each.name != "circuit" && each.name != "class") continue;
    const auto* key = dialogue::key_at(each.keys.front());
    REQUIRE(key != nullptr);
    std::string shown = key->allowed + " ";
    for (const auto& choice : each.choices) {
      CAPTURE(choice.word);
      CHECK(shown.find(choice.word + " ") != std::string::npos);
    }
    CHECK(each.choices.size() == static_cast<std::size_t>(std::count(shown.begin(), shown.end(), ' ')));
  }
}

TEST_CASE("a choice is taken by its number or its word, several by both") {
  const std::vector<dialogue::choice> choices{{"I"}, {"II"}, {"0"}, {"series_reactor"}};
  CHECK(dialogue::chosen_of("2", choices) == "II");
  CHECK(dialogue::chosen_of("ii", choices) == "II");
  CHECK(dialogue::chosen_of("0", choices) == "0");
  CHECK(dialogue::chosen_of("series reactor", choices) == "series_reactor");
  CHECK(dialogue::chosen_of(" 4 ", choices) == "series_reactor");
  for (const char* text : {"5", "-1", "series", "", "1.0", "1 2"}) CHECK_FALSE(dialogue::chosen_of(text, choices));
  CHECK(dialogue::several_of("1, series_reactor 1", choices) == std::vector<std::string>{"I", "series_reactor"});
  CHECK_FALSE(dialogue::several_of("1 9", choices));
}

TEST_CASE("the same as another machine takes its facts over, but for its number and its serial number") {
  auto other = good.record().machine;
  other.serial = "A-1042";
  auto begin = nothing_known();
  dialogue::same_as(begin, other);
  const auto record = dialogue::record_of(begin, {{"name", "GH-8"}, {"job", "repaired"}});
  CHECK(record.machine.id == "GH-8");
  CHECK_FALSE(record.machine.serial.has_value());
  CHECK(record.machine.rated_voltage_V == other.rated_voltage_V);
  CHECK(record.machine.speeds == other.speeds);
  std::set<std::string> asked;
  for (const auto& each : dialogue::basic_questions(begin))
    if (!each.due || each.due({})) asked.insert(each.name);
  CHECK(asked == std::set<std::string>{"name", "job", "year", "have", "air"});
}

TEST_CASE("a rewound stator is of this year, and a repaired one is asked its year") {
  const auto rewound = dialogue::record_of(nothing_known(), {{"name", "GH-8"}, {"job", "rewound"}, {"year", "1970"}});
  CHECK(rewound.machine.wound_year == 2026);
  CHECK(rewound.visit.state == record::visit_state::after_repair);
  CHECK(dialogue::record_of(nothing_known(), {{"job", "repaired"}, {"year", "1970"}}).machine.wound_year == 1970);
  auto known = nothing_known();
  dialogue::same_as(known, rewound.machine);
  CHECK_FALSE(dialogue::record_of(known, {{"job", "repaired"}, {"year", ""}}).machine.wound_year.has_value());
  CHECK(dialogue::record_of(nothing_known(), {{"job", "as_found"}}).visit.state == record::visit_state::as_found);
}

TEST_CASE("what a plate says is kept to its last digit") {
  const auto record = dialogue::record_of(nothing_known(), {{"plate", "119.7654V 0.123456A 60Hz 75W"}});
  CHECK(record.machine.rated_voltage_V == 119.7654);
  CHECK(record.machine.rated_current_A == 0.123456);
  CHECK(record.machine.rated_power_W == 75.0);
}

TEST_CASE("a refused fact is told by its words, and a file's line that nobody sees is not") {
  try {
    dialogue::record_of(nothing_known(), {{"plate", "-230 50"}});
    FAIL("taken");
  } catch (const rewound::base::error& trouble) {
    const auto told = dialogue::error_words(trouble);
    CHECK(told.starts_with("rated voltage, V: "));
    CHECK(told.find("rated_voltage_V") == std::string::npos);
    CHECK(told.find("line") == std::string::npos);
  }
}
