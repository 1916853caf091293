// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/base/expect.hpp>
#include <rewound/measurement/conformity.hpp>
#include <rewound/verdict/check.hpp>
#include <rewound/verdict/limit_tables.hpp>
#include <rewound/verdict/outcome.hpp>

namespace rewound::verdict {

/// A number that findings are judged by, and where it comes from.
struct limit {
  double value;
  std::string source;
};

/// Names of standards' limits that a shop may replace; those of reference/limits/practice.table may be replaced as well.
inline constexpr std::array<std::string_view, 5> replaceable_limits{
    "nameplate_upper_percent", "insulation_minimum_Mohm", "polarization_index_minimum", "leakage_maximum_mA",
    "earth_maximum_ohm"};

/// What a release needs, and the shop's own limits laid over the tables of reference/limits/.
struct policy {
  std::string name = "default";
  std::vector<check> needed;
  std::vector<std::string> required_checks;       ///< keys of the record's [checks] that must be true
  bool polarization_index_informs_only = false;   ///< on random-wound machines
  std::map<std::string, double, std::less<>> own_limits;

  bool needs(check c) const {
    for (const check n : needed)
      if (n == c) return true;
    return false;
  }

  /// The shop's own value for a standard's limit, when it has one.
  std::optional<limit> own(std::string_view key) const {
    const auto found = own_limits.find(key);
    if (found == own_limits.end()) return std::nullopt;
    return limit{found->second, "the shop's own limit " + found->first};
  }

  /// The shop's own value, or else the one of reference/limits/practice.table.
  ///
  /// @throws base::error (precondition) for a name that the table does not have
  limit practice(std::string_view key) const {
    if (const auto replaced = own(key)) return *replaced;
    for (const auto& row : tables::practice)
      if (row.name == key) return {row.value, std::string(row.source)};
    base::expect(false, "limit", std::string(key), "a name of reference/limits/practice.table");
    return {};
  }

  /// Outcome of a value with a normal standard uncertainty against a tolerance (JCGM 106:2012).
  outcome judge(double value, double standard_uncertainty, const measurement::tolerance& limits) const {
    return by_probability(measurement::conformity_probability(value, standard_uncertainty, limits),
                          practice("conforming_probability").value, practice("failing_probability").value);
  }
};

}  // namespace rewound::verdict
