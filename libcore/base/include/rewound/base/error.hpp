// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <rewound/base/characters.hpp>
#include <rewound/base/error_code.hpp>

namespace rewound::base {

/// Where an offending value stands: all parts are optional, a line of 0 means unknown.
struct place {
  std::string file;
  int line = 0;
  std::string field;  ///< path inside the document, such as run_up[1].current_A[3]
  std::string words;  ///< the same for people, positions from one: run_up "low", current_A, reading 4; empty: the field
};

/// The one exception of the library: a stable code, the place, what was read and what is allowed.
///
/// what() is a single line: "job.toml:31: run_up[0].current_A[2]: read -0.26, allowed: a number above 0".
class error : public std::runtime_error {
 public:
  error(error_code code, place where, std::string read, std::string allowed)
      : std::runtime_error(one_line(where, read, allowed)),
        code_(code),
        place_(std::move(where)),
        read_(std::move(read)),
        allowed_(std::move(allowed)) {}

  error_code code() const noexcept { return code_; }
  const place& where() const noexcept { return place_; }
  const std::string& read() const noexcept { return read_; }
  const std::string& allowed() const noexcept { return allowed_; }

 private:
  // What a hostile file holds must not break the one-line promise or steer a terminal.
  static std::string printable(const std::string& text) {
    constexpr std::size_t longest = 500;  // room for the longest list of names that is allowed
    std::string line(text, 0, longest);
    std::replace_if(
        line.begin(), line.end(), [](char c) { return c == '\n' || c == '\r' || c == '\t'; }, ' ');
    auto out = seen_text(line);
    if (text.size() > longest) out += "...";
    return out;
  }

  static std::string one_line(const place& where, const std::string& read, const std::string& allowed) {
    std::string out;
    if (!where.file.empty()) out += printable(where.file) + ":";
    if (where.line > 0) out += std::to_string(where.line) + ":";
    if (!out.empty()) out += " ";
    const auto& field = where.words.empty() ? where.field : where.words;
    if (!field.empty()) out += printable(field) + ": ";
    if (!read.empty()) out += "read " + printable(read);
    if (!read.empty() && !allowed.empty()) out += ", ";
    if (!allowed.empty()) out += "allowed: " + printable(allowed);
    return out;
  }

  error_code code_;
  place place_;
  std::string read_;
  std::string allowed_;
};

/// Several errors of one document, thrown at once; as an error it is the first of them.
class errors : public error {
 public:
  explicit errors(std::vector<error> all) : error(all.front()), all_(std::move(all)) {}

  const std::vector<error>& all() const noexcept { return all_; }

 private:
  std::vector<error> all_;
};

/// Throws what was found wrong, one error by itself or all of them at once; nothing where there is none.
inline void throw_all(std::vector<error> found) {
  if (found.empty()) return;
  if (found.size() == 1) throw error(std::move(found.front()));
  throw errors(std::move(found));
}

}  // namespace rewound::base
