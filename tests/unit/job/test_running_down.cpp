// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <sstream>
#include <string>

#include <judged.hpp>
#include <rewound/record/validate.hpp>
#include <near.hpp>
#include <rewound/checks/coast_down.hpp>
#include <rewound/report/text.hpp>

using namespace rewound::testing;
using rewound::verdict::check;
using rewound::verdict::decision;
using rewound::verdict::outcome;
using rewound::verdict::statement;

namespace {

/// A list of a record, `count` values of a function of the time, to `decimals`.
template <class Value>
std::string list_of(const char* key, double step, int count, int decimals, const Value& value, int first = 0) {
  std::ostringstream out;
  out.setf(std::ios::fixed);
  out.precision(decimals);
  out << key << " = [";
  for (int i = 0; i < count; ++i) out << (i > 0 ? ", " : "") << value(step * (i + first));
  out << "]\n";
  return out.str();
}

/// Ohms at a rise over 22 degC, of a copper winding with 18.40 ohm at 21 degC.
double ohms_at(double rise) { return 18.40 * (234.5 + 22.0 + rise) / (234.5 + 21.0); }

std::string heat_run(double final_K, double minutes, const std::string& more = "") {
  const int count = static_cast<int>(minutes / 5.0) + 1;
  const auto ohms = [&](double s) { return ohms_at(final_K * (1.0 - std::exp(-s / 1800.0))); };
  return "[heat_run]\ncold_ohm = 18.40\ncold_C = 21\nambient_C = 22\n" +
         list_of("time_s", 300, count, 0, [](double s) { return s; }) + list_of("resistance_ohm", 300, count, 2, ohms) +
         more;
}

std::string coast_down(double constant, const std::string& more = "") {
  const auto rpm = [&](double s) {
    const double speed = rewound::checks::coasting_speed(140.0, {constant, 0.0, 0.0004}, s) * 9.549296586;
    return speed > 0.0 ? speed : 0.0;  // at rest, or past where the curve runs off
  };
  return "[coast_down]\n" + list_of("time_s", 2.5, 12, 2, [](double s) { return s; }) +
         list_of("speed_rpm", 2.5, 12, 0, rpm) + more;
}

const record_text fine = good.with(
    "[instruments.thermometer]\nreading_percent = 0\ndigits = 3\nresolution = 0.1\n\n"
    "[instruments.tachometer]\nreading_percent = 0.1\ndigits = 1\nresolution = 1\n");

}  // namespace

TEST_CASE("a heat run by thermometer needs no cold ohms, one that is read in ohms anywhere does") {
  const std::string degrees =
      "[heat_run]\ncold_C = 21\nambient_C = 22\ntime_s = [0, 1200, 2400, 3600, 5400, 7200]\n"
      "temperature_C = [21, 40, 49, 53, 55, 55.5]\n";
  CHECK_FALSE(fine.with(degrees).judged().findings.empty());
  const auto refused = [](const std::string& more) {
    try {
      rewound::record::validate(fine.with(more).record());
    } catch (const rewound::base::error& trouble) {
      return std::string(trouble.what());
    }
    return std::string();
  };
  CHECK(refused(degrees).empty());
  CHECK(refused(degrees + "cooling_time_s = [20, 40]\ncooling_ohm = [22.1, 22.0]\n").find("heat_run.cold_ohm") !=
        std::string::npos);
  CHECK(refused("[heat_run]\ncold_C = 21\nambient_C = 22\ntime_s = [0, 1200]\nresistance_ohm = [18.4, 19]\n")
            .find("heat_run.cold_ohm") != std::string::npos);
}

TEST_CASE("a heat run whose projected rise lies under the class's limit conforms, over it holds the machine") {
  // Class 130, an appliance: 95 K over 25 degC.
  const auto cool = fine.with(heat_run(70, 60)).judged();
  const auto found = finding_saying(cool, statement::heat_run_final_rise);
  CHECK(found.outcome == outcome::conforms);
  CHECK(found.limit_high == 95.0);
  CHECK(near_absolute(*found.value, 70.0, 2.0));
  CHECK(*found.low < 70.0);
  CHECK(*found.high > 70.0);
  CHECK(cool.decision.decision == decision::release);
  const auto hot = fine.with(heat_run(115, 60)).judged();
  CHECK(hot.decision.decision == decision::hold);
  CHECK(finding_saying(hot, statement::heat_run_final_rise).outcome == outcome::fails);
}

TEST_CASE("too short a heat run near the limit is undecided and says how much longer to run") {
  const auto judged = fine.with(heat_run(92, 25)).judged();
  const auto found = finding_saying(judged, statement::heat_run_final_rise);
  CHECK(found.outcome == outcome::undecided);
  CHECK(judged.decision.decision == decision::undecided);
  const auto text = rewound::report::full_text_report(judged);
  CHECK(text.find("minutes more and read every few minutes") != std::string::npos);
}

TEST_CASE(
    "without an appliance class the limit is IEC 60034-1's, and without an insulation class the lowest, which cannot "
    "fail") {
  const auto machine = fine.without("appliance_class = \"I\"\n").with(heat_run(70, 60)).judged();
  CHECK(finding_saying(machine, statement::heat_run_final_rise).limit_high == 85.0);
  const auto unstated = fine.without("insulation_class = \"130\"\n").with(heat_run(90, 120)).judged();
  CHECK(finding_saying(unstated, statement::heat_run_final_rise).limit_high == 75.0);
  CHECK(finding_saying(unstated, statement::heat_run_final_rise).outcome == outcome::undecided);
}

TEST_CASE("cooling readings carried back to switch-off decide, and what was still to come is added") {
  const auto ohms = [](double s) { return ohms_at(60.0 * std::exp(-s / 600.0)); };
  const std::string cooling = list_of(
                                  "cooling_time_s", 30, 4, 0, [](double s) { return s; }, 1) +
                              list_of("cooling_ohm", 30, 4, 2, ohms, 1);
  const auto judged = fine.with(heat_run(60, 180, cooling)).judged();
  CHECK(near_absolute(*finding_saying(judged, statement::heat_run_switch_off).value, 60.0, 0.8));
  CHECK(near_absolute(*finding_saying(judged, statement::heat_run_final_rise).value, 60.0, 1.0));
}

TEST_CASE("the rise on today's mains goes with the square of the fitted current") {
  const auto judged = fine.with(heat_run(70, 60)).judged();
  const auto found = finding_saying(judged, statement::heat_run_on_mains);
  const auto& row = judged.draw.front();
  const double ratio = (row.at_supply->value / row.at_rated->value).value();
  CHECK(ratio > 1.0);
  CHECK(
      near_relative(*found.value, ratio * ratio * *finding_saying(judged, statement::heat_run_final_rise).value, 1e-9));
}

TEST_CASE("where watts were read the rise on today's mains goes with them") {
  // Watts as the square of the volts: (240 / 230)^2.
  const auto judged = fine.replaced("current_A = [0.214, 0.268, 0.325, 0.381, 0.421, 0.442]",
                                    "current_A = [0.214, 0.268, 0.325, 0.381, 0.421, 0.442]\n"
                                    "power_W = [19.5, 30.6, 43.9, 59.6, 71.7, 78.1]")
                          .with(heat_run(70, 60))
                          .judged();
  CHECK(near_relative(*finding_saying(judged, statement::heat_run_on_mains).value,
                      240.0 * 240.0 / (230.0 * 230.0) * *finding_saying(judged, statement::heat_run_final_rise).value,
                      0.003));
}

TEST_CASE("the rise on today's mains starts from the voltage that the heat run was made at") {
  const auto at = [](const std::string& volts) {
    const auto judged = fine.with(heat_run(70, 60, "voltage_V = " + volts + "\n")).judged();
    return *finding_saying(judged, statement::heat_run_on_mains).value /
           *finding_saying(judged, statement::heat_run_final_rise).value;
  };
  CHECK(near_absolute(at("240"), 1.0, 1e-9));  // the mains of that record
  const auto assumed = fine.with(heat_run(70, 60)).judged();
  CHECK(near_relative(at("230"),
                      *finding_saying(assumed, statement::heat_run_on_mains).value /
                          *finding_saying(assumed, statement::heat_run_final_rise).value,
                      1e-9));
  CHECK(at("220") > at("230"));
  // Beyond the run-up's readings nothing is said.
  CHECK_FALSE(says(fine.with(heat_run(70, 60, "voltage_V = 60\n")).judged(), statement::heat_run_on_mains));
}

TEST_CASE("a heat run well below the rated voltage cannot conform, one well above it cannot fail") {
  const auto low = fine.with(heat_run(70, 60, "voltage_V = 200\n")).judged();
  CHECK(finding_saying(low, statement::heat_run_final_rise).outcome == outcome::undecided);
  CHECK(low.decision.decision == decision::undecided);
  CHECK(rewound::report::full_text_report(low).find("make the heat run at the rated voltage") != std::string::npos);
  CHECK(finding_saying(fine.with(heat_run(115, 60, "voltage_V = 200\n")).judged(), statement::heat_run_final_rise)
            .outcome == outcome::fails);
  CHECK(finding_saying(fine.with(heat_run(115, 60, "voltage_V = 250\n")).judged(), statement::heat_run_final_rise)
            .outcome == outcome::undecided);
  CHECK(finding_saying(fine.with(heat_run(70, 60, "voltage_V = 225\n")).judged(), statement::heat_run_final_rise)
            .outcome == outcome::conforms);
}

TEST_CASE("the thermometer's gain widens the final rise, little by resistance and in full by thermometer") {
  const auto width = [](const record_text& record) {
    const auto found = finding_saying(record.judged(), statement::heat_run_final_rise);
    return *found.high - *found.low;
  };
  const auto with_gain = fine.replaced("[instruments.thermometer]\nreading_percent = 0\n",
                                       "[instruments.thermometer]\nreading_percent = 5\n");
  const double narrow = width(fine.with(heat_run(70, 180)));
  const double wide = width(with_gain.with(heat_run(70, 180)));
  // gain 0.05 / sqrt 3 of (ratio cold_C - ambient_C) = 1.277 * 21 - 22 = 4.8 K: 0.14 K
  CHECK(wide > narrow);
  CHECK(wide < 1.15 * narrow);
  const auto by_thermometer = [](double s) { return 22.0 + 70.0 * (1.0 - std::exp(-s / 1800.0)); };
  const std::string run = "[heat_run]\ncold_ohm = 18.40\ncold_C = 21\nambient_C = 22\n" +
                          list_of("time_s", 300, 37, 0, [](double s) { return s; }) +
                          list_of("temperature_C", 300, 37, 1, by_thermometer);
  // 0.05 / sqrt 3 of 69.8 K: 2.0 K, 7.9 K between the ends
  const double alone = width(fine.with(run));
  const double gain = 2.0 * 1.959964 * 0.05 / std::sqrt(3.0) * 69.83;
  CHECK(near_relative(width(with_gain.with(run)), std::hypot(alone, gain), 0.03));
}

TEST_CASE("ohms that fall while it heats, and too few readings, are undecided with a word on what to do") {
  const std::string head = "[heat_run]\ncold_ohm = 18.40\ncold_C = 21\nambient_C = 22\n";
  const auto falling =
      fine.with(head + "time_s = [0, 600, 1200, 1800]\nresistance_ohm = [22.0, 21.0, 20.0, 19.0]\n").judged();
  CHECK(says(falling, statement::heat_run_falling));
  CHECK(falling.decision.decision == decision::undecided);
  const auto few = fine.with(head + "time_s = [0, 600]\nresistance_ohm = [18.5, 19.0]\n").judged();
  CHECK(says(few, statement::heat_run_too_few));
  CHECK(few.decision.decision == decision::undecided);
}

TEST_CASE("a coast-down alone is information, with torques where the inertia is stated") {
  const auto judged = fine.with(coast_down(1)).judged();
  CHECK(judged.decision.decision == decision::release);
  const auto found = finding_saying(judged, statement::coast_down_terms);
  CHECK(near_relative(*found.value, (1 + 0.0004 * 140 * 140) * 9.549296586, 0.03));
  CHECK_FALSE(says(judged, statement::coast_down_torque));
  const auto torque =
      finding_saying(fine.with(coast_down(1, "inertia_kgm2 = 0.002\n")).judged(), statement::coast_down_torque);
  CHECK(near_relative(*torque.value, 0.002 * (1 + 0.0004 * 140 * 140), 0.03));
}

TEST_CASE("beside an earlier coast-down the same friction conforms, and a bearing term that grew holds and is named") {
  const auto earlier = fine.with(coast_down(1)).replaced("date = 2026-05-14", "date = 2025-05-14").record();
  CHECK(fine.with(coast_down(1)).judged(earlier).decision.decision == decision::release);
  const auto worn = fine.with(coast_down(8)).judged(earlier);
  CHECK(worn.decision.decision == decision::hold);
  bool named = false;
  for (const auto& f : findings_of(worn, check::coast_down))
    if (f.subject == "constant") named = *f.low > 40.0 && *f.value < 120.0;
  CHECK(named);
}

TEST_CASE("a speed that rises after switch-off is undecided and not a crash") {
  const auto judged = fine.with("[coast_down]\ntime_s = [0, 1, 2, 3]\nspeed_rpm = [1000, 1100, 1200, 1300]\n").judged();
  CHECK(says(judged, statement::coast_down_not_slowing));
  CHECK(judged.decision.decision == decision::undecided);
}
