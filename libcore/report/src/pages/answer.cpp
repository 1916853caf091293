// SPDX-License-Identifier: MIT
#include <string_view>

#include <rewound/report/number_text.hpp>
#include <rewound/report/wording.hpp>

#include "markup.hpp"
#include "sections.hpp"

namespace rewound::report {

namespace {

struct sign_and_word {
  std::string_view sign;
  std::string_view word;
};

sign_and_word decision_words(verdict::decision value) {
  switch (value) {
    case verdict::decision::release: return {"\u2713", "Release"};
    case verdict::decision::hold: return {"\u2715", "Hold"};
    case verdict::decision::undecided: return {"?", "Undecided"};
  }
  return {};
}

/// The sentence without the decision's word, which stands above it.
std::string rest_of(const std::string& sentence) {
  const auto colon = sentence.find(": ");
  if (colon == std::string::npos) return sentence;
  std::string out = sentence.substr(colon + 2);
  if (!out.empty() && out.front() >= 'a' && out.front() <= 'z')
    out.front() = static_cast<char>(out.front() - 'a' + 'A');
  return out;
}

std::string block(std::string_view title, const std::vector<std::string>& texts, bool numbered) {
  if (texts.empty()) return "";
  return element("div", "block", text_element("h2", "", title) + text_list(texts, numbered));
}

std::string tests_table(const view& shown) {
  std::string rows;
  for (const auto& test : shown.tests)
    rows += "<tr><th scope=\"row\">" + escaped(heading(test.check)) + "</th><td>" + outcome_badge(test.outcome) +
            "</td></tr>";
  return element("div", "block",
                 "<h2>What was tested</h2><table class=\"tests\"><caption>Each test as a whole</caption>"
                 "<thead><tr><th scope=\"col\">test</th><th scope=\"col\">outcome</th></tr></thead><tbody>" +
                     rows + "</tbody></table>");
}

std::string fact(std::string_view name, std::string_view value) {
  return text_element("dt", "", name) + element("dd", "", typeset(value));
}

std::string facts_of(std::string_view name, const std::vector<std::string>& values) {
  if (values.empty()) return "";
  std::string out = text_element("dt", "", name);
  for (const auto& value : values) out += element("dd", "", typeset(value));
  return out;
}

std::string facts(const view& shown, const job::result& result) {
  const auto& machine = result.machine;
  const auto& visit = result.visit;
  std::string rating = number_text(machine.rated_voltage_V) + " V, " + number_text(machine.rated_frequency_Hz) + " Hz";
  if (machine.rated_current_A) rating += ", " + number_text(*machine.rated_current_A) + " A";
  if (machine.rated_power_W) rating += ", " + number_text(*machine.rated_power_W) + " W";
  std::string out = fact("Machine", machine.id);
  if (machine.description) out += fact("Description", *machine.description);
  if (machine.model) out += fact("Model", *machine.model);
  out += fact("Visit", visit.day.iso() + ", " + state_words(visit.state)) + fact("Rating", rating);
  if (visit.supply_voltage_V) out += fact("Mains", number_text(*visit.supply_voltage_V) + " V");
  if (visit.ambient_C)
    out += fact("Air", number_text(*visit.ambient_C) + " \u00b0C" +
                           (visit.humidity_percent ? ", " + number_text(*visit.humidity_percent) + " % humidity" : ""));
  out += facts_of("Work", visit.work) + fact("Draw judged by", shown.expectation) + fact("Policy", result.policy_name);
  out += shown.instruments.empty() ? fact("Instruments", "none stated in the record")
                                   : facts_of("Instruments", shown.instruments);
  return element("dl", "facts", out);
}

}  // namespace

std::string outcome_badge(verdict::outcome value, bool noted) {
  if (noted && value == verdict::outcome::not_tested)
    return "<span class=\"badge not_tested\"><span aria-hidden=\"true\">\u00b7</span> noted</span>";
  std::string_view sign = "\u2013";
  switch (value) {
    case verdict::outcome::conforms: sign = "\u2713"; break;
    case verdict::outcome::fails: sign = "\u2715"; break;
    case verdict::outcome::undecided: sign = "?"; break;
    case verdict::outcome::not_tested: break;
  }
  return "<span class=\"badge " + std::string(verdict::name(value)) + "\"><span aria-hidden=\"true\">" +
         std::string(sign) + "</span> " + outcome_words(value) + "</span>";
}

std::string text_list(const std::vector<std::string>& texts, bool numbered) {
  if (texts.empty()) return "";
  std::string items;
  for (const auto& text : texts) items += element("li", "", typeset(text));
  return element(numbered ? "ol" : "ul", "", items);
}

std::string answer_section(const view& shown, const job::result& result) {
  const auto words = decision_words(result.decision.decision);
  std::string answer = "<p class=\"decision\"><span class=\"sign\" aria-hidden=\"true\">" + std::string(words.sign) +
                       "</span> " + std::string(words.word) + "</p>" +
                       text_element("p", "sentence", rest_of(shown.decision_sentence));
  std::string left = block("Why", shown.reasons, true) + block("What to do next", shown.next, true) +
                     block("Released on these conditions", shown.conditions, false) +
                     block("Limits of the shop's own", shown.own_limits, false);
  return "<section class=\"answer " + shown.decision + "\" aria-label=\"Decision\">" + answer +
         element("div", "two",
                 element("div", "", left) + element("div", "beside", tests_table(shown)) + facts(shown, result)) +
         "</section>";
}

}  // namespace rewound::report
