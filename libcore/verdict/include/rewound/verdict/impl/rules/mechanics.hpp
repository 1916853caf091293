// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/impl/words.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/mechanics.hpp>

namespace rewound::verdict::rules {

namespace detail {

/// A speed on which it was started, where all starts say on which, and none was made on the slowest.
inline std::optional<std::string> faster_speed_started(const record::visit_record& in) {
  if (in.starts.empty() || in.machine.speeds.size() < 2) return std::nullopt;
  for (const auto& entry : in.starts)
    if (!entry.speed || *entry.speed == in.machine.speeds.back()) return std::nullopt;
  return in.starts.front().speed;
}

inline finding play(const char* direction, double mm, const practice_limit& most) {
  finding f{.check = check::mechanics,
            .subject = direction,
            .outcome = mm <= most.value ? outcome::conforms : outcome::undecided,
            .says = statement::shaft_play,
            .quantity = "shaft_play",
            .source = std::string(most.source)};
  f.value = mm;
  f.unit = "mm";
  f.limit_high = most.value;
  return f;
}

/// A protector that opens above what its winding's class may ever reach does not protect it; one that closes by itself
/// starts the machine without warning.
inline void tell_protector(const record::machine_section& of, std::vector<finding>& out) {
  const bool there = of.thermal_protector && *of.thermal_protector != record::thermal_protector::none;
  if (of.protector_C && (there || !of.thermal_protector)) {
    const auto wanted = std::to_string(of.insulation_class ? static_cast<int>(*of.insulation_class) : 105);
    for (const auto& row : tables::protector_maximum) {
      if (row.class_C != wanted) continue;
      finding f{.check = check::mechanics,
                .says = statement::protector_temperature,
                .quantity = "protector_temperature",
                .unit = "degC",
                .source = std::string(row.source)};
      f.value = *of.protector_C;
      f.limit_high = row.most_C;
      f.outcome = *f.value <= row.most_C ? outcome::conforms : outcome::undecided;
      f.texts = {{"protector_class", of.insulation_class ? "stated" : "unstated"}};
      f.numbers = {{"class_C", of.insulation_class ? static_cast<double>(*of.insulation_class) : 105.0}};
      out.push_back(std::move(f));
    }
  }
  if (of.thermal_protector == record::thermal_protector::self_resetting)
    out.push_back({.check = check::mechanics,
                   .bearing = bearing::informs,
                   .says = statement::protector_resets,
                   .quantity = "protector",
                   .source = "the record's own entry"});
}

}  // namespace detail

REWOUND_INLINE finding turns_slowly(const slow_turning& in, record::running_circuit circuit) {
  finding f{.check = check::mechanics,
            .subject = in.speed,
            .outcome = in.says == statement::turns_slower_than_before ? outcome::fails : outcome::undecided,
            .says = in.says,
            .quantity = "rotation",
            .unit = "rpm",
            .source = std::string(in.most.source)};
  f.value = in.rpm;
  f.numbers = {{"beside", std::round(in.beside_rpm)},
               {"below", std::round(100.0 * (1.0 - in.rpm / in.beside_rpm))},
               {"most", in.most.value}};
  f.texts = {{"slow_part", detail::word_of(record::words::running_circuit, circuit)}};
  return f;
}

REWOUND_INLINE std::vector<finding> mechanics(const record::visit_record& in, const policy& rules) {
  std::vector<finding> out;
  const auto& visit = in.visit;
  if (visit.rotation && in.machine.rated_rotation) {
    const bool right = *visit.rotation == *in.machine.rated_rotation;
    out.push_back({.check = check::mechanics,
                   .outcome = right ? outcome::conforms : outcome::fails,
                   .says = right ? statement::turns_as_marked : statement::turns_the_other_way,
                   .quantity = "direction_of_rotation",
                   .source = "the record's own entries",
                   .texts = {{"turned", detail::word_of(record::words::rotation, *visit.rotation)}}});
  }
  for (const auto& entry : in.starts)
    if (entry.needed_push)
      out.push_back({.check = check::mechanics,
                     .subject = entry.position,
                     .outcome = outcome::fails,
                     .says = statement::started_by_push,
                     .quantity = "push",
                     .source = "the record's own entry"});
  if (const auto speed = detail::faster_speed_started(in))
    out.push_back({.check = check::mechanics,
                   .subject = *speed,
                   .bearing = bearing::informs,
                   .says = statement::starts_not_on_slowest,
                   .quantity = "speed_of_starts",
                   .source = "common practice, no source (the slowest speed has the least torque to start with)",
                   .texts = {{"slowest", in.machine.speeds.back()}}});
  if (visit.noise) {
    const bool plain = *visit.noise == record::running_noise::quiet || *visit.noise == record::running_noise::hum;
    out.push_back({.check = check::mechanics,
                   .outcome = plain ? outcome::conforms : outcome::undecided,
                   .says = plain ? statement::noise_usual : statement::noise_heard,
                   .quantity = "noise",
                   .source = "the record's own entry",
                   .texts = {{"noise", detail::word_of(record::words::noise, *visit.noise)}}});
  }
  detail::tell_protector(in.machine, out);
  if (visit.end_play_mm) out.push_back(detail::play("along", *visit.end_play_mm, rules.practice.end_play_most_mm));
  if (visit.side_play_mm) out.push_back(detail::play("across", *visit.side_play_mm, rules.practice.side_play_most_mm));
  return out;
}

}  // namespace rewound::verdict::rules
