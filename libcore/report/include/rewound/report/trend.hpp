// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/job/trend.hpp>

namespace rewound::report {

/// One visit of a circuit, every cell already rounded.
struct trend_row {
  std::string day;
  std::string state;
  std::string read;
  std::string winding;
  std::string at_40_C;
  bool from_curve;  ///< there was no reading at 60 s
  bool in_line;     ///< false: of an earlier winding
};

/// One circuit over the visits.
struct trend_part {
  std::string circuit;
  std::string corrected_as;  ///< the insulation system by which it was corrected
  bool system_stated;
  std::vector<trend_row> rows;
  std::vector<std::string> sentences;  ///< one a finding, in order
  std::vector<std::string> sources;    ///< of their limits; empty where there is none
};

/// Everything that a person is shown of a trend, worded and rounded once: text, JSON and page are made from it.
struct trend_view {
  std::string title;
  std::string first_day;
  std::string last_day;
  std::vector<trend_part> parts;
  std::vector<std::string> next;
  std::vector<std::string> cautions;
};

trend_view view_of(const job::trend_result& result);

/// The trend as plain text, every line at most 79 characters wide, ending in a newline.
std::string trend_text(const job::trend_result& result);

/// The trend as a page that stands alone, with a picture of each circuit's visits.
std::string trend_html(const job::trend_result& result);

/// The trend as JSON, format "rewound-trend/1", indented, ending in a newline.
std::string trend_json(const job::trend_result& result);

}  // namespace rewound::report
