// SPDX-License-Identifier: MIT
#include <rewound/record/key_table.hpp>
#include <rewound/report/layout.hpp>

#include "help/man_page.hpp"

namespace rewound::tool {

namespace {

std::string kind_words(const record::listed_key& key) {
  switch (key.kind) {
    case record::key_kind::text: return "a text";
    case record::key_kind::texts: return "a list of texts";
    case record::key_kind::flag: return "true or false";
    case record::key_kind::date: return "a date";
    case record::key_kind::word: return "one of " + key.allowed;
    case record::key_kind::numbers: return "a list, each " + key.allowed;
    case record::key_kind::number:
    case record::key_kind::whole_number: return key.allowed;
  }
  return "";
}

std::string told(const record::listed_key& key, const std::string& heading) {
  std::string about = key.doc + "; " + kind_words(key);
  if (key.of_row) about += key.row_only ? "; in `rows` only" : "; one a reading";
  about += key.needed ? "; needed" : "; may be left out";
  return report::wrapped("", "  ", heading + " " + key.name + " = " + key.example) + report::wrapped("  ", "  ", about);
}

}  // namespace

std::string key_help(const std::string& name) {
  std::string out;
  for (const auto& section : record::listed_sections()) {
    const bool whole =
        section.name == name || section.heading == name || section.name.substr(0, section.name.find('.')) == name;
    if (whole) out += report::wrapped("", "  ", section.heading + ": " + section.doc);
    for (const auto& key : record::listed_keys())
      if (key.section == section.name && (whole || key.name == name || section.name + "." + key.name == name))
        out += told(key, section.heading);
  }
  return out;
}

}  // namespace rewound::tool
