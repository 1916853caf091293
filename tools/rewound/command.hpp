// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <string_view>

namespace CLI {
class App;
}

namespace rewound::tool {

/// What a chosen command does; returns the exit code.
using action = std::function<int()>;

void add_judge(CLI::App& app, action& chosen);
void add_learn(CLI::App& app, action& chosen);
void add_trend(CLI::App& app, action& chosen);
void add_simulate(CLI::App& app, action& chosen);
void add_parameters(CLI::App& app, action& chosen);
void add_whatif(CLI::App& app, action& chosen);
void add_template(CLI::App& app, action& chosen);

/// Writes to the file, whole or not at all, or to standard output where no file is named.
///
/// @throws base::error file_unwritable
void write_out(const std::string& file, std::string_view content);

}  // namespace rewound::tool
