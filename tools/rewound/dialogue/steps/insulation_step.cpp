// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <rewound/base/error.hpp>
#include <rewound/report/cautions.hpp>
#include <rewound/report/number_text.hpp>
#include <rewound/report/view.hpp>
#include <rewound/report/wording.hpp>

#include "dialogue/steps/closed_question.hpp"
#include "dialogue/entry/insulation_answer.hpp"
#include "dialogue/keeping/listing.hpp"
#include "dialogue/steps/remark.hpp"
#include "dialogue/steps/steps.hpp"

namespace rewound::tool::dialogue {

namespace {

using report::number_text;
using verdict::check;

constexpr double ohms_a_megohm = 1e6;
constexpr double one_minute = 60.0;

/// Seconds at which a person reads: to one minute, and on to ten.
constexpr auto insulation_times = {15.0, 30.0, one_minute, 120.0, 180.0, 240.0, 300.0, 420.0, 600.0};

struct insulation_test {
  std::string circuit;
  double test_voltage_V = 0.0;
  double winding_C = 0.0;
  std::optional<record::insulation_section> repeats;  ///< the test whose place this one takes with its first reading
  std::string done_before;                            ///< to the machine between the two
  std::optional<run_clock> clock;  ///< since the tester was at its full voltage, once it was under the clock
};

record::insulation_section* test_of(record::visit_record& in, const std::string& circuit) {
  for (auto& each : in.insulation)
    if (each.circuit == circuit) return &each;
  return nullptr;
}

/// Whether the record still holds the test that is repeated: until the first new reading, and again after an undo of
/// it.
bool still_repeats(const insulation_test& of, const record::insulation_section& there) {
  return of.repeats && there == *of.repeats;
}

double last_time(const record::visit_record& in, const insulation_test& of) {
  double out = 0.0;
  for (const auto& each : in.insulation)
    if (each.circuit == of.circuit) {
      if (still_repeats(of, each)) return 0.0;
      out = each.rows.back().time_s;
    }
  return out;
}

std::string readings_in_words(const record::insulation_section& test) {
  std::string out;
  for (const auto& row : test.rows)
    out += (out.empty() ? "" : ", ") + number_text(row.time_s) + " s " + (row.over_range ? "over " : "") +
           number_text(row.resistance_Mohm);
  return out + " Mohm at " + number_text(test.test_voltage_V) + " V";
}

/// Takes the earlier test out of the lists. It stays on file in words: its numbers would be judged beside the new ones.
void set_repeated_aside(record::visit_record& in, const insulation_test& of) {
  const auto same = [&](const auto& each) { return each.circuit == of.circuit; };
  const auto found = std::find_if(in.insulation.begin(), in.insulation.end(), same);
  if (found == in.insulation.end() || !still_repeats(of, *found)) return;
  const std::string before = "insulation of " + of.circuit + " repeated, before: " + readings_in_words(*found);
  in.visit.work.push_back(of.done_before.empty() ? before : of.done_before + "; " + before);
  in.insulation.erase(found);
}

void add_reading(record::visit_record& in, const insulation_test& of, const record::insulation_row& row) {
  auto* test = test_of(in, of.circuit);
  if (test == nullptr) {
    in.insulation.push_back({.circuit = of.circuit, .test_voltage_V = of.test_voltage_V, .winding_C = of.winding_C});
    test = &in.insulation.back();
  }
  test->rows.push_back(row);
}

/// Puts a change of the test on disk; the first reading of a repeated one says in the journal what it takes the place
/// of.
bool keep_test(session& at, const insulation_test& of, record::visit_record changed, const std::string& what) {
  const auto& there = at.record().insulation;
  const bool repeats = of.repeats && std::find(there.begin(), there.end(), *of.repeats) != there.end();
  if (!repeats) return at.keep(std::move(changed), "kept", what);
  return at.keep(std::move(changed), "changed",
                 "repeated: " + of.circuit + " " + readings_in_words(*of.repeats) + " -> " + what);
}

void stop_where_it_fails(session& at, const std::string& circuit) {
  for (const auto& finding : at.judged().findings) {
    if (finding.check != check::insulation || finding.subject != circuit || finding.outcome != verdict::outcome::fails)
      continue;
    at.note("stopped", report::sentence(finding));
    at.person().say(report::sentence(finding) + " End the test with `done` and discharge the winding.", "STOP  ",
                    "      ");
    return;
  }
}

/// Least values that fall below what was read before say nothing of the machine: the range was another one.
void expect_range_that_holds(const record::visit_record& in, const insulation_test& of, double at_least) {
  double most = 0.0;
  for (const auto& each : in.insulation)
    if (each.circuit == of.circuit && !still_repeats(of, each))
      for (const auto& row : each.rows) most = std::max(most, row.resistance_Mohm);
  if (most > at_least)
    throw base::error(base::error_code::out_of_range, {}, "at least " + number_text(at_least) + " Mohm",
                      "a range that holds the " + number_text(most) + " Mohm read before");
}

/// One more reading of a test; the first makes the test.
void keep_insulation(session& at, const insulation_test& of, const record::insulation_row& row) {
  auto changed = at.record();
  set_repeated_aside(changed, of);
  add_reading(changed, of, row);
  const auto what = insulation_words(of.circuit, row);
  if (!keep_test(at, of, std::move(changed), what)) return;
  at.person().say(what + ": " + cold_remark(at.judged(), check::insulation, of.circuit), "  ", "  ");
  stop_where_it_fails(at, of.circuit);
}

/// What is read next: the one-minute value, which is judged, then what follows it.
double next_time(double after) {
  if (after + 0.5 < one_minute) return one_minute;
  for (const double each : insulation_times)
    if (each > after + 0.5) return each;
  return after + one_minute;
}

/// The top of the tester's range, for a bare `OL`: as its section says, or as the person does. None is invented.
double top_of_range(session& at) {
  const auto tester = at.record().instruments.find("insulation_tester");
  if (tester != at.record().instruments.end() && tester->second.full_scale)
    return *tester->second.full_scale / ohms_a_megohm;
  return at.ask_number({"top of the tester's range, Mohm", {"instruments.voltmeter.full_scale"}}, quantity::resistance,
                       ohms_a_megohm);
}

/// Keeps what was typed. A time that was not typed is `seconds`; a bare `OL` asks for the top of the range.
void take_insulation(session& at, const insulation_test& of, const std::string& line, double seconds) {
  try {
    const auto answer = parse_insulation(line);
    const double time_s = answer.seconds.value_or(seconds);
    const double megohms = answer.megohms ? *answer.megohms : top_of_range(at);
    if (answer.over_range) expect_range_that_holds(at.record(), of, megohms);
    keep_insulation(at, of, {time_s, megohms, answer.over_range});
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
  }
}

/// Time on the clock when an answer came, to the second: that of the plan where it came within half a second of it.
double time_of_answer(const run_clock& clock, double asked_s) {
  const double now = clock.seconds();
  return std::abs(now - asked_s) < 0.5 ? asked_s : std::round(now);
}

/// Sets the clock going. One that runs goes on, since a tester switched off and on again begins the absorption anew.
///
/// @returns whether it runs
bool start_clock(session& at, insulation_test& of, const pace& speed_of_time, const step& here) {
  if (of.clock) {
    if (ask_choice(at, "is the tester on since the last run", {"yes", "no"}, "yes") == "yes") return true;
    at.person().say("A test that was interrupted is taken anew: `repeat`.");
    return false;
  }
  const double last = last_time(at.record(), of);
  double already_s = 0.0;
  if (last == 0.0) at.ask("Enter at the moment the tester is at its full voltage > ", here);
  else already_s = at.ask_number("how long has the tester been on, s", quantity::time, 1.0);
  expect_not_before(already_s, last);
  of.clock.emplace(speed_of_time, already_s);
  at.person().say("A number typed late counts at the time it comes; `60 310` says when it was read.");
  return true;
}

/// The test under the clock: at each time the tester is read, or the person is asked. Enter stops it.
void insulation_run(session& at, insulation_test& of, double until_s, const pace& speed_of_time) {
  const step here{step_kind::insulation, ""};
  if (!start_clock(at, of, speed_of_time, here)) return;
  auto& clock = *of.clock;
  for (const double each : insulation_times) {
    if (each > until_s + 0.5 || each <= last_time(at.record(), of) || each + 0.5 < clock.seconds()) continue;
    if (!clock.wait_until(at.person(), each, "reading at " + number_text(each) + " s")) {
      at.person().say("stopped by hand");
      break;
    }
    if (const auto read = at.read_instrument("insulation_tester")) {
      keep_insulation(at, of, {time_of_answer(clock, each), *read / ohms_a_megohm, false});
      continue;
    }
    const auto line = at.ask("insulation at " + number_text(each) + " s, Mohm (Enter: missed) > ", here);
    if (!line.empty()) take_insulation(at, of, line, time_of_answer(clock, each));
  }
}

/// A test read anew: the one on record is set aside with the first reading.
void begin_repeat(session& at, insulation_test& of, const record::insulation_section& there) {
  of.done_before = at.ask("done to the machine since, as `dried out` (Enter: nothing) > ");
  of.test_voltage_V =
      at.ask_number({"test voltage, V dc", {"insulation.test_voltage_V"}}, quantity::voltage, 1.0, of.test_voltage_V);
  of.winding_C = at.ask_number({"winding, degC", {"insulation.winding_C"}}, quantity::temperature, 1.0, of.winding_C);
  of.repeats = there;
  of.clock.reset();
}

insulation_test test_of_circuit(session& at, const std::string& circuit, const step& here);

/// Whether a test that is on record is gone on with or repeated, or another circuit is tested.
insulation_test ask_repeat(session& at, const record::insulation_section& there, const step& here) {
  insulation_test out{.circuit = there.circuit,
                      .test_voltage_V = there.test_voltage_V,
                      .winding_C = there.winding_C.value_or(at.record().visit.ambient_C.value_or(0.0)),
                      .repeats = {},
                      .done_before = {},
                      .clock = {}};
  const std::string asks = there.circuit + ", read before to " + number_text(there.rows.back().time_s) + " s";
  const auto answer = ask_choice(at, {asks, {"another circuit, as `lamp cord to frame`, is a test of its own"}},
                                 {"go on", "repeat", "another circuit"}, "go on", here);
  if (answer == "repeat") begin_repeat(at, out, there);
  if (answer != "another circuit") return out;
  return test_of_circuit(at, ask_name(at, {"its name > ", {"insulation.circuit"}}, {}), here);
}

/// Of the usual volts and the winding's temperature, both shown where the reading is asked for.
insulation_test test_of_circuit(session& at, const std::string& circuit, const step& here) {
  for (const auto& each : at.record().insulation)
    if (each.circuit == circuit) return ask_repeat(at, record::insulation_section(each), here);
  insulation_test out;
  out.circuit = circuit;
  out.test_voltage_V = 500.0;
  const auto likely = likely_winding_C(at.record());
  out.winding_C =
      likely ? *likely
             : at.ask_number({"winding, degC", {"insulation.winding_C"}}, quantity::temperature, 1.0, {}, here);
  return out;
}

/// The charge is there however the test ends; a session that ends does not wait for a key.
void tell_discharge(session& at) {
  const double longest = at.judged().longest_insulation_s;
  at.person().say(report::discharge_caution(longest), "CAUTION  ", "         ");
}

void end_of_insulation(session& at) {
  const double longest = at.judged().longest_insulation_s;
  if (longest > 0.0) at.person().caution(report::discharge_caution(longest));
}

void repeat_test(session& at, insulation_test& of) {
  auto in = at.record();
  if (const auto* there = test_of(in, of.circuit)) begin_repeat(at, of, *there);
  else at.person().say("There is nothing to repeat: this circuit has no reading.");
}

/// `1000V`, `25C`: what the test is made with, before its first reading. @returns false for any other line
bool takes_setting(session& at, insulation_test& of, const std::string& line) {
  if (!reads_as_number(line)) return false;
  const auto numbers = parse_line(line, {}).numbers;
  if (numbers.size() != 1) return false;
  const auto what = numbers.front().what;
  if (what != quantity::voltage && what != quantity::temperature) return false;
  if (last_time(at.record(), of) > 0.0)
    throw base::error(base::error_code::out_of_range, {}, "\"" + line + "\"",
                      "one voltage and temperature a test: `repeat` takes it anew");
  (what == quantity::voltage ? of.test_voltage_V : of.winding_C) = numbers.front().value;
  return true;
}

const std::vector<std::string> about_insulation{
    "insulation.resistance_Mohm", "insulation.time_s", "insulation.circuit",
    "megohms, or seconds and megohms as `15 180`; beyond the range `>2000` or `OL`; `1000V` and `25C` before the first "
    "reading say what it is made with; `circuit lamp cord` tests another; `run` counts one minute down, `run 10` ten; "
    "`repeat` takes the test anew"};

asked next_reading(const session& at, const insulation_test& of) {
  const double last = last_time(at.record(), of);
  const auto seconds = number_text(next_time(last));
  if (last + 0.5 >= one_minute) return {"insulation at " + seconds + " s, Mohm (Enter: no more) > ", about_insulation};
  return {of.circuit + ", " + number_text(of.test_voltage_V) + " V dc, " + number_text(of.winding_C) +
              " degC: Mohm at " + seconds + " s > ",
          about_insulation};
}

void one_answer(session& at, insulation_test& of, const step& here, const pace& speed_of_time) {
  const double last = last_time(at.record(), of);
  const auto line = at.ask(next_reading(at, of), here);
  if (line.empty() && last + 0.5 >= one_minute) throw step_left{std::nullopt, here};
  try {
    if (line == "repeat") repeat_test(at, of);
    else if (line.starts_with("circuit ")) of = test_of_circuit(at, line.substr(8), here);
    else if (line == "run" || line == "run 1" || line == "run 10")
      insulation_run(at, of, line == "run 10" ? 10.0 * one_minute : one_minute, speed_of_time);
    else if (!line.empty() && !takes_setting(at, of, line)) take_insulation(at, of, line, next_time(last));
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
  }
}

}  // namespace

void insulation_step(session& at, const pace& speed_of_time) {
  const step here{step_kind::insulation, ""};
  cautions_before_touching(at);
  at.person().caution(
      "The winding is charged during this test: disconnect electronics first, keep hands off, discharge afterwards.");
  at.person().caution(report::discharge_caution(0.0));
  auto of = looking_again([&] { return test_of_circuit(at, "winding to frame", here); });
  at.person().say(
      "The one-minute value is what counts. `run` counts it down, `run 10` ten minutes, `>2000` or `OL` is over range, "
      "`?` tells more.");
  try {
    for (;;) looking_again([&] { one_answer(at, of, here, speed_of_time); });
  } catch (const step_left&) {
    end_of_insulation(at);
    throw;
  } catch (const session_over&) {
    tell_discharge(at);
    throw;
  } catch (const gone&) {
    tell_discharge(at);
    throw;
  }
}

}  // namespace rewound::tool::dialogue
