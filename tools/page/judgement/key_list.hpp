// SPDX-License-Identifier: MIT
#pragma once

#include "typed_record.hpp"

namespace rewound::page {

/// The one list of keys for the page's fields: sections and their keys with unit, kind, allowed words, sentence,
/// example; and the words of equipment, instruments, causes of doubt about a reading.
json key_list();

}  // namespace rewound::page
