// SPDX-License-Identifier: MIT
#pragma once

#include <functional>

namespace CLI {
class App;
}

namespace rewound::tool {

/// What a chosen command does; returns the exit code.
using action = std::function<int()>;

void add_bench(CLI::App& app, action& chosen);
void add_judge(CLI::App& app, action& chosen);
void add_plot(CLI::App& app, action& chosen);
void add_learn(CLI::App& app, action& chosen);
void add_trend(CLI::App& app, action& chosen);
void add_batch(CLI::App& app, action& chosen);
void add_simulate(CLI::App& app, action& chosen);
void add_parameters(CLI::App& app, action& chosen);
void add_whatif(CLI::App& app, action& chosen);
void add_help(CLI::App& app, action& chosen);
void add_template(CLI::App& app, action& chosen);

}  // namespace rewound::tool
