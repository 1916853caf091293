// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>

namespace rewound::record {

/// What a file may weigh; beyond it nothing is read on. A record of a thousand readings weighs 50 kB, a machine of a
/// reference 4 kB (common practice, no source).
namespace largest {
inline constexpr std::size_t record = std::size_t{1} << 20;
inline constexpr std::size_t table = std::size_t{8} << 20;
inline constexpr std::size_t reference = std::size_t{64} << 20;
}  // namespace largest

/// Reads a whole file; folders, pipes and devices are refused, and what is larger than `most` bytes.
///
/// @throws base::error file_unreadable, too_large
std::string read_whole_file(const std::string& path, std::size_t most);

/// From here on it is kept in mind which files were read, by device and inode, so that no output replaces them. A
/// program that reads without end calls stop again.
void remember_files_read();
void stop_remembering_files_read();

/// Whether a name stands for a file that was read since remember_files_read().
bool was_read(const std::string& path);

}  // namespace rewound::record
