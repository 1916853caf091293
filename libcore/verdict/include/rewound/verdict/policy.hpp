// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
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

/// Names of standards' limits that a shop may replace; those of reference/limits/practice.table may be replaced as
/// well.
inline constexpr std::array<std::string_view, 5> replaceable_limits{
    "nameplate_upper_percent", "insulation_minimum_Mohm", "polarization_index_minimum", "leakage_maximum_mA",
    "earth_maximum_ohm"};

/// Tables of reference/limits/ whose rows a shop may lay its own numbers over: those that rules read through
/// policy::laid. The others stand as they are, or are replaced by the names above.
inline constexpr std::array<std::string_view, 9> layable_tables{
    "leakage_maximum",  "earth_continuity_maximum", "withstand_voltage",
    "withstand_factor", "resistance_balance",       "cord_minimum_area",
    "cord_ampacity",    "earth_grounding_maximum",  "heat_rise"};

/// The market that a machine is repaired for: whose standards decide where those of the two differ.
enum class market {
  by_frequency,  ///< UL and NEMA for machines of 60 Hz, IEC for all others (common practice, no source)
  iec,
  north_america  ///< UL and NEMA
};

/// Whose withstand voltage decides where IEC 60034-1 and NEMA MG 1 (with AR100) differ.
enum class withstand_standard {
  by_frequency,  ///< that of the market, which is by frequency unless the policy says otherwise
  iec,
  nema,
  stricter  ///< the higher of the two
};

/// The shop's own numbers for one row of a table.
struct own_row {
  std::string table;
  std::string row;                                    ///< the text of the row's first cell
  std::map<std::string, double, std::less<>> values;  ///< by column
  std::string source;
};

/// One number of the shop's own, for the report.
struct own_number {
  std::string name;  ///< a limit's name, or table.row.column
  double value;
  std::string source;
};

/// What a release needs, and the shop's own limits laid over the tables of reference/limits/.
struct policy {
  std::string name = "default";
  std::vector<check> needed;
  std::vector<std::string> required_checks;     ///< keys of the record's [checks] that must be true
  bool polarization_index_informs_only = true;  ///< on random-wound machines, unless it is needed
  market sold_in = market::by_frequency;
  withstand_standard withstand_by = withstand_standard::by_frequency;
  bool leakage_all_combinations = false;  ///< both polarities, switch on and off, or leakage stays undecided
  std::map<std::string, double, std::less<>> own_limits;
  std::map<std::string, std::string, std::less<>> own_sources;  ///< of own_limits, where the shop states one
  std::vector<own_row> own_rows;

  bool needs(check c) const {
    for (const check n : needed)
      if (n == c) return true;
    return false;
  }

  /// The one place that says whose standards apply: iec or north_america.
  market market_of(double rated_frequency_Hz) const {
    if (sold_in != market::by_frequency) return sold_in;
    return rated_frequency_Hz == 60.0 ? market::north_america : market::iec;
  }

  /// The shop's own value for a standard's limit, when it has one.
  std::optional<limit> own(std::string_view key) const {
    const auto found = own_limits.find(key);
    if (found == own_limits.end()) return std::nullopt;
    const auto stated = own_sources.find(key);
    return limit{found->second,
                 "the shop's own limit " + (stated == own_sources.end() ? found->first : stated->second)};
  }

  /// A table of reference/limits/ with the shop's own numbers laid over it, their source with them. The sources of
  /// those rows are held by this policy and live no longer than it does.
  template <class Row, std::size_t N>
  std::array<Row, N> laid(const std::array<Row, N>& table) const {
    using about = tables::table_of<Row>;
    auto out = table;
    for (const auto& own : own_rows) {
      if (own.table != about::name) continue;
      for (std::size_t i = 0; i < N; ++i) {
        if (about::keys[i] != own.row) continue;
        out[i].source = own.source;
        for (const auto& column : about::numbers)
          if (const auto found = own.values.find(column.name); found != own.values.end())
            out[i].*column.member = found->second;
      }
    }
    return out;
  }

  /// The row of a table whose first cell has this text, with the shop's own numbers laid over it.
  ///
  /// @throws base::error (precondition) for a name that the table does not have
  template <class Row, std::size_t N>
  Row row(const std::array<Row, N>& table, std::string_view key) const {
    const auto rows = laid(table);
    for (std::size_t i = 0; i < N; ++i)
      if (tables::table_of<Row>::keys[i] == key) return rows[i];
    base::expect(false, "row", std::string(key), "a row of the table");
    return rows.front();
  }

  /// Every number that the shop has laid over ours.
  std::vector<own_number> own_numbers() const {
    std::vector<own_number> out;
    for (const auto& [key, value] : own_limits) out.push_back({key, value, own(key)->source});
    for (const auto& own : own_rows)
      for (const auto& [column, value] : own.values)
        out.push_back({own.table + "." + own.row + "." + column, value, own.source});
    return out;
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
