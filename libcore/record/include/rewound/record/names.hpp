// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cctype>
#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>

#include <rewound/record/record.hpp>

namespace rewound::record {

/// What people write by hand, in whichever case.
inline std::string in_lower_case(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(), [](unsigned char c) { return std::tolower(c); });
  return out;
}

/// Whether a name contains any of the words; these stand in lower case.
inline bool names_any(std::string_view text, std::initializer_list<const char*> words) {
  const auto low = in_lower_case(text);
  return std::any_of(words.begin(), words.end(), [&](const char* word) { return low.find(word) != std::string::npos; });
}

/// Whether a circuit has the frame at one end, by any of its names.
inline bool names_the_frame(std::string_view circuit) {
  const auto low = in_lower_case(circuit);
  const auto letter = [&](std::size_t at) {
    return at < low.size() && std::isalpha(static_cast<unsigned char>(low[at]));
  };
  for (auto at = low.find("pe"); at != std::string::npos; at = low.find("pe", at + 1))  // the protective conductor
    if (!letter(at + 2) && (at == 0 || !letter(at - 1))) return true;
  return names_any(circuit, {"frame", "earth", "ground", "case", "casing", "housing", "body", "base", "chassis", "core",
                             "iron", "shaft", "shell", "stack", "metal"});
}

/// The speed whose lead a section was read to: as stated; else one whose name the section has, where nothing else is
/// said of either. Absent where that tells nothing.
inline std::optional<std::string> speed_of(const resistance_section& entry, const visit_record& in) {
  if (entry.speed || entry.to_speed || entry.equal_group) return entry.speed;
  const auto same = [](const std::string& a, const std::string& b) { return in_lower_case(a) == in_lower_case(b); };
  const auto& speeds = in.machine.speeds;
  const auto named =
      std::find_if(speeds.begin(), speeds.end(), [&](const auto& speed) { return same(speed, entry.section); });
  if (named == speeds.end()) return std::nullopt;
  const bool taken = std::any_of(in.resistance.begin(), in.resistance.end(), [&](const auto& other) {
    return &other != &entry && (other.speed == *named || same(other.section, entry.section));
  });
  return taken ? std::nullopt : std::optional(*named);
}

}  // namespace rewound::record
