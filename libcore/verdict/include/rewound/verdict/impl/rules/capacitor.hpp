// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/capacitor.hpp>

namespace rewound::verdict::rules {

REWOUND_INLINE std::vector<finding> capacitor(const record::capacitor_section& of,
                                              const std::optional<checks::capacitor_result>& measured,
                                              const policy& rules) {
  using key = tables::capacitor_key;
  const auto row = rules.row(tables::capacitor, of.kind == record::capacitor_kind::start ? key::start : key::run);
  const auto about = [&](statement says, const char* quantity) {
    return finding{.check = check::capacitor,
                   .subject = of.name,
                   .says = says,
                   .quantity = quantity,
                   .source = std::string(row.source)};
  };
  std::vector<finding> out;
  if (measured) {
    auto f = about(statement::capacitor_value, "capacitance_deviation");
    const auto& deviation = measured->deviation_percent;
    set_value(f, deviation.value, deviation.standard_uncertainty, "%");
    f.limit_low = -of.marked_tolerance_percent.value_or(row.low_percent);
    f.limit_high = of.marked_tolerance_percent.value_or(row.high_percent);
    if (of.marked_tolerance_percent) f.source = "the tolerance that is marked on it";
    f.outcome = rules.judge(deviation.value, deviation.standard_uncertainty, {f.limit_low, f.limit_high});
    const double micro = 1e6;
    f.numbers = {{"microfarads", micro * units::in_farads(measured->measured.value),
                  micro * units::in_farads(measured->measured.standard_uncertainty)},
                 {"marked", of.marked_uF}};
    out.push_back(std::move(f));
  } else {
    auto f = about(statement::capacitor_not_measured, "capacitance");
    f.bearing = bearing::informs;
    out.push_back(std::move(f));
  }
  if (of.loss) {
    auto f = about(statement::capacitor_loss, "loss");
    f.value = *of.loss;
    f.unit = "1";
    f.limit_high = row.loss;
    f.outcome = *of.loss <= row.loss ? outcome::conforms : outcome::fails;
    out.push_back(std::move(f));
  }
  if (of.voltage_V && of.marked_V) {
    auto f = about(statement::capacitor_voltage, "voltage_across");
    f.value = *of.voltage_V;
    f.unit = "V";
    f.limit_high = row.voltage_factor * *of.marked_V;
    f.outcome = *f.value <= *f.limit_high ? outcome::conforms : outcome::fails;
    f.numbers = {{"marked_V", *of.marked_V}};
    out.push_back(std::move(f));
  }
  return out;
}

REWOUND_INLINE finding capacitor_not_entered(bool amperes_alone) {
  return {.check = check::capacitor,
          .bearing = bearing::informs,
          .says = amperes_alone ? statement::capacitor_and_rotor_unseen : statement::capacitor_not_measured,
          .quantity = "capacitance",
          .source = "common practice, no source (a run-up shows little of a capacitor's loss of value)"};
}

REWOUND_INLINE finding rotor_unseen() {
  return {.check = check::readings,
          .bearing = bearing::informs,
          .says = statement::rotor_unseen,
          .quantity = "rotation",
          .source =
              "common practice, no source (the current of a small machine is mostly magnetising: it hardly knows "
              "of its rotor)"};
}

}  // namespace rewound::verdict::rules
