// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include <rewound/record/record.hpp>

// What stands in the page's fields, and the record that it makes. A page keeps what was typed as texts under the
// record's own keys, `rows` for readings side by side: {"machine": {"rated_voltage_V": "230"}, "run_up": [{"speed":
// "high", "rows": [{"voltage_V": "230", "current_A": "0,42"}]}]}. Empty fields say nothing; what is typed half is left
// out until it is whole.
namespace rewound::page {

using json = nlohmann::ordered_json;

/// Where a value stands in the page.
struct field_place {
  std::string section;
  int entry = -1;  ///< in a list of tables, from 0
  int row = -1;    ///< in its rows, from 0
  std::string key;
};

/// A value that cannot be, and what may stand there.
struct typed_problem {
  field_place where;
  std::string read;
  std::string allowed;
};

/// Where the page has the readings of a run-up of the record.
struct run_up_place {
  int entry = 0;
  std::vector<int> rows;
};

struct typed_record {
  record::visit_record record;          ///< what can be of what was typed
  bool whole = false;                   ///< it holds all that every record needs
  std::vector<field_place> missing;     ///< what every record needs
  std::vector<field_place> unfinished;  ///< what tables need that were begun, before they count
  std::vector<typed_problem> problems;  ///< values left out of it
  std::vector<run_up_place> run_up;     ///< of the record's run-ups with the leads as marked
};

/// The record of what was typed: a value that cannot be is left out and named.
typed_record record_of_typed(const json& typed);

/// The texts that make a record, for the page's fields.
json typed_of_record(const record::visit_record& in);

}  // namespace rewound::page
