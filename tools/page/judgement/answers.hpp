// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

namespace rewound::page {

/// Answers one question of the page, both as JSON. {"ask": what, ...} with what one of
///
///   keys     the list of keys, and the words of the lists
///   judge    what was typed: decision, reasons, curves, what speaks against going on
///   report   the page of the full report
///   write    the record as TOML
///   read     a record's TOML, as what would be typed
///   learn    records of good machines as a reference
///   refer    a reference's TOML: what it is of
///   files    texts of files, judged as the command line judges them
///
/// {"trouble": [...]} where it cannot be answered, a line each as the command line prints them.
std::string answer(std::string_view question);

}  // namespace rewound::page
