// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

namespace rewound::base {

/// What kind of mistake an error reports. The names are stable: programs may match on them.
enum class error_code {
  usage,                 ///< the program or function was called wrongly
  file_unreadable,       ///< a file is missing or cannot be opened
  file_unwritable,       ///< a file cannot be written
  too_large,             ///< more than is read: a file, a list, a text
  not_toml,              ///< the text does not follow TOML
  empty_file,            ///< the file holds nothing
  unknown_format,        ///< the format line is missing or names a version that is not known
  unknown_key,           ///< a key that the format does not have
  missing_key,           ///< a key that the format requires is absent
  wrong_type,            ///< a value of another type than the key takes
  unequal_lengths,       ///< lists that belong together differ in length
  out_of_range,          ///< a number that cannot be: negative, not finite, beyond its limits
  not_a_choice,          ///< a word outside the list of allowed words
  not_rising,            ///< times that do not rise
  empty_list,            ///< a list that must hold something is empty
  repeated,              ///< the same name twice where names must differ
  bad_table,             ///< a comma-separated table that cannot be read
  records_do_not_match,  ///< two records that do not speak of the same machine
  precondition,          ///< a function's documented precondition does not hold
};

/// The stable name of a code, as printed and as given to Python.
constexpr std::string_view name(error_code code) {
  switch (code) {
    case error_code::usage: return "usage";
    case error_code::file_unreadable: return "file_unreadable";
    case error_code::file_unwritable: return "file_unwritable";
    case error_code::too_large: return "too_large";
    case error_code::not_toml: return "not_toml";
    case error_code::empty_file: return "empty_file";
    case error_code::unknown_format: return "unknown_format";
    case error_code::unknown_key: return "unknown_key";
    case error_code::missing_key: return "missing_key";
    case error_code::wrong_type: return "wrong_type";
    case error_code::unequal_lengths: return "unequal_lengths";
    case error_code::out_of_range: return "out_of_range";
    case error_code::not_a_choice: return "not_a_choice";
    case error_code::not_rising: return "not_rising";
    case error_code::empty_list: return "empty_list";
    case error_code::repeated: return "repeated";
    case error_code::bad_table: return "bad_table";
    case error_code::records_do_not_match: return "records_do_not_match";
    case error_code::precondition: return "precondition";
  }
  return "unknown";
}

}  // namespace rewound::base
