// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>

#include <rewound/record/record.hpp>

// Records that lie beside the one at the bench: the last machine's facts need not be typed again.
namespace rewound::tool::dialogue {

struct other_record {
  std::string file;  ///< its name in the folder
  record::visit_record record;
};

/// The record of the folder that was changed last; nothing where there is none that can be read.
std::optional<other_record> last_record_beside(const std::string& path);

/// The one that a person names, by the machine's number or the file's name.
std::optional<other_record> record_beside(const std::string& path, const std::string& named);

}  // namespace rewound::tool::dialogue
