// SPDX-License-Identifier: MIT
#include <rewound/record/document.hpp>

#include <toml++/toml.h>

#include <rewound/base/number_text.hpp>
#include <rewound/base/error.hpp>

#include "lenient_text.hpp"

namespace rewound::record {

namespace {

using base::error;
using base::error_code;

using file_name = std::shared_ptr<const std::string>;

node convert(const toml::node& source, const file_name& file);

node_list convert_list(const toml::array& source, const file_name& file) {
  node_list out;
  for (const auto& item : source) out.push_back(convert(item, file));
  return out;
}

node_table convert_table(const toml::table& source, const file_name& file) {
  node_table out;
  for (const auto& [key, item] : source) out.emplace_back(std::string(key.str()), convert(item, file));
  return out;
}

node convert(const toml::node& source, const file_name& file) {
  node out;
  out.line = static_cast<int>(source.source().begin.line);
  out.file = file;
  if (const auto* table = source.as_table()) out.value = convert_table(*table, file);
  else if (const auto* list = source.as_array()) out.value = convert_list(*list, file);
  else if (const auto* text = source.as_string()) out.value = text->get();
  else if (const auto* whole = source.as_integer()) out.value = whole->get();
  else if (const auto* number = source.as_floating_point()) out.value = number->get();
  else if (const auto* flag = source.as_boolean()) out.value = flag->get();
  else if (const auto* day = source.as_date()) out.value = date{day->get().year, day->get().month, day->get().day};
  return out;
}

std::string shown(const std::string& text) { return "\"" + text + "\""; }

std::string shown(double value) {
  constexpr int digits = 6;
  return base::general_digits(value, digits);
}

}  // namespace

std::string kind_of(const node& value) {
  switch (value.value.index()) {
    case 0: return "a kind of value this format does not use";
    case 1: return "true or false";
    case 2:
    case 3: return "a number";
    case 4: return "a text";
    case 5: return "a date";
    case 6: return "a list";
    default: return "a table";
  }
}

std::string text_of(const node& value) {
  if (const auto* flag = std::get_if<bool>(&value.value)) return *flag ? "true" : "false";
  if (const auto* whole = std::get_if<std::int64_t>(&value.value)) return std::to_string(*whole);
  if (const auto* number = std::get_if<double>(&value.value)) return shown(*number);
  if (const auto* text = std::get_if<std::string>(&value.value)) return shown(*text);
  if (const auto* day = std::get_if<date>(&value.value)) return day->iso();
  return kind_of(value);
}

std::optional<node> parse_toml(std::string_view text, const file_name& file, int& trouble_line) {
  try {
    return convert(toml::parse(text, *file), file);
  } catch (const toml::parse_error& trouble) {
    trouble_line = static_cast<int>(trouble.source().begin.line);
    return std::nullopt;
  }
}

node read_toml_text(std::string_view text, const std::string& name) {
  auto out = read_leniently(text, name);
  base::throw_all(std::move(out.unread.errors));
  return std::move(out.document);
}

node read_toml_file(const std::string& path, std::size_t most) {
  return read_toml_text(read_whole_file(path, most), path);
}

}  // namespace rewound::record
