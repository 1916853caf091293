// SPDX-License-Identifier: MIT
#include <rewound/job/policy_file.hpp>

#include <algorithm>
#include <array>

#include "default_policy_text.hpp"
#include <rewound/record/fields.hpp>
#include <rewound/record/words.hpp>

namespace rewound::job {

using base::error;
using base::error_code;

namespace {

constexpr const char* policy_format = "rewound-policy/1";

std::vector<verdict::check> read_needed(record::fields& in) {
  std::vector<verdict::check> out;
  for (const auto& word : in.optional_texts("needed")) {
    const auto check = verdict::check_named(word);
    if (!check) {
      std::string names;
      for (const auto& name : verdict::check_names) names += (names.empty() ? "" : ", ") + std::string(name);
      throw error(error_code::not_a_choice, in.place_of("needed"), "\"" + word + "\"", "names of checks: " + names);
    }
    out.push_back(*check);
  }
  return out;
}

/// "from 1 to 100000 starts", and what it is where no policy says otherwise.
std::string range_words(double low, double high, std::string_view unit, std::optional<double> ours) {
  std::string out = "a number from " + record::shown_number(low) + " to " + record::shown_number(high);
  if (unit != "1") out += " " + std::string(unit);
  if (ours) out += ", ours is " + record::shown_number(*ours);
  return out;
}

struct own_limit {
  double value;
  std::string source;  ///< empty where none is stated
};

/// A number, or a number with where it comes from: name = 8 or name = { value = 8, source = "..." }.
std::optional<own_limit> read_own_limit(record::fields& in, std::string_view name, const record::range& allowed) {
  const std::string key(name);
  if (!in.holds_table(key.c_str())) {
    const auto value = in.optional_number(key.c_str(), allowed);
    return value ? std::optional(own_limit{*value, ""}) : std::nullopt;
  }
  auto entry = in.table(key.c_str());
  own_limit out{entry.number("value", allowed), entry.text("source")};
  entry.finish();
  return out;
}

/// [limits.TABLE.ROW]: columns of numbers, and the source of them all.
template <class Row, std::size_t N>
void read_own_rows(record::fields& limits, const std::array<Row, N>& ours, verdict::policy& out) {
  using about = verdict::tables::table_of<Row>;
  const std::string name(about::name);
  if (!limits.has(name.c_str())) return;
  for (const auto& over : verdict::replaceable_limits)
    if (over.name == about::name) return;  // a limit that bears a table's name
  if (std::find(verdict::layable_tables.begin(), verdict::layable_tables.end(), about::name) ==
      verdict::layable_tables.end()) {
    std::string listed;
    for (const auto& table : verdict::layable_tables) listed += (listed.empty() ? "" : ", ") + std::string(table);
    throw error(error_code::not_a_choice, limits.place_of(name.c_str()), "a table that no policy lays over",
                "names of limits, or one of the tables " + listed);
  }
  auto table = limits.table(name.c_str());
  for (std::size_t i = 0; i < N; ++i) {
    const std::string key(about::keys[i]);
    auto row = table.optional_table(key.c_str());
    if (!row) continue;
    verdict::own_row own{name, key, {}, "the shop's own limit " + row->text("source")};
    // Nothing that has a value of ours may be put to nothing: some of them divide.
    for (const auto& column : about::numbers)
      if (const auto value =
              row->optional_number(std::string(column.name).c_str(),
                                   ours[i].*column.member > 0.0 ? record::above_zero : record::not_negative))
        own.values.emplace(column.name, *value);
    row->finish();
    if (own.values.empty())
      throw error(error_code::missing_key, row->place(), "no number", "a number for one of the row's columns");
    out.own_rows.push_back(std::move(own));
  }
  table.finish();
}

void read_limits(record::fields& in, verdict::policy& out) {
  for (const auto& over : verdict::replaceable_limits) {
    const auto words = range_words(over.low, over.high, over.unit, std::nullopt);
    if (const auto own = read_own_limit(in, over.name, {over.low, over.high, words.c_str()}))
      out.lay(over, own->value, own->source);
  }
  for (const auto& number : verdict::practice_list) {
    const auto& row = number.row;
    const auto words = range_words(row.low, row.high, row.unit, row.value);
    if (const auto own = read_own_limit(in, row.name, {row.low, row.high, words.c_str()}))
      out.lay(number, own->value, own->source);
  }
  for (const auto name : verdict::layable_tables) in.skip(std::string(name).c_str());
  verdict::tables::for_each_table([&](const auto& table) { read_own_rows(in, table, out); });
  in.finish();
}

std::vector<std::string> read_equipment(record::fields& root) {
  auto out = root.optional_texts("equipment");
  for (const auto& each : out) {
    if (std::find(record::words::equipment.begin(), record::words::equipment.end(), each) !=
        record::words::equipment.end())
      continue;
    std::string listed;
    for (const char* known : record::words::equipment) listed += (listed.empty() ? "" : ", ") + std::string(known);
    throw error(error_code::not_a_choice, root.place_of("equipment"), "\"" + each + "\"", "one of " + listed);
  }
  return out;
}

verdict::policy read_policy(const record::node& document, verdict::policy out) {
  record::fields root(document, "");
  root.expect_format(policy_format);
  if (const auto name = root.optional_text("name")) out.name = *name;
  if (root.has("needed")) out.needed = read_needed(root);
  // Whatever a shop asks for, a suspect reading is never passed over.
  if (!out.needs(verdict::check::readings)) out.needed.push_back(verdict::check::readings);
  if (root.has("required_checks")) out.required_checks = root.optional_texts("required_checks");
  if (!out.required_checks.empty() && !out.needs(verdict::check::checks)) out.needed.push_back(verdict::check::checks);
  if (root.has("equipment")) out.equipment = read_equipment(root);
  if (const auto flag = root.optional_flag("polarization_index_informs_only"))
    out.polarization_index_informs_only = *flag;
  using verdict::market;
  if (const auto chosen = root.optional_choice<market>(
          "market", {{"by_frequency", market::by_frequency}, {"IEC", market::iec}, {"UL", market::north_america}}))
    out.sold_in = *chosen;
  using verdict::withstand_standard;
  if (const auto chosen = root.optional_choice<withstand_standard>("withstand_standard",
                                                                   {{"by_frequency", withstand_standard::by_frequency},
                                                                    {"IEC", withstand_standard::iec},
                                                                    {"NEMA", withstand_standard::nema},
                                                                    {"stricter", withstand_standard::stricter}}))
    out.withstand_by = *chosen;
  if (const auto flag = root.optional_flag("leakage_all_combinations")) out.leakage_all_combinations = *flag;
  if (auto limits = root.optional_table("limits")) read_limits(*limits, out);
  root.optional_texts("needed");
  root.optional_texts("required_checks");
  root.optional_texts("equipment");
  root.finish();
  return out;
}

}  // namespace

record::node default_policy_document() {
  return record::read_toml_text(detail::default_policy_text, "reference/policy/default.toml");
}

verdict::policy default_policy() {
  static const verdict::policy built = read_policy(default_policy_document(), {});
  return built;
}

verdict::policy policy_from(const record::node& document) {
  auto base = default_policy();
  base.name = "the shop's own";
  return read_policy(document, base);
}

verdict::policy load_policy(const std::string& path) { return policy_from(record::read_toml_file(path)); }

}  // namespace rewound::job
