// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <fstream>
#include <functional>
#include <map>
#include <set>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include <near.hpp>

// Tables of oracle values: id|quantity|inputs as key=value;key=value|expected|tolerance (absolute)|source.
namespace rewound::testing {

/// The inputs of one row; asking for one that is not there fails the row.
class row_inputs {
 public:
  explicit row_inputs(const std::string& text) {
    std::istringstream pairs(text);
    for (std::string pair; std::getline(pairs, pair, ';');) {
      const auto equals = pair.find('=');
      if (equals == std::string::npos) throw std::runtime_error("not key=value: " + pair);
      values_[pair.substr(0, equals)] = std::stod(pair.substr(equals + 1));
    }
  }

  double operator()(const std::string& key) const {
    asked_.insert(key);
    return values_.at(key);
  }
  bool has(const std::string& key) const { return values_.contains(key); }
  bool all_used() const { return asked_.size() == values_.size(); }

 private:
  std::map<std::string, double> values_;
  mutable std::set<std::string> asked_;
};

using oracle_quantities = std::map<std::string, std::function<double(const row_inputs&)>>;

/// Checks every row of a table. No rows, a row whose quantity is not known, an input that nobody asked for and a
/// quantity that no row uses are all failures.
inline void check_table(const std::string& name, const oracle_quantities& quantities) {
  std::ifstream in(std::string(REWOUND_REFERENCE_DIR) + "/oracles/" + name);
  REQUIRE_MESSAGE(in.good(), "cannot open " << name);
  std::set<std::string> used;
  bool header = true;
  for (std::string line; std::getline(in, line);) {
    if (line.empty() || line.front() == '#') continue;
    std::vector<std::string> cells;
    std::istringstream parts(line);
    for (std::string cell; std::getline(parts, cell, '|');) cells.push_back(cell);
    CAPTURE(line);
    REQUIRE(cells.size() == 6);
    if (header) {
      CHECK(cells.front() == "id");
      header = false;
      continue;
    }
    const auto found = quantities.find(cells[1]);
    REQUIRE_MESSAGE(found != quantities.end(), "a row that this test does not know");
    CHECK_FALSE(cells[5].empty());
    const row_inputs inputs(cells[2]);
    CHECK(near_absolute(found->second(inputs), std::stod(cells[3]), std::stod(cells[4])));
    CHECK_MESSAGE(inputs.all_used(), "an input that the test does not use");
    used.insert(cells[1]);
  }
  CHECK_MESSAGE(!used.empty(), "no rows");
  CHECK(used.size() == quantities.size());
}

}  // namespace rewound::testing
