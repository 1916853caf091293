// SPDX-License-Identifier: MIT
#include "basics.hpp"

#include <cmath>
#include <ctime>

#include <rewound/base/error.hpp>
#include <rewound/report/number_text.hpp>

namespace rewound::tool::dialogue {

namespace {

using base::error;
using base::error_code;

std::string id_of(const question& asked) { return std::string(asked.section) + "." + asked.key; }

std::vector<std::string> split(const std::string& text) {
  std::vector<std::string> out(1);
  for (const char c : text)
    if (c != ' ' && c != ',') out.back() += c;
    else if (!out.back().empty()) out.emplace_back();
  if (out.back().empty()) out.pop_back();
  return out;
}

/// A day as the record's file reads it: only digits and dashes get that far.
record::node day_node(const std::string& text, const std::string& key) {
  if (text.empty() || text.find_first_not_of("0123456789-") != std::string::npos)
    throw error(error_code::wrong_type, {"", 0, key}, "\"" + text + "\"", "a date as 2026-05-14");
  try {
    return std::get<record::node_table>(record::read_toml_text("day = " + text, "").value).front().second;
  } catch (const error&) {
    throw error(error_code::out_of_range, {"", 0, key}, text, "a day of the calendar, as 2026-05-14");
  }
}

record::node flag_node(const std::string& text, const std::string& key) {
  if (text == "yes" || text == "y" || text == "true") return {.value = true};
  if (text == "no" || text == "n" || text == "false") return {.value = false};
  throw error(error_code::wrong_type, {"", 0, key}, "\"" + text + "\"", "yes or no");
}

record::node node_of(const question& asked, const std::string& text) {
  switch (asked.kind) {
    case answer_kind::text:
    case answer_kind::choice: return {.value = text};
    case answer_kind::number: return {.value = parse_number(text, asked.what, 1.0)};
    case answer_kind::whole: {
      const double value = parse_number(text, quantity::plain, 1.0);
      if (value == std::round(value) && std::abs(value) < 1e9) return {.value = static_cast<std::int64_t>(value)};
      return {.value = value};
    }
    case answer_kind::flag: return flag_node(text, id_of(asked));
    case answer_kind::words: {
      record::node_list words;
      for (const auto& word : split(text)) words.push_back({.value = word});
      return {.value = words};
    }
    case answer_kind::day: return day_node(text, id_of(asked));
  }
  return {};
}

/// What a required key holds until it is answered.
const answers_given& stand_ins() {
  static const answers_given out{
      {"machine.id", "not named yet"},        {"machine.phases", "1"},      {"machine.rated_voltage_V", "230"},
      {"machine.rated_frequency_Hz", "50"},   {"machine.speeds", "full"},   {"machine.speed_control", "unknown"},
      {"machine.running_circuit", "unknown"}, {"visit.date", "2026-01-01"}, {"visit.state", "after_repair"}};
  return out;
}

}  // namespace

const std::vector<question>& basic_questions() {
  using enum answer_kind;
  static const std::vector<question> out{
      {"machine", "id", "your own number for the machine", text, quantity::plain, true},
      {"machine", "model", "model, where several are alike", text},
      {"machine", "description", "what it is and where", text},
      {"machine", "phases", "phases, 1 or 3", whole, quantity::plain, true},
      {"machine", "rated_voltage_V", "rated voltage, V", number, quantity::voltage, true},
      {"machine", "rated_frequency_Hz", "rated frequency, Hz", number, quantity::frequency, true},
      {"machine", "rated_current_A", "marked current at the fastest speed, A", number, quantity::current},
      {"machine", "rated_power_W", "marked input, W", number, quantity::power},
      {"machine", "poles", "poles", whole},
      {"machine", "speeds", "speeds, fastest first", words, quantity::plain, true},
      {"machine", "speed_control", "how the speeds are made", choice, quantity::plain, true},
      {"machine", "running_circuit", "running circuit", choice, quantity::plain, true},
      {"machine", "appliance_class", "class of protection: 0 0I I II III", choice},
      {"machine", "insulation_system", "insulation: thermosetting or thermoplastic", choice},
      {"machine", "winding_kind", "winding: random_wound form_wound field armature", choice},
      {"machine", "wound_year", "year it was wound", whole},
      {"visit", "date", "date of this visit", day, quantity::plain, true},
      {"visit", "state", "state: as_found after_repair recheck", choice, quantity::plain, true},
      {"visit", "ambient_C", "air, degC", number, quantity::temperature},
      {"visit", "humidity_percent", "relative humidity, %", number, quantity::percent},
      {"visit", "supply_voltage_V", "mains today, V", number, quantity::voltage},
      {"visit", "shaft", "shaft: loaded (its fan on) or bare", choice},
  };
  return out;
}

answers_given usual_answers(const judged_by& by, const std::string& today) {
  answers_given out{{"machine.phases", "1"},
                    {"machine.rated_voltage_V", "230"},
                    {"machine.rated_frequency_Hz", "50"},
                    {"machine.speeds", "high medium low"},
                    {"machine.speed_control", "unknown"},
                    {"machine.running_circuit", "unknown"},
                    {"visit.date", today},
                    {"visit.state", "after_repair"},
                    {"visit.shaft", "loaded"}};
  const auto number = [](double value) { return report::number_text(value); };
  const auto list = [](const std::vector<std::string>& names) {
    std::string text;
    for (const auto& name : names) text += (text.empty() ? "" : " ") + name;
    return text;
  };
  if (by.compare_with.good) {
    const auto& good = *by.compare_with.good;
    out["machine.model"] = good.model;
    out["machine.rated_voltage_V"] = number(good.rated_voltage_V);
    out["machine.rated_frequency_Hz"] = number(good.rated_frequency_Hz);
    if (good.shaft == record::shaft_condition::bare) out["visit.shaft"] = "bare";
    std::vector<std::string> speeds;
    for (const auto& block : good.machines.empty() ? std::vector<fit::summary_block>() : good.machines.front().blocks)
      if (block.what == fit::channel::current) speeds.push_back(block.speed);
    if (!speeds.empty()) out["machine.speeds"] = list(speeds);
  }
  if (by.compare_with.earlier) {
    const auto& machine = by.compare_with.earlier->machine;
    out["machine.id"] = machine.id;
    if (machine.model) out["machine.model"] = *machine.model;
    if (machine.description) out["machine.description"] = *machine.description;
    out["machine.phases"] = std::to_string(machine.phases);
    out["machine.rated_voltage_V"] = number(machine.rated_voltage_V);
    out["machine.rated_frequency_Hz"] = number(machine.rated_frequency_Hz);
    if (machine.rated_current_A) out["machine.rated_current_A"] = number(*machine.rated_current_A);
    if (machine.rated_power_W) out["machine.rated_power_W"] = number(*machine.rated_power_W);
    if (machine.poles) out["machine.poles"] = std::to_string(*machine.poles);
    out["machine.speeds"] = list(machine.speeds);
    out["visit.state"] = "recheck";
  }
  return out;
}

record::visit_record record_of(const answers_given& answers) {
  answers_given all = answers;
  for (const auto& [key, text] : stand_ins()) all.try_emplace(key, text);
  record::node_table machine;
  record::node_table visit;
  for (const auto& asked : basic_questions())
    if (const auto found = all.find(id_of(asked)); found != all.end())
      (std::string_view(asked.section) == "machine" ? machine : visit)
          .emplace_back(asked.key, node_of(asked, found->second));
  record::node_table root;
  root.emplace_back("format", record::node{.value = std::string("rewound-record/1")});
  root.emplace_back("run_up", record::node{.value = record::node_list{}});
  root.emplace_back("machine", record::node{.value = machine});
  root.emplace_back("visit", record::node{.value = visit});
  return record::record_from({.value = root});
}

namespace {

std::string today_iso() {
  const std::time_t now = std::time(nullptr);
  std::tm parts{};
  localtime_r(&now, &parts);
  char text[16];
  std::strftime(text, sizeof text, "%Y-%m-%d", &parts);
  return text;
}

/// Whether the record's own reader takes the file that these answers make. @throws base::error where it does not
///
/// @param key  of the answer that is new among them
void expect_readable(const answers_given& answers, const std::string& key) {
  try {
    record::record_from(record::read_toml_text(record::record_text(record_of(answers)), ""));
  } catch (const error& trouble) {
    if (trouble.code() != error_code::not_toml) throw;
    throw error(error_code::out_of_range, {"", 0, key}, "bytes that are no text", "characters in UTF-8");
  }
}

/// Answers that a killed session left in the journal; a later one to the same question counts.
answers_given left_in_journal(const safekeeping& disk) {
  answers_given out;
  for (const auto& entry : disk.earlier()) {
    if (makes_a_record(entry)) out.clear();
    if (entry.kind != "answer") continue;
    const auto equals = entry.text.find(" = ");
    if (equals != std::string::npos) out[entry.text.substr(0, equals)] = entry.text.substr(equals + 3);
  }
  return out;
}

constexpr std::string_view basics_help =
    "These are questions about the machine and this visit; readings come after them. Enter takes what stands in "
    "brackets, `-` says not "
    "known, `back` or `undo` goes one question back, `list` shows the answers so far, `quit` ends: the answers are "
    "kept. In quotes a word "
    "is an answer and no command: \"help\".";

void list_answers(terminal& person, const answers_given& given) {
  for (const auto& each : basic_questions())
    if (const auto found = given.find(id_of(each)); found != given.end())
      person.say(std::string(each.asks) + ": " + found->second, "  ");
  if (given.empty()) person.say("nothing yet");
}

enum class said { an_answer, a_command, back };

/// What a line is at the first questions, where no step can be left and nothing be judged yet. @throws gone
said told_apart(terminal& person, const std::string& line, const answers_given& given) {
  const auto word = line.substr(0, line.find(' '));
  if (line == "back" || line == "undo") return said::back;
  if (line == "quit" || line == "exit" || line == "stop" || line == "cancel") throw gone();
  if (line == "help" || line == "?") person.say(basics_help);
  else if (line == "list") list_answers(person, given);
  else if (word == "drop" || word == "correct") person.say("`back` goes to the question whose answer is to change.");
  else if (line == "judge" || line == "plan" || line == "curve" || line == "done" || line == "next" || line == "skip" ||
           word == "go")
    person.say("Not yet: first who the machine is. `help` tells more.");
  else return said::an_answer;
  return said::a_command;
}

std::string without_quotes(const std::string& line) {
  return line.size() > 2 && line.front() == '"' && line.back() == '"' ? line.substr(1, line.size() - 2) : line;
}

/// What Enter takes: the answer given before, where the person went back; else the usual one.
std::string fallback_of(const std::string& id, const answers_given& usual, const answers_given& given) {
  if (const auto found = given.find(id); found != given.end()) return found->second;
  const auto found = usual.find(id);
  return found == usual.end() ? "" : found->second;
}

/// One answer, asked for until the record's reader takes it. @returns false where the person wants the question before
bool ask_one(terminal& person, safekeeping& disk, const question& asked, const answers_given& usual,
             answers_given& given) {
  const auto id = id_of(asked);
  const std::string fallback = fallback_of(id, usual, given);
  for (;;) {
    const std::string usually = fallback.empty() ? (asked.required ? "" : " [not known]") : " [" + fallback + "]";
    const auto line = person.ask(asked.asks + usually + " > ");
    const auto is = told_apart(person, line, given);
    if (is == said::back) return false;
    if (is == said::a_command) continue;
    const auto typed = without_quotes(line);
    const bool none = typed == "-" || (typed.empty() && fallback.empty());
    if (none && !asked.required) {
      given.erase(id);
      disk.note("answer", id + " = ");
      return true;
    }
    auto tried = given;
    tried[id] = typed.empty() ? fallback : typed;
    try {
      if (none) throw error(error_code::missing_key, {"", 0, id}, "nothing", "an answer: it is required");
      expect_readable(tried, id);
    } catch (const error& trouble) {
      disk.note("refused", id + " = " + typed);
      person.say(error(trouble.code(), {"", 0, trouble.where().field}, trouble.read(), trouble.allowed()).what(), "! ");
      continue;
    }
    if (const auto trouble = disk.note("answer", id + " = " + tried[id]); !trouble.empty())
      person.say("The journal takes no more: " + trouble + ". Make room on the disk.", "! ");
    given = std::move(tried);
    return true;
  }
}

}  // namespace

record::visit_record ask_basics(terminal& person, safekeeping& disk, const judged_by& by) {
  const auto usual = usual_answers(by, today_iso());
  auto left = left_in_journal(disk);
  answers_given given;
  const auto& questions = basic_questions();
  person.say(
      "A new record. First who the machine is; Enter takes what stands in brackets, `-` says not known, `back` goes "
      "one back, `help` tells more.");
  if (!left.empty()) person.say("Answers of the session before are taken up from the journal.");
  for (std::size_t i = 0; i < questions.size();) {
    const auto id = id_of(questions[i]);
    if (const auto before = left.find(id); before != left.end()) {
      auto tried = given;
      if (!before->second.empty()) tried[id] = before->second;
      left.erase(before);
      try {
        expect_readable(tried, id);
        given = std::move(tried);
        person.say(std::string(questions[i].asks) + ": " + (given.contains(id) ? given[id] : "not known"), "  ");
        ++i;
        continue;
      } catch (const error&) {
        // An answer that the reader does not take is asked for anew.
      }
    }
    if (ask_one(person, disk, questions[i], usual, given)) ++i;
    else if (i > 0) --i;
  }
  return record_of(given);
}

}  // namespace rewound::tool::dialogue
