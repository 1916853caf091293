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

namespace rewound::tool::bench {

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
  std::optional<job::insulation_section> repeats;  ///< the test whose place this one takes with its first reading
  std::string done_before;                         ///< to the machine between the two
};

job::insulation_section* test_of(job::record& in, const std::string& circuit) {
  for (auto& each : in.insulation)
    if (each.circuit == circuit) return &each;
  return nullptr;
}

/// Whether the record still holds the test that is repeated: until the first new reading, and again after an undo of it.
bool still_repeats(const insulation_test& of, const job::insulation_section& there) { return of.repeats && there == *of.repeats; }

double last_time(const job::record& in, const insulation_test& of) {
  double out = 0.0;
  for (const auto& each : in.insulation)
    if (each.circuit == of.circuit) {
      if (still_repeats(of, each)) return 0.0;
      out = each.time_s.back();
    }
  for (const auto& note : over_range_notes(in))
    if (note.circuit == of.circuit) out = std::max(out, note.time_s);
  return out;
}

std::string readings_in_words(const job::insulation_section& test) {
  std::string out;
  for (std::size_t i = 0; i < test.time_s.size(); ++i)
    out += (i == 0 ? "" : ", ") + number_text(test.time_s[i]) + " s " + number_text(test.resistance_Mohm[i]);
  return out + " Mohm at " + number_text(test.test_voltage_V) + " V";
}

/// Takes the earlier test out of the lists. It stays on file in words: its numbers would be judged beside the new ones.
void set_repeated_aside(job::record& in, const insulation_test& of) {
  const auto found = std::find_if(in.insulation.begin(), in.insulation.end(), [&](const auto& each) { return each.circuit == of.circuit; });
  if (found == in.insulation.end() || !still_repeats(of, *found)) return;
  const std::string before = "insulation of " + of.circuit + " repeated, before: " + readings_in_words(*found);
  in.visit.work.push_back(of.done_before.empty() ? before : of.done_before + "; " + before);
  for (const auto& note : over_range_notes(in))
    if (note.circuit == of.circuit) in.checks.erase(note.key());
  in.insulation.erase(found);
}

void add_reading(job::record& in, const insulation_test& of, double seconds, double megohms) {
  auto* test = test_of(in, of.circuit);
  if (test == nullptr) {
    in.insulation.push_back({.circuit = of.circuit, .test_voltage_V = of.test_voltage_V, .winding_C = of.winding_C});
    test = &in.insulation.back();
  }
  test->time_s.push_back(seconds);
  test->resistance_Mohm.push_back(megohms);
}

/// Puts a change of the test on disk; the first reading of a repeated one says in the journal what it takes the place of.
bool keep_test(session& at, const insulation_test& of, job::record changed, const std::string& what) {
  const bool repeats = of.repeats && std::find(at.record().insulation.begin(), at.record().insulation.end(), *of.repeats) != at.record().insulation.end();
  return at.keep(std::move(changed), repeats ? "changed" : "kept",
                 repeats ? "repeated: " + of.circuit + " " + readings_in_words(*of.repeats) + " -> " + what : what);
}

void stop_where_it_fails(session& at, const std::string& circuit) {
  for (const auto& finding : at.judged().findings) {
    if (finding.check != check::insulation || finding.subject != circuit || finding.outcome != verdict::outcome::fails) continue;
    at.note("stopped", report::sentence(finding));
    at.person().say(report::sentence(finding) + " End the test with `done` and discharge the winding.", "STOP  ", "      ");
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

/// A reading beyond the range. At one minute its least value stands among the readings, where it can err to the safe side
/// only; at other times a least value would bend the curve and the ratios of it, so that it is noted beside them.
void keep_over_range(session& at, const insulation_test& of, double seconds, double at_least) {
  auto changed = at.record();
  set_repeated_aside(changed, of);
  if (const auto* test = test_of(changed, of.circuit)) {
    const double most = *std::max_element(test->resistance_Mohm.begin(), test->resistance_Mohm.end());
    if (most > at_least)
      throw base::error(base::error_code::out_of_range, {}, "at least " + number_text(at_least) + " Mohm",
                        "a range that holds the " + number_text(most) + " Mohm read before");
  }
  const over_range_note note{of.circuit, seconds, number_text(at_least)};
  const bool judged = std::abs(seconds - one_minute) <= at.by().policy.practice("insulation_time_s").value;
  if (judged) add_reading(changed, of, seconds, at_least);
  changed.checks[note.key()] = true;
  const auto what = over_range_words(note);
  if (!keep_test(at, of, std::move(changed), what)) return;
  if (judged) at.person().say(what + ": " + cold_remark(at.judged(), check::insulation, of.circuit), "  ", "  ");
  else at.person().say(what + ": noted beside the readings, which take numbers only", "  ", "  ");
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
    const auto least = answer.megohms ? *answer.megohms : at.ask_number("top of the tester's range, Mohm", quantity::resistance, ohms_a_megohm);
    keep_over_range(at, of, time_s, least);
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
  }
}

/// Time on the clock when an answer came, to the second: that of the plan where it came within half a second of it.
double time_of_answer(const run_clock& clock, double asked_s) {
  const double now = clock.seconds();
  return std::abs(now - asked_s) < 0.5 ? asked_s : std::round(now);
}

/// The test under the clock: at each time the tester is read, or the person is asked. Enter stops it.
void insulation_run(session& at, const insulation_test& of, double until_s, const pace& speed_of_time) {
  const step here{step_kind::insulation, ""};
  at.ask("Enter at the moment the tester is at its full voltage > ", here);
  at.person().say("A number typed late counts at the time it comes; `60 310` says when it was read.");
  run_clock clock(speed_of_time);
  for (const double each : insulation_times) {
    if (each > until_s + 0.5 || each <= last_time(at.record(), of)) continue;
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

/// Whether a test that is on record is gone on with; a repeat sets it aside with its first reading.
void ask_repeat(session& at, insulation_test& of, const job::insulation_section& there) {
  const auto answer = ask_choice(at, "read before to " + number_text(there.time_s.back()) + " s: go on, or repeat", {"go on", "repeat"}, "go on");
  of.test_voltage_V = there.test_voltage_V;
  of.winding_C = there.winding_C.value_or(at.record().visit.ambient_C.value_or(0.0));
  if (answer == "go on") return;
  of.repeats = there;
  of.done_before = at.ask("done to the machine since, as `dried out` (Enter: nothing) > ");
  of.test_voltage_V = at.ask_number("test voltage, V dc", quantity::voltage, 1.0, of.test_voltage_V);
  of.winding_C = at.ask_number("winding, degC", quantity::temperature, 1.0, of.winding_C);
}

insulation_test ask_test(session& at, const step& here) {
  for (;;) {
    try {
      insulation_test out;
      const auto typed = ask_name(at, "Insulation: circuit [winding to frame] > ", here);
      out.circuit = typed.empty() ? "winding to frame" : typed;
      for (const auto& each : at.record().insulation)
        if (each.circuit == out.circuit) {
          ask_repeat(at, out, job::insulation_section(each));
          return out;
        }
      out.test_voltage_V = at.ask_number("test voltage, V dc", quantity::voltage, 1.0, 500.0);
      out.winding_C = at.ask_number("winding, degC", quantity::temperature, 1.0, likely_winding_C(at.record()));
      return out;
    } catch (const look_again&) {
    }
  }
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

void one_answer(session& at, const insulation_test& of, const step& here, const pace& speed_of_time) {
  const double asked = next_time(last_time(at.record(), of));
  const auto line = at.ask("insulation at " + number_text(asked) + " s, Mohm > ", here);
  if (line == "run" || line == "run 1") insulation_run(at, of, one_minute, speed_of_time);
  else if (line == "run 10") insulation_run(at, of, 10.0 * one_minute, speed_of_time);
  else if (!line.empty()) take_insulation(at, of, line, asked);
}

}  // namespace

void insulation_step(session& at, const pace& speed_of_time) {
  const step here{step_kind::insulation, ""};
  cautions_before_touching(at);
  at.person().caution("The winding is charged during this test: disconnect electronics first, keep hands off, discharge afterwards.");
  const auto of = ask_test(at, here);
  at.person().caution(report::discharge_caution(0.0));
  at.person().say("Type megohms as they are read, `60 310`, or over range `>2000` or `OL`; `run` counts one minute down, `run 10` ten; `done` ends the test.");
  try {
    for (;;) {
      try {
        one_answer(at, of, here, speed_of_time);
      } catch (const look_again&) {
      }
    }
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

}  // namespace rewound::tool::bench
