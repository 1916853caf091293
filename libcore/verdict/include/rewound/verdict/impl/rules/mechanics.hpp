// SPDX-License-Identifier: MIT
#pragma once

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

}  // namespace detail

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
  if (visit.end_play_mm) out.push_back(detail::play("along", *visit.end_play_mm, rules.practice.end_play_most_mm));
  if (visit.side_play_mm) out.push_back(detail::play("across", *visit.side_play_mm, rules.practice.side_play_most_mm));
  return out;
}

}  // namespace rewound::verdict::rules
