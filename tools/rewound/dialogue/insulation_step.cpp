// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <rewound/base/error.hpp>
#include <rewound/report/cautions.hpp>
#include <rewound/report/number_text.hpp>
#include <rewound/report/view.hpp>
#include <rewound/report/wording.hpp>

#include "closed_question.hpp"
#include "insulation_answer.hpp"
#include "noted.hpp"
#include "remark.hpp"
#include "steps.hpp"

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
  for (const auto& note : over_range_notes(in))
    if (note.circuit == of.circuit) out = std::max(out, note.time_s);
  return out;
}

std::string readings_in_words(const record::insulation_section& test) {
  std::string out;
  for (const auto& row : test.rows)
    out += (out.empty() ? "" : ", ") + number_text(row.time_s) + " s " + number_text(row.resistance_Mohm);
  return out + " Mohm at " + number_text(test.test_voltage_V) + " V";
}

/// Takes the earlier test out of the lists. It stays on file in words: its numbers would be judged beside the new ones.
void set_repeated_aside(record::visit_record& in, const insulation_test& of) {
  const auto same = [&](const auto& each) { return each.circuit == of.circuit; };
  const auto found = std::find_if(in.insulation.begin(), in.insulation.end(), same);
  if (found == in.insulation.end() || !still_repeats(of, *found)) return;
  const std::string before = "insulation of " + of.circuit + " repeated, before: " + readings_in_words(*found);
  in.visit.work.push_back(of.done_before.empty() ? before : of.done_before + "; " + before);
  for (const auto& note : over_range_notes(in))
    if (note.circuit == of.circuit) in.checks.erase(note.key());
  in.insulation.erase(found);
}

void add_reading(record::visit_record& in, const insulation_test& of, double seconds, double megohms) {
  auto* test = test_of(in, of.circuit);
  if (test == nullptr) {
    in.insulation.push_back({.circuit = of.circuit, .test_voltage_V = of.test_voltage_V, .winding_C = of.winding_C});
    test = &in.insulation.back();
  }
  test->rows.push_back({.time_s = seconds, .resistance_Mohm = megohms});
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

/// One more reading of a test; the first makes the test.
void keep_insulation(session& at, const insulation_test& of, double seconds, double megohms) {
  auto changed = at.record();
  set_repeated_aside(changed, of);
  add_reading(changed, of, seconds, megohms);
  const std::string what = of.circuit + " " + number_text(seconds) + " s " + number_text(megohms) + " Mohm";
  if (!keep_test(at, of, std::move(changed), what)) return;
  at.person().say(what + ": " + cold_remark(at.judged(), check::insulation, of.circuit), "  ", "  ");
  stop_where_it_fails(at, of.circuit);
}

/// A reading beyond the range. At one minute its least value stands among the readings, where it can err to the safe
/// side only; at other times a least value would bend the curve and the ratios of it, so that it is noted beside them.
void keep_over_range(session& at, const insulation_test& of, double seconds, double at_least) {
  auto changed = at.record();
  set_repeated_aside(changed, of);
  if (const auto* test = test_of(changed, of.circuit)) {
    double most = 0.0;
    for (const auto& row : test->rows) most = std::max(most, row.resistance_Mohm);
    if (most > at_least)
      throw base::error(base::error_code::out_of_range, {}, "at least " + number_text(at_least) + " Mohm",
                        "a range that holds the " + number_text(most) + " Mohm read before");
  }
  const over_range_note note{of.circuit, seconds, number_text(at_least)};
  const bool judged = std::abs(seconds - one_minute) <= at.by().policy.practice.insulation_time_s.value;
  if (judged) add_reading(changed, of, seconds, at_least);
  changed.checks[note.key()] = true;
  const auto what = over_range_words(note);
  if (!keep_test(at, of, std::move(changed), what)) return;
  if (judged) at.person().say(what + ": " + cold_remark(at.judged(), check::insulation, of.circuit), "  ", "  ");
  else
    at.person().say(what + ": noted beside the readings. `60 OL` says that it was so at one minute, which is judged.",
                    "  ", "  ");
}

double next_time(double after) {
  for (const double each : insulation_times)
    if (each > after + 0.5) return each;
  return after + one_minute;
}

/// Keeps what was typed. A time that was not typed is `seconds`; a bare `OL` asks for the top of the range.
void take_insulation(session& at, const insulation_test& of, const std::string& line, double seconds) {
  try {
    const auto answer = parse_insulation(line);
    const double time_s = answer.seconds.value_or(seconds);
    if (!answer.over_range) return keep_insulation(at, of, time_s, *answer.megohms);
    const auto top = [&] {
      return at.ask_number("top of the tester's range, Mohm", quantity::resistance, ohms_a_megohm);
    };
    keep_over_range(at, of, time_s, answer.megohms ? *answer.megohms : top());
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
    if (ask_choice(at, "is the tester on since the last run, yes or no", {"yes", "no"}, "yes") == "yes") return true;
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
      keep_insulation(at, of, time_of_answer(clock, each), *read / ohms_a_megohm);
      continue;
    }
    const auto line = at.ask("insulation at " + number_text(each) + " s, Mohm (Enter: missed) > ", here);
    if (!line.empty()) take_insulation(at, of, line, time_of_answer(clock, each));
  }
}

/// A test read anew: the one on record is set aside with the first reading.
void begin_repeat(session& at, insulation_test& of, const record::insulation_section& there) {
  of.done_before = at.ask("done to the machine since, as `dried out` (Enter: nothing) > ");
  of.test_voltage_V = at.ask_number("test voltage, V dc", quantity::voltage, 1.0, of.test_voltage_V);
  of.winding_C = at.ask_number("winding, degC", quantity::temperature, 1.0, of.winding_C);
  of.repeats = there;
  of.clock.reset();
}

/// Whether a test that is on record is gone on with or repeated.
void ask_repeat(session& at, insulation_test& of, const record::insulation_section& there) {
  of.test_voltage_V = there.test_voltage_V;
  of.winding_C = there.winding_C.value_or(at.record().visit.ambient_C.value_or(0.0));
  const std::string asked = "read before to " + number_text(there.rows.back().time_s) + " s: go on, or repeat";
  if (ask_choice(at, asked, {"go on", "repeat"}, "go on") == "repeat") begin_repeat(at, of, there);
}

insulation_test ask_test(session& at, const step& here) {
  insulation_test out;
  const auto typed = ask_name(at, "Insulation: circuit [winding to frame] > ", here);
  out.circuit = typed.empty() ? "winding to frame" : typed;
  for (const auto& each : at.record().insulation)
    if (each.circuit == out.circuit) {
      ask_repeat(at, out, record::insulation_section(each));
      return out;
    }
  out.test_voltage_V = at.ask_number("test voltage, V dc", quantity::voltage, 1.0, 500.0);
  out.winding_C = at.ask_number("winding, degC", quantity::temperature, 1.0, likely_winding_C(at.record()));
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

void one_answer(session& at, insulation_test& of, const step& here, const pace& speed_of_time) {
  const double asked = next_time(last_time(at.record(), of));
  const auto line = at.ask("insulation at " + number_text(asked) + " s, Mohm > ", here);
  if (line == "repeat") repeat_test(at, of);
  else if (line != "run" && line != "run 1" && line != "run 10") {
    if (!line.empty()) take_insulation(at, of, line, asked);
  } else {
    try {
      insulation_run(at, of, line == "run 10" ? 10.0 * one_minute : one_minute, speed_of_time);
    } catch (const base::error& trouble) {
      at.refuse(line, trouble);
    }
  }
}

}  // namespace

void insulation_step(session& at, const pace& speed_of_time) {
  const step here{step_kind::insulation, ""};
  cautions_before_touching(at);
  at.person().caution(
      "The winding is charged during this test: disconnect electronics first, keep hands off, discharge afterwards.");
  auto of = looking_again([&] { return ask_test(at, here); });
  at.person().caution(report::discharge_caution(0.0));
  at.person().say(
      "Type megohms as they are read, `60 310`, or over range `>2000` or `OL`; `run` counts one minute down, `run 10` "
      "ten; "
      "`repeat` begins the test anew, `done` ends it.");
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
