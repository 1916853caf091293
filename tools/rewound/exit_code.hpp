// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/verdict/decision.hpp>

// Exit codes of the command-line tool; the input and usage codes are those of sysexits.h.
namespace rewound::tool {

inline constexpr int released = 0;
inline constexpr int held = 10;
inline constexpr int undecided = 20;
inline constexpr int wrong_usage = 64;
inline constexpr int bad_input = 65;
inline constexpr int internal_error = 70;

/// The exit code that says a decision.
inline int exit_code_of(verdict::decision decision) {
  switch (decision) {
    case verdict::decision::release: return released;
    case verdict::decision::hold: return held;
    case verdict::decision::undecided: return undecided;
  }
  return internal_error;
}

}  // namespace rewound::tool
