// SPDX-License-Identifier: MIT
#include "read_beside.hpp"

#include <algorithm>
#include <charconv>

#include <rewound/report/number_text.hpp>

namespace rewound::tool::dialogue {

namespace {

using report::number_text;

constexpr std::string_view watts_unit = " W";
constexpr std::string_view rpm_unit = " rpm";

/// All digits: the number is read back from the note.
std::string all_digits(double value) {
  char text[32];
  const auto [end, code] = std::to_chars(text, text + sizeof text, value);
  return {text, end};
}

/// What notes beside a reading begin with: which reading, and, of several with the same volts and amperes, the how
/// manieth.
std::vector<std::string> note_heads(const record::run_up_section& run) {
  std::vector<std::string> plain;
  std::vector<std::string> out;
  for (std::size_t i = 0; i < run.voltage_V.size(); ++i) {
    plain.push_back(std::string(read_beside_head) + run.speed + " " + number_text(run.voltage_V[i]) + " V " +
                    number_text(run.current_A[i]) + " A");
    const auto same = std::count(plain.begin(), plain.end(), plain.back());
    out.push_back(plain.back() + (same > 1 ? " (" + std::to_string(same) + ")" : "") + ": ");
  }
  return out;
}

/// A note's number, where the note is of this unit.
std::optional<double> noted(const record::visit_record& in, const std::string& head, std::string_view unit) {
  for (auto key = in.checks.lower_bound(head); key != in.checks.end() && key->first.starts_with(head); ++key) {
    std::string_view text(key->first);
    if (!text.ends_with(unit)) continue;
    text.remove_prefix(head.size());
    text.remove_suffix(unit.size());
    double value = 0.0;
    const auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (code == std::errc() && end == text.data() + text.size()) return value;
  }
  return std::nullopt;
}

/// A list of all readings where all have the value, else a note for each that has it.
void put_channel_beside(record::visit_record& in, const record::run_up_section& run, std::vector<double>& list,
                        const std::vector<beside_reading>& beside, std::optional<double> beside_reading::*channel,
                        std::string_view unit) {
  if (!list.empty() || beside.empty()) return;
  if (std::all_of(beside.begin(), beside.end(), [&](const auto& each) { return (each.*channel).has_value(); })) {
    for (const auto& each : beside) list.push_back(*(each.*channel));
    return;
  }
  const auto heads = note_heads(run);
  for (std::size_t i = 0; i < beside.size(); ++i)
    if (const auto& value = beside[i].*channel) in.checks[heads[i] + all_digits(*value) + std::string(unit)] = true;
}

}  // namespace

std::vector<beside_reading> beside_of(const record::visit_record& in, const record::run_up_section& run) {
  std::vector<beside_reading> out;
  for (const auto& head : note_heads(run)) out.push_back({noted(in, head, watts_unit), noted(in, head, rpm_unit)});
  return out;
}

std::vector<beside_reading> take_beside(record::visit_record& in, const record::run_up_section& run) {
  auto out = beside_of(in, run);
  for (const auto& head : note_heads(run))
    std::erase_if(in.checks, [&](const auto& each) { return each.first.starts_with(head); });
  return out;
}

void put_beside(record::visit_record& in, record::run_up_section& run, const std::vector<beside_reading>& beside) {
  put_channel_beside(in, run, run.power_W, beside, &beside_reading::power_W, watts_unit);
  put_channel_beside(in, run, run.speed_rpm, beside, &beside_reading::speed_rpm, rpm_unit);
}

}  // namespace rewound::tool::dialogue
