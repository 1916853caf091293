// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <rewound/base/error.hpp>
#include <rewound/record/batch_source.hpp>
#include <rewound/record/record.hpp>

namespace record = rewound::record;

namespace {

/// The keys of one section of the blank record, those that are commented out too.
std::vector<std::string> keys_of_section(const std::string& section) {
  std::vector<std::string> out;
  const std::string blank(record::blank_record());
  auto at = blank.find("\n" + section + "\n") + section.size() + 2;
  for (const auto end = blank.find("\n\n", at); at < end;) {
    const auto stop = blank.find('\n', at);
    std::string line = blank.substr(at, stop - at);
    at = stop + 1;
    if (line.starts_with("# ")) line.erase(0, 2);
    const auto equals = line.find(" = ");
    if (equals != std::string::npos && line.find(' ') == equals) out.push_back(line.substr(0, equals));
  }
  return out;
}

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
  for (const auto* section : {"[machine]", "[visit]", "[[run_up]]"})
    for (const auto& key : keys_of_section(section)) {
      if (key == "id" || key == "line_voltage_V") continue;  // machine; voltage_L1_L2_V and so on
      CAPTURE(key);
      CHECK(refusal_of(key).find("a column that is not known") == std::string::npos);
      ++known;
    }
  CHECK(known >= 32);
  CHECK(refusal_of("no_such_key").find("a column that is not known") != std::string::npos);
}
