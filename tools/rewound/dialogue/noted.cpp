// SPDX-License-Identifier: MIT
#include "noted.hpp"

#include <cstdlib>

#include <rewound/report/number_text.hpp>

namespace rewound::tool::dialogue {

namespace {

using report::number_text;

constexpr std::string_view over_range_head = "insulation over range: ";
constexpr std::string_view seconds_then_least = " s at least ";
constexpr std::string_view megohms_end = " Mohm";

/// A key under [checks] taken apart; nothing for any other key.
std::optional<over_range_note> over_range_of(std::string_view key) {
  if (!key.starts_with(over_range_head) || !key.ends_with(megohms_end)) return std::nullopt;
  key.remove_prefix(over_range_head.size());
  key.remove_suffix(megohms_end.size());
  const auto least = key.rfind(seconds_then_least);
  if (least == std::string_view::npos) return std::nullopt;
  const auto blank = key.rfind(' ', least - 1);
  if (blank == std::string_view::npos) return std::nullopt;
  const std::string seconds(key.substr(blank + 1, least - blank - 1));
  return over_range_note{std::string(key.substr(0, blank)), std::strtod(seconds.c_str(), nullptr),
                         std::string(key.substr(least + seconds_then_least.size()))};
}

}  // namespace

std::string over_range_note::key() const {
  return std::string(over_range_head) + circuit + " " + number_text(time_s) + std::string(seconds_then_least) +
         at_least_Mohm + std::string(megohms_end);
}

std::vector<over_range_note> over_range_notes(const record::visit_record& in) {
  std::vector<over_range_note> out;
  for (const auto& [key, passed] : in.checks)
    if (auto note = over_range_of(key)) out.push_back(std::move(*note));
  return out;
}

std::optional<over_range_note> over_range_at(const record::visit_record& in, const std::string& circuit,
                                             double time_s) {
  for (auto& note : over_range_notes(in))
    if (note.circuit == circuit && number_text(note.time_s) == number_text(time_s)) return note;
  return std::nullopt;
}

record::visit_record without_over_range(record::visit_record in, const std::string& circuit, double time_s) {
  if (const auto note = over_range_at(in, circuit, time_s)) in.checks.erase(note->key());
  return in;
}

std::string over_range_words(const over_range_note& note) {
  return note.circuit + " " + number_text(note.time_s) + " s at least " + note.at_least_Mohm + " Mohm, over range";
}

std::vector<std::string> answered_checks(const record::visit_record& in) {
  std::vector<std::string> out;
  for (const auto& [key, passed] : in.checks)
    if (key != no_rehearsal_key && !key.starts_with(over_range_head)) out.push_back(key);
  return out;
}

bool is_rehearsal(const record::visit_record& in) {
  const auto found = in.checks.find(no_rehearsal_key);
  return found != in.checks.end() && !found->second;
}

}  // namespace rewound::tool::dialogue
