// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include <judged.hpp>
#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/job/trend.hpp>
#include <rewound/report/trend.hpp>
#include <rewound/report/wording.hpp>

namespace job = rewound::job;
namespace record = rewound::record;
using rewound::base::error_code;
using rewound::checks::trend_forecast;
using rewound::testing::good;
using rewound::testing::near_relative;
using rewound::testing::record_text;
using rewound::verdict::statement;

namespace {

/// The demo machine in some year with another one-minute value.
record_text visit(int year, double megohm) {
  return good.replaced("date = 2026-05-14", "date = " + std::to_string(year) + "-05-14")
      .replaced("time_s = [15, 30, 60, 120, 300, 600]", "time_s = [60]")
      .replaced("resistance_Mohm = [180, 240, 310, 420, 590, 720]",
                "resistance_Mohm = [" + std::to_string(megohm) + "]");
}

job::trend_result trend_of(const std::vector<record_text>& visits) {
  std::vector<record::visit_record> records;
  for (const auto& text : visits) records.push_back(text.record());
  return job::trend(records, job::default_policy());
}

error_code refused(const std::vector<record_text>& visits) {
  try {
    trend_of(visits);
  } catch (const rewound::base::error& trouble) {
    return trouble.code();
  }
  FAIL("no error");
  return error_code::usage;
}

bool tells(const job::circuit_trend& circuit, statement what) {
  return std::any_of(circuit.findings.begin(), circuit.findings.end(), [&](const auto& f) { return f.says == what; });
}

}  // namespace

TEST_CASE("halving every year is a slope of -50 % a year, whatever the order of the records") {
  const auto forwards = trend_of({visit(2026, 80.0), visit(2027, 40.0), visit(2028, 20.0)});
  const auto backwards = trend_of({visit(2028, 20.0), visit(2026, 80.0), visit(2027, 40.0)});
  REQUIRE(forwards.circuits.size() == 1);
  const auto& line = forwards.circuits.front().line;
  CHECK(near_relative(line.slope_per_year->value, -std::log(2.0), 2e-3));  // 2028 has a day more
  CHECK(line.slope_per_year->value == backwards.circuits.front().line.slope_per_year->value);
  CHECK(line.forecast == trend_forecast::crosses);
  // 20 Mohm at 21 degC is 15.4 at 40 degC: log2(15.4 / 5) = 1.62 years on.
  CHECK(near_relative(line.crosses_in_years.value(), std::log2(20.0 * 0.7677 / 5.0), 0.01));
  CHECK(backwards.visits.front().iso() == "2026-05-14");
}

TEST_CASE("what does not belong together is refused") {
  CHECK(refused({}) == error_code::empty_list);
  CHECK(refused({visit(2026, 80.0), visit(2027, 40.0).replaced("id = \"GH-07\"", "id = \"GH-08\"")}) ==
        error_code::records_do_not_match);
  CHECK(refused({visit(2026, 80.0), visit(2027, 40.0).replaced("rated_voltage_V = 230", "rated_voltage_V = 115")}) ==
        error_code::records_do_not_match);
  CHECK(refused({visit(2026, 80.0), visit(2026, 40.0)}) == error_code::repeated);
  const std::string again =
      "[[insulation]]\ncircuit = \"winding to frame\"\ntest_voltage_V = 500\nwinding_C = 21\n"
      "time_s = [60]\nresistance_Mohm = [70]\n";
  CHECK(refused({visit(2026, 80.0).with(again)}) == error_code::repeated);
  CHECK(refused({visit(2026, 80.0).replaced("time_s = [60]", "time_s = [45]")}) == error_code::empty_list);
}

TEST_CASE("one visit tells no trend") {
  const auto one = trend_of({visit(2026, 80.0)});
  CHECK(one.circuits.front().line.forecast == trend_forecast::one_point);
  CHECK(tells(one.circuits.front(), statement::insulation_trend_one_visit));
  CHECK_FALSE(one.circuits.front().line.slope_per_year.has_value());
}

TEST_CASE("every circuit has its own line, also one that only some visits measured") {
  const auto both = visit(2027, 40.0)
                        .with(
                            "[[insulation]]\ncircuit = \"speed control to base\"\ntest_voltage_V = 500\n"
                            "winding_C = 21\ntime_s = [60]\nresistance_Mohm = [900]\n");
  const auto result = trend_of({visit(2026, 80.0), both});
  REQUIRE(result.circuits.size() == 2);
  CHECK(result.circuits[0].visits.size() == 2);
  CHECK(result.circuits[1].circuit == "speed control to base");
  CHECK(result.circuits[1].visits.size() == 1);
}

TEST_CASE("a new winding begins a new line, and the earlier visits are still shown") {
  const auto rewound_later = [](int year, double megohm) {
    return visit(year, megohm).replaced("wound_year = 2026", "wound_year = 2028");
  };
  const auto circuit =
      trend_of({visit(2026, 20.0), visit(2027, 10.0), rewound_later(2028, 500.0), rewound_later(2029, 450.0)})
          .circuits.front();
  CHECK(circuit.visits.size() == 4);
  CHECK_FALSE(circuit.visits[1].in_line);
  CHECK(circuit.visits[2].in_line);
  CHECK(tells(circuit, statement::insulation_trend_rewound));
  CHECK(near_relative(circuit.line.slope_per_year->value, std::log(0.9), 1e-2));
}

TEST_CASE("a step is named with its dates and the work recorded") {
  const auto circuit = trend_of({visit(2026, 300.0), visit(2027, 310.0), visit(2028, 305.0),
                                 visit(2029, 60.0).replaced("work = [\"stator rewound\"", "work = [\"washed\""),
                                 visit(2030, 61.0), visit(2031, 59.0)})
                           .circuits.front();
  REQUIRE(circuit.line.steps.size() == 1);
  for (const auto& f : circuit.findings)
    if (f.says == statement::insulation_trend_step) {
      const auto sentence = rewound::report::sentence(f);
      CHECK(sentence.find("between 2028-05-14 and 2029-05-14") != std::string::npos);
      CHECK(sentence.find("washed") != std::string::npos);
    }
}

TEST_CASE("one named tester leaves its gain out of the slope, two testers do not") {
  const auto with = [](const record_text& text, const std::string& name) {
    return text.with("[instruments.insulation_tester]\nname = \"" + name +
                     "\"\nreading_percent = 30\ndigits = 1\nresolution = 1e5\n");
  };
  const auto u = [&](const std::string& second) {
    return trend_of({with(visit(2026, 80.0), "tester 1"), with(visit(2027, 40.0), second)})
        .circuits.front()
        .line.slope_per_year->standard_uncertainty;
  };
  CHECK(u("tester 1") < 0.8 * u("tester 2"));
}

TEST_CASE("an insulation system that is not stated is named with the one taken, and other test voltages are told") {
  const auto unstated = [](const record_text& text) { return text.without("insulation_system = \"thermosetting\"\n"); };
  const auto circuit = trend_of({unstated(visit(2026, 80.0)).replaced("test_voltage_V = 500", "test_voltage_V = 250"),
                                 unstated(visit(2027, 60.0))})
                           .circuits.front();
  CHECK(circuit.system == "thermoplastic");  // at 21 degC the lower of the two
  CHECK_FALSE(circuit.system_stated);
  CHECK(tells(circuit, statement::insulation_trend_test_voltage));
}

TEST_CASE("no sentence of a trend is left with a hole in it, and lines fit") {
  for (const auto& result :
       {trend_of({visit(2026, 80.0)}), trend_of({visit(2026, 80.0), visit(2027, 4.0)}),
        trend_of({visit(2026, 80.0), visit(2027, 40.0)}), trend_of({visit(2026, 80.0), visit(2027, 79.0)}),
        trend_of({visit(2026, 8000.0), visit(2027, 8010.0), visit(2028, 8000.0)})}) {
    const auto text = rewound::report::trend_text(result);
    CHECK(text.find('{') == std::string::npos);
    std::size_t begin = 0;
    for (auto end = text.find('\n'); end != std::string::npos; begin = end + 1, end = text.find('\n', begin))
      CHECK(end - begin < 80);
    CHECK(text.find("4 times as long") != std::string::npos);
  }
}
