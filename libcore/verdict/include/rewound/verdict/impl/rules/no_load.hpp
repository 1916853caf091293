// SPDX-License-Identifier: MIT
#pragma once

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

inline finding no_load_finding(const no_load_facts& facts, statement says, std::string quantity) {
  return {.check = check::draw,
          .subject = facts.speed,
          .bearing = bearing::informs,
          .says = says,
          .quantity = std::move(quantity),
          .source = "no-load test after IEEE 112, IEEE 114, IEC 60034-2-1 (from memory, unverified)"};
}

inline void set_watts(finding& f, const measurement::uncertain<units::power>& value) {
  set_value(f, units::in_watts(value.value), units::in_watts(value.standard_uncertainty), "W");
}

inline std::string why_not(const no_load_facts& facts) {
  if (!facts.resistance_known) return "no_resistance";
  switch (facts.result.status) {
    case checks::no_load_status::too_few: return "too_few";
    case checks::no_load_status::not_told: return "not_told";
    case checks::no_load_status::below_nothing: return "below_nothing";
    case checks::no_load_status::separated: break;
  }
  return "";
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> no_load(const no_load_facts& facts, const policy& rules) {
  const auto& result = facts.result;
  const auto highest = rules.practice.no_load_straight_percent.value;
  if (!facts.resistance_known || result.status != checks::no_load_status::separated) {
    auto f = detail::no_load_finding(facts, statement::no_load_not_separated, "friction_and_windage");
    if (facts.resistance_known && result.status != checks::no_load_status::too_few) {
      detail::set_watts(f, result.friction_and_windage);
    } else {
      f.quantity = "straight_readings";
      f.value = result.used;
      f.unit = "1";
    }
    f.numbers = {{"used", static_cast<double>(result.used), 1.0}, {"highest", highest}};
    f.texts.emplace_back("why_not_separated", detail::why_not(facts));
    return {std::move(f)};
  }
  auto friction = detail::no_load_finding(facts, statement::no_load_friction, "friction_and_windage");
  detail::set_watts(friction, result.friction_and_windage);
  friction.numbers = {{"used", static_cast<double>(result.used), 1.0},
                      {"from", units::in_volts(result.from)},
                      {"to", units::in_volts(result.to)}};
  std::vector<finding> out{std::move(friction)};
  if (!result.core) return out;
  auto core = detail::no_load_finding(facts, statement::no_load_core, "core_loss");
  detail::set_watts(core, *result.core);
  core.numbers = {{"volts", units::in_volts(result.core_at)}};
  core.texts.emplace_back("core_holds", facts.second_winding     ? "second_winding"
                                        : facts.rotor_subtracted ? "core"
                                                                 : "rotor");
  out.push_back(std::move(core));
  return out;
}

REWOUND_INLINE finding power_factor(const power_factor_facts& facts) {
  finding f{.check = check::draw,
            .subject = facts.speed,
            .bearing = bearing::informs,
            .says = statement::power_factor,
            .quantity = "power_factor",
            .source = "watts over volts times amperes; no standard limits it"};
  const auto& result = facts.result;
  set_value(f, result.factor.value, result.factor.standard_uncertainty, "1");
  f.numbers = {{"volts", facts.voltage_V},
               {"watts", facts.power_W},
               {"apparent", units::in_watts(result.apparent)},
               {"reactive", units::in_watts(result.reactive)}};
  return f;
}

}  // namespace rewound::verdict::rules
