// SPDX-License-Identifier: MIT
#include "key_list.hpp"

#include <rewound/record/key_table.hpp>
#include <rewound/record/words.hpp>

namespace rewound::page {

namespace {

using record::key_kind;

const char* name_of(key_kind kind) {
  switch (kind) {
    case key_kind::text: return "text";
    case key_kind::texts: return "texts";
    case key_kind::number: return "number";
    case key_kind::whole_number: return "whole_number";
    case key_kind::flag: return "flag";
    case key_kind::date: return "date";
    case key_kind::word: return "word";
    case key_kind::numbers: return "numbers";
  }
  return "";
}

json key_of(const record::listed_key& key) {
  return {{"name", key.name},         {"unit", key.unit},      {"kind", name_of(key.kind)}, {"allowed", key.allowed},
          {"needed", key.needed},     {"of_row", key.of_row},  {"by_line", key.by_line},    {"doc", key.doc},
          {"ordinary", key.ordinary}, {"example", key.example}};
}

}  // namespace

json key_list() {
  json sections = json::object();
  for (const auto& section : record::listed_sections()) {
    json keys = json::array();
    for (const auto& key : record::listed_keys())
      if (key.section == section.name) keys.push_back(key_of(key));
    sections[section.name] = {{"doc", section.doc}, {"list", section.heading.starts_with("[[")}, {"keys", keys}};
  }
  return {{"sections", sections},
          {"equipment", record::words::equipment},
          {"instruments", record::words::instruments},
          {"format", record::words::record_format}};
}

}  // namespace rewound::page
