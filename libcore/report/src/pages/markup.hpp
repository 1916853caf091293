// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

namespace rewound::report {

/// Text for a page or a picture: what HTML or XML would take for markup is escaped; control characters, marks that turn
/// the direction of writing, and bytes that are no UTF-8 are shown as the replacement character. Line breaks and tabs
/// become blanks.
std::string escaped(std::string_view text);

/// The same for sentences of ours, which a terminal shows in plain letters: plus or minus, degrees Celsius and megohms
/// get their signs.
std::string typeset(std::string_view text);

/// At most `most` characters of a text, the last one an ellipsis where something was left out. For labels in pictures:
/// the page has the whole text elsewhere.
std::string shortened(std::string_view text, std::size_t most);

/// <tag class="...">content</tag>; the content is markup already.
std::string element(std::string_view tag, std::string_view css_class, std::string_view content);

/// The same with text that is escaped here.
std::string text_element(std::string_view tag, std::string_view css_class, std::string_view text);

}  // namespace rewound::report
