// SPDX-License-Identifier: MIT
#include "lenient_text.hpp"

#include <algorithm>
#include <cctype>

#include <rewound/base/characters.hpp>

#include <rewound/record/key_table.hpp>
#include <rewound/record/read_file.hpp>

#include "written_values.hpp"

namespace rewound::record {

namespace {

using base::error;
using base::error_code;

std::string_view without_blanks(std::string_view text) {
  const auto first = text.find_first_not_of(" \t\r");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t\r") - first + 1);
}

bool digit(char c) { return c >= '0' && c <= '9'; }
bool of_key(char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_' || c == '-'; }

/// Where a remark begins; the length where there is none.
std::size_t remark_in(std::string_view line) {
  char quote = 0;
  for (std::size_t i = 0; i < line.size(); ++i) {
    if (quote != 0) {
      if (line[i] == '\\' && quote == '"') ++i;
      else if (line[i] == quote) quote = 0;
    } else if (line[i] == '"' || line[i] == '\'') quote = line[i];
    else if (line[i] == '#') return i;
  }
  return line.size();
}

/// A bare word of a value as TOML has it, where it can mean one thing only.
std::string as_toml(const std::string& word) {
  const std::size_t sign = word.starts_with('-') || word.starts_with('+') ? 1 : 0;
  const auto rest = word.substr(sign);
  const bool number =
      !rest.empty() && std::all_of(rest.begin(), rest.end(), [](char c) { return digit(c) || c == '.'; });
  if (number && rest.size() > 1 && std::count(rest.begin(), rest.end(), '.') == 1) {
    if (rest.front() == '.') return word.substr(0, sign) + "0" + rest;
    if (rest.back() == '.') return word + "0";
  }
  if (word == "True" || word == "TRUE") return "true";
  if (word == "False" || word == "FALSE") return "false";
  if (beyond_range_written({.value = word})) return "\"" + word + "\"";
  return word;
}

/// The line with the bare words of its values as TOML has them.
std::string understood(const std::string& line) {
  constexpr std::string_view ends = " \t\r,[]{}=\"'#";
  std::string out;
  char quote = 0;
  const auto stop = remark_in(line);
  bool of_value = line.find('=') >= stop && !without_blanks(line).starts_with("[");
  for (std::size_t i = 0; i < stop;) {
    const char c = line[i];
    if (quote != 0 || c == '"' || c == '\'') {
      if (quote == 0) quote = c;
      else if (c == quote) quote = 0;
      out += line[i++];
      continue;
    }
    if (ends.find(c) != std::string_view::npos) {
      // A table on one line has keys within: what follows a brace or a comma there is judged by the = behind it.
      of_value = of_value || c == '=';
      out += line[i++];
      continue;
    }
    auto end = std::min(line.find_first_of(ends, i), stop);
    if (line.compare(i, end - i, ">") == 0) end = std::min(line.find_first_of(",]}#", i), stop);  // > 2000
    const auto word = line.substr(i, end - i);
    out += of_value ? as_toml(std::string(without_blanks(word))) : word;
    i = end;
  }
  return out + line.substr(stop);
}

/// key = value taken apart; no key where the line is none.
struct statement {
  std::string key;
  std::string value;
};

statement statement_of(std::string_view line) {
  line = without_blanks(line.substr(0, remark_in(line)));
  std::size_t end = 0;
  while (end < line.size() && of_key(line[end])) ++end;
  const auto rest = without_blanks(line.substr(end));
  if (end == 0 || rest.empty() || (rest.front() != '=' && rest.front() != ':')) return {};
  return {std::string(line.substr(0, end)), std::string(without_blanks(rest.substr(1)))};
}

bool bare_word(std::string_view value) {
  return !value.empty() && std::isalpha(static_cast<unsigned char>(value.front())) != 0 &&
         value.find_first_of("[]{}\"'=") == std::string_view::npos;
}

/// Words without quotation marks within a list.
std::string quoted_list(std::string_view value) {
  std::string out;
  for (auto left = without_blanks(value.substr(1, value.size() - 2)); !left.empty();) {
    const auto comma = std::min(left.find(','), left.size());
    auto word = without_blanks(left.substr(0, comma));
    if (word.starts_with("\"") && word.ends_with("\"") && word.size() > 1) word = word.substr(1, word.size() - 2);
    out += (out.empty() ? "\"" : ", \"") + std::string(word) + "\"";
    left.remove_prefix(std::min(comma + 1, left.size()));
  }
  return "[" + out + "]";
}

/// "[visit" too, but not a row of numbers.
bool is_header(std::string_view line) {
  const auto whole = without_blanks(line);
  const auto name = whole.find_first_not_of("[ ");
  if (!whole.starts_with("[") || name == std::string_view::npos) return false;
  const bool quoted = whole[name] == '"' && whole.find(',') == std::string_view::npos;
  return quoted || std::isalpha(static_cast<unsigned char>(whole[name])) != 0;
}

/// "[visit" as it should be.
std::string header_of(std::string_view line) {
  const auto whole = without_blanks(line.substr(0, remark_in(line)));
  const auto name = whole.substr(std::min(whole.find_first_not_of("[ "), whole.size()));
  const bool list = whole.starts_with("[[");
  return (list ? "[[" : "[") + std::string(name.substr(0, name.find_first_of("] "))) + (list ? "]]" : "]");
}

bool is_flag(const std::string& key) {
  const auto& all = listed_keys();
  return std::any_of(all.begin(), all.end(),
                     [&](const auto& each) { return each.name == key && each.kind == key_kind::flag; });
}

constexpr auto any_statement = "key = value, as in rated_voltage_V = 230, or a remark behind #";

/// What a line should be that could not be read.
std::string instead_of_line(std::string_view line) {
  const auto whole = without_blanks(line.substr(0, remark_in(line)));
  if (is_header(line)) {
    const auto right = header_of(line);
    return right == whole ? "this table once: all its keys stand together" : "the name of a table, as in " + right;
  }
  const auto read = statement_of(line);
  const auto &key = read.key, &value = read.value;
  if (key.empty()) return any_statement;
  const auto as_in = [&](const std::string& right) { return ", as in " + key + " = " + right; };
  if (value.empty()) return "a value behind =; without one leave the line out, or put # before it";
  int at = 0;
  if (parse_toml(line, std::make_shared<const std::string>(), at))
    return "this key once in its table: it stands above already";
  if (line.find(':') < line.find('='))
    return "an equals sign between key and value" + as_in(bare_word(value) ? "\"" + value + "\"" : value);
  const auto quotes = std::count(value.begin(), value.end(), '"');
  if (quotes % 2 != 0) return "quotation marks on both sides of a text";
  if (key == "date" || std::count(value.begin(), value.end(), '/') == 2)
    return "a date as year-month-day" + as_in("2026-05-14");
  if (value.starts_with("[")) {
    if (!value.ends_with("]")) return "a list between [ and ], values with commas between";
    if (!unit_of(key).empty())
      return "numbers in " + std::string(unit_of(key)) + ", commas between them" + as_in("[1.5, 2.5]");
    return "texts in quotation marks, commas between them" + as_in(quoted_list(value));
  }
  const auto number = number_written({.value = value}, key);
  if (number.why_not.starts_with("with a decimal point: ")) return "a decimal point" + as_in(number.why_not.substr(22));
  if (!number.why_not.empty()) return number.why_not;
  if (is_flag(key) || value == "yes" || value == "no")
    return "true or false" + as_in(value.starts_with('n') || value.starts_with('N') ? "false" : "true");
  if (bare_word(value) && value.find(',') != std::string::npos)
    return "a list of texts, or one text, in quotation marks" + as_in(quoted_list("[" + value + "]"));
  if (bare_word(value)) return "a text in quotation marks" + as_in("\"" + value + "\"");
  return "one value: a number with a decimal point, a text in quotation marks, or a list between [ and ]";
}

std::vector<std::string> lines_of(std::string_view text) {
  std::vector<std::string> out;
  while (!text.empty()) {
    const auto end = std::min(text.find('\n'), text.size());
    out.emplace_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return out;
}

std::string joined(const std::vector<std::string>& lines) {
  std::string out;
  for (const auto& line : lines) out += line + "\n";
  return out;
}

/// Brackets open at the end of a line, less those closed on it.
int open_brackets(std::string_view line) {
  int out = 0;
  char quote = 0;
  for (const char c : line.substr(0, remark_in(line))) {
    if (quote != 0) {
      if (c == quote) quote = 0;
    } else if (c == '"' || c == '\'') quote = c;
    else if (c == '[' || c == '{') ++out;
    else if (c == ']' || c == '}') --out;
  }
  return out;
}

/// Whether a line begins something of its own, and is not the further part of a list.
bool begins(std::string_view line) {
  if (!statement_of(line).key.empty() || without_blanks(line).empty()) return true;
  const auto name = without_blanks(line);
  const auto at = name.find_first_not_of('[');
  return at != 0 && at != std::string_view::npos && at <= 2 &&
         std::isalpha(static_cast<unsigned char>(name[at])) != 0;  // [machine], [[run_up]]
}

/// The lines of a statement; the last is the one before the next statement where its list is not closed.
std::pair<std::size_t, std::size_t> statement_from(const std::vector<std::string>& lines, std::size_t first) {
  int open = open_brackets(lines[first]);
  auto last = first;
  while (open > 0 && last + 1 < lines.size() && !begins(lines[last + 1])) open += open_brackets(lines[++last]);
  return {first, last};
}

/// The lines of the statement that trouble at a line comes from: the line's own, or one above whose list never ends.
std::pair<std::size_t, std::size_t> statement_about(const std::vector<std::string>& lines, std::size_t at) {
  std::pair<std::size_t, std::size_t> out{at, at};
  for (std::size_t i = 0; i <= at;) {
    const auto here = statement_from(lines, i);
    int open = 0;
    for (auto k = here.first; k <= here.second; ++k) open += open_brackets(lines[k]);
    if (open > 0 && !is_header(lines[i])) return here;
    if (at >= here.first && at <= here.second) out = here;
    i = here.second + 1;
  }
  return out;
}

/// The name of a table, or key = value as the standard has it.
bool is_statement(std::string_view line) {
  int at = 0;
  return is_header(line) ||
         (!statement_of(line).key.empty() && parse_toml(line, std::make_shared<const std::string>(), at).has_value());
}

bool says_nothing(std::string_view line) { return without_blanks(line.substr(0, remark_in(line))).empty(); }

/// The one line for a file of which none is a statement.
error of_another_kind(const error& first, const std::vector<std::string>& lines) {
  const auto more = std::count_if(lines.begin(), lines.end(), [](const auto& each) { return !says_nothing(each); }) - 1;
  return error(error_code::not_toml, first.where(),
               first.read() + " and " + std::to_string(more) + (more == 1 ? " more line" : " more lines") +
                   ", none of them key = value",
               "a file of lines key = value, as `rewound template` prints them");
}

/// Of many lines that are no statements the first few, and how many more there are; one for a file that has none.
void summarise(std::vector<error>& errors, const std::vector<std::string>& lines) {
  const auto prose = [](const error& each) { return each.allowed() == any_statement; };
  const auto found = std::count_if(errors.begin(), errors.end(), prose);
  if (found < 2) return;
  const auto first = std::find_if(errors.begin(), errors.end(), prose);
  if (std::none_of(lines.begin(), lines.end(),
                   [](const auto& each) { return !says_nothing(each) && is_statement(each); })) {
    errors = {of_another_kind(*first, lines)};
    return;
  }
  constexpr std::ptrdiff_t shown = 3;
  if (found <= shown + 1) return;
  std::ptrdiff_t seen = 0;
  const auto beyond = [&](const error& each) { return prose(each) && ++seen > shown; };
  const auto hidden = std::find_if(first, errors.end(), beyond);
  const error rest(error_code::not_toml, hidden->where(), std::to_string(found - shown) + " more lines of this kind",
                   any_statement);
  errors.erase(std::remove_if(hidden, errors.end(), prose), errors.end());
  errors.push_back(rest);
}

void expect_text(std::string_view text, const std::string& name) {
  if (text.find_first_not_of(" \t\r\n") == std::string_view::npos)
    throw error(error_code::empty_file, {name, 0, ""}, "an empty file", "a record as `rewound template` prints it");
  if (const auto at = text.find('\0'); at != std::string_view::npos) {
    const auto line = 1 + std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(at), '\n');
    throw error(error_code::not_toml, {name, static_cast<int>(line), ""}, "a byte that is no text",
                "a record as `rewound template` prints it");
  }
}

/// Leaves the lines of a statement out. The keys below a table that is left out would fall to the one above it: they go
/// as well.
void leave_out(std::vector<std::string>& lines, std::size_t first, std::size_t last) {
  const bool header = is_header(lines[first]);
  for (auto i = first; i <= last; ++i) lines[i].clear();
  for (auto i = last + 1; header && i < lines.size() && !is_header(lines[i]); ++i) lines[i].clear();
}

}  // namespace

lenient_document read_leniently(std::string_view text, const std::string& name) {
  if (text.starts_with("\xef\xbb\xbf")) text.remove_prefix(3);
  expect_text(text, name);
  const auto file = std::make_shared<const std::string>(name);
  lenient_document out;
  int at = 0;
  if (auto read = parse_toml(text, file, at)) {
    out.document = std::move(*read);
    return out;
  }
  auto lines = lines_of(text);
  const auto as_written = lines;
  // Each turn mends a line or leaves one out, and reads all again: of a large file fewer turns.
  constexpr std::size_t most_turns = 200, most_bytes = std::size_t{8} << 20;
  const auto most = std::clamp(most_bytes / text.size(), std::size_t{4}, most_turns);
  for (std::size_t turn = 0; turn < most; ++turn) {
    if (auto read = parse_toml(joined(lines), file, at)) {
      if (std::get<node_table>(read->value).empty()) break;  // nothing of it is a record
      out.document = std::move(*read);
      summarise(out.unread.errors, as_written);
      return out;
    }
    const auto trouble = std::min(static_cast<std::size_t>(std::max(at, 1)), lines.size()) - 1;
    const auto [first, last] = statement_about(lines, trouble);
    bool mended = false;
    for (auto i = first; i <= last; ++i) {
      auto better = understood(lines[i]);
      mended = mended || better != lines[i];
      lines[i] = std::move(better);
    }
    if (mended) continue;
    const auto key = statement_of(lines[first]).key;
    const auto shown = base::seen_text(without_blanks(lines[first].substr(0, remark_in(lines[first]))));
    if (shown.empty()) break;
    out.unread.errors.emplace_back(error_code::not_toml, base::place{name, static_cast<int>(first) + 1, key, ""}, shown,
                                   instead_of_line(lines[first]));
    if (!key.empty()) out.unread.keys.insert(key);
    if (is_header(lines[first]) && header_of(lines[first]) != without_blanks(lines[first])) {
      lines[first] = header_of(lines[first]);
      continue;
    }
    leave_out(lines, first, last);
  }
  if (out.unread.errors.empty())
    out.unread.errors.emplace_back(error_code::not_toml, base::place{name, at, "", ""}, "no keys and values",
                                   "a file of lines key = value, as `rewound template` prints them");
  summarise(out.unread.errors, as_written);
  base::throw_all(out.unread.errors);
  return out;
}

lenient_document read_leniently(const std::string& path) {
  return read_leniently(read_whole_file(path, largest::record), path);
}

}  // namespace rewound::record
