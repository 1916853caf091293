// SPDX-License-Identifier: MIT
#include <rewound/job/policy_file.hpp>

#include "default_policy_text.hpp"
#include "fields.hpp"

namespace rewound::job {

using base::error;
using base::error_code;

namespace {

constexpr const char* policy_format = "rewound-policy/1";

std::vector<verdict::check> read_needed(fields& in) {
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

/// What a limit may be: probabilities have to leave room between conforming and failing.
range limit_range(std::string_view name) {
  if (name == "conforming_probability") return {0.5, 0.9999, "a probability from 0.5 to 0.9999"};
  if (name == "failing_probability") return {0.0001, 0.5, "a probability from 0.0001 to 0.5"};
  if (name == "false_alarm_percent") return {0.001, 50.0, "a percentage from 0.001 to 50"};
  if (name == "minimum_starts") return {1.0, 100000.0, "a count of 1 or more"};
  return not_negative;
}

void read_limits(fields& in, verdict::policy& out) {
  const auto take = [&](std::string_view name) {
    const std::string key(name);
    if (const auto value = in.optional_number(key.c_str(), limit_range(name))) out.own_limits.insert_or_assign(key, *value);
  };
  for (const auto name : verdict::replaceable_limits) take(name);
  for (const auto& row : verdict::tables::practice) take(row.name);
  in.finish();
}

verdict::policy read_policy(const node& document, verdict::policy out) {
  fields root(document, "");
  const auto format = root.optional_text("format");
  if (format != policy_format)
    throw error(error_code::unknown_format, root.place_of("format"), format ? "\"" + *format + "\"" : "nothing",
                std::string("format = \"") + policy_format + "\"");
  if (const auto name = root.optional_text("name")) out.name = *name;
  if (root.has("needed")) out.needed = read_needed(root);
  // Whatever a shop asks for, a suspect reading is never passed over.
  if (!out.needs(verdict::check::readings)) out.needed.push_back(verdict::check::readings);
  if (root.has("required_checks")) out.required_checks = root.optional_texts("required_checks");
  if (!out.required_checks.empty() && !out.needs(verdict::check::checks)) out.needed.push_back(verdict::check::checks);
  if (const auto flag = root.optional_flag("polarization_index_informs_only")) out.polarization_index_informs_only = *flag;
  if (auto limits = root.optional_table("limits")) read_limits(*limits, out);
  root.optional_texts("needed");
  root.optional_texts("required_checks");
  root.finish();
  return out;
}

}  // namespace

verdict::policy default_policy() {
  static const verdict::policy built =
      read_policy(read_toml_text(detail::default_policy_text, "reference/policy/default.toml"), {});
  return built;
}

verdict::policy policy_from(const node& document) {
  auto base = default_policy();
  base.name = "the shop's own";
  return read_policy(document, base);
}

verdict::policy load_policy(const std::string& path) { return policy_from(read_toml_file(path)); }

}  // namespace rewound::job
