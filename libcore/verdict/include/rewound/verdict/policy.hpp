// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/base/expect.hpp>
#include <rewound/measurement/conformity.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/check.hpp>
#include <rewound/verdict/limit.hpp>
#include <rewound/verdict/limit_tables.hpp>
#include <rewound/verdict/outcome.hpp>
#include <rewound/verdict/practice_numbers.hpp>

namespace rewound::verdict {

/// Standards' limits that a shop may replace, where it has. Those of reference/limits/practice.table may be replaced as
/// well.
struct replaced_limits {
  std::optional<limit> nameplate_upper_percent;
  std::optional<limit> insulation_minimum_Mohm;
  std::optional<limit> polarization_index_minimum;
  std::optional<limit> leakage_maximum_mA;
  std::optional<limit> earth_maximum_ohm;
};

/// One of them by its name in policy files, and what it may be replaced by (project's choice, wide enough for any
/// bench).
struct replaceable_limit {
  std::string_view name;
  std::optional<limit> replaced_limits::*member;
  double low;
  double high;
  std::string_view unit;
};

inline constexpr std::array<replaceable_limit, 5> replaceable_limits{{
    {"nameplate_upper_percent", &replaced_limits::nameplate_upper_percent, 0.0, 1000.0, "%"},
    {"insulation_minimum_Mohm", &replaced_limits::insulation_minimum_Mohm, 0.0, 1e6, "Mohm"},
    {"polarization_index_minimum", &replaced_limits::polarization_index_minimum, 0.0, 100.0, "1"},
    {"leakage_maximum_mA", &replaced_limits::leakage_maximum_mA, 0.0, 1000.0, "mA"},
    {"earth_maximum_ohm", &replaced_limits::earth_maximum_ohm, 0.0, 1000.0, "ohm"},
}};

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
  std::vector<std::string> required_checks;  ///< keys of the record's [checks] that must be true
  std::vector<std::string>
      equipment;  ///< of the shop, where a record does not say what there is (words of [visit] have)
  bool polarization_index_informs_only = true;  ///< on random-wound machines, unless it is needed
  market sold_in = market::by_frequency;
  withstand_standard withstand_by = withstand_standard::by_frequency;
  bool leakage_all_combinations = false;  ///< both polarities, switch on and off, or leakage stays undecided
  practice_numbers practice;              ///< the table's, with the shop's own laid over them by lay()
  replaced_limits replaced;
  std::vector<own_row> own_rows;

  bool needs(check c) const {
    for (const check n : needed)
      if (n == c) return true;
    return false;
  }

  /// The one place that says whose standards apply: iec or north_america.
  ///
  /// Of one machine its record says more than the shop's policy, and the policy more than the frequency.
  market market_of(const record::machine_section& of) const {
    if (of.market) return *of.market == record::market::iec ? market::iec : market::north_america;
    if (sold_in != market::by_frequency) return sold_in;
    return of.rated_frequency_Hz == 60.0 ? market::north_america : market::iec;
  }

  /// How far the supply may lie from the rating, by that market.
  const tables::supply_window_row& supply_window(const record::machine_section& of) const {
    return tables::supply_window[market_of(of) == market::iec ? 1 : 0];
  }

  /// Lays the shop's own value over one of reference/limits/practice.table.
  ///
  /// @param source  where the shop has it from; the number's name where it does not say
  /// @throws base::error (precondition) for a value outside of the table's range
  void lay(const practice_number& over, double value, std::string_view source = {}) {
    base::expect(over.row.low <= value && value <= over.row.high, over.row.name.data(), value,
                 "a number from low to high of its row in reference/limits/practice.table");
    own_texts_.push_back(std::make_shared<const std::string>(own_source(over.row.name, source)));
    practice.*over.member = {value, *own_texts_.back()};
  }

  /// The same over a standard's limit.
  void lay(const replaceable_limit& over, double value, std::string_view source = {}) {
    base::expect(over.low <= value && value <= over.high, over.name.data(), value, "a number in the limit's range");
    replaced.*over.member = limit{value, own_source(over.name, source)};
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

  /// A row of a table, with the shop's own numbers laid over it.
  template <class Row, std::size_t N>
  Row row(const std::array<Row, N>& table, typename tables::table_of<Row>::key key) const {
    return laid(table)[static_cast<std::size_t>(key)];
  }

  /// The same of a table whose rows are named by what a record says: the row whose first cell has this text.
  ///
  /// @throws base::error (precondition) for a name that the table does not have
  template <class Row, std::size_t N>
  Row row(const std::array<Row, N>& table, std::string_view key) const {
    const auto& keys = tables::table_of<Row>::keys;
    const auto found = std::find(keys.begin(), keys.end(), key);
    base::expect(found != keys.end(), "row", std::string(key), "a row of the table");
    return laid(table)[static_cast<std::size_t>(std::distance(keys.begin(), found))];
  }

  /// Whether a number with this source is one that the shop laid over ours.
  static bool shops_own(std::string_view source) { return source.starts_with(own_words); }

  /// Every number that the shop has laid over ours: limits by name, then rows of tables.
  std::vector<own_number> own_numbers() const {
    std::vector<own_number> out;
    for (const auto& number : practice_list) {
      const auto& [value, source] = practice.*number.member;
      if (value != number.row.value || source != number.row.source)
        out.push_back({std::string(number.row.name), value, std::string(source)});
    }
    for (const auto& over : replaceable_limits)
      if (const auto& own = replaced.*over.member) out.push_back({std::string(over.name), own->value, own->source});
    std::sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.name < b.name; });
    for (const auto& own : own_rows)
      for (const auto& [column, value] : own.values)
        out.push_back({own.table + "." + own.row + "." + column, value, own.source});
    return out;
  }

  /// Outcome of a value with a normal standard uncertainty against a tolerance (JCGM 106:2012).
  outcome judge(double value, double standard_uncertainty, const measurement::tolerance& limits) const {
    return by_probability(measurement::conformity_probability(value, standard_uncertainty, limits),
                          practice.conforming_probability.value, practice.failing_probability.value);
  }

 private:
  static constexpr std::string_view own_words = "the shop's own limit ";
  static std::string own_source(std::string_view name, std::string_view stated) {
    return std::string(own_words) + std::string(stated.empty() ? name : stated);
  }

  std::vector<std::shared_ptr<const std::string>> own_texts_;  ///< sources that `practice` names, shared with copies
};

}  // namespace rewound::verdict
