// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <iterator>
#include <optional>
#include <string_view>

namespace rewound::verdict {

/// The rooms of judgement, as named in policies and results.
enum class check {
  draw,
  steps,
  supply,
  insulation,
  polarization_index,
  resistance,
  withstand,
  leakage,
  earth,
  starting,
  coast_down,
  heat_run,
  unbalance,
  capacitor,
  commutator,
  mechanics,
  readings,
  checks
};

inline constexpr std::array<std::string_view, 18> check_names{
    "draw",      "steps",     "supply",     "insulation", "polarization_index", "resistance",
    "withstand", "leakage",   "earth",      "starting",   "coast_down",         "heat_run",
    "unbalance", "capacitor", "commutator", "mechanics",  "readings",           "checks"};

constexpr std::string_view name(check value) { return check_names[static_cast<std::size_t>(value)]; }

constexpr std::optional<check> check_named(std::string_view text) {
  const auto found = std::find(check_names.begin(), check_names.end(), text);
  if (found == check_names.end()) return std::nullopt;
  return static_cast<check>(std::distance(check_names.begin(), found));
}

}  // namespace rewound::verdict
