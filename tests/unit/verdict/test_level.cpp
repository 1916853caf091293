// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>

#include <near.hpp>
#include <rewound/verdict/rules/draw.hpp>

using namespace rewound;

namespace {

/// The level's finding of one speed beside a reference whose good machines spread so much; readings are good to 1 %.
verdict::finding level_of(double percent, double between_machines, const verdict::policy& rules,
                          std::size_t machines = 10, bool own_spread = false, double of_mean = 0.0) {
  constexpr double u = 1.0;
  verdict::draw_row row{.speed = "high", .judged_by = verdict::expectation::reference};
  row.at_rated = {units::amperes(0.42), units::amperes(0.004)};
  row.expected_at_rated = units::amperes(0.42);
  row.level_percent = {percent, u};
  row.expected_spread_percent = std::hypot(between_machines, u);
  row.uncertainty = verdict::level_uncertainty{u, 0.0, of_mean};
  row.readings = 6;
  record::visit_record in;
  in.run_up.emplace_back().speed = row.speed;
  verdict::rules::compared_draw compared;
  compared.rows = {row};
  compared.good_machines = machines;
  compared.own_spread = own_spread;
  for (const auto& f : verdict::rules::draw(in, compared, rules).findings)
    if (f.quantity == "level") return f;
  FAIL("no level was judged");
  return {};
}

verdict::policy usual() {
  verdict::policy out;
  out.needed = {verdict::check::draw};
  return out;
}

}  // namespace

TEST_CASE("a shop that knows its spread need not see it again in one good machine, whose own place counts as well") {
  const auto rules = usual();
  CHECK(*level_of(0.0, 5.0, rules, 1).limit_high == rules.practice.level_percent.value);
  CHECK(testing::near_relative(*level_of(0.0, 5.0, rules, 1, true).limit_high, 2.5758 * 5.0, 1e-4));
  CHECK(
      testing::near_relative(*level_of(0.0, 3.0, rules, 1, true, 3.0).limit_high, 2.5758 * std::hypot(3.0, 3.0), 1e-4));
  CHECK(*level_of(0.0, 2.0, rules, 1, true, 2.0).limit_high == rules.practice.level_percent.value);
  CHECK(*level_of(0.0, 9.0, rules, 1, true, 9.0).limit_high == rules.practice.level_widened_percent.value);
}

TEST_CASE("good machines that spread little leave the limit of practice; those that spread more widen it as they do") {
  const auto rules = usual();
  CHECK(*level_of(0.0, 2.0, rules).limit_high == rules.practice.level_percent.value);
  // 99 of 100 good machines lie within 2.576 standard deviations (normal distribution).
  CHECK(testing::near_relative(*level_of(0.0, 5.0, rules).limit_high, 2.5758 * 5.0, 1e-4));
  CHECK(*level_of(0.0, 5.0, rules, 4).limit_high == rules.practice.level_percent.value);
  CHECK(*level_of(0.0, 20.0, rules).limit_high == rules.practice.level_widened_percent.value);
  CHECK(level_of(13.5, 2.0, rules).outcome == verdict::outcome::fails);
  CHECK(level_of(10.5, 5.0, rules).outcome == verdict::outcome::conforms);
  CHECK(level_of(20.0, 5.0, rules).outcome == verdict::outcome::fails);
  CHECK(level_of(-20.0, 5.0, rules).outcome == verdict::outcome::fails);
}
