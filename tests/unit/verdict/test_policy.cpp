// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <rewound/base/error.hpp>
#include <rewound/verdict/policy.hpp>

using namespace rewound::verdict;

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
  CHECK(rules.practice("minimum_starts").value == 5.0);
  CHECK_FALSE(rules.own("minimum_starts").has_value());
  rules.own_limits["minimum_starts"] = 8.0;
  CHECK(rules.practice("minimum_starts").value == 8.0);
  CHECK(rules.practice("minimum_starts").source.find("shop's own") != std::string::npos);
}

TEST_CASE("a name that the table does not have is refused") {
  CHECK_THROWS_AS(policy{}.practice("minimum_start"), rewound::base::error);
}

TEST_CASE("every number of practice has a source and is what the policy gives") {
  for (const auto& row : tables::practice) {
    CAPTURE(row.name);
    CHECK_FALSE(row.source.empty());
    CHECK(policy{}.practice(row.name).value == row.value);
  }
}

TEST_CASE("the name of a check leads back to it") {
  for (const auto name_of_check : check_names) {
    REQUIRE(check_named(name_of_check).has_value());
    CHECK(name(*check_named(name_of_check)) == name_of_check);
  }
  CHECK_FALSE(check_named("drawing").has_value());
}
