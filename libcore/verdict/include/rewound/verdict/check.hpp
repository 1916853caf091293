// SPDX-License-Identifier: MIT
#pragma once

#include <array>
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
  for (std::size_t i = 0; i < check_names.size(); ++i)
    if (check_names[i] == text) return static_cast<check>(i);
  return std::nullopt;
}

}  // namespace rewound::verdict
