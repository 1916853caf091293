// SPDX-License-Identifier: MIT
#pragma once

#include <compare>
#include <string>

namespace rewound::record {

/// A calendar day as written, already known to exist.
struct date {
  int year = 0;
  int month = 0;
  int day = 0;

  std::string iso() const;
  friend bool operator==(const date&, const date&) = default;
  friend auto operator<=>(const date&, const date&) = default;
};

}  // namespace rewound::record

#ifndef REWOUND_COMPILED
#include <rewound/record/impl/date.hpp>
#endif
