// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <string>
#include <vector>

#include <judged.hpp>
#include <near.hpp>
#include <rewound/report/text.hpp>
#include <rewound/report/wording.hpp>

using namespace rewound::testing;
using rewound::base::error;
using rewound::base::error_code;
using rewound::verdict::bearing;
using rewound::verdict::check;
using rewound::verdict::decision;
using rewound::verdict::outcome;
using rewound::verdict::statement;

namespace {

/// The good record as a three-phase machine of one speed, with the lines' shares of the currents and voltages.
struct three_phase {
  std::vector<double> current{1.0, 1.0, 1.0};
  std::vector<double> voltage{};
  std::string more{};

  static std::string lists(const std::vector<double>& values, const std::vector<double>& shares) {
    std::string out;
    for (const double share : shares) {
      std::string list;
      for (const double value : values) list += (list.empty() ? "" : ", ") + std::to_string(share * value);
      out += (out.empty() ? "[" : ", [") + list + "]";
    }
    return "[" + out + "]";
  }
  std::string run_up(const std::vector<double>& shares, const std::string& keys) const {
    const std::vector<double> volts{120.0, 150.2, 180.1, 209.8, 230.1, 240.2};
    const std::vector<double> amperes{2.14, 2.68, 3.25, 3.81, 4.21, 4.42};
    std::string out = "[[run_up]]\nspeed = \"high\"\nvoltage_V = [120.0, 150.2, 180.1, 209.8, 230.1, 240.2]\n";
    out += "current_A = " + lists(amperes, shares) + "\n";
    if (!voltage.empty()) out += "line_voltage_V = " + lists(volts, voltage) + "\n";
    return out + keys + "\n";
  }
  record_text text() const {
    return good.replaced("phases = 1", "phases = 3")
        .replaced("\"permanent_capacitor\"", "\"three_phase\"")
        .replaced("speeds = [\"high\", \"medium\", \"low\"]", "speeds = [\"high\"]")
        .replaced("rated_current_A = 0.42\nrated_power_W = 75", "rated_current_A = 4.2")
        .without(
            "[[run_up]]\nspeed = \"medium\"\nvoltage_V = [120.1, 150.0, 179.9, 210.2, 230.0, 239.9]\n"
            "current_A = [0.188, 0.235, 0.284, 0.332, 0.366, 0.383]\n")
        .without(
            "[[run_up]]\nspeed = \"low\"\nvoltage_V = [119.8, 150.1, 180.2, 210.0, 229.8, 240.1]\n"
            "current_A = [0.159, 0.198, 0.238, 0.278, 0.305, 0.319]\n")
        .replaced(
            "[[run_up]]\nspeed = \"high\"\nvoltage_V = [120.0, 150.2, 180.1, 209.8, 230.1, 240.2]\n"
            "current_A = [0.214, 0.268, 0.325, 0.381, 0.421, 0.442]\n",
            run_up(current, "") + more);
  }
  three_phase rolled(const std::vector<double>& shares, const std::string& leads = "rolled_once") const {
    auto out = *this;
    out.more = run_up(shares, "leads = \"" + leads + "\"");
    return out;
  }
  rewound::job::result judged() const { return text().judged(); }
};

rewound::verdict::finding of_currents(const rewound::job::result& result) {
  return findings_of(result, check::unbalance).front();
}

const std::vector<double> tilted{1.12, 1.0, 0.88};  // 12 percent

}  // namespace

TEST_CASE("even lines conform, and the machine is released") {
  const auto result = three_phase{.voltage = {1.0, 1.0, 1.0}}.judged();
  CHECK(of_currents(result).outcome == outcome::conforms);
  CHECK(finding_saying(result, statement::voltage_unbalance_small).outcome == outcome::conforms);
  CHECK(result.decision.decision == decision::release);
}

TEST_CASE("the limit of the currents decides on both sides of ten percent") {
  CHECK(of_currents(three_phase{.current = {1.098, 1.0, 0.902}}.judged()).outcome == outcome::conforms);
  CHECK(of_currents(three_phase{.current = {1.1, 1.0, 0.9}}.judged()).outcome == outcome::undecided);
  CHECK(of_currents(three_phase{.current = {1.102, 1.0, 0.898}}.judged()).outcome == outcome::fails);
}

TEST_CASE("line voltages that can explain the currents leave them undecided, smaller ones do not") {
  const auto explained = three_phase{.current = tilted, .voltage = {1.015, 1.0, 0.985}}.judged();
  CHECK(of_currents(explained).says == statement::unbalance_by_supply);
  CHECK(of_currents(explained).outcome == outcome::undecided);
  CHECK(explained.decision.decision == decision::undecided);
  const auto unexplained = three_phase{.current = tilted, .voltage = {1.01, 1.0, 0.99}}.judged();
  CHECK(of_currents(unexplained).outcome == outcome::fails);
}

TEST_CASE("unbalance that goes along with the leads is the winding's and fails") {
  const auto result = three_phase{.current = tilted}.rolled({0.88, 1.12, 1.0}).judged();
  const auto found = finding_saying(result, statement::unbalance_of_winding);
  CHECK(found.outcome == outcome::fails);
  CHECK(near_absolute(*found.value, 12.0, 0.05));
  CHECK(rewound::report::sentence(found).find("it sits in the winding") != std::string::npos);
  const auto twice = three_phase{.current = tilted}.rolled({1.0, 0.88, 1.12}, "rolled_twice").judged();
  CHECK(near_absolute(*finding_saying(twice, statement::unbalance_of_winding).value, 12.0, 0.05));
}

TEST_CASE("unbalance that stays with the lines does not fail the machine, but leaves it unjudged") {
  const auto result = three_phase{.current = tilted}.rolled(tilted).judged();
  const auto found = finding_saying(result, statement::unbalance_of_winding);
  CHECK(found.outcome == outcome::undecided);
  CHECK(near_absolute(*found.value, 0.0, 0.05));
  CHECK(rewound::report::sentence(found).find("from the supply or the ammeters") != std::string::npos);
  CHECK(result.decision.decision == decision::undecided);
  // Eight percent on the lines and five in the winding: each within ten, thirteen together.
  const auto shared = three_phase{.current = {1.13, 0.96, 0.91}}.rolled({1.04, 1.01, 0.95}).judged();
  CHECK(finding_saying(shared, statement::unbalance_of_winding).outcome == outcome::conforms);
}

TEST_CASE("a run-up with rolled leads changes nothing but the unbalance") {
  const auto plain = three_phase{}.judged();
  const auto rolled = three_phase{}.rolled({1.0, 1.0, 1.0}).judged();
  REQUIRE(plain.draw.size() == rolled.draw.size());
  CHECK(plain.draw[0].at_rated->value == rolled.draw[0].at_rated->value);
  CHECK(rolled.decision.decision == decision::release);
}

TEST_CASE("voltage unbalance: one percent asks nothing, more takes from the output, above five says nothing") {
  const auto of = [](double share) { return three_phase{.voltage = {1.0 + share, 1.0, 1.0 - share}}.judged(); };
  CHECK(says(of(0.0099), statement::voltage_unbalance_small));
  const auto three = of(0.03);
  const auto found = finding_saying(three, statement::voltage_unbalance_derates);
  CHECK(found.bearing == bearing::informs);
  CHECK(rewound::report::condition(found).find("89 % of its rated output") != std::string::npos);
  CHECK(three.decision.decision == decision::release);
  CHECK(finding_saying(of(0.05), statement::voltage_unbalance_beyond).outcome == outcome::undecided);
  CHECK(of(0.06).decision.decision == decision::undecided);
}

TEST_CASE("keys of three phases are checked") {
  struct defect {
    record_text text;
    error_code code;
    std::string field;
    std::string allowed;
  };
  const std::string high = "current_A = [0.214, 0.268, 0.325, 0.381, 0.421, 0.442]\n";
  const std::string six = "[1, 1, 1, 1, 1, 1]";
  const three_phase plain;
  for (const auto& bad : std::vector<defect>{
           {good.replaced(high, high + "leads = \"rolled_once\"\n"), error_code::out_of_range, "run_up[0].leads",
            "three phases"},
           {good.replaced(high, high + "line_voltage_V = [" + six + ", " + six + ", " + six + "]\n"),
            error_code::unequal_lengths, "run_up[0].line_voltage_V", "three phases"},
           {three_phase{.voltage = {1.0, 1.0}}.text(), error_code::unequal_lengths, "run_up[0].line_voltage_V",
            "three lists"},
           {three_phase{.voltage = {1.1, 1.1, 1.2}}.text(), error_code::out_of_range, "run_up[0].line_voltage_V",
            "between"},
           {plain.rolled({1, 1, 1}, "rolled").text(), error_code::not_a_choice, "run_up[1].leads", "rolled_once"},
           {plain.rolled({1, 1, 1}, "as_marked").text(), error_code::repeated, "run_up[1].speed", "one [[run_up]]"},
           {plain.text().replaced("speed = \"high\"\n", "speed = \"high\"\nleads = \"rolled_once\"\n"),
            error_code::missing_key, "run_up[0].leads", "as marked"}}) {
    CAPTURE(bad.field);
    CAPTURE(bad.allowed);
    try {
      bad.text.record();
      FAIL_CHECK("no error");
    } catch (const error& trouble) {
      CHECK_MESSAGE(name(trouble.code()) == name(bad.code), trouble.what());
      CHECK(trouble.where().field == bad.field);
      CHECK(trouble.where().line > 0);
      CHECK_MESSAGE(trouble.allowed().find(bad.allowed) != std::string::npos, trouble.what());
    }
  }
}
