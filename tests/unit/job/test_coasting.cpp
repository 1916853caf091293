// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <sstream>
#include <string>

#include <judged.hpp>
#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/checks/coast_down.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/report/text.hpp>

using namespace rewound::testing;
namespace job = rewound::job;
namespace record = rewound::record;
using rewound::base::error;
using rewound::verdict::bearing;
using rewound::verdict::check;
using rewound::verdict::decision;
using rewound::verdict::finding;
using rewound::verdict::outcome;
using rewound::verdict::statement;

// Coast-downs beside a reference of good machines. Records of the project's own simulation.
namespace {

const record_text fan = good.with("[instruments.tachometer]\nreading_percent = 0.1\ndigits = 1\nresolution = 1\n");

std::string coast_down(double constant, double quadratic) {
  std::ostringstream times, speeds;
  for (int i = 0; i < 14; ++i) {
    const double t = 2.5 * i;
    const double w = rewound::checks::coasting_speed(140.0, {constant, 0.0, quadratic}, t);
    times << (i ? ", " : "") << t;
    speeds << (i ? ", " : "") << (w > 0.0 ? std::round(9.549296586 * w) : 0.0);
  }
  return "[coast_down]\ntime_s = [" + times.str() + "]\nspeed_rpm = [" + speeds.str() + "]\n";
}

record::visit_record machine(int number, double constant = 1.0, double quadratic = 0.0004) {
  return fan.replaced("id = \"GH-07\"", "id = \"GH-" + std::to_string(number) + "\"")
      .with(coast_down(constant, quadratic))
      .record();
}

/// Six good machines: friction spread by some tenths.
job::reference six(bool with_coast_down = true) {
  std::vector<record::visit_record> records;
  const double factors[] = {0.85, 0.95, 1.0, 1.0, 1.1, 1.2};
  for (int i = 0; i < 6; ++i) {
    records.push_back(machine(20 + i, factors[i], 0.0004 * factors[5 - i]));
    if (!with_coast_down) records.back().coast_down.reset();
  }
  return job::learn(records, job::default_policy());
}

std::vector<finding> beside_good(const job::result& judged) {
  std::vector<finding> out;
  for (const auto& f : judged.findings)
    if (f.says == statement::coast_down_beside_good) out.push_back(f);
  return out;
}

finding about(const job::result& judged, const std::string& term) {
  for (const auto& f : beside_good(judged))
    if (f.subject == term) return f;
  throw std::runtime_error("nothing about " + term);
}

job::result judged(const record::visit_record& now, const job::reference& reference,
                   const std::optional<record::visit_record>& earlier = {}) {
  return job::judge(now, {earlier, reference}, job::default_policy());
}

job::reference reread(const std::string& text) {
  return job::reference_from(record::read_toml_text(text, "model.toml"));
}

}  // namespace

TEST_CASE("learning keeps each machine's coast-down, and the reference file gives it back") {
  const auto learnt = six();
  const auto text = job::reference_text(learnt, job::default_policy());
  const auto again = reread(text);
  REQUIRE(again.machines.size() == learnt.machines.size());
  for (std::size_t i = 0; i < learnt.machines.size(); ++i) {
    REQUIRE(learnt.machines[i].coast_down.has_value());
    REQUIRE(again.machines[i].coast_down.has_value());
    const auto& a = *learnt.machines[i].coast_down;
    const auto& b = *again.machines[i].coast_down;
    CHECK(near_absolute(a.fastest_rpm, 1337.0, 0.5));
    CHECK(b.fastest_rpm == a.fastest_rpm);
    for (std::size_t k = 0; k < 3; ++k) CHECK(b.friction.terms[k] == a.friction.terms[k]);
    CHECK((b.friction.covariance - a.friction.covariance).norm() == 0.0);
  }
  CHECK(job::reference_text(again, job::default_policy()) == text);
  CHECK(job::merge({again}, job::default_policy()).machines.front().coast_down.has_value());
}

TEST_CASE("a reference without coast-downs is read and says nothing of friction") {
  const auto without = reread(job::reference_text(six(false), job::default_policy()));
  CHECK_FALSE(without.machines.front().coast_down.has_value());
  const auto found = judged(machine(40), without);
  CHECK(beside_good(found).empty());
  CHECK(says(found, statement::coast_down_terms));
}

TEST_CASE("a machine like the good ones conforms, one with a worn bearing is held and the constant term named") {
  const auto reference = six();
  const auto fine = judged(machine(40, 1.05, 0.00041), reference);
  CHECK(fine.decision.decision == decision::release);
  CHECK(about(fine, "total").outcome == outcome::conforms);
  CHECK(std::abs(*about(fine, "total").value) < 10.0);

  const auto worn = judged(machine(41, 8.0), reference);
  CHECK(worn.decision.decision == decision::hold);
  CHECK(about(worn, "total").outcome == outcome::fails);
  CHECK(about(worn, "constant").outcome == outcome::fails);
  CHECK(about(worn, "quadratic").outcome != outcome::fails);
  // 8 - 1 rad/s2 of 1 + 0.0004 140^2 = 8.84 rad/s2.
  CHECK(near_absolute(*about(worn, "constant").value, 100.0 * 7.0 / 8.84, 8.0));
  const auto text = rewound::report::full_text_report(worn);
  CHECK(text.find("the constant term (bearing) lies") != std::string::npos);
  CHECK(text.find("of 6 good machines") != std::string::npos);

  const auto blades = judged(machine(42, 1.0, 0.0008), reference);
  CHECK(about(blades, "quadratic").outcome == outcome::fails);
  CHECK(about(blades, "constant").outcome != outcome::fails);
}

TEST_CASE("less friction than good machines is no fault") {
  const auto found = judged(machine(43, 0.3, 0.0002), six());
  CHECK(*about(found, "total").value < -30.0);
  CHECK(about(found, "total").outcome == outcome::conforms);
}

TEST_CASE("beside the machine's own earlier visit more friction than good machines' is a condition, no fault") {
  auto earlier = machine(41, 8.0);
  earlier.visit.day.year -= 1;
  const auto found = judged(machine(41, 8.0), six(), earlier);
  const auto total = finding_saying(found, statement::coast_down_as_before);
  CHECK(total.subject == "total");
  CHECK(total.outcome == outcome::undecided);
  CHECK(total.bearing == bearing::informs);
  CHECK(rewound::report::full_text_report(found).find("lies above that of good machines") != std::string::npos);
  CHECK(finding_saying(found, statement::coast_down_growth).outcome == outcome::conforms);
  CHECK(found.decision.decision == decision::release);
}

TEST_CASE("a machine is not compared with itself, nor with machines of another shaft condition") {
  const auto reference = six();
  const auto own = judged(machine(22, 1.0, 0.0004), reference);
  CHECK(about(own, "total").numbers.front().value == 5.0);
  auto bare = machine(44);
  bare.visit.shaft = record::shaft_condition::bare;
  CHECK(beside_good(judged(bare, reference)).empty());
}

TEST_CASE("coast-downs whose terms cannot be told apart are not learnt") {
  auto records = std::vector{machine(20), machine(21)};
  records[1].coast_down->time_s = {0, 5, 10};
  records[1].coast_down->speed_rpm = {1337, 1040, 850};
  const auto learnt = job::learn(records, job::default_policy());
  CHECK(learnt.machines[0].coast_down.has_value());
  CHECK_FALSE(learnt.machines[1].coast_down.has_value());
  records[0].coast_down->speed_rpm.assign(14, 0.0);
  CHECK_FALSE(job::learn(records, job::default_policy()).machines[0].coast_down.has_value());
}

TEST_CASE("a reference's coast-down that cannot be is refused at its place") {
  const auto text = job::reference_text(six(), job::default_policy());
  const auto refused = [&](const std::string& key, const std::string& value, const std::string& place) {
    auto broken = text;
    const auto from = broken.find(key + " = ", broken.find("coast_down]"));
    REQUIRE(from != std::string::npos);
    broken.replace(from, broken.find('\n', from) - from, key + " = " + value);
    try {
      reread(broken);
      FAIL_CHECK("no error");
    } catch (const error& trouble) {
      CHECK(trouble.where().field.find(place) != std::string::npos);
    }
  };
  refused("terms", "[ 1.0, 2.0 ]", "coast_down.terms");
  refused("terms", "[ -1.0, 0.0, 0.0004 ]", "coast_down.terms");
  refused("terms", "[ 0.0, 0.0, 0.0 ]", "coast_down.terms");
  refused("fastest_rpm", "0", "coast_down.fastest_rpm");
}
