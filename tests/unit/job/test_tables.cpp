// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <string>

#include <rewound/base/error.hpp>
#include <rewound/record/record.hpp>

using rewound::base::error;
using rewound::base::error_code;

// Sections of a record that stand in comma-separated tables beside it.
namespace {

using run_up_row = rewound::record::run_up_row;
using lines = rewound::record::three_lines;

/// A folder of its own with a record that names runup.csv, removed at the end of the test.
class bench_folder {
 public:
  explicit bench_folder(const std::string& table, int phases = 1) {
    std::filesystem::create_directories(path_);
    std::string record = record_;
    record.replace(record.find("phases = 1"), 10, "phases = " + std::to_string(phases));
    std::ofstream(path_ / "record.toml") << record;
    std::ofstream(path_ / "runup.csv") << table;
  }
  ~bench_folder() { std::filesystem::remove_all(path_); }
  bench_folder(const bench_folder&) = delete;
  bench_folder& operator=(const bench_folder&) = delete;

  rewound::record::visit_record read() const { return rewound::record::load_record((path_ / "record.toml").string()); }
  void without_table() const { std::filesystem::remove(path_ / "runup.csv"); }

 private:
  std::filesystem::path path_ =
      std::filesystem::temp_directory_path() / ("rewound_test_tables_" + std::to_string(::getpid()));
  std::string record_ =
      "format = \"rewound-record/1\"\n[machine]\nid = \"GH-12\"\nphases = 1\nrated_voltage_V = 230\n"
      "rated_frequency_Hz = 50\nspeeds = [\"high\", \"low\"]\nspeed_control = \"unknown\"\nrunning_circuit = "
      "\"unknown\"\n"
      "[visit]\ndate = 2026-05-21\nstate = \"recheck\"\n[[run_up]]\nfile = \"runup.csv\"\n";
};

void is_refused(const std::string& table, error_code code, int line, int phases = 1) {
  CAPTURE(table);
  const bench_folder folder(table, phases);
  try {
    folder.read();
    FAIL_CHECK("no error");
  } catch (const error& trouble) {
    CHECK(name(trouble.code()) == name(code));
    CHECK(trouble.where().line == line);
    CHECK(trouble.where().file.find("runup.csv") != std::string::npos);
  }
}

}  // namespace

TEST_CASE("rows of a table are gathered into one run-up a speed, in their order") {
  const bench_folder folder(
      "speed,voltage_V,current_A,turning\nhigh,150,0.268,true\nlow,150,0.198,true\nhigh, 230 ,\"0.421\",false\n");
  const auto record = folder.read();
  REQUIRE(record.run_up.size() == 2);
  CHECK(record.run_up[0].speed == "high");
  CHECK(record.run_up[0].column(&run_up_row::voltage_V) == std::vector{150.0, 230.0});
  CHECK(record.run_up[0].column(&run_up_row::current_A) == std::vector{0.268, 0.421});
  CHECK(record.run_up[0].rows[0].turning);
  CHECK_FALSE(record.run_up[0].rows[1].turning);
  CHECK(record.run_up[1].column(&run_up_row::current_A) == std::vector{0.198});
}

TEST_CASE("a byte-order mark, empty lines and line ends of another system do no harm") {
  const bench_folder folder("\xef\xbb\xbfspeed,voltage_V,current_A\r\n\r\nhigh,150,0.268\r\n");
  CHECK(folder.read().run_up.front().column(&run_up_row::current_A) == std::vector{0.268});
}

TEST_CASE("a table that cannot be read says where") {
  is_refused("speed,voltage_V,current_A\nhigh,150\n", error_code::bad_table, 2);
  is_refused("speed,voltage_V,current_A\n\"high,150,0.268\n", error_code::bad_table, 2);
  is_refused("speed,voltage_V,current_A\nhigh,150,a lot\n", error_code::wrong_type, 2);
  is_refused("speed,voltage_V,current_A\nhigh,150,0.2\nhigh,230,-0.4\n", error_code::out_of_range, 3);
  is_refused("voltage_V,current_A\n150,0.268\n", error_code::missing_key, 1);
  is_refused("speed,voltage_V,current_A\n", error_code::empty_list, 0);
  is_refused("", error_code::empty_file, 0);
}

TEST_CASE("a table that does not exist is unreadable") {
  const bench_folder folder("x");
  folder.without_table();
  CHECK_THROWS_WITH_AS(folder.read(), doctest::Contains("runup.csv"), error);
}

TEST_CASE("three lines stand in three columns, and rows with rolled leads make a run-up of their own") {
  const bench_folder folder(
      "speed,leads,voltage_V,current_L1_A,current_L2_A,current_L3_A,voltage_L1_L2_V,voltage_L2_L3_V,voltage_L3_L1_V\n"
      "high,,200,1.0,1.1,1.2,199,200,201\n"
      "high,as_marked,230,1.2,1.3,1.4,229,230,231\n"
      "high,rolled_once,230,1.4,1.2,1.3,229,230,231\n",
      3);
  const auto record = folder.read();
  REQUIRE(record.run_up.size() == 1);
  REQUIRE(record.rolled_run_up.size() == 1);
  CHECK(record.run_up[0].column(&run_up_row::line_current_A) == std::vector<lines>{{1.0, 1.1, 1.2}, {1.2, 1.3, 1.4}});
  CHECK(record.run_up[0].column(&run_up_row::line_voltage_V) == std::vector<lines>{{199, 200, 201}, {229, 230, 231}});
  CHECK(record.rolled_run_up[0].column(&run_up_row::line_current_A) == std::vector<lines>{{1.4, 1.2, 1.3}});
  CHECK(record.rolled_run_up[0].leads_rolled == 1);
}

TEST_CASE("columns by line that cannot be are refused at their place") {
  // A line left out in one row; one column beside columns by line, in either order; a lead's word that is none.
  is_refused("speed,voltage_V,current_L1_A,current_L2_A,current_L3_A\nhigh,200,1,1,1\nhigh,230,1,,1\n",
             error_code::unequal_lengths, 3, 3);
  is_refused("speed,voltage_V,current_A,current_L1_A\nhigh,200,1,1\n", error_code::bad_table, 2, 3);
  is_refused("speed,voltage_V,current_L1_A,current_A\nhigh,200,1,1\n", error_code::unequal_lengths, 2, 3);
  is_refused("speed,voltage_V,line_voltage_V,voltage_L1_L2_V,current_L1_A\nhigh,200,1,1,1\n", error_code::bad_table, 2,
             3);
  is_refused("speed,leads,voltage_V,current_L1_A,current_L2_A,current_L3_A\nhigh,turned,200,1,1,1\n",
             error_code::not_a_choice, 2, 3);
  is_refused("speed,voltage_V,current_L1_A,current_L2_A,current_L3_A\nhigh,200,1,1,1\n", error_code::unequal_lengths,
             2);
}
