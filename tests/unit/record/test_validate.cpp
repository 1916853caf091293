// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <limits>
#include <string>
#include <vector>

#include <rewound/record/document.hpp>
#include <rewound/record/validate.hpp>

namespace record = rewound::record;
using rewound::base::error;
using rewound::base::error_code;
using rewound::base::errors;

namespace {

/// A record built in code, as a program that embeds the library would.
record::visit_record built() {
  record::visit_record out;
  out.machine.id = "GH-12";
  out.machine.rated_voltage_V = 230;
  out.machine.rated_frequency_Hz = 50;
  out.machine.speeds = {"high", "low"};
  out.visit.day = {2026, 5, 14};
  out.visit.ambient_C = 21;
  for (const char* speed : {"high", "low"})
    out.run_up.push_back({.speed = speed, .rows = {{.voltage_V = 120, .current_A = 0.21}, {230, 0.42}}});
  out.insulation.push_back({.circuit = "winding to frame", .test_voltage_V = 500, .rows = {{15, 180}, {60, 310}}});
  out.resistance.push_back({.section = "main", .resistance_ohm = 18.4, .winding_C = 21});
  out.starts.push_back({.position = "upright", .attempts = 10, .successes = 10});
  return out;
}

std::vector<std::string> paths_of(const record::visit_record& in) {
  std::vector<std::string> out;
  for (const auto& each : record::problems_of(in)) out.push_back(each.path);
  return out;
}

}  // namespace

TEST_CASE("a record built in code is held against what it may be, whichever value cannot") {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  constexpr double inf = std::numeric_limits<double>::infinity();
  CHECK(record::problems_of(built()).empty());
  CHECK_NOTHROW(record::validate(built()));
  using change = std::function<void(record::visit_record&)>;
  const std::vector<std::pair<std::string, change>> cases{
      {"run_up[0].current_A[1]", [&](auto& r) { r.run_up[0].rows[1].current_A = nan; }},
      {"run_up[1].current_A[0]", [&](auto& r) { r.run_up[1].rows[0].current_A = -0.2; }},
      {"run_up[0].voltage_V[0]", [&](auto& r) { r.run_up[0].rows[0].voltage_V = inf; }},
      {"run_up[0].power_W[1]", [&](auto& r) { r.run_up[0].rows[1].power_W = -1.0; }},
      {"run_up[0].winding_C[1]", [&](auto& r) { r.run_up[0].rows[1].winding_C = 1000.0; }},
      {"run_up[0].speed_rpm[1]", [&](auto& r) { r.run_up[0].rows[1].speed_rpm = 3800.0; }},
      {"run_up[0].voltage_V", [&](auto& r) { r.run_up[0].rows.clear(); }},
      {"run_up[1].speed", [&](auto& r) { r.run_up[1].speed = "turbo"; }},
      {"run_up[1].speed", [&](auto& r) { r.run_up[1].speed = "high"; }},
      {"run_up[0].current_A",
       [&](auto& r) {
         r.run_up[0].rows[1].line_current_A = record::three_lines{1, 1, 1};
       }},
      {"machine.id", [&](auto& r) { r.machine.id.clear(); }},
      {"machine.speeds", [&](auto& r) { r.machine.speeds.push_back("low"); }},
      {"machine.poles", [&](auto& r) { r.machine.poles = 3; }},
      {"machine.rated_current_A", [&](auto& r) { r.machine.rated_current_A = 0.0; }},
      {"machine.rated_tolerance_percent", [&](auto& r) { r.machine.rated_tolerance_percent = 120.0; }},
      {"visit.date",
       [&](auto& r) {
         r.visit.day = {2026, 2, 30};
       }},
      {"visit.have",
       [&](auto& r) {
         r.visit.have = {"voltmeter", "crystal ball"};
       }},
      {"instruments.ammeter.resolution", [&](auto& r) { r.instruments["ammeter"].resolution = 0.0; }},
      {"instruments.barometer", [&](auto& r) { r.instruments["barometer"].resolution = 1.0; }},
      {"insulation[0].time_s", [&](auto& r) { r.insulation[0].rows[1].time_s = 15; }},
      {"insulation[0].winding_C", [&](auto& r) { r.visit.ambient_C.reset(); }},
      {"insulation[0].resistance_Mohm[0]", [&](auto& r) { r.insulation[0].rows[0].resistance_Mohm = 0; }},
      {"resistance[0].winding_C", [&](auto& r) { r.resistance[0].winding_C = nan; }},
      {"resistance[0].to_speed", [&](auto& r) { r.resistance[0].speed = "high", r.resistance[0].to_speed = "turbo"; }},
      {"starts[0].successes", [&](auto& r) { r.starts[0].successes = 11; }},
      {"capacitor[0].current_A",
       [&](auto& r) { r.capacitor.push_back({.name = "run", .marked_uF = 4, .voltage_V = 300.0}); }},
      {"earth.continuity_ohm",
       [&](auto& r) {
         r.earth = record::earth_section{-0.1, {}};
       }},
      {"coast_down.speed_rpm",
       [&](auto& r) {
         r.coast_down = record::coast_down_section{{}, {0, 1}, {1300}};
       }},
      {"cord", [&](auto& r) { r.cord.emplace(); }},
      {"rolled_run_up[0].leads",
       [&](auto& r) {
         r.machine.phases = 1;
         r.rolled_run_up.push_back({.speed = "high", .rows = r.run_up[0].rows, .leads_rolled = 1});
       }},
  };
  for (const auto& [path, alter] : cases) {
    const auto path_shown = path;
    CAPTURE(path_shown);
    auto record = built();
    alter(record);
    const auto found = paths_of(record);
    CHECK(found == std::vector<std::string>{path});
    CHECK_THROWS_AS(record::validate(record), error);
  }
}

TEST_CASE("everything wrong with a record is told at once, by name and position") {
  auto record = built();
  record.run_up[1].rows[1].current_A = -1.0;
  record.insulation[0].rows[1].resistance_Mohm = -2.0;
  record.starts[0].attempts = 0;
  try {
    record::validate(record);
    FAIL_CHECK("no error");
  } catch (const errors& found) {
    REQUIRE(found.all().size() >= 3);
    CHECK(std::string(found.all()[0].what()).starts_with("run_up \"low\", current_A, reading 2: read -1, allowed: "));
    CHECK(
        std::string(found.all()[1].what()).starts_with("insulation \"winding to frame\", resistance_Mohm, reading 2"));
    CHECK(std::string(found.all()[2].what()).starts_with("starts \"upright\", attempts: read 0"));
    CHECK(found.code() == error_code::out_of_range);
  }
}

TEST_CASE("a rotor faster than its marked poles allow is a matter of judgement, not of reading") {
  auto record = built();
  record.machine.poles = 4;
  record.run_up[0].rows[1].speed_rpm = 2900.0;
  CHECK(record::problems_of(record).empty());
}
