// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/machine/appliance_class.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// What is known of the protection against shock: which of leakage and earth continuity is due follows from it.
struct touch_facts {
  std::optional<machine::appliance_class> appliance_class;
  std::optional<bool> frame_earthed;
  double rated_voltage_V = 0.0;
  struct leakage_reading {
    std::string condition;
    double current_mA;
    double standard_uncertainty_mA;
  };
  std::vector<leakage_reading> leakage;
  std::optional<double> earth_ohm;
  double earth_standard_uncertainty_ohm = 0.0;
};

enum class earthing { earthed, not_earthed, low_voltage, unknown, contradiction };

/// Class I has an earthed frame; 0, 0I and II have none; III lives from a safety extra-low voltage.
inline earthing earthing_of(const touch_facts& facts) {
  using machine::appliance_class;
  if (!facts.appliance_class) {
    if (!facts.frame_earthed) return earthing::unknown;
    return *facts.frame_earthed ? earthing::earthed : earthing::not_earthed;
  }
  constexpr double extra_low_voltage_V = 50.0;  // IEC 61140, alternating voltage (from memory, unverified)
  if (*facts.appliance_class == appliance_class::class_III)
    return facts.rated_voltage_V <= extra_low_voltage_V ? earthing::low_voltage : earthing::contradiction;
  if (*facts.appliance_class == appliance_class::class_I)
    return facts.frame_earthed.value_or(true) ? earthing::earthed : earthing::contradiction;
  return earthing::not_earthed;
}

namespace detail {

inline std::string_view class_key(const std::optional<machine::appliance_class>& value) {
  using machine::appliance_class;
  if (!value) return "unknown";
  switch (*value) {
    case appliance_class::class_0: return "class_0";
    case appliance_class::class_0I: return "class_0I";
    case appliance_class::class_I: return "class_I";
    case appliance_class::class_II: return "class_II";
    case appliance_class::class_III: return "class_III";
  }
  return "unknown";
}

struct leakage_limits {
  double strict;
  double lenient;
  std::string source;
};

inline leakage_limits leakage_limits_for(const touch_facts& facts, const policy& rules) {
  if (const auto own = rules.own("leakage_maximum_mA")) return {own->value, own->value, own->source};
  for (const auto& row : tables::leakage_maximum)
    if (row.appliance_class == class_key(facts.appliance_class))
      return {row.strict_mA, row.lenient_mA, std::string(row.source)};
  base::expect(false, "appliance_class", std::string(class_key(facts.appliance_class)),
               "a row of reference/limits/leakage_maximum.table");
  return {};
}

/// Conforms under the strict limit, fails above the lenient one, undecided between them.
inline finding leakage_in(const touch_facts::leakage_reading& reading, const leakage_limits& limits,
                          const policy& rules) {
  finding f{.check = check::leakage, .subject = reading.condition, .says = statement::leakage_limit,
            .quantity = "leakage_current", .source = limits.source};
  set_value(f, reading.current_mA, reading.standard_uncertainty_mA, "mA");
  f.limit_high = limits.strict;
  const auto under_strict = rules.judge(reading.current_mA, reading.standard_uncertainty_mA, {{}, limits.strict});
  const auto under_lenient = rules.judge(reading.current_mA, reading.standard_uncertainty_mA, {{}, limits.lenient});
  if (under_strict == outcome::conforms) f.outcome = outcome::conforms;
  else if (under_lenient == outcome::fails) f.outcome = outcome::fails;
  else f.outcome = outcome::undecided;
  f.numbers.push_back({"lenient", limits.lenient, 0.01});
  return f;
}

}  // namespace detail

/// Leakage: due where the frame is not earthed; judged wherever it was read.
inline std::vector<finding> leakage(const touch_facts& facts, const policy& rules) {
  std::vector<finding> out;
  const auto limits = detail::leakage_limits_for(facts, rules);
  for (const auto& reading : facts.leakage) out.push_back(detail::leakage_in(reading, limits, rules));
  if (!out.empty()) return out;
  const auto state = earthing_of(facts);
  finding f{.check = check::leakage, .says = statement::leakage_not_measured, .quantity = "leakage_current"};
  f.limit_high = limits.strict;
  f.source = limits.source;
  if (state == earthing::earthed || state == earthing::low_voltage) {
    f.bearing = bearing::does_not_apply;
    f.says = statement::leakage_not_due;
  } else if (state == earthing::unknown) {
    f.says = statement::earthing_unknown;
  }
  return {f};
}

/// Earth continuity: due where the frame is earthed; judged wherever it was read.
inline std::vector<finding> earth(const touch_facts& facts, const policy& rules) {
  const auto& row = tables::earth_continuity_maximum.front();
  const auto limit = rules.own("earth_maximum_ohm").value_or(verdict::limit{row.maximum_ohm, std::string(row.source)});
  finding f{.check = check::earth, .says = statement::earth_limit, .quantity = "earth_continuity",
            .source = limit.source};
  f.limit_high = limit.value;
  const auto state = earthing_of(facts);
  if (state == earthing::contradiction) {
    f.says = statement::earthing_contradiction;
    f.outcome = outcome::fails;
    return {f};
  }
  if (facts.earth_ohm) {
    set_value(f, *facts.earth_ohm, facts.earth_standard_uncertainty_ohm, "ohm");
    f.outcome = rules.judge(*facts.earth_ohm, facts.earth_standard_uncertainty_ohm, {{}, limit.value});
    return {f};
  }
  if (state == earthing::earthed) {
    f.says = statement::earth_not_measured;
  } else if (state == earthing::unknown) {
    f.says = statement::earthing_unknown;
  } else {
    f.bearing = bearing::does_not_apply;
    f.says = statement::earth_not_due;
  }
  return {f};
}

}  // namespace rewound::verdict::rules
