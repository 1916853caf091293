// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cctype>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <unistd.h>

#include <rewound/base/error.hpp>
#include <rewound/record/beyond_range_words.hpp>
#include <rewound/record/document.hpp>
#include <rewound/record/record.hpp>

namespace record = rewound::record;
using rewound::base::error;
using rewound::base::errors;

namespace {

const std::string plain =
    "format = \"rewound-record/1\"\n"
    "[machine]\n"
    "id = \"GH-12\"\n"
    "phases = 1\n"
    "rated_voltage_V = 230\n"
    "rated_frequency_Hz = 50\n"
    "rated_current_A = 0.42\n"
    "speeds = [\"high\"]\n"
    "speed_control = \"none\"\n"
    "running_circuit = \"unknown\"\n"
    "[visit]\n"
    "date = 2026-05-14\n"
    "state = \"after_repair\"\n"
    "ambient_C = 21\n"
    "[[run_up]]\n"
    "speed = \"high\"\n"
    "voltage_V = [120, 230]\n"
    "current_A = [0.21, 0.42]\n"
    "[[insulation]]\n"
    "circuit = \"winding to frame\"\n"
    "test_voltage_V = 500\n"
    "time_s = [15, 60]\n"
    "resistance_Mohm = [180, 310]\n";

std::string with(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

/// Read as a file is: what cannot be read as TOML and what cannot be come together.
record::visit_record loaded(const std::string& text) {
  const auto path =
      std::filesystem::temp_directory_path() / ("rewound_by_hand_" + std::to_string(::getpid()) + ".toml");
  std::ofstream(path) << text;
  struct removed {
    std::filesystem::path path;
    ~removed() { std::filesystem::remove(path); }
  } guard{path};
  return record::load_record(path.string());
}

std::vector<error> errors_in(const std::string& text) {
  try {
    loaded(text);
  } catch (const errors& found) {
    return found.all();
  } catch (const error& one) {
    return {one};
  }
  return {};
}

}  // namespace

TEST_CASE("slips with one meaning are understood") {
  CHECK(loaded(with(plain, "[0.21, 0.42]", "[.21, .42]")) == loaded(plain));
  CHECK(loaded(with(plain, "rated_current_A = 0.42", "rated_current_A = .42")) == loaded(plain));
  CHECK(loaded(with(plain, "rated_voltage_V = 230", "rated_voltage_V = 230.")) == loaded(plain));
  CHECK(loaded(with(plain, "ambient_C = 21", "ambient_C = 21\nnotes = \"oiled\"")).visit.notes ==
        std::vector<std::string>{"oiled"});
  const auto one = loaded(with(with(plain, "[120, 230]", "230"), "[0.21, 0.42]", "0.42"));
  REQUIRE(one.run_up[0].rows.size() == 1);
  CHECK(one.run_up[0].rows[0] == record::run_up_row{.voltage_V = 230, .current_A = 0.42});
}

TEST_CASE("a resistance beyond the tester's range is a least value") {
  for (const char* text : {"[180, \">2000\"]", "[180, >2000]", "[180, > 2000]", "[180, \"over 2000\"]"}) {
    CAPTURE(text);
    const auto read = loaded(with(plain, "[180, 310]", text));
    CHECK_FALSE(read.insulation[0].rows[0].over_range);
    CHECK(read.insulation[0].rows[1] == record::insulation_row{60, 2000, true});
    CHECK(loaded(record::record_text(read)) == read);
  }
  const auto unknown = errors_in(with(plain, "[180, 310]", "[180, OL]"));
  REQUIRE(unknown.size() == 1);
  CHECK(unknown[0].allowed().find("\">2000\"") != std::string::npos);
  const std::string tester =
      "[instruments.insulation_tester]\nreading_percent = 3\ndigits = 2\nresolution = 1e5\nfull_scale = 2e9\n";
  const auto known = loaded(with(plain, "[180, 310]", "[180, OL]") + tester);
  CHECK(known.insulation[0].rows[1] == record::insulation_row{60, 2000, true});
}

TEST_CASE("what cannot be understood is explained in the words of the person who wrote it") {
  struct slip {
    const char* from;
    const char* to;
    int line;
    const char* told;
  };
  const std::vector<slip> slips{
      {"rated_current_A = 0.42", "rated_current_A = 0,42", 7, "a decimal point, as in rated_current_A = 0.42"},
      {"rated_current_A = 0.42", "rated_current_A = \"0,42\"", 7, "with a decimal point: 0.42"},
      {"rated_current_A = 0.42", "rated_current_A = 0.42 A", 7, "the number alone, in A as the key says: 0.42"},
      {"rated_current_A = 0.42", "rated_current_A = \"0.42\"", 7, "without quotation marks: 0.42"},
      {"rated_current_A = 0.42", "rated_current_A = [0.42]", 7, "one number, without brackets: 0.42"},
      {"rated_current_A = 0.42", "rated_current_A = ", 7, "a value behind ="},
      {"rated_current_A = 0.42", "rated_current_A: 0.42", 7, "an equals sign"},
      {"rated_current_A = 0.42", "rated_current_mA = 420", 7, "rated_current_A = ..., in A: mA divided by 1000"},
      {"ambient_C = 21", "ambient_C = 70F", 14, "in degC: 21.1"},
      {"ambient_C = 21", "ambient_F = 70", 14, "ambient_C = ..., in C: (degF - 32) / 1.8"},
      {"id = \"GH-12\"", "id = GH-12", 3, "a text in quotation marks, as in id = \"GH-12\""},
      {"id = \"GH-12\"", "id = \"GH-12", 3, "quotation marks on both sides"},
      {"id = \"GH-12\"", "id = 12", 3, "a text, in quotation marks"},
      {"speeds = [\"high\"]", "speeds = [high]", 8, "as in speeds = [\"high\"]"},
      {"date = 2026-05-14", "date = 14.05.2026", 12, "a date as year-month-day"},
      {"[visit]", "[visit", 11, "the name of a table, as in [visit]"},
      {"current_A = [0.21, 0.42]", "current_A = [0,21, 0,42]", 18, "a number with decimals has a point: 0.42"},
      {"current_A = [0.21, 0.42]", "current_A = [0.21, 0.42", 18, "a list between [ and ]"},
  };
  for (const auto& each : slips) {
    CAPTURE(std::string(each.to));
    const auto found = errors_in(with(plain, each.from, each.to));
    REQUIRE(found.size() == 1);
    CHECK(found[0].where().line == each.line);
    CHECK_MESSAGE(found[0].allowed().find(each.told) != std::string::npos, found[0].what());
  }
}

TEST_CASE("a suggestion is never worse than none") {
  for (const char* key : {"remarks", "note_x", "wheels", "colour"}) {
    CAPTURE(key);
    const auto found = errors_in(with(plain, "phases = 1", "phases = 1\n" + std::string(key) + " = \"x\""));
    REQUIRE(found.size() == 1);
    CHECK(found[0].allowed().find("did you mean") == std::string::npos);
    CHECK(found[0].allowed().find("rated_voltage_V") != std::string::npos);
  }
  // "notes" is a key of the visit; under [machine] it does not mean "poles".
  const auto notes = errors_in(with(plain, "phases = 1", "phases = 1\nnotes = [\"x\"]"));
  REQUIRE(notes.size() == 1);
  CHECK(notes[0].allowed().find("poles?") == std::string::npos);
}

TEST_CASE("all errors of a record come at once, in the order of their lines") {
  auto text = with(plain, "rated_current_A = 0.42", "rated_current_A = 0,42");
  text = with(text, "state = \"after_repair\"", "state = \"mended\"");
  text = with(text, "[0.21, 0.42]", "[0.21, -0.42]");
  text = with(text, "test_voltage_V = 500", "test_voltage_V = \"500 V\"");
  text = with(text, "[180, 310]", "[180, much]");
  const auto found = errors_in(text);
  std::vector<int> lines;
  for (const auto& each : found) {
    lines.push_back(each.where().line);
    CAPTURE(std::string(each.what()));
    CHECK(std::string(each.what()).find("toml::") == std::string::npos);
    CHECK_FALSE(each.read().empty());
    CHECK_FALSE(each.allowed().empty());
  }
  CHECK(lines == std::vector<int>{7, 13, 18, 21, 23});
}

TEST_CASE("a misspelt table is told once, whatever else rests on what stands in it") {
  const auto found = errors_in(with(plain, "[visit]", "[Visit]"));
  REQUIRE(found.size() == 1);
  CHECK(found[0].where().line == 11);
  CHECK(found[0].allowed() == "did you mean visit?");
}

TEST_CASE("an empty word for a meter is told once") {
  const auto found = errors_in(with(plain, "ambient_C = 21", "ambient_C = 21\nhave = [\"\"]"));
  REQUIRE(found.size() == 1);
  CHECK(found[0].read() == "an empty text");
}

TEST_CASE("every word and sign of more than the range is understood, in any letters") {
  const auto value_of = [](const std::string& written) {
    return loaded(with(plain, "[180, 310]", "[180, \"" + written + "\"]")).insulation.front().rows.back();
  };
  for (const auto sign : record::words::signs_of_more) {
    CAPTURE(std::string(sign));
    const auto row = value_of(std::string(sign) + " 2000");
    CHECK(row.over_range);
    CHECK(row.resistance_Mohm == 2000.0);
  }
  for (const auto word : record::words::beyond_range) {
    CAPTURE(std::string(word));
    std::string capitals(word);
    for (char& c : capitals) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
    if (word.front() == static_cast<char>(0xe2)) capitals = word;
    for (const auto& written : {std::string(word), capitals}) {
      const auto found = errors_in(with(plain, "[180, 310]", "[180, \"" + written + "\"]"));
      REQUIRE(found.size() == 1);  // the tester's full scale is not known: said of a reading beyond it alone
      CHECK(found[0].allowed().find("full_scale under [instruments]") != std::string::npos);
    }
  }
}
