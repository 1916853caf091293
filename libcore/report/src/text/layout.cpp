// SPDX-License-Identifier: MIT
#include <rewound/report/layout.hpp>

#include <algorithm>
#include <string_view>

#include <rewound/base/characters.hpp>

namespace rewound::report {

namespace {

constexpr std::size_t width = 79;

std::string harmless(std::string_view text) { return base::seen_text(text, "?"); }

/// First place after `from` where at most `count` characters have passed, never inside a character.
std::size_t cut_after(std::string_view text, std::size_t count) {
  std::size_t at = 0;
  while (at < text.size() && count > 0) {
    ++at;
    while (at < text.size() && (static_cast<unsigned char>(text[at]) & 0xC0U) == 0x80U) ++at;
    --count;
  }
  return at;
}

}  // namespace

std::size_t columns(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

std::string wrapped(const std::string& first, const std::string& rest, std::string_view raw) {
  const std::string text = harmless(raw);
  std::string out;
  std::string line = first;
  std::size_t used = columns(first);
  bool fresh = true;
  const auto flush = [&] {
    while (!line.empty() && line.back() == ' ') line.pop_back();
    out += line + "\n";
    line = rest;
    used = columns(rest);
    fresh = true;
  };
  std::size_t begin = 0;
  while (begin < text.size()) {
    const auto end = std::min(text.find(' ', begin), text.size());
    auto word = std::string_view(text).substr(begin, end - begin);
    auto long_as = columns(word);
    begin = end + 1;
    if (!fresh && used + 1 + long_as > width) flush();
    while (used + (fresh ? 0 : 1) + long_as > width) {
      const auto fits = cut_after(word, width - used);
      line += word.substr(0, fits);
      long_as -= columns(word.substr(0, fits));
      word.remove_prefix(fits);
      flush();
    }
    if (word.empty()) continue;
    if (!fresh) line += " ";
    line += word;
    used += (fresh ? 0 : 1) + long_as;
    fresh = false;
  }
  flush();
  return out;
}

std::string listed(const std::string& head, const std::vector<std::string>& items) {
  if (items.empty()) return "";
  std::string out = head + "\n";
  for (const auto& item : items) out += wrapped("  - ", "    ", item);
  return out + "\n";
}

std::vector<std::string> table_lines(const std::vector<std::vector<std::string>>& rows) {
  constexpr std::size_t between = 2;
  constexpr std::size_t least_first = 8;
  std::vector<std::size_t> widths;
  for (const auto& row : rows) {
    widths.resize(std::max(widths.size(), row.size()));
    for (std::size_t i = 0; i < row.size(); ++i) widths[i] = std::max(widths[i], columns(row[i]));
  }
  std::size_t others = 0;
  for (std::size_t i = 1; i < widths.size(); ++i) others += between + widths[i];
  widths[0] = std::min(widths[0], others + least_first < width ? width - others : least_first);
  std::vector<std::string> out;
  for (const auto& row : rows) {
    std::string first = harmless(row[0]);
    std::string line;
    for (bool rest = false; !first.empty() || !rest; rest = true) {
      const auto fits = cut_after(first, widths[0]);
      line = cell(std::string_view(first).substr(0, fits), widths[0]);
      first.erase(0, fits);
      for (std::size_t i = 1; !rest && i < row.size(); ++i) line += std::string(between, ' ') + cell(row[i], widths[i]);
      line.erase(line.find_last_not_of(' ') + 1);
      out.push_back(line);
    }
  }
  return out;
}

std::string cell(std::string_view text, std::size_t size) {
  std::string out = harmless(text);
  if (columns(out) > size) out = out.substr(0, cut_after(out, size - 1)) + "~";
  return out + std::string(size - columns(out), ' ');
}

}  // namespace rewound::report
