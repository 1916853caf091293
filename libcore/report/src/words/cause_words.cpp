// SPDX-License-Identifier: MIT
#include "words/cause_words.hpp"

#include <array>
#include <cmath>
#include <vector>

#include <rewound/report/number_text.hpp>

namespace rewound::report {

namespace {

using verdict::measurement_kind;
using verdict::rules::evidence;

constexpr std::array<std::string_view, verdict::cause_count> cause_phrases{
    "nothing wrong with the machine",
    "shorted turns in the winding",
    "too few turns",
    "too many turns",
    "wire too thin",
    "wire too thick",
    "leads of two speeds exchanged",
    "part of the speed control shorted",
    "speed control or its lead open",
    "start winding left in circuit",
    "tight bearing or rubbing rotor",
    "rotor bars or end ring at fault",
    "weak capacitor",
    "mains of another frequency than the rated one",
    "damp insulation",
    "contaminated insulation",
    "aged insulation",
    "a reading taken wrongly",
    "meter on another range than noted",
    "something that is not in this list"};

struct evidence_words {
  std::string_view name;
  std::string_view words;
};

constexpr std::array<evidence_words, verdict::rules::evidence_count> evidence_table{
    {{"electrical", "amperes, watts, rpm and ohms"},
     {"starting", "the starts"},
     {"insulation", "the insulation resistance"},
     {"polarization_index", "the polarization index"},
     {"coast_down", "the coast-down"},
     {"heat_run", "the heat run"},
     {"readings", "the readings among themselves"},
     {"supply", "the frequency noted"},
     {"patterns", "what a repairer knows by such readings"},
     {"failed_tests", "the tests that failed"}}};

struct measurement_words {
  std::string_view measurement, high, as_expected, low;
};

/// A test that answers yes or no has no high.
measurement_words words_of(measurement_kind value) {
  constexpr std::string_view high = "high", good = "as on a good machine", low = "low";
  switch (value) {
    case measurement_kind::watts: return {"watts on every speed", high, good, low};
    case measurement_kind::rotation: return {"rpm on every speed", high, good, low};
    case measurement_kind::main_resistance:
      return {"ohms of the main winding, with what they should be", high, good, low};
    case measurement_kind::start_resistance:
      return {"ohms of the start winding, with what they should be", high, good, low};
    case measurement_kind::starts: return {"five starts", "", "all succeed", "one fails"};
    case measurement_kind::insulation: return {"insulation resistance", "", "above its minimum", "below it"};
    case measurement_kind::polarization_index:
      return {"insulation resistance over ten minutes", "", "index above its minimum", "below it"};
    case measurement_kind::coast_down: return {"coast-down", "", "no shorter than it was", "shorter"};
    case measurement_kind::heat_run: return {"heat run", "", "within its limit", "over it"};
  }
  return {};
}

std::string percent_text(double share) {
  // Never certain: a probability is as good as the model behind it.
  if (share > 0.99) return "over 99 %";
  if (share < 0.01) return "under 1 %";
  return number_text(std::round(100.0 * share)) + " %";
}

std::string times_text(double log_factor) {
  if (log_factor >= std::log(1000.0)) return "1000 times and more";
  const double factor = std::exp(log_factor);
  return number_text(factor < 9.5 ? std::round(10.0 * factor) / 10.0 : std::round(factor)) + " times";
}

std::string joined(const std::vector<std::string>& parts) {
  std::string out;
  for (const auto& part : parts) out += (out.empty() ? "" : ", ") + part;
  return out;
}

std::string meaning_text(std::string_view when, const verdict::meaning& in) {
  if (when.empty() || in.probability < 0.005) return "";
  return "; if " + std::string(when) + " (" + percent_text(in.probability) + "), then most likely " +
         std::string(cause_words(in.likeliest)) + " (" + percent_text(in.cause_probability) + ")";
}

}  // namespace

std::string_view cause_words(verdict::cause value) { return cause_phrases[static_cast<std::size_t>(value)]; }

std::string_view evidence_name(evidence from) { return evidence_table[static_cast<std::size_t>(from)].name; }

std::string cause_line(const verdict::rules::ranked_cause& in) {
  std::string out = std::string(cause_words(in.cause)) + ": " + percent_text(in.probability);
  if (in.cause == verdict::cause::none) return out;
  std::vector<std::string> speaking_for;
  std::vector<std::string> against;
  constexpr double tells = 0.4;  // less than half as much again tells nothing worth a word
  for (const auto& factor : in.factors) {
    const std::string words(evidence_table[static_cast<std::size_t>(factor.from)].words);
    if (factor.log_factor > tells)
      speaking_for.push_back(words + " (" + times_text(factor.log_factor) + " as likely as on a healthy machine)");
    else if (factor.log_factor < -tells)
      against.push_back(words + " (" + times_text(-factor.log_factor) + " less likely)");
  }
  if (!speaking_for.empty()) out += "; for it: " + joined(speaking_for);
  if (!against.empty()) out += "; against it: " + joined(against);
  return out;
}

std::string next_step_line(const verdict::next_step& in) {
  const auto words = words_of(in.measurement);
  std::string out =
      std::string(words.measurement) + " (about " + number_text(verdict::minutes(in.measurement)) + " minutes)";
  if (in.high) out += meaning_text(words.high, *in.high);
  return out + meaning_text(words.as_expected, in.as_expected) + meaning_text(words.low, in.low);
}

}  // namespace rewound::report
