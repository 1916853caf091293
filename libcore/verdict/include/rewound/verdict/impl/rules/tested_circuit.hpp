// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/absorption.hpp>
#include <rewound/checks/dew_point.hpp>
#include <rewound/checks/insulation.hpp>
#include <rewound/checks/insulation_curve.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/impl/words.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/tested_circuit.hpp>
#include <rewound/verdict/rules/withstand.hpp>

namespace rewound::verdict::rules {

REWOUND_INLINE record::insulation_system deciding_system(const std::optional<record::insulation_system>& stated,
                                                         const checks::insulation_result& result) {
  using enum record::insulation_system;
  if (stated) return *stated;
  return result.thermosetting_at_40->value < result.thermoplastic_at_40->value ? thermosetting : thermoplastic;
}

// The reader has seen to it that one of the two is there.
REWOUND_INLINE double winding_C(const record::visit_record& in, const record::insulation_section& entry) {
  return entry.winding_C.value_or(in.visit.ambient_C.value_or(0.0));
}

REWOUND_INLINE std::optional<int> wound_year(const record::visit_record& in) {
  return rewound_now(in) ? std::optional{in.visit.day.year} : in.machine.wound_year;
}

namespace detail {

/// Beyond this relative uncertainty it is the display's digits that make it: those add to a value and are no factor, so
/// a reading of next to nothing is known to be next to nothing (project's choice).
inline constexpr double mostly_digits = 0.5;

/// Outcome of a value above 0 whose error is a factor rather than a sum, against a minimum.
inline outcome judge_factor(const policy& rules, double value, double relative_u, double minimum) {
  const auto as_factor = rules.judge(std::log(value), relative_u, {std::log(minimum), {}});
  if (relative_u < mostly_digits) return as_factor;
  const auto as_sum = rules.judge(value, relative_u * value, {minimum, {}});
  return as_sum == outcome::fails ? as_sum : as_factor;
}

/// Puts a value with a 95 % interval of factors into a finding, which so stays above 0.
inline void set_factor_value(finding& f, double value, double relative_u, std::string unit) {
  const double factor = std::exp(measurement::coverage_95 * relative_u);
  f.value = value;
  f.low = value / factor;
  f.high = relative_u < mostly_digits ? value * factor : value * (1.0 + measurement::coverage_95 * relative_u);
  f.unit = std::move(unit);
}

template <class Quantity>
double relative_u(const measurement::uncertain<Quantity>& x) {
  return x.standard_uncertainty / x.value;
}

inline record::insulation_system deciding_system_of(const tested_circuit& of) {
  return deciding_system(of.in.machine.insulation_system, of.found.result);
}

inline measurement::uncertain<units::resistance> deciding_value(const tested_circuit& of) {
  const bool setting = deciding_system_of(of) == record::insulation_system::thermosetting;
  return setting ? *of.found.result.thermosetting_at_40 : *of.found.result.thermoplastic_at_40;
}

/// As the minimum takes it: of a kind that is not stated, only windings for a kilovolt and more may be form-wound.
inline bool random_wound(const tested_circuit& of) {
  if (!of.in.machine.winding_kind) return of.in.machine.rated_voltage_V < 1000.0;
  return *of.in.machine.winding_kind == record::winding_kind::random_wound;
}

/// Systems that dry and turn brittle, which is what a high index is suspected of: those of before about 1970, and
/// thermoplastic (asphaltic) ones. On a modern resin it is no fault.
inline bool may_be_brittle(const tested_circuit& of) {
  return of.in.machine.insulation_system == record::insulation_system::thermoplastic ||
         wound_year(of.in).value_or(9999) < 1970;
}

}  // namespace detail

REWOUND_INLINE double connection_divisor(record::winding_connection connection) {
  const auto word = detail::word_of(record::words::connection, connection);
  for (const auto& row : tables::insulation_connection)
    if (row.connection == word) return row.divisor;
  base::expect(false, "connection", word, "a row of reference/limits/insulation_connection.table");
  return 1.0;
}

REWOUND_INLINE limit insulation_minimum(const record::machine_section& of, const std::optional<int>& wound_year,
                                        const policy& rules) {
  if (const auto& own = rules.replaced.insulation_minimum_Mohm) return *own;
  const bool high_voltage = of.rated_voltage_V >= 1000.0;
  using key = tables::insulation_minimum_key;
  key which = key::random_wound;
  if (of.winding_kind == record::winding_kind::field || wound_year.value_or(9999) < 1970)
    which = key::before_1970_or_field;
  else if (of.winding_kind == record::winding_kind::armature) which = key::armature;
  else if (high_voltage &&
           of.winding_kind.value_or(record::winding_kind::form_wound) == record::winding_kind::form_wound)
    which = key::form_wound_above_1kV;
  const auto& row = tables::insulation_minimum[static_cast<std::size_t>(which)];
  return {row.constant_Mohm + row.per_kV_Mohm * of.rated_voltage_V / 1000.0, std::string(row.source)};
}

}  // namespace rewound::verdict::rules
