// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <limits>
#include <memory>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

#include <rewound/base/error.hpp>
#include <rewound/verdict/policy.hpp>

using namespace rewound::verdict;

namespace {

practice_number practice_named(std::string_view name) {
  for (const auto& number : practice_list)
    if (number.row.name == name) return number;
  throw std::invalid_argument(std::string(name));
}

}  // namespace

TEST_CASE("a probability on a border still counts: 0.95 conforms and 0.05 fails") {
  CHECK(by_probability(0.95, 0.95, 0.05) == outcome::conforms);
  CHECK(by_probability(0.9499, 0.95, 0.05) == outcome::undecided);
  CHECK(by_probability(0.0501, 0.95, 0.05) == outcome::undecided);
  CHECK(by_probability(0.05, 0.95, 0.05) == outcome::fails);
}

TEST_CASE("a value conforms or fails 1.65 standard uncertainties from its limit, and is undecided nearer") {
  // The 0.95 quantile of the normal distribution is 1.645.
  const policy rules;
  CHECK(rules.judge(10.0 - 1.66, 1.0, {{}, 10.0}) == outcome::conforms);
  CHECK(rules.judge(10.0 - 1.63, 1.0, {{}, 10.0}) == outcome::undecided);
  CHECK(rules.judge(10.0 + 1.63, 1.0, {{}, 10.0}) == outcome::undecided);
  CHECK(rules.judge(10.0 + 1.66, 1.0, {{}, 10.0}) == outcome::fails);
}

TEST_CASE("the shop's own number replaces that of the table and says so") {
  policy rules;
  CHECK(rules.practice.minimum_starts.value == 5.0);
  CHECK(rules.own_numbers().empty());
  rules.lay(practice_named("minimum_starts"), 8.0);
  CHECK(rules.practice.minimum_starts.value == 8.0);
  CHECK(rules.practice.minimum_starts.source == "the shop's own limit minimum_starts");
  REQUIRE(rules.own_numbers().size() == 1);
  CHECK(rules.own_numbers().front().name == "minimum_starts");
  CHECK(rules.own_numbers().front().source == "the shop's own limit minimum_starts");
}

TEST_CASE("our number with the shop's own source is the shop's own") {
  policy rules;
  rules.lay(practice_named("minimum_starts"), rules.practice.minimum_starts.value, "bench rule 4");
  REQUIRE(rules.own_numbers().size() == 1);
  CHECK(rules.own_numbers().front().source == "the shop's own limit bench rule 4");
}

TEST_CASE("a copy of a policy keeps the sources of the shop's own numbers") {
  auto rules = std::make_unique<policy>();
  rules->lay(practice_named("minimum_starts"), 8.0, "bench rule 4, written down at length beside the bench");
  const policy copy = *rules;
  rules.reset();
  CHECK(copy.practice.minimum_starts.source ==
        "the shop's own limit bench rule 4, written down at length beside the bench");
}

TEST_CASE("own numbers are told by name, standards' limits among those of practice") {
  policy rules;
  rules.lay(practice_named("minimum_starts"), 8.0);
  rules.lay(practice_named("conforming_probability"), 0.9);
  for (const auto& over : replaceable_limits) rules.lay(over, over.high, "bench rule 7");
  std::vector<std::string> names;
  for (const auto& own : rules.own_numbers()) names.push_back(own.name);
  CHECK(names == std::vector<std::string>{"conforming_probability", "earth_maximum_ohm", "insulation_minimum_Mohm",
                                          "leakage_maximum_mA", "minimum_starts", "nameplate_upper_percent",
                                          "polarization_index_minimum"});
  CHECK(rules.replaced.earth_maximum_ohm->source == "the shop's own limit bench rule 7");
}

TEST_CASE("every number of practice lies in its range, has a source and a member of its own that begins with it") {
  std::set<const practice_limit*> members;
  const policy rules;
  for (const auto& [row, member] : practice_list) {
    const auto row_shown = row;
    CAPTURE(row_shown.name);
    CHECK(row.low < row.high);
    CHECK(row.low <= row.value);
    CHECK(row.value <= row.high);
    CHECK_FALSE(row.source.empty());
    CHECK((rules.practice.*member).value == row.value);
    CHECK((rules.practice.*member).source == row.source);
    members.insert(&(rules.practice.*member));
  }
  CHECK(members.size() == tables::practice.size());
  CHECK(&(rules.practice.*practice_named("minimum_starts").member) == &rules.practice.minimum_starts);
  CHECK(&(rules.practice.*practice_named("coast_down_time_s").member) == &rules.practice.coast_down_time_s);
}

TEST_CASE("a number beside its range is refused, and so is none at all") {
  policy rules;
  const auto none = std::numeric_limits<double>::quiet_NaN();
  for (const auto& number : practice_list) {
    CAPTURE(number.row.name);
    for (const double beside : {number.row.low - 1e-5, number.row.high * 1.01, none})
      CHECK_THROWS_AS(rules.lay(number, beside), rewound::base::error);
    for (const double border : {number.row.low, number.row.high}) CHECK_NOTHROW(rules.lay(number, border));
  }
  for (const auto& over : replaceable_limits) {
    CAPTURE(over.name);
    for (const double beside : {over.low - 1e-5, over.high * 1.01, none})
      CHECK_THROWS_AS(rules.lay(over, beside), rewound::base::error);
    for (const double border : {over.low, over.high}) CHECK_NOTHROW(rules.lay(over, border));
  }
}

TEST_CASE("a standard's limit may be replaced by what any bench may want, from nothing on") {
  const std::pair<std::string_view, double> highest[] = {{"nameplate_upper_percent", 1000.0},
                                                         {"insulation_minimum_Mohm", 1e6},
                                                         {"polarization_index_minimum", 100.0},
                                                         {"leakage_maximum_mA", 1000.0},
                                                         {"earth_maximum_ohm", 1000.0}};
  for (std::size_t i = 0; i < replaceable_limits.size(); ++i) {
    CHECK(replaceable_limits[i].name == highest[i].first);
    CHECK(replaceable_limits[i].low == 0.0);
    CHECK(replaceable_limits[i].high == highest[i].second);
  }
}

TEST_CASE("the name of a check leads back to it") {
  for (const auto name_of_check : check_names) {
    REQUIRE(check_named(name_of_check).has_value());
    CHECK(name(*check_named(name_of_check)) == name_of_check);
  }
  CHECK_FALSE(check_named("drawing").has_value());
}
