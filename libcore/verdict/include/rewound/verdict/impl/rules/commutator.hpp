// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/commutator.hpp>

namespace rewound::verdict::rules {

REWOUND_INLINE std::vector<finding> commutator(const record::commutator_section& of,
                                               const std::optional<checks::section_balance_result>& bars,
                                               const policy& rules) {
  std::vector<finding> out;
  if (of.brush_length_mm && !of.brush_shortest_mm) {
    finding f{.check = check::commutator,
              .subject = "brushes",
              .bearing = bearing::informs,
              .says = statement::brush_length_alone,
              .quantity = "brush_length",
              .unit = "mm",
              .source = "the record's own entry"};
    f.value = *of.brush_length_mm;
    out.push_back(std::move(f));
  }
  if (!bars && of.bar_ohm.size() >= 2)
    out.push_back({.check = check::commutator,
                   .subject = "armature",
                   .outcome = outcome::fails,
                   .says = statement::bars_without_resistance,
                   .quantity = "bar_to_bar",
                   .source = "a coil has resistance (physics)"});
  if (of.brush_length_mm && of.brush_shortest_mm) {
    finding f{.check = check::commutator,
              .subject = "brushes",
              .says = statement::brush_length,
              .quantity = "brush_length",
              .unit = "mm",
              .source = "the record's own entry"};
    f.value = *of.brush_length_mm;
    f.limit_low = *of.brush_shortest_mm;
    f.outcome = *f.value >= *f.limit_low ? outcome::conforms : outcome::fails;
    out.push_back(std::move(f));
  }
  if (of.neutral) {
    const bool on = *of.neutral == record::brush_neutral::on_neutral;
    out.push_back({.check = check::commutator,
                   .subject = "brushes",
                   .outcome = on ? outcome::conforms : outcome::fails,
                   .says = on ? statement::brushes_on_neutral : statement::brushes_off_neutral,
                   .quantity = "brush_place",
                   .source = "the record's own entry"});
  }
  if (bars) {
    const auto limit = rules.practice.commutator_bars_percent;
    const auto& deviation = bars->deviation_percent;
    finding f{.check = check::commutator,
              .subject = "armature",
              .says = statement::bars_alike,
              .quantity = "bar_to_bar",
              .source = std::string(limit.source)};
    set_value(f, deviation.value, deviation.standard_uncertainty, "%");
    f.limit_low = -limit.value;
    f.limit_high = limit.value;
    f.outcome = rules.judge(deviation.value, deviation.standard_uncertainty, {-limit.value, limit.value});
    f.numbers = {{"number", static_cast<double>(bars->farthest + 1), 1.0},
                 {"of", static_cast<double>(of.bar_ohm.size()), 1.0}};
    out.push_back(std::move(f));
  }
  return out;
}

}  // namespace rewound::verdict::rules
