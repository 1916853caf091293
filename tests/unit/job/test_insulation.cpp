// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <string>

#include <judged.hpp>
#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/report/text.hpp>
#include <rewound/report/view.hpp>
#include <rewound/report/wording.hpp>
#include <simulation_size.hpp>

using rewound::job::result;
using rewound::testing::finding_saying;
using rewound::testing::findings_of;
using rewound::testing::good;
using rewound::testing::near_relative;
using rewound::testing::record_text;
using rewound::testing::says;
using rewound::testing::stands_in_the_way;
using rewound::verdict::check;
using rewound::verdict::decision;
using rewound::verdict::finding;
using rewound::verdict::outcome;
using rewound::verdict::statement;

namespace {

const std::string winding_of_insulation = "test_voltage_V = 500\nwinding_C = 21\n";
const std::string times = "time_s = [15, 30, 60, 120, 300, 600]";
const std::string megohms = "resistance_Mohm = [180, 240, 310, 420, 590, 720]";

record_text curve_read(const std::string& seconds, const std::string& values) {
  return good.replaced(times, "time_s = [" + seconds + "]").replaced(megohms, "resistance_Mohm = [" + values + "]");
}

double number_of(const finding& f, const std::string& key) {
  for (const auto& number : f.numbers)
    if (number.key == key) return number.value;
  FAIL("no number " << key);
  return 0.0;
}

double relative_half(const finding& f) { return std::log(f.high.value() / f.low.value()) / 2.0; }

}  // namespace

TEST_CASE("without the winding's temperature the air's stands in, less well known, and the sentence says so") {
  const auto measured = finding_saying(good.judged(), statement::insulation_minimum);
  const auto from_air = finding_saying(good.replaced(winding_of_insulation, "test_voltage_V = 500\n").judged(),
                                       statement::insulation_minimum);
  CHECK(near_relative(from_air.value.value(), measured.value.value(), 1e-9));  // both 21 degC
  CHECK(relative_half(from_air) > relative_half(measured));
  CHECK(rewound::report::sentence(from_air).find("the air's") != std::string::npos);
  CHECK(rewound::report::sentence(measured).find("the air's") == std::string::npos);
  try {
    good.replaced(winding_of_insulation, "test_voltage_V = 500\n").without("ambient_C = 21.0\n").record();
    FAIL("no error");
  } catch (const rewound::base::error& trouble) {
    CHECK(trouble.code() == rewound::base::error_code::missing_key);
    CHECK(trouble.where().field == "insulation[0].winding_C");
  }
}

TEST_CASE("a stated thermometer takes the place of the assumed one") {
  const auto with = [](const std::string& digits) {
    return good.with("[instruments.thermometer]\nreading_percent = 0\ndigits = " + digits + "\nresolution = 1\n")
        .judged();
  };
  CHECK(relative_half(finding_saying(with("5"), statement::insulation_minimum)) >
        relative_half(finding_saying(with("1"), statement::insulation_minimum)));
}

TEST_CASE("the connection is a key of its own, and a word that it does not have is refused") {
  const auto phase =
      good.replaced(winding_of_insulation, winding_of_insulation + "connection = \"others_grounded\"\n").judged();
  const auto halved = finding_saying(phase, statement::insulation_minimum);
  CHECK(near_relative(halved.value.value(),
                      0.5 * finding_saying(good.judged(), statement::insulation_minimum).value.value(), 1e-9));
  CHECK(near_relative(number_of(halved, "read"), 310.0, 1e-9));
  CHECK(rewound::report::sentence(halved).find("divided by 2") != std::string::npos);
  CHECK_THROWS_AS(good.replaced(winding_of_insulation, winding_of_insulation + "connection = \"one_phase\"\n").record(),
                  rewound::base::error);
}

TEST_CASE("without a reading at one minute the curve's value is told, may condemn, and does not release") {
  const auto fine = curve_read("15, 30, 120, 300", "180, 240, 420, 590").judged();
  const auto told = finding_saying(fine, statement::insulation_no_one_minute);
  CHECK(told.outcome == outcome::undecided);
  // 310 Mohm was read at 60 s on the same curve; 0.768 is the thermosetting factor of 21 degC.
  CHECK(near_relative(told.value.value(), 310.0 * 0.7677, 0.05));
  CHECK(fine.decision.decision == decision::undecided);
  CHECK(
      finding_saying(curve_read("15, 30, 120, 300", "1.8, 2.4, 4.2, 5.9").judged(), statement::insulation_no_one_minute)
          .outcome == outcome::fails);
}

TEST_CASE("the finest digit of any reading says nothing of an index by an assumed tester") {
  const auto index = [](const record_text& text) {
    return finding_saying(text.judged(), statement::polarization_information);
  };
  const auto rough = index(good);
  const auto fine = index(good.replaced("[180, 240, 310", "[180.01, 240, 310"));
  CHECK(near_relative(fine.high.value() - fine.low.value(), rough.high.value() - rough.low.value(), 1e-9));
  CHECK((rough.high.value() - rough.low.value()) / rough.value.value() > 0.05);
  const auto assumed = finding_saying(good.judged(), statement::insulation_accuracy_assumed);
  const auto sentence = rewound::report::sentence(assumed);
  CHECK(sentence.find("within 5 %") != std::string::npos);
  CHECK(sentence.find("within 3 % of one another") != std::string::npos);
  CHECK(sentence.find("within 2 K") != std::string::npos);
  const auto stated = good.with(
      "[instruments.insulation_tester]\nreading_percent = 5\ndigits = 1\nresolution = 1e6\n"
      "[instruments.thermometer]\nreading_percent = 0\ndigits = 1\nresolution = 1\n");
  CHECK_FALSE(says(stated.judged(), statement::insulation_accuracy_assumed));
}

TEST_CASE("a run stopped early predicts the index and the ten-minute value, and says that they were not read") {
  const auto judged = curve_read("15, 30, 60, 120", "180, 240, 310, 420").judged();
  const auto told = finding_saying(judged, statement::polarization_predicted);
  CHECK(told.low.value() < 720.0 / 310.0);
  CHECK(told.high.value() > 720.0 / 310.0);
  CHECK(rewound::report::sentence(told).find("not read; predicted") != std::string::npos);
  CHECK_FALSE(says(curve_read("60", "310").judged(), statement::polarization_predicted));
  CHECK(judged.decision.decision == decision::release);
}

TEST_CASE("unusual curves stand in the way of a release") {
  for (const auto& [values, what] : {std::pair{"400, 390, 370, 330, 280, 220", statement::insulation_curve_falling},
                                     std::pair{"400, 300, 310, 420, 590, 720", statement::insulation_curve_dipping},
                                     std::pair{"180, 240, 310, 42, 590, 720", statement::insulation_curve_erratic},
                                     std::pair{"20, 60, 310, 420, 590, 720", statement::insulation_curve_steep}}) {
    const auto judged = curve_read("15, 30, 60, 120, 300, 600", values).judged();
    CHECK(says(judged, what));
    CHECK(judged.decision.decision != decision::release);
    CHECK(stands_in_the_way(judged, check::insulation));
  }
}

TEST_CASE("a winding colder than the dew point stands in the way of a release") {
  const auto damp = good.replaced("humidity_percent = 48", "humidity_percent = 95")
                        .replaced(winding_of_insulation, "test_voltage_V = 500\nwinding_C = 17\n")
                        .judged();
  CHECK(says(damp, statement::insulation_near_dew_point));
  CHECK(stands_in_the_way(damp, check::insulation));
  CHECK(says(good.judged(), statement::insulation_above_dew_point));
  CHECK(says(good.without("humidity_percent = 48\n").judged(), statement::insulation_humidity_not_given));
  CHECK(good.replaced("humidity_percent = 48", "humidity_percent = 0").judged().decision.decision == decision::release);
}

TEST_CASE("every circuit is judged on its own") {
  const auto judged =
      good.with(
              "[[insulation]]\ncircuit = \"speed control to base\"\ntest_voltage_V = 500\nwinding_C = 21\n"
              "time_s = [60]\nresistance_Mohm = [2]\n")
          .judged();
  CHECK(judged.decision.decision == decision::hold);
  for (const auto& f : findings_of(judged, check::insulation)) {
    if (f.says != statement::insulation_minimum) continue;
    CHECK(f.outcome == (f.subject == "speed control to base" ? outcome::fails : outcome::conforms));
  }
}

TEST_CASE("how long to discharge is printed where a test was made and where it is still to come") {
  const auto untested = good.without("[[insulation]]\ncircuit = \"winding to frame\"\n" + winding_of_insulation +
                                     times + "\n" + megohms + "\n");
  CHECK(rewound::report::full_text_report(good.judged()).find("40 minutes") != std::string::npos);
  CHECK(rewound::report::full_text_report(untested.judged()).find("4 times") != std::string::npos);
}

TEST_CASE("predicted ten-minute values hold the truth about 95 times of 100, tester's gain included") {
  // 600 judged records: a true 95 % lies within 0.927 to 0.97 of them in 99 cases of 100. Rectangular errors, taken as
  // normal, and the bounds of the fit make the intervals a little wide: the upper end is 0.997.
  std::mt19937 random(1974);
  std::uniform_real_distribution<double> uniform(-1.0, 1.0);
  int held_ten = 0;
  int held_index = 0;
  constexpr int records = rewound::testing::simulated(600);
  for (int i = 0; i < records; ++i) {
    const double leakage = 0.5 + 0.5 * uniform(random);
    const double n = 0.75 + 0.35 * uniform(random);
    const double gain = 1.0 + 0.05 * uniform(random);
    const auto truth = [&](double seconds) { return 500.0 / (leakage + std::pow(seconds / 60.0, -n)); };
    std::string values;
    for (const double seconds : {15.0, 30.0, 60.0, 120.0, 180.0}) {
      const double taken = seconds + uniform(random);  // within a second of its time
      values += (values.empty() ? "" : ", ") + std::to_string(std::round(gain * truth(taken) + 2.0 * uniform(random)));
    }
    // Without a marked current the run-ups are not weighed, which this does not ask about.
    const auto judged =
        curve_read("15, 30, 60, 120, 180", values)
            .without("rated_current_A = 0.42\n")
            .with("[instruments.insulation_tester]\nreading_percent = 5\ndigits = 2\nresolution = 1e6\n")
            .judged();
    const auto told = finding_saying(judged, statement::polarization_predicted);
    held_ten += number_of(told, "ten_low") <= truth(600.0) && truth(600.0) <= number_of(told, "ten_high") ? 1 : 0;
    held_index +=
        told.low.value() <= truth(600.0) / truth(60.0) && truth(600.0) / truth(60.0) <= told.high.value() ? 1 : 0;
  }
  MESSAGE("held: ten minutes " << held_ten << ", index " << held_index << " of " << records);
  for (const int held : {held_ten, held_index}) {
    CHECK(held >= (0.927 - rewound::testing::simulation_slack) * records);
    CHECK(held <= (0.997 + rewound::testing::simulation_slack) * records);
  }
}

TEST_CASE("a winding that reads next to nothing fails, however few digits show it") {
  const auto shorted = rewound::testing::good
                           .replaced("resistance_Mohm = [180, 240, 310, 420, 590, 720]",
                                     "resistance_Mohm = [0.00001, 0.00001, 0.00002, 0.00003, 0.00004, 0.00005]")
                           .replaced("[instruments.ammeter]",
                                     "[instruments.insulation_tester]\nreading_percent = 5\ndigits = 2\n"
                                     "resolution = 10000\n\n[instruments.ammeter]");
  const auto judged = shorted.judged();
  CHECK(judged.decision.decision == rewound::verdict::decision::hold);
  const auto found = rewound::testing::finding_saying(judged, rewound::verdict::statement::insulation_minimum);
  CHECK(found.outcome == rewound::verdict::outcome::fails);
  CHECK(*found.high < 1.0);
}
