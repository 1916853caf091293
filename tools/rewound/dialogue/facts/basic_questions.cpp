// SPDX-License-Identifier: MIT
#include <algorithm>
#include <charconv>
#include <cmath>

#include <rewound/base/error.hpp>
#include <rewound/record/words.hpp>

#include "dialogue/facts/basics.hpp"
#include "dialogue/entry/typed_reading.hpp"

namespace rewound::tool::dialogue {

namespace {

using base::error;
using base::error_code;

template <class Words>
std::vector<choice> choices_of(const Words& words) {
  std::vector<choice> out;
  for (const auto& [word, stands_for] : words) out.push_back({word});
  return out;
}

std::vector<choice> equipment_choices() {
  std::vector<choice> out;
  for (const auto* word : record::words::equipment) out.push_back({word});
  return out;
}

/// All digits: what is shown may be rounded, what is kept may not.
std::string in_full(double value) {
  char text[32];
  const auto end = std::to_chars(text, text + sizeof text, value).ptr;
  return {text, end};
}

/// `GH-52, wall fan of the fern house`: what stands behind the comma is what it is.
typed_facts take_name(const std::string& text) {
  const auto comma = text.find(", ");
  typed_facts out{{"machine.id", text.substr(0, comma)}};
  if (comma != std::string::npos) out.emplace_back("machine.description", text.substr(comma + 2));
  return out;
}

bool is_plain(const typed_number& number) { return number.what == quantity::plain && !number.prefixed; }

/// Hertz that mains are rated at, on land, rails, ships and aircraft; with its unit any number is taken (common
/// practice, no source).
bool usual_mains(double hertz) {
  constexpr double rated[] = {16.7, 25.0, 40.0, 42.0, 50.0, 60.0, 400.0};
  return std::any_of(std::begin(rated), std::end(rated), [&](double each) { return std::abs(hertz - each) <= 0.5; });
}

/// `110 60 .85`, with units in any order; each number in the unit of its key.
typed_facts take_plate(const std::string& text) {
  struct on_plate {
    const char* path;
    quantity what;
  };
  constexpr on_plate wanted[] = {{"machine.rated_voltage_V", quantity::voltage},
                                 {"machine.rated_frequency_Hz", quantity::frequency},
                                 {"machine.rated_current_A", quantity::current},
                                 {"machine.rated_power_W", quantity::power}};
  constexpr std::string_view allowed = "volts, hertz and amps in this order, or with their units: 110V 60Hz .85A 75W";
  const auto refuse = [&](const std::string& read) {
    throw error(error_code::out_of_range, {"", 0, "plate"}, read, std::string(allowed));
  };
  auto numbers = parse_line(text, {}).numbers;
  typed_facts out;
  for (const auto& each : wanted) {
    const auto with_unit =
        std::find_if(numbers.begin(), numbers.end(), [&](const auto& n) { return n.what == each.what; });
    const auto plain = std::find_if(numbers.begin(), numbers.end(), is_plain);
    const auto found = with_unit != numbers.end() ? with_unit : plain;
    if (found == numbers.end()) continue;
    if (found == plain && each.what == quantity::frequency && !usual_mains(found->value))
      refuse(in_full(found->value) + " Hz");
    out.emplace_back(each.path, in_full(found->value));
    numbers.erase(found);
  }
  if (!numbers.empty() || out.size() < 2 || out[1].first != wanted[1].path) refuse("\"" + text + "\"");
  return out;
}

bool reads_with_unit(const std::string& text) {
  try {
    const auto numbers = parse_line(text, {}).numbers;
    return std::any_of(numbers.begin(), numbers.end(), [](const auto& each) { return !is_plain(each); });
  } catch (const error&) {
    return false;
  }
}

constexpr const char* one_speed = "full";

/// Names are free, `1 2 3` too; numbers with units are an answer to another question.
typed_facts take_speeds(const std::string& text) {
  if (reads_with_unit(text))
    throw error(error_code::out_of_range, {"", 0, "machine.speeds"}, "\"" + text + "\"", "names, as high medium low");
  typed_facts out{{"machine.speeds", text == "one" ? one_speed : text}};
  if (text == "one") out.emplace_back("machine.speed_control", "none");
  return out;
}

/// Three phases are a running circuit too.
typed_facts take_circuit(const std::string& word) {
  return {{"machine.running_circuit", word}, {"machine.phases", word == "three_phase" ? "3" : "1"}};
}

typed_facts take_job(const std::string& word, const std::string& today) {
  if (word == "as_found" || word == "recheck") return {{"visit.state", word}};
  typed_facts out{{"visit.state", "after_repair"}};
  if (word != "rewound") return out;
  out.emplace_back("machine.wound_year", today.substr(0, 4));
  out.emplace_back("visit.work", "stator rewound");
  return out;
}

/// A fact as it was typed.
auto take_fact(const char* path) {
  return [path](const std::string& text) { return typed_facts{{path, text}}; };
}

bool answered(const answers_given& answers, const char* name, std::string_view with) {
  const auto found = answers.find(name);
  return found != answers.end() && found->second == with;
}

const std::vector<choice> classes{{"I", "an earth wire in its cord"},
                                  {"II", "doubly insulated, no earth"},
                                  {"0", "no earth at all"},
                                  {"0I", "an earth screw on the frame"},
                                  {"III", "very low voltage only"}};
const std::vector<choice> jobs{{"rewound", ""}, {"repaired", "old winding"}, {"as_found", ""}, {"recheck", ""}};
const std::vector<choice> speed_sets{{"high medium low"}, {"high low"}, {"one"}};

}  // namespace

std::vector<question> basic_questions(const beginning& begin) {
  std::vector<question> out;
  const auto only_new = [known = begin.machine_known](const answers_given&) { return !known; };
  out.push_back({.name = "name",
                 .keys = {"machine.id", "machine.description"},
                 .asks = "your number, and what it is, as GH-7, fan",
                 .required = true,
                 .take = take_name});
  out.push_back({.name = "plate",
                 .keys = {"machine.rated_voltage_V", "machine.rated_frequency_Hz", "machine.rated_current_A",
                          "machine.rated_power_W"},
                 .asks = "on its plate: volts hertz amps, as 110 60 .85",
                 .required = true,
                 .take = take_plate,
                 .due = only_new});
  out.push_back({.name = "speeds",
                 .keys = {"machine.speeds"},
                 .asks = "speeds, fastest first, or their names",
                 .choices = speed_sets,
                 .required = true,
                 .take = take_speeds,
                 .due = only_new});
  out.push_back(
      {.name = "control",
       .keys = {"machine.speed_control"},
       .asks = "how the slower speeds are made",
       .choices = choices_of(record::words::speed_control),
       .required = true,
       .take = take_fact("machine.speed_control"),
       .due = [only_new](const auto& given) { return only_new(given) && !answered(given, "speeds", "one"); }});
  out.push_back({.name = "circuit",
                 .keys = {"machine.running_circuit"},
                 .asks = "how it starts and runs",
                 .choices = choices_of(record::words::running_circuit),
                 .required = true,
                 .take = take_circuit,
                 .due = only_new});
  out.push_back({.name = "class",
                 .keys = {"machine.appliance_class"},
                 .asks = "class of protection",
                 .choices = classes,
                 .take = take_fact("machine.appliance_class"),
                 .due = only_new});
  out.push_back({.name = "job",
                 .keys = {"visit.state", "machine.wound_year"},
                 .asks = "the job",
                 .choices = jobs,
                 .required = true,
                 .take = [today = begin.today](const std::string& word) { return take_job(word, today); }});
  out.push_back({.name = "year",
                 .keys = {"machine.wound_year"},
                 .asks = "year it was wound",
                 .take = take_fact("machine.wound_year"),
                 .due = [](const auto& given) { return !answered(given, "job", "rewound"); }});
  out.push_back({.name = "have",
                 .keys = {"visit.have"},
                 .asks = "what is there to measure with",
                 .choices = equipment_choices(),
                 .several = true,
                 .take = take_fact("visit.have")});
  out.push_back(
      {.name = "air", .keys = {"visit.ambient_C"}, .asks = "air, degC", .take = take_fact("visit.ambient_C")});
  return out;
}

beginning beginning_of(const judged_by& by, const std::string& today) {
  beginning out;
  out.today = today;
  auto& machine = out.base.machine;
  machine.id = "not named yet";
  machine.rated_voltage_V = 230.0;
  machine.rated_frequency_Hz = 50.0;
  machine.speeds = {one_speed};
  out.base.visit.day = std::get<record::date>(
      std::get<record::node_table>(record::read_toml_text("day = " + today, "").value).front().second.value);
  out.usual = {{"speeds", "high medium low"}, {"control", "unknown"}, {"circuit", "unknown"}, {"job", "repaired"}};
  std::string equipment;
  for (const auto& each : by.policy.equipment) equipment += (equipment.empty() ? "" : " ") + each;
  if (!equipment.empty()) out.usual["have"] = equipment;
  if (by.compare_with.good) {
    const auto& good = *by.compare_with.good;
    machine.model = good.model;
    out.usual["plate"] = in_full(good.rated_voltage_V) + " V " + in_full(good.rated_frequency_Hz) + " Hz";
    out.base.visit.shaft = good.shaft;
    std::string speeds;
    for (const auto& block : good.machines.empty() ? std::vector<fit::summary_block>() : good.machines.front().blocks)
      if (block.what == fit::channel::current) speeds += (speeds.empty() ? "" : " ") + block.speed;
    if (!speeds.empty()) out.usual["speeds"] = speeds;
  }
  if (by.compare_with.earlier) {
    machine = by.compare_with.earlier->machine;
    out.machine_known = true;
    out.usual["name"] = machine.id;
    out.usual["job"] = "recheck";
    if (machine.wound_year) out.usual["year"] = std::to_string(*machine.wound_year);
  }
  return out;
}

void same_as(beginning& begin, const record::machine_section& other) {
  const auto id = begin.base.machine.id;
  begin.base.machine = other;
  begin.base.machine.id = id;
  begin.base.machine.serial.reset();
  begin.machine_known = true;
  if (other.wound_year) begin.usual["year"] = std::to_string(*other.wound_year);
}

record::visit_record record_of(const beginning& begin, const answers_given& answers) {
  typed_facts facts;
  for (const auto& each : basic_questions(begin)) {
    const auto found = answers.find(each.name);
    if (found == answers.end() || (each.due && !each.due(answers))) continue;
    if (found->second.empty()) facts.emplace_back(each.keys.front(), "");  // said to be not known
    else
      for (auto& fact : each.take(found->second)) facts.push_back(std::move(fact));
  }
  for (const auto& [path, text] : answers)
    if (key_at(path) != nullptr) facts.emplace_back(path, text);
  return with_facts(begin.base, facts);
}

}  // namespace rewound::tool::dialogue
