// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <filesystem>
#include <string>

#include <judged.hpp>
#include <rewound/record/record.hpp>

namespace job = rewound::job;
namespace record = rewound::record;
using rewound::testing::good;

namespace {

record::visit_record read_again(const record::visit_record& in) {
  return record::record_from(record::read_toml_text(record::record_text(in), "written.toml"));
}

/// Everything that the demo record does not hold.
constexpr const char* the_rest = R"(
[[withstand]]
circuit = "winding to frame"
voltage_V = 1500
kind = "dc"
duration_s = 60
winding_state = "part_rewound"
leakage_mA = 1.2
broke_down = true
component = true

[[leakage]]
condition = "frame"
current_mA = 0.05
polarity = "reversed"
switch = "off"
voltage_V = 243.8
kind = "touch"

[cord]
conductor_awg = 18
length_m = 3
conductors = 3

[coast_down]
time_s = [0, 1, 2.5]
speed_rpm = [1340, 1120, 950]
inertia_kgm2 = 2e-5

[heat_run]
cold_ohm = 18.4
cold_C = 21
ambient_C = 22
voltage_V = 228.5
time_s = [0, 600]
temperature_C = [21, 35]
cooling_time_s = [20, 40]
cooling_ohm = [22.5, 22.3]

[[resistance]]
section = "pole \"1\" \\ \u00e4"
resistance_ohm = 4.1
winding_C = -3.5
expected_C = 25
wire_awg = 28
turns = 640
mean_turn_mm = 130
parallel = 2
material = "aluminium"
lead_resistance_ohm = 0.08
equal_group = "poles"
speed = "low"

[[resistance]]
section = "pole 2"
resistance_ohm = 4.3
winding_C = 20
four_wire = true
equal_group = "poles"

[[starts]]
position = "on its\tside"
attempts = 4
successes = 2
lowest_starting_V = 120
time_to_speed_s = 1.5
)";

}  // namespace

TEST_CASE("every record at hand, written and read again, is the same record") {
  std::size_t seen = 0;
  for (const auto& file : std::filesystem::directory_iterator(std::string(REWOUND_REFERENCE_DIR) + "/records/good")) {
    const auto record = record::load_record(file.path().string());
    CHECK_MESSAGE(read_again(record) == record, file.path().string());
    ++seen;
  }
  CHECK(seen >= 7);
}

TEST_CASE("every section and every key that a record may hold is written") {
  const auto record =
      good.with(the_rest)
          .replaced("current_A = [0.214",
                    "winding_C = 30.5\nturning = [false, true, true, true, true, true]\n"
                    "speed_rpm = [0, 900, 1000, 1100, 1200, 1250]\n"
                    "power_W = [1, 2, 3, 4, 5, 6.25]\ncurrent_A = [0.214")
          .replaced("frame_earthed = true", "frame_earthed = false\nportable = true\nrotor_resistance_ohm = 20")
          .replaced("test_voltage_V = 500", "test_voltage_V = 500\nconnection = \"others_guarded\"")
          .replaced("switch_opens_line = true", "\"odd key, quoted\" = false\nswitch_opens_line = true")
          .record();
  CHECK(read_again(record) == record);
  CHECK(record.heat_run->temperature_C.size() == 2);
}

TEST_CASE("a record of three phases keeps its lines and rolled leads") {
  const auto text = std::string(R"(format = "rewound-record/1"
[machine]
id = "GH-50"
phases = 3
rated_voltage_V = 400
rated_frequency_Hz = 50
speeds = ["one"]
speed_control = "none"
running_circuit = "three_phase"
[visit]
date = 2026-05-14
state = "as_found"
shaft = "bare"
)") + R"(
[[run_up]]
speed = "one"
voltage_V = [300, 400.5]
current_A = [[1, 1.25], [1.5, 2], [1, 1.125]]
line_voltage_V = [[300, 400], [299, 401], [301, 400.5]]
[[run_up]]
speed = "one"
leads = "rolled_once"
voltage_V = [300, 400.5]
current_A = [[1, 1.25], [1.5, 2], [1, 1.125]]
)";
  const auto record = record::record_from(record::read_toml_text(text, "three.toml"));
  REQUIRE(record.rolled_run_up.size() == 1);
  CHECK(read_again(record) == record);
}

TEST_CASE("records that differ in one number are not the same") {
  const auto record = good.record();
  auto other = record;
  other.starts.front().successes -= 1;
  CHECK_FALSE(other == record);
  CHECK_FALSE(read_again(other) == record);
}

TEST_CASE("where an instrument answers queries, and that nothing was run up yet, is written") {
  auto record = good.with("").record();
  auto& meter = record.instruments.at("ammeter");
  meter.address = "tcp://192.0.2.7:5025";
  meter.query = "MEAS:CURR:AC?";
  meter.timeout_s = 1.5;
  CHECK(read_again(record) == record);
  record.run_up.clear();
  CHECK(read_again(record) == record);
  CHECK(read_again(record).run_up.empty());
}
