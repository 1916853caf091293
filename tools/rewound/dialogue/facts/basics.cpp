// SPDX-License-Identifier: MIT
#include "dialogue/facts/basics.hpp"

#include <ctime>
#include <tuple>

#include <rewound/base/error.hpp>

#include "dialogue/facts/other_records.hpp"

namespace rewound::tool::dialogue {

namespace {

using base::error;
using base::error_code;

std::string today_iso() {
  const std::time_t now = std::time(nullptr);
  std::tm parts{};
  localtime_r(&now, &parts);
  char text[16];
  std::strftime(text, sizeof text, "%Y-%m-%d", &parts);
  return text;
}

constexpr std::string_view basics_help =
    "These are questions about the machine and this visit; readings come after them. A choice is taken by its number "
    "or "
    "its word. Enter takes what stands in brackets, `-` says not known, `?` explains the question, `back` or `undo` "
    "goes "
    "one back, `fact poles 4` states what is not asked, `note ...` keeps a remark, `list` shows the answers so far, "
    "`quit` ends: the answers are kept. In quotes a word is an answer and no command: \"help\".";

std::string without_quotes(const std::string& line) {
  return line.size() > 2 && line.front() == '"' && line.back() == '"' ? line.substr(1, line.size() - 2) : line;
}

/// The first questions as they go: what is known, what was answered, and where both are kept.
class first_questions {
 public:
  first_questions(terminal& person, safekeeping& disk, const judged_by& by)
      : person_(person), disk_(disk), begin_(beginning_of(by, today_iso())), known_before_(begin_.machine_known) {
    for (const auto& entry : disk.earlier()) {
      if (makes_a_record(entry)) left_.clear();
      if (entry.kind != "answer") continue;
      const auto equals = entry.text.find(" = ");
      if (equals != std::string::npos) left_[entry.text.substr(0, equals)] = entry.text.substr(equals + 3);
    }
  }

  record::visit_record ask() {
    person_.say(
        "A new record. First who the machine is: a number or a word answers, Enter takes what stands in brackets, `?` "
        "explains, `help` tells more.");
    if (!left_.empty()) person_.say("Answers of the session before are taken up from the journal.");
    for (const auto& [name, text] : left_)
      if (key_at(name) != nullptr) given_[name] = text;
    ask_same();
    const auto questions = basic_questions(begin_);
    std::vector<std::size_t> asked;  // to go back to
    for (std::size_t i = 0; i < questions.size();) {
      const auto& question = questions[i];
      if ((question.due && !question.due(given_)) || taken_up(question)) ++i;
      else if (ask_one(question)) asked.push_back(i++);
      else if (!asked.empty()) {
        i = asked.back();
        asked.pop_back();
      }
    }
    return record_of(begin_, given_);
  }

 private:
  enum class said { an_answer, a_command, back };

  void note_answer(const std::string& name, const std::string& text) {
    if (const auto trouble = disk_.note("answer", name + " = " + text); !trouble.empty())
      person_.say("The journal takes no more: " + trouble + ". Make room on the disk.", "! ");
  }

  void refuse(const std::string& name, const std::string& typed, const error& trouble) {
    disk_.note("refused", name + " = " + typed);
    person_.say(error_words(trouble), "! ");
  }

  /// Whether the record's own reader takes the file that these answers make. @throws base::error where it does not
  void expect_readable(const answers_given& answers, const std::string& key) const {
    try {
      record::record_from(record::read_toml_text(record::record_text(record_of(begin_, answers)), ""));
    } catch (const error& trouble) {
      if (trouble.code() != error_code::not_toml) throw;
      throw error(error_code::out_of_range, {"", 0, key}, "bytes that are no text", "characters in UTF-8");
    }
  }

  void list_answers() {
    for (const auto& each : basic_questions(begin_))
      if (const auto found = given_.find(each.name); found != given_.end() && !found->second.empty())
        person_.say(each.asks + ": " + found->second, "  ");
    for (const auto& [name, text] : given_)
      if (const auto* key = key_at(name)) person_.say(key_words(*key) + ": " + text, "  ");
    if (given_.empty()) person_.say("nothing yet");
  }

  /// A fact or a note beside the questions.
  void state(const std::string& path, const std::string& text) {
    auto tried = given_;
    tried[path] = text;
    try {
      expect_readable(tried, path);
    } catch (const error& trouble) {
      return refuse(path, text, trouble);
    }
    note_answer(path, text);
    given_ = std::move(tried);
    person_.say(key_words(*key_at(path)) + ": " + text, "  ");
  }

  void fact_command(const std::string& rest) {
    try {
      const auto typed = fact_named(rest);
      if (typed.value.empty()) return person_.say(key_explained(*typed.key), "  ", "  ");
      state(typed.key->section + "." + typed.key->name, typed.value == "-" ? "" : typed.value);
    } catch (const error& trouble) {
      refuse("fact", rest, trouble);
    }
  }

  /// What a line is at the first questions, where no step can be left and nothing be judged yet. @throws gone
  said told_apart(const std::string& line, const std::vector<std::string>& keys, const std::string& explained) {
    const auto blank = line.find(' ');
    const auto word = line.substr(0, blank);
    const auto rest = blank == std::string::npos ? "" : line.substr(blank + 1);
    if (line == "back" || line == "undo") return said::back;
    if (line == "quit" || line == "exit" || line == "stop" || line == "cancel") throw gone();
    if (line == "?") {
      if (!explained.empty()) person_.say(explained, "  ", "  ");
      for (const auto& key : keys) person_.say(key_explained(*key_at(key)), "  ", "  ");
    } else if (line == "help") person_.say(basics_help);
    else if (line == "list" || line == "facts") list_answers();
    else if (word == "fact" && !rest.empty()) fact_command(rest);
    else if (word == "note" && !rest.empty()) {
      const auto before = given_.find("visit.notes");
      state("visit.notes", before == given_.end() ? rest : before->second + "; " + rest);
    } else if (word == "drop" || word == "correct")
      person_.say("`back` goes to the question whose answer is to change.");
    else if (line == "judge" || line == "plan" || line == "curve" || line == "done" || line == "next" ||
             line == "skip" || word == "go")
      person_.say("Not yet: first who the machine is. `help` tells more.");
    else return said::an_answer;
    return said::a_command;
  }

  /// The facts of another machine of the folder, where the person says so.
  void ask_same() {
    const auto last = last_record_beside(disk_.path());
    if (last && !last->record.visit.have.empty()) {
      std::string have;
      for (const auto& each : last->record.visit.have) have += (have.empty() ? "" : " ") + each;
      begin_.usual["have"] = have;
    }
    if (known_before_) person_.say("The machine is that of the earlier visit, " + begin_.base.machine.id + ".", "  ");
    if (known_before_ || !last) return;
    if (const auto before = left_.find("same"); before != left_.end()) {
      if (before->second == "no") return;
      if (const auto other = record_beside(disk_.path(), before->second)) return take_over(*other);
    }
    const auto& machine = last->record.machine;
    const std::string who = machine.id + (machine.description ? ", " + *machine.description : "");
    for (;;) {
      const auto line = person_.ask("which machine: 1=a new one, 2=the same as " + who + " [1] > ");
      const auto is = told_apart(line, {},
                                 "2 takes the facts of that machine over, but for its number and its serial number; so "
                                 "does the number of another machine of this folder, or its file's name.");
      if (is != said::an_answer) continue;
      if (line.empty() || line == "1" || line == "-") return note_answer("same", "no");
      const auto other = line == "2" ? last : record_beside(disk_.path(), without_quotes(line));
      if (other) {
        note_answer("same", other->file);
        return take_over(*other);
      }
      person_.say("\"" + line + "\" is no machine of this folder: type 1, 2, or the number of one that is", "! ");
    }
  }

  void take_over(const other_record& other) {
    same_as(begin_, other.record.machine);
    person_.say("The same as " + other.record.machine.id + ":", "  ", "    ");
    for (const auto& line : facts_stated(begin_.base))
      if (!line.starts_with("id: ") && !line.starts_with("date: ") && !line.starts_with("state: ") &&
          !line.starts_with("shaft: "))
        person_.say(line, "  ", "    ");
  }

  /// An answer of the session before; one that the reader does not take is asked for anew.
  bool taken_up(const question& asked) {
    const auto before = left_.find(asked.name);
    if (before == left_.end()) return false;
    auto tried = given_;
    tried[asked.name] = before->second;
    left_.erase(before);
    try {
      expect_readable(tried, asked.keys.front());
    } catch (const error&) {
      return false;
    }
    given_ = std::move(tried);
    const auto& text = given_[asked.name];
    person_.say(asked.asks + ": " + (text.empty() ? "not known" : text), "  ");
    return true;
  }

  /// What Enter takes: the answer given before, where the person went back; else the usual one.
  std::string fallback_of(const std::string& name) const {
    if (const auto found = given_.find(name); found != given_.end()) return found->second;
    const auto found = begin_.usual.find(name);
    return found == begin_.usual.end() ? "" : found->second;
  }

  /// The answer that a line means. @throws base::error where it is none of the choices
  static std::string meant(const question& asked, const std::string& typed) {
    if (asked.choices.empty() || typed.empty()) return typed;
    if (!asked.several) {
      if (auto word = chosen_of(typed, asked.choices)) return *word;
      if (asked.name == "job" && typed == "after_repair") return "repaired";
      if (asked.name == "speeds") return typed;  // names of the person's own
    } else if (const auto words = several_of(typed, asked.choices)) {
      std::string out;
      for (const auto& word : *words) out += (out.empty() ? "" : " ") + word;
      return out;
    }
    throw error(error_code::not_a_choice, {"", 0, asked.keys.front()}, "\"" + typed + "\"",
                "a number or a word of the list");
  }

  /// One answer, asked for until the record's reader takes it. @returns false where the person wants the one before
  bool ask_one(const question& asked) {
    const std::string fallback = fallback_of(asked.name);
    const std::string list = asked.choices.empty() ? "" : ": " + numbered(asked.choices);
    const std::string usually = fallback.empty() ? (asked.required ? "" : " [not known]") : " [" + fallback + "]";
    for (;;) {
      const auto line = person_.ask(asked.asks + list + usually + " > ");
      const auto is = told_apart(line, asked.keys, "");
      if (is == said::back) return false;
      if (is == said::a_command) continue;
      const auto typed = without_quotes(line);
      auto tried = given_;
      try {
        const bool none = typed == "-" || (typed.empty() && fallback.empty());
        if (none && asked.required)
          throw error(error_code::missing_key, {"", 0, asked.keys.front()}, "nothing", "an answer: it is required");
        tried[asked.name] = none ? "" : meant(asked, typed.empty() ? fallback : typed);
        expect_readable(tried, asked.keys.front());
      } catch (const error& trouble) {
        refuse(asked.name, typed, trouble);
        continue;
      }
      note_answer(asked.name, tried[asked.name]);
      given_ = std::move(tried);
      return true;
    }
  }

  terminal& person_;
  safekeeping& disk_;
  beginning begin_;
  bool known_before_;
  answers_given left_;
  answers_given given_;
};

}  // namespace

record::visit_record ask_basics(terminal& person, safekeeping& disk, const judged_by& by) {
  return first_questions(person, disk, by).ask();
}

}  // namespace rewound::tool::dialogue
