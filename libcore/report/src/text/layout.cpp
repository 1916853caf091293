// SPDX-License-Identifier: MIT
#include <rewound/report/layout.hpp>

#include <algorithm>
#include <string_view>

namespace rewound::report {

namespace {

constexpr std::size_t width = 79;

std::string harmless(std::string_view text) {
  std::string out;
  for (const char c : text) out += (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) ? '?' : c;
  return out;
}

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
  bool fresh = true;
  const auto flush = [&] {
    while (!line.empty() && line.back() == ' ') line.pop_back();
    out += line + "\n";
    line = rest;
    fresh = true;
  };
  std::size_t begin = 0;
  while (begin < text.size()) {
    const auto end = std::min(text.find(' ', begin), text.size());
    std::string word = text.substr(begin, end - begin);
    begin = end + 1;
    if (!fresh && columns(line) + 1 + columns(word) > width) flush();
    while (columns(line) + (fresh ? 0 : 1) + columns(word) > width) {
      const auto fits = cut_after(word, width - columns(line));
      line += word.substr(0, fits);
      word.erase(0, fits);
      flush();
    }
    if (word.empty()) continue;
    line += (fresh ? "" : " ") + word;
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

std::string cell(std::string_view text, std::size_t size) {
  std::string out = harmless(text);
  if (columns(out) > size) out = out.substr(0, cut_after(out, size - 1)) + "~";
  return out + std::string(size - columns(out), ' ');
}

}  // namespace rewound::report
