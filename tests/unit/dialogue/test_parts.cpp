// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <sstream>

#include <judged.hpp>
#include <rewound/base/error.hpp>
#include <rewound/job/policy_file.hpp>

#include "dialogue/facts/basics.hpp"
#include "dialogue/person/curve_drawing.hpp"
#include "dialogue/keeping/listing.hpp"
#include "dialogue/plan.hpp"
#include "dialogue/keeping/run_up_edit.hpp"
#include "dialogue/keeping/safekeeping.hpp"
#include "dialogue/meters/scpi.hpp"

namespace dialogue = rewound::tool::dialogue;
namespace job = rewound::job;
namespace record = rewound::record;

namespace {

const dialogue::answers_given fan{{"name", "GH-31"},      {"plate", "230V 50Hz 420mA"},
                                  {"speeds", "high low"}, {"class", "I"},
                                  {"air", "21"},          {"visit.date", "2026-05-14"}};

dialogue::beginning no_facts() { return dialogue::beginning_of({}, "2026-05-14"); }

record::visit_record blank() { return dialogue::record_of(no_facts(), fan); }

constexpr auto watts = &record::run_up_row::power_W;

std::vector<std::string> names(const std::vector<dialogue::planned_step>& plan) {
  std::vector<std::string> out;
  for (const auto& each : plan) out.push_back(each.step.name());
  return out;
}

}  // namespace

TEST_CASE("answers make a record without readings that is read back as it is") {
  const auto record = blank();
  CHECK(record.machine.id == "GH-31");
  CHECK(record.machine.rated_current_A == 0.42);
  CHECK(record.machine.speeds == std::vector<std::string>{"high", "low"});
  CHECK(record.run_up.empty());
  CHECK(record::record_from(record::read_toml_text(record::record_text(record), "written.toml")) == record);
}

TEST_CASE("each answer is held against the record's own reader") {
  for (const auto& each : std::vector<std::array<std::string, 3>>{{"plate", "-230 50", "from 0.001"},
                                                                  {"plate", "230 .42 50", "in this order"},
                                                                  {"plate", "230", "volts, hertz"},
                                                                  {"plate", "230 50V .42A", "in this order"},
                                                                  {"plate", "110 60.85", "in this order"},
                                                                  {"speeds", "230 V 48 C", "names"},
                                                                  {"plate", "230 50 .42 75 4", "volts, hertz"},
                                                                  {"machine.poles", "3", "even"},
                                                                  {"machine.phases", "2", "1 or 3"},
                                                                  {"visit.date", "2026-02-30", "day of the calendar"},
                                                                  {"visit.date", "x = 1", "a date"},
                                                                  {"machine.poles", "4.5", "whole"},
                                                                  {"control", "magic", "series_reactor"},
                                                                  {"speeds", "high high", "differ"},
                                                                  {"air", "900", "400"}}) {
    const auto &key = each[0], &text = each[1], &says = each[2];
    CAPTURE(key);
    CAPTURE(text);
    auto answers = fan;
    answers[key] = text;
    try {
      dialogue::record_of(no_facts(), answers);
      FAIL("taken");
    } catch (const rewound::base::error& trouble) {
      CHECK(std::string(trouble.what()).find(says) != std::string::npos);
    }
  }
}

TEST_CASE("cold tests come first and nothing is energised before insulation") {
  const auto policy = job::default_policy();
  auto record = blank();
  const auto order = names(dialogue::plan_of(record, policy));
  CHECK(order ==
        std::vector<std::string>{"earth", "resistance", "insulation", "run-up high", "run-up low", "starting"});
  bool insulated = false;
  for (const auto& each : dialogue::plan_of(record, policy)) {
    if (each.step.kind == dialogue::step_kind::insulation) insulated = true;
    if (dialogue::energises(each.step.kind)) CHECK(insulated);
  }
  record.machine.appliance_class = rewound::record::appliance_class::class_II;
  const auto unearthed = names(dialogue::plan_of(record, policy));
  CHECK(std::count(unearthed.begin(), unearthed.end(), "leakage") == 1);
  CHECK(std::count(unearthed.begin(), unearthed.end(), "earth") == 0);
}

TEST_CASE("insulation is asked for even where the policy does not need it, and the next step skips what was left") {
  auto policy = job::default_policy();
  policy.needed = {rewound::verdict::check::draw};
  const auto plan = dialogue::plan_of(blank(), policy);
  CHECK(names(plan).front() == "insulation");
  const auto next = dialogue::next_step(plan, {plan.front().step});
  REQUIRE(next);
  CHECK(next->name() == "run-up high");
}

TEST_CASE("rated and mains volts are asked for first, others only where volts can be set") {
  auto record = blank();
  CHECK(dialogue::run_up_voltages(record) == std::vector<double>{230.0});
  record.visit.supply_voltage_V = 240.0;
  CHECK(dialogue::run_up_voltages(record) == std::vector<double>{230.0, 240.0});
  record.visit.supply_voltage_V = 400.0;  // no mains for this machine
  CHECK(dialogue::run_up_voltages(record) == std::vector<double>{230.0});
  record.visit.supply_voltage_V = 240.0;
  record = dialogue::with_reading(record, {"high", 231.0, {0.4}, {}, {}, false});
  CHECK(*dialogue::suggested_voltage(record, "high") == 240.0);
  CHECK(*dialogue::suggested_voltage(record, "low") == 230.0);
  auto settled = dialogue::with_reading(record, {"high", 240.0, {0.42}, {}, {}, false});
  CHECK_FALSE(dialogue::suggested_voltage(settled, "high").has_value());
  settled.visit.have = {"ammeter", "variable_transformer"};
  CHECK(*dialogue::suggested_voltage(settled, "high") == 115.0);
  settled = dialogue::with_reading(settled, {"high", 115.0, {0.2}, {}, {}, false});
  CHECK(*dialogue::suggested_voltage(settled, "high") == 150.0);
}

TEST_CASE("a reading below all mains shows that volts can be set") {
  auto record = blank();
  CHECK_FALSE(dialogue::has_variable_volts(record));
  record = dialogue::with_reading(record, {"high", 207.0, {0.37}, {}, {}, false});
  record = dialogue::with_reading(record, {"high", 250.0, {0.5}, {}, {}, false});
  CHECK_FALSE(dialogue::has_variable_volts(record));
  record = dialogue::with_reading(record, {"high", 150.0, {0.3}, {}, {}, false});
  CHECK(dialogue::has_variable_volts(record));
  record.visit.have = {"ammeter"};
  CHECK_FALSE(dialogue::has_variable_volts(record));
}

TEST_CASE("what there is no meter for is not asked for") {
  auto record = blank();
  record.visit.have = {"multimeter"};
  CHECK(names(dialogue::plan_of(record, job::default_policy())) ==
        std::vector<std::string>{"earth", "resistance", "run-up high", "run-up low", "starting"});
  record.visit.have = {"insulation_tester"};
  CHECK(names(dialogue::plan_of(record, job::default_policy())) == std::vector<std::string>{"insulation", "starting"});
  auto shop = job::default_policy();
  shop.equipment = {"clamp_meter"};
  CHECK(names(dialogue::plan_of(record, shop)) == std::vector<std::string>{"insulation", "starting"});
  record.visit.have.clear();
  CHECK(names(dialogue::plan_of(record, shop)) == std::vector<std::string>{"run-up high", "run-up low", "starting"});
}

TEST_CASE("watts that begin midway stand in the row of their reading, in the file too") {
  auto record = dialogue::with_reading(blank(), {"high", 115.0, {0.2}, {}, {}, false});
  const auto late = dialogue::with_reading(record, {"high", 150.0, {0.3}, 30.25, 1400.5, false});
  CHECK(dialogue::reading_words(late, "high", 1) == "high 150 V 0.3 A 30.25 W 1400 rpm");
  CHECK_FALSE(late.run_up[0].rows[0].power_W.has_value());
  CHECK(late.checks.empty());
  CHECK(record::record_from(record::read_toml_text(record::record_text(late), "")) == late);
  const auto again = dialogue::with_reading(late, {"high", 150.0, {0.3}, 31.0, {}, false});
  const auto complete = dialogue::with_reading_replaced(again, 0, {"high", 115.0, {0.2}, 20.0, {}, false});
  CHECK(complete.run_up[0].column(watts) == std::vector<double>{20.0, 30.25, 31.0});
  CHECK(dialogue::without_reading(again, "high", 0).run_up[0].column(watts) == std::vector<double>{30.25, 31.0});
  const auto no_watts = dialogue::without_watts(late, "high");
  CHECK(dialogue::reading_words(no_watts, "high", 1) == "high 150 V 0.3 A 1400 rpm");
}

TEST_CASE("a rotor at 0 rpm is marked as stalled") {
  const auto record = dialogue::with_reading(blank(), {"high", 60.0, {0.2}, {}, {}, false});
  CHECK_FALSE(dialogue::with_reading(record, {"high", 70.0, {0.3}, {}, 0.0, false}).run_up[0].rows[1].turning);
}

TEST_CASE("watts are asked for where every reading before has them") {
  const auto record = dialogue::with_reading(blank(), {"high", 115.0, {0.2}, 20.0, {}, false});
  CHECK(record.run_up[0].column(watts).size() == 1);
  CHECK_THROWS_AS(dialogue::with_reading(record, {"high", 150.0, {0.3}, {}, {}, false}), rewound::base::error);
  CHECK(dialogue::without_watts(record, "high").run_up[0].column(watts).empty());
}

TEST_CASE("a reading is replaced, marked or dropped without touching the others") {
  auto record = blank();
  for (const double volts : {115.0, 150.0, 184.0})
    record = dialogue::with_reading(record, {"high", volts, {volts / 500.0}, {}, {}, false});
  const auto replaced = dialogue::with_reading_replaced(record, 1, {"high", 150.0, {0.31}, {}, {}, false});
  CHECK(replaced.run_up[0].rows[1].current_A == 0.31);
  CHECK(replaced.run_up[0].rows[2] == record.run_up[0].rows[2]);
  const auto stalled = dialogue::with_stalled(record, "high", 0).run_up[0].rows;
  CHECK_FALSE(stalled[0].turning);
  CHECK(stalled[1].turning);
  CHECK(dialogue::without_reading(record, "high", 0).run_up[0].column(&record::run_up_row::voltage_V) ==
        std::vector<double>{150.0, 184.0});
  CHECK_THROWS_AS(dialogue::without_reading(record, "high", 3), rewound::base::error);
  auto one = dialogue::with_reading(blank(), {"low", 115.0, {0.2}, {}, {}, false});
  CHECK(dialogue::without_entry(one, {dialogue::step_kind::run_up, "low"}, 0).run_up.empty());
}

TEST_CASE("a drawing keeps its width, in ASCII and with box characters") {
  const std::vector<dialogue::drawn_curve> curves{{"high", {{115, 0.21}, {230, 0.42}}}, {"low", {{115, 0.15}}}};
  for (const bool unicode : {false, true}) {
    std::istringstream lines(dialogue::curve_drawing(curves, {{115, 0.2}, {230, 0.41}}, {}, unicode));
    int count = 0;
    for (std::string line; std::getline(lines, line); ++count) {
      const auto columns = std::count_if(line.begin(), line.end(),
                                         [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; });
      CHECK(columns <= 79);
      if (!unicode) CHECK(std::all_of(line.begin(), line.end(), [](char c) { return c >= 0x20 && c < 0x7f; }));
    }
    CHECK(count == 18);
  }
  const auto ascii = dialogue::curve_drawing(curves, {}, {}, false);
  CHECK(ascii.find("1 high, 2 low") != std::string::npos);
  CHECK(std::count(ascii.begin(), ascii.end(), '1') >= 3);
  CHECK(dialogue::curve_drawing({}, {}, {}, false) == "nothing to draw yet\n");
}

TEST_CASE("an instrument's answer is a number, an overload or no number") {
  const auto number = [](const char* text) { return std::get<double>(dialogue::scpi_answer(text)); };
  const auto why = [](const char* text) { return std::get<dialogue::no_reading>(dialogue::scpi_answer(text)).why; };
  CHECK(number("+6.10E-01\r\n") == 0.61);
  CHECK(number("0.61") == 0.61);
  CHECK(number("-3") == -3.0);
  CHECK(number(" 1.2E+3,5,6\n") == 1200.0);
  CHECK(why("9.9E37").find("overload") != std::string::npos);
  CHECK(why("-9.900000E+37").find("overload") != std::string::npos);
  CHECK(why("9.91E37").find("not a number") != std::string::npos);
  CHECK(why("0.61 A").find("is no number") != std::string::npos);
  CHECK(why("\x1b[2Jgarbage").find('\x1b') == std::string::npos);
  CHECK(why("").find("empty") != std::string::npos);
  CHECK(why("9.91E+74").find("beyond") != std::string::npos);  // the fuzz program found it taken
  CHECK(number("1.5,2.5") == 1.5);
  CHECK(why("0,205").find("decimal comma") != std::string::npos);
  CHECK(why("-230,5 ").find("decimal comma") != std::string::npos);
  CHECK(why("nan").find("is no number") != std::string::npos);
}

TEST_CASE("a line typed and neither kept nor refused was left hanging") {
  const auto entry = [](const char* kind, const char* text) {
    return dialogue::journal_entry{"2026-05-14T10:00:00Z", kind, text};
  };
  CHECK(dialogue::left_hanging({entry("typed", "110 .61")}) == "110 .61");
  CHECK_FALSE(dialogue::left_hanging({entry("typed", "110 .61"), entry("kept", "high 110 V 0.61 A")}));
  CHECK(dialogue::left_hanging({entry("kept", "x"), entry("typed", ".7"), entry("opened", "")}) == ".7");
  CHECK_FALSE(dialogue::left_hanging({}));
  CHECK(dialogue::left_hanging({entry("given", "ohms = 18.4"), entry("typed", "note hums"), entry("noted", "hums")}) ==
        "ohms = 18.4");
  CHECK_FALSE(dialogue::journal_entry_of("2026-05-14T10:0").has_value());
  CHECK(dialogue::journal_entry_of("2026-05-14T10:00:00Z typed 110 .61")->text == "110 .61");
}
