// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/job/pictures.hpp>
#include <rewound/job/result.hpp>
#include <rewound/report/view.hpp>

namespace rewound::report {

/// One machine of an index: a row that is already worded, so that a long batch keeps no judgements.
struct index_entry {
  std::string file;  ///< the machine's page, relative to the index; empty where there is none
  std::string machine;
  std::string subtitle;
  std::optional<verdict::decision> decision;  ///< absent: the record could not be judged
  std::string reason;                         ///< the weightiest, or why it could not be judged
  std::string next;                           ///< what to do first
  danger worst = danger::other;               ///< among rows of one decision the worst come first
  std::string picture;                        ///< an svg element
};

/// @param file    the machine's page, relative to the index
/// @param number  sets the row's picture apart from others on the page
index_entry index_entry_of(const job::result& result, const job::pictures& plotted, std::string file,
                           std::size_t number);

/// A record that could not be judged.
index_entry unreadable_entry(const std::string& record, const std::string& reason, std::size_t number);

/// A row as a line of JSON that ends in a newline, and back: how a batch keeps rows until it is through.
std::string index_line(const index_entry& entry);
index_entry index_entry_from(std::string_view line);

/// A page with one row a machine, in order of urgency: held, not readable, undecided, released; within these by danger
/// (insulation, frame, overload, the rest), then in the order given.
std::string index_page(std::string_view title, std::vector<index_entry> entries);

}  // namespace rewound::report
