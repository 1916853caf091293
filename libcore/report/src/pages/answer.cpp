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

/// One line a group of outcomes: what failed, what is open, what conforms, what was not tested.
std::string tests_block(const view& shown) {
  std::string items;
  for (const auto outcome : {verdict::outcome::fails, verdict::outcome::undecided, verdict::outcome::conforms,
                             verdict::outcome::not_tested}) {
    std::string names;
    for (const auto& test : shown.tests)
      if (test.outcome == outcome) names += (names.empty() ? "" : ", ") + check_words(test.check);
    if (!names.empty()) items += element("li", "", outcome_badge(outcome) + ": " + escaped(names));
  }
  return items.empty() ? "" : element("div", "block", "<h2>What was tested</h2>" + element("ul", "plain", items));
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

}  // namespace

std::string facts_section(const view& shown, const job::result& result) {
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
  return "<section><h2>Machine, visit and instruments</h2>" + element("dl", "facts", out) + "</section>";
}

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

std::string answer_section(const view& shown, const job::result& result, const std::string& deciding_picture) {
  const auto words = decision_words(result.decision.decision);
  const std::string answer = "<p class=\"decision\"><span class=\"sign\" aria-hidden=\"true\">" +
                             std::string(words.sign) + "</span> " + std::string(words.word) + "</p>" +
                             text_element("p", "sentence", rest_of(shown.decision_sentence));
  const auto& brief = shown.brief;
  auto next = brief.next;
  if (brief.more_next > 0) next.back() += " (and " + std::to_string(brief.more_next) + " more in the annex)";
  std::string why = block("Why", brief.reasons, true);
  if (!brief.likely.empty()) why += element("p", "likely", "Likely: " + typeset(brief.likely));
  const std::string own =
      shown.own_limits.empty() ? "" : text_element("p", "soft", "Judged with limits of the shop's own: see the annex.");
  // Two columns on a desk and on paper; on a phone one, with the picture between decision and reasons.
  const std::string left =
      element("div", "verdict", answer) + element("div", "told",
                                                  why + block("What to do next", next, true) +
                                                      block("Released on these conditions", brief.conditions, false));
  const std::string right =
      element("div", "seen", deciding_picture) + element("div", "tested", tests_block(shown) + own);
  return element("div", "answer " + shown.decision, element("div", "left", left) + element("div", "right", right));
}

std::string steps_section(const view& shown) {
  std::string out = block("Everything to do next", shown.next, true) +
                    block("Released on these conditions", shown.conditions, false) +
                    block("Limits of the shop's own", shown.own_limits, false);
  return out.empty() ? "" : element("section", "", out);
}

}  // namespace rewound::report
