// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/job/judge.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/job/spread.hpp>
#include <rewound/record/document.hpp>

namespace job = rewound::job;
namespace record = rewound::record;
using rewound::base::error;
using rewound::base::error_code;
using rewound::testing::near_absolute;

// Records of the project's own simulation: three speeds of a power law, units spread by 4 % of level and 0.08 of
// exponent, read by one bench's meters of 0.8 % + 3 digits.
namespace {

const std::vector<std::string> speeds{"high", "medium", "low"};
const std::vector<double> rated_current{0.42, 0.366, 0.305};

record::visit_record machine(int number, double level, std::mt19937& random, double spread = 1.0) {
  std::normal_distribution<double> normal;
  record::visit_record out;
  out.machine.id = "GH-" + std::to_string(number);
  out.machine.model = "circulator-40";
  out.machine.rated_voltage_V = 230.0;
  out.machine.rated_frequency_Hz = 50.0;
  out.machine.speeds = speeds;
  out.visit.day = {2026, 5, 14};
  out.instruments["voltmeter"] = {"bench voltmeter", 0.5, 2.0, 0.1};
  out.instruments["ammeter"] = {"bench ammeter", 0.8, 3.0, 0.001};
  const double common = normal(random);
  for (std::size_t i = 0; i < speeds.size(); ++i) {
    const double log_level = spread * 0.04 * (0.84 * common + 0.55 * normal(random)) + std::log(level);
    const double exponent = 1.05 + spread * 0.08 * normal(random);
    record::run_up_section section;
    section.speed = speeds[i];
    for (const double volts : {120.0, 140.0, 160.0, 180.0, 200.0, 220.0, 240.0}) {
      const double amperes = rated_current[i] * std::exp(log_level + exponent * std::log(volts / 230.0));
      section.rows.push_back(
          {.voltage_V = volts, .current_A = std::round(1000.0 * (amperes + 0.001 * normal(random))) / 1000.0});
    }
    out.run_up.push_back(std::move(section));
  }
  return out;
}

std::vector<record::visit_record> cohort(int count, unsigned seed, double first_level = 1.0) {
  std::mt19937 random(seed);
  std::vector<record::visit_record> out;
  for (int i = 0; i < count; ++i) out.push_back(machine(10 + i, i == 0 ? first_level : 1.0, random));
  return out;
}

std::vector<std::string> ids(const job::reference& in) {
  std::vector<std::string> out;
  for (const auto& each : in.machines) out.push_back(each.id);
  return out;
}

template <class Call>
error_code code_of(Call&& call) {
  try {
    call();
  } catch (const error& trouble) {
    return trouble.code();
  }
  FAIL("no error");
  return error_code::usage;
}

const auto policy = job::default_policy();

}  // namespace

TEST_CASE("one machine of ten drawing half as much again is set aside and named, and only it") {
  for (const unsigned seed : {1u, 2u, 3u, 4u}) {
    CAPTURE(seed);
    const auto learnt = job::learn(cohort(10, seed, 1.5), policy);
    REQUIRE(learnt.set_aside.size() == 1);
    CHECK(learnt.set_aside.front().visit_name() == "GH-10 of 2026-05-14");
    CHECK(learnt.machines.size() == 9);
    const auto kept = ids(learnt);
    CHECK(std::find(kept.begin(), kept.end(), "GH-10") == kept.end());
  }
}

TEST_CASE("a bad machine set aside leaves the mean where the good ones are") {
  const auto pooled = job::pool_reference(job::learn(cohort(10, 5, 1.5), policy), job::between_machines(policy));
  REQUIRE(pooled.blocks.size() == 3);
  // Nine machines of 4 % leave a mean known to 1.3 %: 4 % is three of them. The bad one would have moved it by 4 %
  // more.
  for (std::size_t i = 0; i < 3; ++i)
    CHECK(near_absolute(pooled.population.mean[static_cast<Eigen::Index>(3 * i)], std::log(rated_current[i]), 0.04));
}

TEST_CASE("ten good machines are hardly ever thinned out") {
  std::size_t aside = 0;
  for (unsigned seed = 20; seed < 32; ++seed) aside += job::learn(cohort(10, seed), policy).set_aside.size();
  // A limit of 0.001 a machine would set 0.12 of these 120 aside; more than 2 has a probability below 1e-3.
  CHECK(aside <= 2);
}

TEST_CASE("with three machines none is set aside, however odd") {
  CHECK(job::learn(cohort(3, 6, 2.0), policy).set_aside.empty());
}

TEST_CASE("references merge into what all their records would have taught") {
  for (const double first : {1.0, 1.5}) {
    CAPTURE(first);
    const auto records = cohort(8, 7, first);
    const auto whole = job::learn(records, policy);
    const auto merged = job::merge({job::learn({records.begin(), records.begin() + 3}, policy),
                                    job::learn({records.begin() + 3, records.end()}, policy)},
                                   policy);
    CHECK(ids(merged) == ids(whole));
    CHECK(job::reference_text(merged, policy) == job::reference_text(whole, policy));
  }
}

TEST_CASE("a merge does not depend on which part comes first") {
  const auto records = cohort(6, 8);
  const auto a = job::learn({records.begin(), records.begin() + 3}, policy);
  const auto b = job::learn({records.begin() + 3, records.end()}, policy);
  const auto one = job::pool_reference(job::merge({a, b}, policy), job::between_machines(policy)).population;
  const auto other = job::pool_reference(job::merge({b, a}, policy), job::between_machines(policy)).population;
  CHECK((one.mean - other.mean).cwiseAbs().maxCoeff() < 1e-10);
  CHECK((one.between - other.between).cwiseAbs().maxCoeff() < 1e-10);
}

TEST_CASE("other models, ratings and shaft conditions, and a visit given twice, are refused") {
  const auto with = [](auto&& change) {
    auto records = cohort(2, 9);
    change(records[1]);
    return code_of([&] { job::learn(records, policy); });
  };
  CHECK(with([](record::visit_record& r) { r.machine.model = "circulator-60"; }) == error_code::records_do_not_match);
  CHECK(with([](record::visit_record& r) { r.machine.rated_voltage_V = 115.0; }) == error_code::records_do_not_match);
  CHECK(with([](record::visit_record& r) { r.machine.rated_frequency_Hz = 60.0; }) == error_code::records_do_not_match);
  CHECK(with([](record::visit_record& r) { r.visit.shaft = record::shaft_condition::bare; }) ==
        error_code::records_do_not_match);
  CHECK(with([](record::visit_record& r) { r.machine.id = "GH-10"; }) == error_code::repeated);
  CHECK(with([](record::visit_record& r) { r.machine.model.reset(); }) == error_code::missing_key);
  CHECK(code_of([] { job::learn({}, policy); }) == error_code::empty_list);
}

TEST_CASE("a reference of another model is not used to judge") {
  auto records = cohort(3, 10);
  const auto learnt = job::learn(records, policy);
  std::mt19937 random(11);
  auto now = machine(30, 1.0, random);
  now.machine.model = "circulator-60";
  CHECK(code_of([&] { job::judge(now, {{}, learnt}, policy); }) == error_code::records_do_not_match);
}

TEST_CASE("a machine at the middle of its kind is not abnormal, and one drawing 40 % more is") {
  for (const int count : {1, 3, 10}) {
    CAPTURE(count);
    const auto learnt = job::learn(cohort(count, 12), policy);
    std::mt19937 random(13);
    const auto healthy = job::judge(machine(30, 1.0, random, 0.0), {{}, learnt}, policy);
    const auto bad = job::judge(machine(31, 1.4, random, 0.0), {{}, learnt}, policy);
    REQUIRE(healthy.abnormality);
    REQUIRE(bad.abnormality);
    // -log10 p: 2 is the alarm of 1 %.
    CHECK(*healthy.abnormality < 2.0);
    CHECK(*bad.abnormality > 2.0);
  }
}

TEST_CASE("one meter's gain error cancels between a reference and a machine that it read both") {
  std::mt19937 random(14);
  auto learnt = job::learn(cohort(3, 15), policy);
  auto same = machine(30, 1.0, random);
  auto other = same;
  other.instruments["ammeter"].name = "another ammeter";
  const auto one = job::judge(same, {{}, learnt}, policy);
  const auto two = job::judge(other, {{}, learnt}, policy);
  REQUIRE(one.draw.front().expected_spread_percent);
  REQUIRE(two.draw.front().expected_spread_percent);
  const double added =
      std::pow(*two.draw.front().expected_spread_percent, 2) - std::pow(*one.draw.front().expected_spread_percent, 2);
  // Two meters of 0.8 %, rectangular: 2 x 0.8^2 / 3 in square percent.
  CHECK(near_absolute(added, 2.0 * 0.64 / 3.0, 1e-3));
}

TEST_CASE("one good machine is enough to pass most healthy ones, and none that draws a third more") {
  constexpr int machines = 60;
  int healthy = 0;
  int faulty = 0;
  for (int i = 0; i < machines; ++i) {
    std::mt19937 random(static_cast<unsigned>(100 + i));
    const auto learnt = job::learn({machine(10, 1.0, random)}, policy);
    const auto passes = [&](double level) {
      const auto judged = job::judge(machine(30, level, random), {{}, learnt}, policy);
      return std::all_of(judged.findings.begin(), judged.findings.end(), [](const auto& finding) {
        const bool of_draw =
            finding.check == rewound::verdict::check::draw || finding.check == rewound::verdict::check::steps;
        return !of_draw || finding.bearing != rewound::verdict::bearing::decides ||
               finding.outcome == rewound::verdict::outcome::conforms;
      });
    };
    healthy += passes(1.0) ? 1 : 0;
    faulty += passes(1.33) ? 1 : 0;
  }
  MESSAGE("healthy machines passed: " << healthy << ", faulty ones: " << faulty << " of " << machines);
  CHECK(healthy >= machines * 6 / 10);
  CHECK(faulty == 0);
}

namespace {

/// References of some models, whose machines spread by a share of the 4 % that `machine` draws with.
std::vector<job::reference> references_of(int models, int machines, double spread) {
  std::vector<job::reference> out;
  for (int model = 0; model < models; ++model) {
    std::mt19937 random(static_cast<unsigned>(100 + model));
    std::vector<record::visit_record> records;
    for (int i = 0; i < machines; ++i) {
      records.push_back(machine(10 + i, 1.0, random, spread));
      records.back().machine.model = "circulator-" + std::to_string(40 + model);
    }
    out.push_back(job::learn(records, policy));
  }
  return out;
}

std::string field_of(const std::string& text) {
  try {
    job::spread_from(record::read_toml_text(text, "house.toml"));
  } catch (const error& trouble) {
    return trouble.where().field;
  }
  return "nothing";
}

}  // namespace

TEST_CASE("the spread that a shop's machines have is learnt from references of several models") {
  const auto wide = job::learn_spread(references_of(8, 6, 1.0), policy);
  const auto narrow = job::learn_spread(references_of(8, 6, 0.3), policy);
  CHECK(wide.references == 8);
  CHECK(wide.machines == 48);
  // Drawn with 4 % in common and by speed together.
  CHECK(wide.level_uncertainty_percent < 0.6);
  CHECK(std::abs(wide.level_percent - 4.0) < 3.0 * wide.level_uncertainty_percent);
  CHECK(std::abs(wide.exponent - 0.08) < 0.025);
  CHECK(narrow.level_percent < 0.6 * wide.level_percent);
  CHECK(narrow.exponent < 0.6 * wide.exponent);
  // More machines are surer.
  const auto few = job::learn_spread(references_of(3, 4, 1.0), policy);
  CHECK(few.level_uncertainty_percent / few.level_percent > wide.level_uncertainty_percent / wide.level_percent);
}

TEST_CASE("references of one machine do not show how good ones differ") {
  CHECK(code_of([] { job::learn_spread({}, policy); }) == error_code::empty_list);
  CHECK(code_of([] { job::learn_spread(references_of(3, 1, 1.0), policy); }) == error_code::empty_list);
  auto mixed = references_of(2, 4, 1.0);
  mixed.push_back(references_of(1, 1, 1.0).front());
  CHECK(job::learn_spread(mixed, policy).references == 2);
}

TEST_CASE("a learnt spread is the policy's own, with its source, and its text gives it back") {
  const auto learnt = job::learn_spread(references_of(6, 5, 1.0), policy);
  CHECK_FALSE(job::has_own_spread(policy));
  const auto own = job::with_spread(policy, learnt);
  CHECK(job::has_own_spread(own));
  CHECK(own.practice.reference_level_percent.value == learnt.level_percent);
  CHECK(own.practice.reference_exponent.value == learnt.exponent);
  CHECK(own.practice.reference_curvature.value == learnt.curvature);
  CHECK(std::string(own.practice.reference_level_percent.source) ==
        "the shop's own limit spread learnt from 30 good machines of 6 references");
  CHECK(own.practice.wider_spread_probability.value < policy.practice.wider_spread_probability.value);
  const auto text = job::spread_text(learnt);
  const auto again = job::spread_from(record::read_toml_text(text, "house.toml"));
  CHECK(again.references == learnt.references);
  CHECK(again.machines == learnt.machines);
  CHECK(std::abs(again.level_percent / learnt.level_percent - 1.0) < 1e-5);
  CHECK(std::abs(again.curvature / learnt.curvature - 1.0) < 1e-5);
  CHECK(std::abs(again.level_uncertainty_percent / learnt.level_uncertainty_percent - 1.0) < 1e-5);
}

TEST_CASE("a spread that cannot be is refused by its field") {
  const auto text = job::spread_text({3.0, 0.02, 0.03, 0.4, 3, 12});
  CHECK(field_of(text) == "nothing");
  const auto with = [&](const std::string& was, const std::string& is) {
    auto out = text;
    const auto at = out.find(was);
    REQUIRE(at != std::string::npos);
    return out.replace(at, was.size(), is);
  };
  CHECK(field_of(with("level_percent = 3", "level_percent = 0")) == "level_percent");
  CHECK(field_of(with("level_percent = 3", "level_percent = 101")) == "level_percent");
  CHECK(field_of(with("machines = 12", "machines = 1")) == "machines");
  CHECK(field_of(with("exponent = 0.02", "exponent = nan")) == "exponent");
  CHECK(field_of(with("curvature = 0.03", "curvature = -1")) == "curvature");
  CHECK(field_of(with("rewound-spread/1", "rewound-spread/9")) == "format");
  CHECK(field_of(with("references = 3\n", "")) == "references");
}
