// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

namespace rewound::record {

/// Writes a whole file or nothing: into a file beside it (NAME.part-rewound), flushed to disk, then renamed over it. A
/// link's target is replaced, not the link. What a killed run left in NAME.part-rewound is written over.
///
/// A file that is there keeps its permissions; a new one has those of `like` where that is named and there, or else
/// what the umask leaves. Pipes and devices are written to as they are; folders, sockets and disks are refused.
///
/// @throws base::error file_unwritable
void write_whole_file(const std::string& path, std::string_view content, const std::string& like = {});

/// The file that a name stands for: of a link its target, there or not.
std::string behind_links(const std::string& path);

}  // namespace rewound::record
