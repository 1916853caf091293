// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <string>

#include <rewound/verdict/policy.hpp>

#include "batch/sink.hpp"

namespace rewound::tool {

/// Writes a page a machine into the folder; the pieces are rows of its index, to be kept until write_index().
std::unique_ptr<batch_sink> html_sink(std::string folder, verdict::policy policy);

/// The file of a folder in which the rows of its index are kept while a batch runs.
std::string index_rows(const std::string& folder);

/// Whether a page that a row of an interrupted run tells of is no longer there: then all pages are made again.
bool pages_missing(const std::string& folder);

/// Makes index.html of the rows that are there.
///
/// @throws base::error file_unwritable
void write_index(const std::string& folder, const std::string& input);

}  // namespace rewound::tool
