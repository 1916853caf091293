// SPDX-License-Identifier: MIT
#pragma once

#include <string>

namespace CLI {
class App;
}

namespace rewound::tool {

/// The manual page rewound(1) in roff, from the commands and options themselves.
std::string man_page(const CLI::App& app, const std::string& version);

/// A script by which bash completes commands, options and the words that an option takes.
std::string bash_completion(const CLI::App& app);

/// One key of the record, or all keys of a section, from the list of keys (record/keys.hpp): what it is, its values and
/// an example. Empty where the name is neither.
std::string key_help(const std::string& name);

}  // namespace rewound::tool
