// SPDX-License-Identifier: MIT
#include "dialogue/dialogue.hpp"

#include <algorithm>
#include <filesystem>
#include <set>

#include <rewound/base/error.hpp>
#include <rewound/report/cautions.hpp>
#include <rewound/report/number_text.hpp>
#include <rewound/report/view.hpp>

#include "dialogue/facts/basics.hpp"
#include "exit_code.hpp"
#include "dialogue/keeping/rehearsal.hpp"
#include "dialogue/session.hpp"
#include "dialogue/steps/steps.hpp"
#include "dialogue/steps/stop_rules.hpp"

namespace rewound::tool::dialogue {

namespace {

/// Whether a step under voltage may begin; asks where that is the person's to decide. Once for each reason.
bool allowed_under_power(session& at, std::set<std::string>& agreed) {
  const auto may = may_energise(at.judged());
  if (may.permission == permission::refused) {
    at.note("stopped", "not energised: " + may.why);
    at.person().say("Not energised: " + may.why, "STOP  ", "      ");
    return false;
  }
  if (may.permission == permission::ask && !agreed.contains(may.why)) {
    at.person().say("Insulation is not settled: " + may.why, "STOP  ", "      ");
    const bool goes_on = at.ask("type `energise` to go on under power all the same, Enter stays cold > ") == "energise";
    at.note("stopped", goes_on ? "energised with insulation undecided: " + may.why : "stays cold");
    if (!goes_on) return false;
    agreed.insert(may.why);
  }
  at.person().caution(report::cautions::under_power);
  const auto& machine = at.record().machine;
  using enum record::appliance_class;
  if (machine.frame_earthed == false || machine.appliance_class == class_0 || machine.appliance_class == class_0I)
    at.person().caution(report::cautions::frame_not_earthed);
  return true;
}

void run_step(session& at, const step& which, const pace& speed_of_time) {
  at.person().say(which.name(), "-- ");
  at.now = which;
  switch (which.kind) {
    case step_kind::earth: return earth_step(at);
    case step_kind::resistance: return resistance_step(at);
    case step_kind::insulation: return insulation_step(at, speed_of_time);
    case step_kind::withstand: return withstand_step(at);
    case step_kind::run_up: return run_up_step(at, which.speed);
    case step_kind::leakage: return leakage_step(at);
    case step_kind::starting: return starting_step(at);
    case step_kind::coast_down: return coast_down_step(at);
    case step_kind::heat_run: return heat_run_step(at, speed_of_time);
    case step_kind::checks: return checks_step(at);
  }
}

/// What comes next: what the person named, or the plan's next step; without one, whatever is asked for.
step choose(session& at, std::optional<step>& asked) {
  if (asked) return *std::exchange(asked, std::nullopt);
  for (;;) {
    if (const auto next = next_step(plan_of(at.record(), at.by().policy), at.left)) return *next;
    at.person().say("Nothing more is asked for. `judge`, `plan`, `go` to a step; Enter ends.");
    try {
      const auto line = at.ask("> ");
      if (line.empty()) throw session_over();
      if (const auto named = step_named(line, at.record())) return *named;
      if (!line.empty()) at.person().say("\"" + line + "\" is no command; `help` lists them", "! ");
    } catch (const step_left& left) {
      if (left.to) return *left.to;
    } catch (const look_again&) {
    }
  }
}

/// What holds one step back from power holds all of them back: it is told once.
void leave_all_refused(session& at) {
  if (may_energise(at.judged()).permission != permission::refused) return;
  for (const auto& each : plan_of(at.record(), at.by().policy))
    if (energises(each.step.kind)) at.left.insert(each.step);
}

[[noreturn]] void all_steps(session& at, const pace& speed_of_time) {
  std::set<std::string> agreed;
  std::optional<step> asked;
  for (;;) {
    at.now.reset();
    const auto now = choose(at, asked);
    try {
      if (energises(now.kind) && !allowed_under_power(at, agreed)) {
        at.left.insert(now);
        leave_all_refused(at);
        continue;
      }
      run_step(at, now, speed_of_time);
      at.left.insert(now);
    } catch (const step_left& left) {
      if (!left.to) at.left.insert(left.from.value_or(now));  // who goes elsewhere comes back
      asked = left.to;
    } catch (const look_again&) {
      asked = now;
    }
    // What was left because the machine could not be energised is asked for again once it can be.
    if (may_energise(at.judged()).permission != permission::refused && !energises(now.kind))
      std::erase_if(at.left, [](const step& each) { return energises(each.kind); });
  }
}

void tell_end(session& at) {
  const auto shown = report::view_of(at.judged());
  at.tell_decision();
  at.person().say(std::string(report::cautions::advice_only));
  const std::string disk = at.last_change_lost()
                               ? "The last change is NOT on disk; the record there is the one before it."
                               : "The record is on disk.";
  at.person().say("Decision: " + shown.decision + ". " + disk);
}

record::visit_record first_record(terminal& person, safekeeping& disk, const judged_by& by, bool rehearsal) {
  // Answers that a record was made of belong to the machine that stood here before.
  if (const auto old = disk.set_journal_aside_of_a_record())
    person.say("A record of this name was here before: its journal is kept as " + *old + ".");
  auto record = ask_basics(person, disk, by);
  if (rehearsal) record.checks[no_rehearsal_key] = false;
  disk.save(record);
  disk.note("kept", "a new record");
  person.say("on disk: " + disk.path() + "; `facts` shows what is known, `fact poles 4` adds to it", "  ");
  return record;
}

record::visit_record record_on_disk(terminal& person, safekeeping& disk, bool rehearsal) {
  auto record = record::load_record(disk.path());
  person.say("Continues " + record.machine.id + ", visit " + record.visit.day.iso() + ".");
  if (const auto hanging = left_hanging(disk.earlier()))
    person.say("The session before ended while \"" + *hanging + "\" was being taken: `list` shows whether it is there.",
               "! ");
  if (const auto copy = disk.keep_original())
    person.say("This record was written by hand: it is kept as it was in " + *copy + ".");
  if (rehearsal) record.checks[no_rehearsal_key] = false;
  return record;
}

/// A rehearsal's record and a test's are never mixed. A journal alone may say that it was one: of a record without the
/// mark.
///
/// @throws base::error (out_of_range)
void expect_same_kind(const std::string& path, const record::visit_record& there, bool rehearsal) {
  const auto entries = journal_entries(path + ".journal");
  const bool rehearsed = is_rehearsal(there) || std::any_of(entries.begin(), entries.end(), [](const auto& entry) {
                           return entry.kind == "opened" && entry.text == "rehearsal";
                         });
  if (rehearsed == rehearsal) return;
  if (rehearsal)
    throw base::error(base::error_code::out_of_range, {path, 0, ""}, "a record of a test",
                      "a record of its own for a rehearsal: give a new name");
  throw base::error(base::error_code::out_of_range, {path, 0, ""}, "a record with readings of a rehearsal",
                    "a record of its own for the test: rehearsed readings are no test");
}

}  // namespace

int dialogue(const std::string& path, const judged_by& by, const pace& speed_of_time) {
  if (path.empty())
    throw base::error(base::error_code::file_unreadable, {}, "an empty name", "the name of a record, as job.toml");
  const bool rehearsal = speed_of_time.rehearsal;
  // What cannot be read is refused before anything is made beside it.
  if (std::filesystem::exists(path)) expect_same_kind(path, record::load_record(path), rehearsal);
  safekeeping disk(path);
  terminal person;
  person.keep_journal([&disk](std::string_view kind, std::string_view text) { disk.note(kind, text); });
  const bool there = std::filesystem::exists(disk.path());
  if (rehearsal)
    person.say("REHEARSAL: time runs " + report::number_text(speed_of_time.factor) +
                   " times as fast; its readings are no test.",
               "! ");
  std::optional<record::visit_record> record;
  try {
    record = there ? record_on_disk(person, disk, rehearsal) : first_record(person, disk, by, rehearsal);
  } catch (const gone&) {
    disk.note("closed", "before the first saving");
    person.say("Not saved yet: the answers are in " + disk.journal_path() + " and are taken up by the next `bench`.");
    return undecided;
  }
  session at(person, disk, by, std::move(*record));
  at.judged();  // what does not match is refused before anything is asked
  at.note("opened", rehearsal ? "rehearsal" : "");
  try {
    at.ask_for_instruments();
    all_steps(at, speed_of_time);
  } catch (const session_over&) {
  } catch (const gone&) {
  } catch (const base::error&) {
    at.note("closed", "");
    throw;
  }
  at.note("closed", "");
  tell_end(at);
  return exit_code_of(at.judged().decision.decision);
}

}  // namespace rewound::tool::dialogue
