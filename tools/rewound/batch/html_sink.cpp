// SPDX-License-Identifier: MIT
#include "batch/html_sink.hpp"

#include <cstdio>
#include <filesystem>
#include <fstream>

#include <rewound/base/checksum.hpp>
#include <rewound/base/error.hpp>
#include <rewound/job/pictures.hpp>
#include <rewound/record/write_file.hpp>
#include <rewound/report/html.hpp>
#include <rewound/report/index_page.hpp>

namespace rewound::tool {

namespace {

namespace fs = std::filesystem;

constexpr std::size_t longest_name = 60;

/// Letters, digits, hyphens and underscores of a name; anything else is a hyphen.
std::string plain_name(std::string_view name) {
  std::string out;
  for (const char c : name.substr(0, longest_name)) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
    out += plain ? c : '-';
  }
  return out;
}

/// A page's name: that of its record, with a number behind it where that alone might be another page's name too.
std::string page_name(const judged_machine& one, std::uint64_t told_apart_by) {
  const fs::path file(one.file);
  const std::string name = file.extension() == ".toml" ? file.stem().string() : one.machine;
  const std::string plain = plain_name(name);
  if (file.extension() == ".toml" && plain == name && plain != "index") return plain + ".html";
  char number[17];
  std::snprintf(number, sizeof number, "%08x", static_cast<unsigned>(told_apart_by));
  return plain + "-" + number + ".html";
}

/// Stands at the end of each page of a batch: by it a later run knows what it may write over.
constexpr std::string_view of_a_batch = "<!-- a page of a batch -->\n";

bool ends_as_ours(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::string end(of_a_batch.size(), '\0');
  in.seekg(-static_cast<std::streamoff>(end.size()), std::ios::end);
  return in.read(end.data(), static_cast<std::streamsize>(end.size())) && end == of_a_batch;
}

/// @throws base::error file_unwritable for a page that is there and was not written by a batch
void write_page(const std::string& path, std::string page) {
  if (fs::exists(fs::symlink_status(path)) && !ends_as_ours(path))
    throw base::error(base::error_code::file_unwritable, {path, 0, ""}, "a page that no batch wrote",
                      "another folder for the pages, or none of this name in it");
  record::write_whole_file(path, page.append(of_a_batch));
}

class html_pages final : public batch_sink {
 public:
  html_pages(std::string folder, verdict::policy policy) : folder_(std::move(folder)), policy_(std::move(policy)) {}

  std::string piece(const judged_machine& one) const override {
    const auto number = base::checksum_of(one.file + "\n" + one.machine);
    if (!one.judgement) return report::index_line(report::unreadable_entry(one.file, one.trouble, number));
    const auto drawn = job::pictures_of(*one.in, one.compare_with, policy_);
    const auto name = page_name(one, number);
    write_page((fs::path(folder_) / name).string(), report::html_report(*one.judgement, drawn));
    return report::index_line(report::index_entry_of(*one.judgement, drawn, name, number));
  }

 private:
  std::string folder_;
  verdict::policy policy_;
};

}  // namespace

std::unique_ptr<batch_sink> html_sink(std::string folder, verdict::policy policy) {
  return std::make_unique<html_pages>(std::move(folder), std::move(policy));
}

std::string index_rows(const std::string& folder) { return (fs::path(folder) / "index.rows").string(); }

bool pages_missing(const std::string& folder) {
  std::ifstream rows(index_rows(folder));
  for (std::string line; std::getline(rows, line) && !rows.eof();) {
    try {
      const auto entry = report::index_entry_from(line);
      if (!entry.file.empty() && !fs::exists(fs::path(folder) / entry.file)) return true;
    } catch (const std::exception&) {
      return false;  // no row of ours: whether the file may be gone on with is for results_file to say
    }
  }
  return false;
}

void write_index(const std::string& folder, const std::string& input) {
  std::ifstream rows(index_rows(folder));
  std::vector<report::index_entry> entries;
  for (std::string line; std::getline(rows, line);) entries.push_back(report::index_entry_from(line));
  const auto name =
      fs::path(input).filename().empty() ? fs::path(input).parent_path().filename() : fs::path(input).filename();
  write_page((fs::path(folder) / "index.html").string(),
             report::index_page("Machines of " + name.string(), std::move(entries)));
}

}  // namespace rewound::tool
