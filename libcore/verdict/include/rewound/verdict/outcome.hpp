// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

namespace rewound::verdict {

/// What a finding came to. "undecided": it was measured, but the limit lies within the uncertainty or something is
/// missing.
enum class outcome { conforms, fails, undecided, not_tested };

constexpr std::string_view name(outcome value) {
  switch (value) {
    case outcome::conforms: return "conforms";
    case outcome::fails: return "fails";
    case outcome::undecided: return "undecided";
    case outcome::not_tested: return "not_tested";
  }
  return "";
}

/// From the probability that the true value conforms to the limit (JCGM 106:2012): near one conforms, near zero
/// fails, anything between is undecided.
constexpr outcome by_probability(double conforming, double conforms_from, double fails_to) {
  if (conforming >= conforms_from) return outcome::conforms;
  if (conforming <= fails_to) return outcome::fails;
  return outcome::undecided;
}

}  // namespace rewound::verdict
