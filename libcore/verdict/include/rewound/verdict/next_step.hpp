// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string_view>

#include <rewound/verdict/cause.hpp>
#include <rewound/verdict/cause_tables.hpp>

namespace rewound::verdict {

/// Measurements that may tell causes apart, as reference/causes/measurement_effort.table names them.
enum class measurement_kind {
  watts,
  rotation,
  main_resistance,
  start_resistance,
  starts,
  insulation,
  polarization_index,
  coast_down,
  heat_run
};

inline constexpr std::size_t measurement_kind_count = cause_tables::measurement_effort.size();

constexpr std::string_view name(measurement_kind value) {
  return cause_tables::measurement_effort[static_cast<std::size_t>(value)].measurement;
}

/// Minutes that a measurement takes at the bench.
constexpr double minutes(measurement_kind value) {
  return cause_tables::measurement_effort[static_cast<std::size_t>(value)].minutes;
}

/// Whether a measurement is made with the machine running.
constexpr bool under_power(measurement_kind value) {
  switch (value) {
    case measurement_kind::watts:
    case measurement_kind::rotation:
    case measurement_kind::starts:
    case measurement_kind::coast_down:
    case measurement_kind::heat_run: return true;
    case measurement_kind::main_resistance:
    case measurement_kind::start_resistance:
    case measurement_kind::insulation:
    case measurement_kind::polarization_index: return false;
  }
  return true;
}

/// The meter that a measurement needs, as records name it; empty where none is needed.
constexpr std::string_view meter_for(measurement_kind value) {
  switch (value) {
    case measurement_kind::watts: return "wattmeter";
    case measurement_kind::rotation:
    case measurement_kind::coast_down: return "tachometer";
    case measurement_kind::main_resistance:
    case measurement_kind::start_resistance:
    case measurement_kind::heat_run: return "ohmmeter";
    case measurement_kind::insulation:
    case measurement_kind::polarization_index: return "insulation_tester";
    case measurement_kind::starts: return "";
  }
  return "";
}

/// What a measurement would mean if it came out one way: how probable that is, and the likeliest cause then.
struct meaning {
  double probability = 0.0;
  cause likeliest = cause::none;
  double cause_probability = 0.0;
};

/// A measurement not made yet, and what it would tell about the cause.
struct next_step {
  measurement_kind measurement;
  double bits;                  ///< by which the uncertainty about the cause is expected to fall
  std::optional<meaning> high;  ///< of a value; absent where the answer is yes or no
  meaning as_expected;          ///< as a healthy machine's; or: no fault shown
  meaning low;                  ///< of a value; otherwise: a fault shown

  /// What it tells for its minutes: another measurement's set-up is worth ten of them (common practice, no source).
  double worth() const { return bits / (10.0 + minutes(measurement)); }
};

}  // namespace rewound::verdict
