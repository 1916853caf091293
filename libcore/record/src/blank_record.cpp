// SPDX-License-Identifier: MIT
#include <algorithm>
#include <map>
#include <string>

#include <rewound/base/error.hpp>
#include <rewound/record/key_table.hpp>
#include <rewound/record/record.hpp>
#include <rewound/record/words.hpp>

// The blank record, from the list of keys: first what an ordinary job needs, then everything else.
namespace rewound::record {

namespace {

constexpr std::size_t widest = 118;

/// Text in lines, the first behind `lead`, the others behind as many blanks and a #.
std::string in_lines(const std::string& lead, const std::string& text) {
  std::string out = lead;
  const auto column = std::max<std::size_t>(lead.size(), 1) - 2;  // of the #
  std::size_t at = lead.size();
  for (std::size_t begin = 0; begin < text.size();) {
    const auto end = std::min(text.find(' ', begin), text.size());
    const auto word = text.substr(begin, end - begin);
    if (at + 1 + word.size() > widest) {
      out += "\n" + std::string(column, ' ') + "#";
      at = column + 1;
    }
    out += (out.ends_with("# ") ? "" : " ") + word;
    at += 1 + word.size();
    begin = end + 1;
  }
  return out + "\n";
}

std::string line_of(const listed_key& key, bool active, const std::string& example) {
  constexpr std::size_t remarks_at = 36;
  std::string out = (active ? "" : "# ") + key.name + " = " + example;
  out += std::string(out.size() + 1 < remarks_at ? remarks_at - out.size() : 2, ' ') + "# ";
  const auto words = key.kind == key_kind::word && key.doc.size() < 80 ? ": " + key.allowed : std::string();
  return in_lines(out, key.doc + words);
}

/// Readings as they may follow one another in the blank record need no other sections than these to be read.
bool stands_open(const std::string& section) {
  return section == "machine" || section == "visit" || section == "run_up";
}

std::string lines_of_section(const std::string& section, bool ordinary) {
  std::string out;
  for (const auto& key : listed_keys())
    if (key.section == section && key.ordinary == ordinary && !key.row_only)
      out += line_of(key, ordinary && key.needed && stands_open(section), key.example);
  return out;
}

std::string blank() {
  std::string out =
      "# One visit of one machine. First come the keys that an ordinary job needs: fill in what was read, take away "
      "the\n"
      "# mark before a line that holds, leave the others. Every number carries its unit in its key.\n"
      "format = \"" +
      std::string(words::record_format) + "\"\n";
  for (const auto& section : listed_sections()) {
    if (!section.ordinary) continue;
    const bool open = stands_open(section.name);
    out += "\n# " + section.doc + "\n" + (open ? "" : "# ") + section.heading + "\n" +
           lines_of_section(section.name, true);
  }
  out +=
      "\n# All that there is besides, where it is known or read. Further keys of the tables above stand with those\n"
      "# above; readings of a run-up may stand as rows instead of lists:\n"
      "# rows = [{ voltage_V = 120, current_A = 0.21, power_W = 20, remark = \"hums\" }, { voltage_V = 150, ... }]\n"
      "# or in a table with columns speed,voltage_V,current_A,... (three phases: leads, current_L1_A to L3,\n"
      "# voltage_L1_L2_V, voltage_L2_L3_V, voltage_L3_L1_V):\n"
      "# [[run_up]]\n"
      "# file = \"runup.csv\"\n";
  for (const auto& section : listed_sections()) {
    const auto lines =
        lines_of_section(section.name, false) + (section.ordinary ? "" : lines_of_section(section.name, true));
    if (lines.empty() && section.ordinary) continue;
    out += "\n# " + (section.ordinary ? section.heading + " also:" : section.doc) + "\n";
    if (!section.ordinary) out += "# " + section.heading + "\n";
    out += lines;
    if (section.name == "checks") out += "# switch_opens_line = true\n# polarity_correct = true\n";
    if (section.name.starts_with("instruments"))
      out += "# and likewise ammeter, wattmeter, tachometer, ohmmeter, insulation_tester, thermometer\n";
  }
  return out;
}

/// What stands in the shorter blank record of a kind of machine where the list of keys has another example, and the
/// section that its kind brings with it.
struct blank_kind {
  std::map<std::string, std::string> examples;
  std::string section;
};

blank_kind blank_kind_of(std::string_view kind) {
  if (kind == "fan") return {{}, "capacitor"};
  if (kind == "blower")
    return {{{"machine.speeds", "[\"on\"]"},
             {"machine.speed_control", "\"none\""},
             {"machine.running_circuit", "\"permanent_capacitor\""},
             {"run_up.speed", "\"on\""}},
            "capacitor"};
  if (kind == "brushed")
    return {{{"machine.speeds", "[\"on\"]"},
             {"machine.speed_control", "\"none\""},
             {"machine.running_circuit", "\"commutator\""},
             {"run_up.speed", "\"on\""}},
            "commutator"};
  std::string listed;
  for (const char* each : words::blank_kinds) listed += (listed.empty() ? "" : ", ") + std::string(each);
  throw base::error(base::error_code::not_a_choice, {}, "\"" + std::string(kind) + "\"", "one of " + listed);
}

}  // namespace

std::string_view blank_record() {
  static const std::string text = blank();
  return text;
}

std::string blank_record_for(std::string_view kind) {
  const auto own = blank_kind_of(kind);
  std::string out =
      "# An ordinary job: fill in what was read, take away the mark before a line that holds, leave the others.\n"
      "# `rewound template` alone prints every key.\n"
      "format = \"" +
      std::string(words::record_format) + "\"\n";
  for (const auto& section : listed_sections()) {
    const bool of_kind = section.name == own.section;
    if (!section.ordinary && !of_kind) continue;
    const bool open = stands_open(section.name);
    out += "\n# " + section.doc + "\n" + (open ? "" : "# ") + section.heading + "\n";
    for (const auto& key : listed_keys()) {
      if (key.section != section.name || key.row_only || !(key.ordinary || of_kind)) continue;
      const auto other = own.examples.find(section.name + "." + key.name);
      out +=
          line_of(key, key.ordinary && key.needed && open, other == own.examples.end() ? key.example : other->second);
    }
  }
  return out;
}

}  // namespace rewound::record
