// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>

#include <rewound/record/batch_source.hpp>

namespace rewound::record {

std::unique_ptr<batch_source> record_folder(const std::string& path);
std::unique_ptr<batch_source> long_table(const std::string& path);

/// Name, size and time of the last change of a file.
std::uint64_t file_fingerprint(const std::filesystem::path& file);

}  // namespace rewound::record
