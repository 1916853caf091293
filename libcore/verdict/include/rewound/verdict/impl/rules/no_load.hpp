// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/no_load.hpp>
#include <rewound/checks/power_factor.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/no_load.hpp>

namespace rewound::verdict::rules {

namespace detail {

inline finding no_load_finding(const std::string& speed, statement says, std::string quantity) {
  return {.check = check::draw,
          .subject = speed,
          .bearing = bearing::informs,
          .says = says,
          .quantity = std::move(quantity),
          .source = "no-load test after IEEE 112, IEEE 114, IEC 60034-2-1 (from memory, unverified)"};
}

inline void set_watts(finding& f, const measurement::uncertain<units::power>& value) {
  set_value(f, units::in_watts(value.value), units::in_watts(value.standard_uncertainty), "W");
}

inline std::string why_not(const std::optional<checks::no_load_result>& result) {
  if (!result) return "no_resistance";
  switch (result->status) {
    case checks::no_load_status::too_few: return "too_few";
    case checks::no_load_status::not_told: return "not_told";
    case checks::no_load_status::below_nothing: return "below_nothing";
    case checks::no_load_status::separated: break;
  }
  return "";
}

/// What the core loss of this machine is mixed with: a second winding carries current at no load, and its loss is not
/// known apart; the rotor's is taken off by R2 / 4 of a single-phase machine.
inline std::string core_holds(const record::machine_section& of) {
  using enum record::running_circuit;
  if (of.running_circuit == permanent_capacitor || of.running_circuit == shaded_pole) return "second_winding";
  return of.phases == 3 || of.rotor_resistance_ohm ? "core" : "rotor";
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> no_load(const std::string& speed, const record::machine_section& of,
                                            const std::optional<checks::no_load_result>& found, const policy& rules) {
  const auto result = found.value_or(checks::no_load_result{});
  const auto highest = rules.practice.no_load_straight_percent.value;
  if (result.status != checks::no_load_status::separated) {
    auto f = detail::no_load_finding(speed, statement::no_load_not_separated, "friction_and_windage");
    if (result.status != checks::no_load_status::too_few) {
      detail::set_watts(f, result.friction_and_windage);
    } else {
      f.quantity = "straight_readings";
      f.value = result.used;
      f.unit = "1";
    }
    f.numbers = {{"used", static_cast<double>(result.used), 1.0}, {"highest", highest}};
    f.texts.emplace_back("why_not_separated", detail::why_not(found));
    return {std::move(f)};
  }
  auto friction = detail::no_load_finding(speed, statement::no_load_friction, "friction_and_windage");
  detail::set_watts(friction, result.friction_and_windage);
  friction.numbers = {{"used", static_cast<double>(result.used), 1.0},
                      {"from", units::in_volts(result.from)},
                      {"to", units::in_volts(result.to)}};
  std::vector<finding> out{std::move(friction)};
  if (!result.core) return out;
  auto core = detail::no_load_finding(speed, statement::no_load_core, "core_loss");
  detail::set_watts(core, *result.core);
  core.numbers = {{"volts", units::in_volts(result.core_at)}};
  core.texts.emplace_back("core_holds", detail::core_holds(of));
  out.push_back(std::move(core));
  return out;
}

REWOUND_INLINE finding power_factor(const std::string& speed, const record::run_up_row& row,
                                    const checks::power_factor_result& result) {
  finding f{.check = check::draw,
            .subject = speed,
            .bearing = bearing::informs,
            .says = statement::power_factor,
            .quantity = "power_factor",
            .source = "watts over volts times amperes; no standard limits it"};
  set_value(f, result.factor.value, result.factor.standard_uncertainty, "1");
  f.numbers = {{"volts", row.voltage_V},
               {"watts", *row.power_W},
               {"apparent", units::in_watts(result.apparent)},
               {"reactive", units::in_watts(result.reactive)}};
  return f;
}

}  // namespace rewound::verdict::rules
