// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/section_balance.hpp>
#include <rewound/checks/section_order.hpp>
#include <rewound/machine/speed_control.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/resistance_sections.hpp>

namespace rewound::verdict::rules {

REWOUND_INLINE finding resistance_balance(const std::string& group, const std::string& farthest,
                                          const checks::section_balance_result& result,
                                          const std::optional<record::winding_kind>& kind, const policy& rules) {
  using key = tables::resistance_balance_key;
  const bool form = kind == record::winding_kind::form_wound;
  const auto row = rules.row(tables::resistance_balance, form ? key::form_wound : key::random_wound);
  const auto& deviation = result.deviation_percent;
  finding f{.check = check::resistance,
            .subject = group,
            .says = statement::resistance_balance,
            .quantity = "resistance_balance",
            .source = std::string(row.source)};
  set_value(f, deviation.value, deviation.standard_uncertainty, "%");
  f.limit_low = -row.percent;
  f.limit_high = row.percent;
  f.outcome = rules.judge(deviation.value, deviation.standard_uncertainty, {-row.percent, row.percent});
  f.texts = {{"farthest", farthest}};
  return f;
}

REWOUND_INLINE finding resistance_order(const std::vector<std::string>& speeds,
                                        const checks::section_order_result& result, record::speed_control control,
                                        const policy& rules, bool by_name) {
  const char* source = "circuit theory: each slower speed has more winding, choke or resistor in its path";
  finding f{
      .check = check::resistance, .says = statement::resistance_order, .quantity = "resistance_rise", .source = source};
  std::size_t worst = 0;
  const auto& rise = result.rise_percent;
  const auto sureness = [&](std::size_t i) { return rise[i].value / rise[i].standard_uncertainty; };
  for (std::size_t i = 1; i < rise.size(); ++i)
    if (sureness(i) < sureness(worst)) worst = i;
  set_value(f, rise[worst].value, rise[worst].standard_uncertainty, "%");
  f.subject = speeds[worst + 1];
  f.texts = {{"faster", speeds[worst]}};
  if (machine::resistance_rises(control)) {
    f.limit_low = 0.0;
    f.outcome = rules.judge(rise[worst].value, rise[worst].standard_uncertainty, {0.0, {}});
    if (by_name && f.outcome == outcome::fails) {
      f.says = statement::resistance_order_by_name;
      f.outcome = outcome::undecided;
    }
    return f;
  }
  f.says = statement::resistance_order_not_promised;
  f.bearing = bearing::informs;
  return f;
}

}  // namespace rewound::verdict::rules
