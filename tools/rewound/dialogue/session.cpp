// SPDX-License-Identifier: MIT
#include "dialogue/session.hpp"

#include <charconv>

#include <rewound/base/error.hpp>
#include <rewound/report/number_text.hpp>
#include <rewound/report/view.hpp>

#include "dialogue/keeping/correction.hpp"
#include "dialogue/person/curves_of.hpp"
#include "dialogue/facts/facts.hpp"
#include "dialogue/keeping/listing.hpp"
#include "dialogue/keeping/rehearsal.hpp"

namespace rewound::tool::dialogue {

namespace {

constexpr std::string_view help_text =
    "A run-up takes `110 0.61` (volts, amps), `0.61` (amps at the voltage asked for), `610mA`, `high 110 .61 48W`, "
    "`120 OL`, `stalled` behind it where the rotor stood. Everywhere: `?` explains the question, `list` what this step "
    "holds, `undo` the last change, `drop 2` an entry, `correct 2 110 .61` an entry anew, `curve` draws, `judge` tells "
    "how things stand, `plan` the steps, `facts` what is known, `fact poles 4` states or corrects one, `note ...` "
    "keeps "
    "a remark, `done` leaves a question, `stop` the test, `cancel` what is being asked for, `go insulation` (or "
    "another "
    "step, or a speed) goes to one, `quit` ends; everything kept is on disk at once.";

std::string first_word(const std::string& line, std::string& rest) {
  const auto blank = line.find(' ');
  rest = blank == std::string::npos ? "" : line.substr(blank + 1);
  return line.substr(0, blank);
}

}  // namespace

session::session(terminal& person, safekeeping& disk, const judged_by& by, record::visit_record record)
    : person_(person), disk_(disk), by_(by), record_(std::move(record)) {}

const job::result& session::judged() {
  if (!judged_) judged_ = job::judge(record_, by_.compare_with, by_.policy);
  return *judged_;
}

void session::note(const std::string& kind, const std::string& text) {
  const auto trouble = disk_.note(kind, text);
  if (trouble.empty()) journal_trouble_told_ = false;
  else if (!journal_trouble_told_) {
    journal_trouble_told_ = true;
    person_.say("The journal takes no more: " + trouble + ". Make room on the disk.", "! ");
  }
}

std::string session::ask(const asked& what, const std::optional<step>& asking) { return ask_line(what, asking, false); }

std::string session::ask_line(const asked& what, const std::optional<step>& asking, bool skippable) {
  const auto& here = asking ? asking : now;  // a question within a step belongs to it
  if (asking) given_not_kept_ = false;       // the first of several answers that are kept together
  for (;;) {
    const auto line = person_.ask(what.text);
    note("typed", line);
    if (!leaves(line, asking, skippable) && !command(line, what.about, here)) return line;
  }
}

/// What leaves a question, a test or all. @returns false for any other line
bool session::leaves(const std::string& line, const std::optional<step>& asking, bool skippable) {
  if (line == "quit" || line == "exit") throw session_over();
  const bool question = line == "done" || line == "next" || line == "skip";
  if (line == "stop" || (question && (asking || !now))) throw step_left{std::nullopt, asking ? asking : now};
  if (question && skippable) throw question_left();
  if (!question && line != "cancel") return false;
  leave_out();
  if (question) throw question_left();
  throw look_again();
}

void session::note_given(const std::string& prompt, const std::string& answer) {
  given_not_kept_ = true;
  note("given", prompt + " = " + answer);
}

void session::refuse(const std::string& line, const base::error& trouble) {
  note("refused", line);
  person_.say(error_words(trouble), "! ");
}

/// The number of an answer; nothing where it was refused.
std::optional<double> session::number_of(const std::string& prompt, const std::string& line, quantity what,
                                         double unit_in_si) {
  try {
    const double value = parse_number(line, what, unit_in_si);
    note_given(prompt, line);
    return value;
  } catch (const base::error& trouble) {
    refuse(line, trouble);
    return std::nullopt;
  }
}

double session::ask_number(const asked& prompt, quantity what, double unit_in_si, const std::optional<double>& usual,
                           const std::optional<step>& here) {
  const asked whole(prompt.text + (usual ? " [" + report::number_text(*usual) + "]" : "") + " > ", prompt.about);
  for (;;) {
    const auto line = ask(whole, here);
    if (line.empty() && usual) {
      note_given(prompt.text, report::number_text(*usual));
      return *usual;
    }
    if (const auto value = number_of(prompt.text, line, what, unit_in_si)) return *value;
  }
}

std::optional<double> session::ask_known(const asked& prompt, quantity what, double unit_in_si) {
  for (;;) try {
      const auto line = ask_line({prompt.text + " (Enter: not known) > ", prompt.about}, {}, true);
      if (line.empty()) return std::nullopt;
      if (const auto value = number_of(prompt.text, line, what, unit_in_si)) return value;
    } catch (const question_left&) {
      return std::nullopt;  // what was answered before it stays
    }
}

bool session::save(const record::visit_record& changed) {
  for (;;) {
    try {
      if (const auto copy = disk_.save(changed))
        person_.say("The file was changed by another hand meanwhile: that version is kept as " + *copy + ".", "! ");
      last_change_lost_ = false;
      return true;
    } catch (const record_taken&) {
      throw;
    } catch (const base::error& trouble) {
      last_change_lost_ = true;
      person_.say("NOT on disk: " + trouble.read() + ". The record there is the one before this change.", "! ");
    }
    const auto line = person_.ask("make room and press Enter, or type drop to leave it out > ");
    if (line == "quit" || line == "exit") throw session_over();
    if (line == "drop") return false;
  }
}

bool session::keep(record::visit_record changed, const std::string& event, const std::string& what) {
  try {
    if (is_rehearsal(record_) && !is_rehearsal(changed))
      throw base::error(base::error_code::out_of_range, {}, what, "nothing: the mark of a rehearsal stays");
    changed = record::record_from(record::read_toml_text(record::record_text(changed), ""));
  } catch (const base::error& trouble) {
    note("refused", what + ": " + error_words(trouble));
    person_.say(error_words(trouble), "! ");
    return false;
  }
  if (!save(changed)) {
    note("refused", what + ": not on disk");
    return false;
  }
  note(event, what);
  if (event != "undone") before_.push_back({what, now, std::move(record_)});
  record_ = std::move(changed);
  judged_.reset();
  given_not_kept_ = false;
  return true;
}

/// Answers that are not in the record yet go; what was kept before stays.
void session::leave_out() {
  given_not_kept_ = false;
  note("undone", "the answers since the last change");
  person_.say("left out: what was answered here and not yet kept; it is asked for again. What was kept stays.");
}

void session::undo() {
  if (before_.empty()) {
    person_.say("Nothing was changed in this session. `list` and `drop` change what was read before.");
    return;
  }
  const auto last = before_.back();
  if (!keep(last.record, "undone", last.what)) return;
  before_.pop_back();
  person_.say("undone: " + last.what);
  if (!last.in || last.in == now) return;
  left.erase(*last.in);
  // What opened the way to power may be gone: the order of the steps looks again whether this one may go on.
  if (now && energises(now->kind)) throw step_left{now};
}

namespace {

/// The place that a person counts from 1. @throws base::error (out_of_range) for anything but a number
std::size_t entry_number(const std::string& which) {
  std::size_t number = 0;
  const auto [end, code] = std::from_chars(which.data(), which.data() + which.size(), number);
  if (code != std::errc() || end != which.data() + which.size() || number == 0)
    throw base::error(base::error_code::out_of_range, {}, "\"" + which + "\"",
                      "the number of an entry, as `list` shows it");
  return number - 1;
}

}  // namespace

void session::drop(const std::string& which, const std::optional<step>& here) {
  if (!here) {
    person_.say("`drop` needs a step that holds entries: `go resistance`, say, then `list`.");
    return;
  }
  try {
    const auto place = entry_number(which);
    auto changed = without_entry(record_, *here, place);
    const std::string what = entries_of(record_, *here)[place];
    if (keep(std::move(changed), "changed", "dropped: " + what)) person_.say("dropped: " + what);
  } catch (const base::error& trouble) {
    person_.say(error_words(trouble), "! ");
  }
}

void session::correct(const std::string& rest, const std::optional<step>& here) {
  if (!here) {
    person_.say("`correct` needs a step that holds entries: `go resistance`, say, then `list`.");
    return;
  }
  try {
    std::string text;
    const auto place = entry_number(first_word(rest, text));
    auto changed = with_entry_corrected(record_, *here, place, text);
    const std::string before = entries_of(record_, *here)[place];
    const std::string after = entries_of(changed, *here)[place];
    if (keep(std::move(changed), "changed", before + " -> " + after))
      person_.say(before + " by " + after, "  replaced ", "  ");
  } catch (const base::error& trouble) {
    refuse("correct " + rest, trouble);
  }
}

void session::tell_decision() {
  const auto shown = report::view_of(judged());
  const auto tell = [&](const char* head, const std::vector<std::string>& lines) {
    for (const auto& line : lines) person_.say(line, &line == &lines.front() ? head : "         - ", "           ");
  };
  tell("Only if  - ", shown.brief.conditions);
  tell("Why      - ", shown.brief.reasons);
  tell("Next     - ", shown.brief.next);
  person_.say(shown.decision_sentence);
}

void session::tell_plan() {
  for (const auto& each : plan_of(record_, by_.policy))
    person_.say(each.step.name() + (each.recorded              ? ""
                                    : left.contains(each.step) ? ": left open"
                                                               : ": to do"),
                each.recorded ? "  ok  " : "  --  ");
}

void session::list(const std::optional<step>& here) {
  const auto entries = here ? entries_of(record_, *here) : std::vector<std::string>();
  if (entries.empty()) person_.say("nothing yet");
  for (std::size_t i = 0; i < entries.size(); ++i) person_.say(entries[i], std::to_string(i + 1) + "  ", "   ");
}

void session::explain(const std::vector<std::string>& about) {
  if (about.empty()) person_.say(help_text);
  for (const auto& each : about) {
    const auto* key = key_at(each);
    person_.say(key != nullptr ? key_explained(*key) : each, "  ", "  ");
  }
}

void session::list_facts() {
  for (const auto& line : facts_stated(record_)) person_.say(line, "  ", "    ");
  person_.say("`fact poles 4` states or corrects one, `fact poles` explains it, `fact poles -` takes it out.");
}

/// What is answered and not yet kept stays so: a fact or a note is no part of it.
void session::keep_beside(record::visit_record changed, const std::string& event, const std::string& what) {
  const bool given = given_not_kept_;
  keep(std::move(changed), event, what);
  given_not_kept_ = given;
}

void session::fact(const std::string& rest) {
  const bool asking = given_not_kept_;
  try {
    const auto typed = fact_named(rest);
    const auto before = fact_text(record_, *typed.key);
    if (typed.value.empty()) {
      person_.say(key_explained(*typed.key), "  ", "  ");
      return person_.say(before.empty() ? "not stated" : "is " + before, "  ", "  ");
    }
    const std::string path = typed.key->section + "." + typed.key->name;
    auto changed = with_facts(record_, {{path, typed.value == "-" ? "" : typed.value}});
    const auto after = fact_text(changed, *typed.key);
    const std::string what = key_words(*typed.key) + " " + (before.empty() ? "not stated" : before) + " -> " +
                             (after.empty() ? "not stated" : after);
    keep_beside(std::move(changed), "stated", what);
    person_.say(key_words(*typed.key) + ": " + fact_text(record_, *typed.key), "  ", "  ");
  } catch (const base::error& trouble) {
    return refuse("fact " + rest, trouble);
  }
  if (!asking) throw fact_changed();
}

void session::keep_note(const std::string& text) {
  auto changed = record_;
  changed.visit.notes.push_back(text);
  keep_beside(std::move(changed), "noted", text);
  if (!record_.visit.notes.empty() && record_.visit.notes.back() == text) person_.say("noted", "  ");
}

bool session::command(const std::string& line, const std::vector<std::string>& about, const std::optional<step>& here) {
  std::string rest;
  const auto word = first_word(line, rest);
  if (line == "?") explain(about);
  else if (line == "help") person_.say(help_text);
  else if (line == "judge") tell_decision();
  else if (line == "curve") person_.draw(drawing_of(record_, by_, here ? here->speed : "", person_.unicode()));
  else if (line == "list") list(here);
  else if (line == "plan") tell_plan();
  else if (line == "facts" || line == "fact") list_facts();
  else if (word == "fact") fact(rest);
  else if (word == "note" && !rest.empty()) keep_note(rest);
  else if (line == "undo") {
    if (given_not_kept_) leave_out();
    else undo();
    throw look_again();
  } else if (word == "drop" && rest != "watts" && rest != "rpm") {
    if (given_not_kept_) leave_out();
    drop(rest, here);
    throw look_again();
  } else if (word == "correct" && !(here && here->kind == step_kind::run_up)) {
    if (given_not_kept_) leave_out();
    correct(rest, here);
    throw look_again();
  } else if (word == "go") {
    const auto to = step_named(rest, record_);
    if (to) throw step_left{to};
    person_.say("\"" + rest +
                    "\" is no step: earth, resistance, insulation, withstand, a speed, leakage, starting, coast-down, "
                    "heat run, checks",
                "! ");
  } else return false;
  return true;
}

void session::ask_for_instruments() {
  std::string named;
  for (const auto& [kind, meter] : record_.instruments)
    if (meter.address) named += (named.empty() ? "" : "; ") + kind + " " + *meter.address + " asked " + *meter.query;
  if (named.empty()) return;
  person_.say("This record names instruments that bench would connect to: " + named, "! ");
  try {
    instruments_allowed_ = ask("type `connect` to let them be asked, Enter: readings are typed > ") == "connect";
  } catch (const step_left&) {
  } catch (const look_again&) {
  }
  note("stated", (instruments_allowed_ ? "instruments are asked: " : "instruments are not asked: ") + named);
}

bool session::answers(const std::string& kind) const {
  const auto found = record_.instruments.find(kind);
  return instruments_allowed_ && found != record_.instruments.end() && found->second.address.has_value();
}

std::optional<double> session::read_instrument(const std::string& kind) {
  if (!answers(kind)) return std::nullopt;
  const auto meter = record_.instruments.find(kind);
  auto link = links_.find(kind);
  if (link == links_.end()) link = links_.emplace(kind, instrument_link(meter->second)).first;
  const auto answer = link->second.read();
  if (const auto* value = std::get_if<double>(&answer)) {
    note("measured", kind + " " + report::number_text(*value));
    return *value;
  }
  const auto& why = std::get<no_reading>(answer).why;
  note("measured", kind + " nothing: " + why);
  person_.say(kind + ": " + why + ". Type the reading instead.", "! ");
  return std::nullopt;
}

}  // namespace rewound::tool::dialogue
