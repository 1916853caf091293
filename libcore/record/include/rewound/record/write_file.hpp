// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

namespace rewound::record {

/// Writes a whole file or nothing: into a temporary file beside it, flushed to disk, then renamed over it.
///
/// @throws base::error file_unwritable
void write_whole_file(const std::string& path, std::string_view content);

}  // namespace rewound::record
