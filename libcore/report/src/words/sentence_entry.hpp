// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/report/wording.hpp>

namespace rewound::report {

/// One statement's words. The tables of them together hold each statement once (phrases.cpp asserts it).
struct sentence_entry {
  verdict::statement says;
  words text;
};

}  // namespace rewound::report
