// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string_view>
#include <vector>

#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict {

enum class decision { release, hold, undecided };

constexpr std::string_view name(decision value) {
  switch (value) {
    case decision::release: return "release";
    case decision::hold: return "hold";
    case decision::undecided: return "undecided";
  }
  return "";
}

/// A decision and the findings that stand behind it, weightiest first.
struct decided {
  verdict::decision decision;
  std::vector<std::size_t> failing;  ///< places in the list of findings
  std::vector<std::size_t> open;     ///< needed, but undecided or not tested
  std::vector<check> absent;         ///< needed checks that left no finding at all
  std::vector<std::size_t> steps;    ///< of those that fail or are open, whose advice may be followed now, in order
  bool may_energise = true;          ///< insulation, earth and leakage neither fail nor are missing
};

/// Whether what a finding advises is done with the machine under power.
bool advises_power(const finding& f);

/// The meter that is needed for what a finding advises, as records name it; empty where none is.
std::string_view meter_for(const finding& f);

/// Any failing finding holds the machine. Any needed check that is undecided or missing leaves it undecided.
/// Only a machine whose every needed check conforms is released: missing or undecided never releases.
/// No step under power is proposed while insulation, earth or leakage fail or are missing; what needs no current comes
/// first.
decided decide(const std::vector<finding>& findings, const policy& rules);

}  // namespace rewound::verdict

#ifndef REWOUND_COMPILED
#include <rewound/verdict/impl/decision.hpp>
#endif
