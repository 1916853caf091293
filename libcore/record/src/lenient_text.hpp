// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/base/error.hpp>
#include <rewound/record/document.hpp>
#include <rewound/record/record.hpp>

// TOML as people write it. A slip with one meaning is understood (.82, True, OL without quotation marks); of any other
// line what is wrong with it is said in plain words, and the rest is read without it, so that one reading finds all.
namespace rewound::record {

/// Lines that could not be read.
struct unread_lines {
  std::vector<base::error> errors;
  std::set<std::string> keys;  ///< that stand on them
};

struct lenient_document {
  node document;
  unread_lines unread;
};

/// @throws base::error empty_file
lenient_document read_leniently(std::string_view text, const std::string& name);

/// @throws base::error file_unreadable, too_large, empty_file
lenient_document read_leniently(const std::string& path);

/// TOML as the standard has it; nothing, and the line, where it is none.
std::optional<node> parse_toml(std::string_view text, const std::shared_ptr<const std::string>& file,
                               int& trouble_line);

/// record_from() of what could be read of a text: also throws what could not.
visit_record record_from(const node& document, const unread_lines& unread);

}  // namespace rewound::record
