// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <rewound/base/error.hpp>
#include <rewound/record/batch_source.hpp>
#include <rewound/record/key_table.hpp>
#include <rewound/record/record.hpp>

namespace record = rewound::record;

namespace {

/// The columns of a long table that a header with a wrong one is told.
std::string refusal_of(const std::string& header) {
  const auto path = std::filesystem::temp_directory_path() / "rewound_test_columns.csv";
  std::ofstream(path) << header << "\n1\n";
  std::string told;
  try {
    record::open_batch(path.string());
  } catch (const rewound::base::error& trouble) {
    told = trouble.what();
  }
  std::filesystem::remove(path);
  return told;
}

}  // namespace

TEST_CASE("every key of a machine, a visit and a run-up is a column of a long table") {
  std::size_t known = 0;
  for (const auto& key : record::listed_keys()) {
    if (key.section != "machine" && key.section != "visit" && key.section != "run_up") continue;
    if (key.name == "id" || key.name == "line_voltage_V" || key.row_only)
      continue;  // machine; voltage_L1_L2_V and so on
    CAPTURE(key.name);
    CHECK(refusal_of(key.name).find("a column that is not known") == std::string::npos);
    ++known;
  }
  CHECK(known >= 32);
  CHECK(refusal_of("no_such_key").find("a column that is not known") != std::string::npos);
}

TEST_CASE("every key of the instruments of a run-up is a column of a long table, what asks them is none") {
  std::size_t known = 0;
  for (const auto& key : record::listed_keys()) {
    if (key.section != "instruments.voltmeter") continue;
    for (const std::string meter : {"voltmeter", "ammeter", "wattmeter", "tachometer"}) {
      const auto name = "instruments." + meter + "." + key.name;
      CAPTURE(name);
      const bool link = key.name == "address" || key.name == "query" || key.name == "timeout_s";
      CHECK((refusal_of(name).find("a column that is not known") != std::string::npos) == link);
      ++known;
    }
  }
  CHECK(known >= 20);
}
