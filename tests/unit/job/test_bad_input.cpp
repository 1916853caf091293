// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <filesystem>
#include <set>
#include <string>
#include <vector>

#include <rewound/base/error.hpp>
#include <rewound/record/record.hpp>

using rewound::base::error;
using rewound::base::error_code;

// Every file of reference/records/bad holds one defect, named in its first line; here is what has to be said of it.
namespace {

struct bad_file {
  std::string name;
  error_code code;
  int line;
  std::string field;
  std::string read;     ///< part of what the error says was read
  std::string allowed;  ///< part of what it says is allowed
};

const std::vector<bad_file> bad_files{
    {"empty", error_code::empty_file, 0, "", "empty file", "rewound template"},
    {"empty_run_up", error_code::empty_list, 20, "run_up[0].voltage_V", "empty list", "at least one reading"},
    {"fraction_of_starts", error_code::out_of_range, 30, "starts[0].attempts", "2.5", "whole number"},
    {"impossible_date", error_code::out_of_range, 15, "visit.date", "2026-02-30", "calendar"},
    {"infinite_resistance", error_code::wrong_type, 33, "insulation[0].resistance_Mohm[2]", "inf", "full_scale"},
    {"missing_key", error_code::missing_key, 4, "machine.rated_voltage_V", "nothing", "required"},
    {"more_successes_than_attempts", error_code::out_of_range, 31, "starts[0].successes", "6", "0 to attempts, here 5"},
    {"nan_current", error_code::out_of_range, 21, "run_up[0].current_A[2]", "nan", "or up to 100000 A"},
    {"negative_current", error_code::out_of_range, 21, "run_up[0].current_A[1]", "-0.345", "a current of 0, or"},
    {"negative_voltage", error_code::out_of_range, 7, "machine.rated_voltage_V", "-230", "from 0.001 to 100000 V"},
    {"no_format", error_code::unknown_format, 1, "format", "nothing", "rewound-record/1"},
    {"no_run_up", error_code::missing_key, 1, "run_up", "no run-up", "at least one [[run_up]]"},
    {"not_a_choice", error_code::not_a_choice, 11, "machine.speed_control", "magic", "series_reactor"},
    {"not_toml", error_code::not_toml, 14, "", "[visit", "as in [visit]"},
    {"speed_twice", error_code::repeated, 24, "run_up[1].speed", "high", "one [[run_up]] a speed"},
    {"times_not_rising", error_code::not_rising, 32, "insulation[0].time_s", "30", "times that rise"},
    {"unequal_lengths", error_code::unequal_lengths, 21, "run_up[0].current_A", "2 values", "as many as in voltage_V"},
    {"unknown_format", error_code::unknown_format, 2, "format", "rewound-record/9", "rewound-record/1"},
    {"unknown_key", error_code::unknown_key, 9, "machine.rated_curent_A", "", "did you mean rated_current_A?"},
    {"unknown_section", error_code::unknown_key, 28, "isolation", "", "did you mean insulation?"},
    {"unknown_speed", error_code::not_a_choice, 19, "run_up[0].speed", "turbo", "high, low"},
    {"wrong_type", error_code::wrong_type, 7, "machine.rated_voltage_V", "230 V", "from 0.001 to 100000 V"},
};

const std::filesystem::path bad_records = std::filesystem::path(REWOUND_REFERENCE_DIR) / "records/bad";

}  // namespace

TEST_CASE("every bad record is refused with its code, its line and its field") {
  for (const auto& bad : bad_files) {
    CAPTURE(bad.name);
    const std::string path = (bad_records / (bad.name + ".toml")).string();
    try {
      rewound::record::load_record(path);
      FAIL_CHECK("no error");
    } catch (const error& trouble) {
      CHECK(name(trouble.code()) == name(bad.code));
      CHECK(trouble.where().file == path);
      CHECK(trouble.where().line == bad.line);
      CHECK(trouble.where().field == bad.field);
      CHECK_MESSAGE(trouble.read().find(bad.read) != std::string::npos, trouble.what());
      CHECK_MESSAGE(trouble.allowed().find(bad.allowed) != std::string::npos, trouble.what());
    }
  }
}

TEST_CASE("every file of the folder of bad records is in the table") {
  std::set<std::string> listed;
  for (const auto& bad : bad_files) listed.insert(bad.name);
  std::set<std::string> present;
  for (const auto& entry : std::filesystem::directory_iterator(bad_records))
    present.insert(entry.path().stem().string());
  CHECK(present == listed);
}

TEST_CASE("a file that does not exist and a folder are said to be unreadable") {
  for (const auto& path : {bad_records / "no_such_file.toml", bad_records}) {
    try {
      rewound::record::load_record(path.string());
      FAIL_CHECK("no error");
    } catch (const error& trouble) {
      CHECK(trouble.code() == error_code::file_unreadable);
      CHECK(trouble.where().file == path.string());
    }
  }
}

TEST_CASE("the blank record and the good ones are read") {
  CHECK_NOTHROW(
      rewound::record::record_from(rewound::record::read_toml_text(rewound::record::blank_record(), "blank")));
  int count = 0;
  for (const auto& entry : std::filesystem::directory_iterator(bad_records.parent_path() / "good")) {
    if (entry.path().extension() != ".toml") continue;
    CHECK_NOTHROW(rewound::record::load_record(entry.path().string()));
    ++count;
  }
  CHECK(count > 0);
}
