// SPDX-License-Identifier: MIT
#include <string>

#include "answers.hpp"

// What the page's worker calls: one text in, one text out.
extern "C" const char* rewound_answer(const char* question) {
  static std::string kept;  // until the next question
  kept = rewound::page::answer(question);
  return kept.c_str();
}
