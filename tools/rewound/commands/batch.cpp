// SPDX-License-Identifier: MIT
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <memory>
#include <string>
#include <vector>

#include <CLI/CLI.hpp>
#ifdef __GLIBC__
#include <malloc.h>
#endif

#include <rewound/base/checksum.hpp>
#include <rewound/base/error.hpp>
#include <rewound/record/batch_source.hpp>
#include <rewound/record/read_file.hpp>

#include "batch/html_sink.hpp"
#include "batch/run_batch.hpp"
#include "command.hpp"
#include "exit_code.hpp"
#include "judging.hpp"
#include "output.hpp"

namespace rewound::tool {

namespace {

struct batch_options {
  std::string input;
  std::vector<std::string> references;
  std::string policy;
  std::string spread;
  std::string out;
  std::string format = "csv";
  unsigned threads = 1;
  bool fresh = false;
};

std::uint64_t with_content(const std::string& file, std::uint64_t so_far) {
  std::ifstream in(file, std::ios::binary);
  const std::string content{std::istreambuf_iterator<char>(in), {}};
  return base::checksum_of(content, base::checksum_of(std::to_string(content.size()) + ";", so_far));
}

/// Tells one run from another by all that its results depend on: the number of threads is not among it.
std::uint64_t run_of(const batch_options& options, const record::batch_source& source) {
  auto out = base::checksum_of(REWOUND_VERSION ";" + options.format + ";" +
                               std::to_string(source.fingerprint(options.out)) + ";");
  for (const auto& file : options.references) out = with_content(file, out);
  if (!options.policy.empty()) out = with_content(options.policy, base::checksum_of("policy;", out));
  return options.spread.empty() ? out : with_content(options.spread, base::checksum_of("spread;", out));
}

/// --fresh replaces what no run began as well. Whether it is a record of the folder, or a table that one of them names,
/// is known once all are read.
void expect_no_record(const std::string& results, const std::string& input) {
  std::error_code trouble;
  if (!std::filesystem::exists(results, trouble) || std::filesystem::exists(results + ".run", trouble)) return;
  const auto source = record::open_batch(input);
  while (const auto item = source->next()) {
    try {
      item->load();
    } catch (const base::error&) {  // told when it is judged
    }
  }
  expect_no_input(results);
}

/// Of the files read so far (policy, references, a long table) none is written to, whatever it is called in --out.
void expect_no_input(const batch_options& options, const std::string& results) {
  tool::expect_no_input(results);
  tool::expect_no_input(results + ".run");
  if (std::filesystem::path(options.out).extension() == ".toml")
    throw base::error(base::error_code::usage, {"", 0, "--out"}, options.out, "a name that does not end in .toml");
  if (options.fresh && !options.out.empty()) expect_no_record(results, options.input);
}

/// What could not be read weighs most, since the batch is then not whole; then what is held, then what is undecided.
int exit_code_of_all(const outcome_counts& outcomes) {
  const auto any = [&](batch_outcome which) { return outcomes[static_cast<std::size_t>(which)] > 0; };
  if (any(batch_outcome::internal)) return internal_error;
  if (any(batch_outcome::unreadable)) return bad_input;
  if (any(batch_outcome::hold)) return held;
  return any(batch_outcome::not_decided) ? undecided : released;
}

void tell(const outcome_counts& outcomes) {
  const auto [release, hold, open, unreadable, internal] = outcomes;
  std::cerr << "judged " << release + hold + open << ": " << release << " release, " << hold << " hold, " << open
            << " undecided; " << unreadable + internal << " could not be judged\n";
}

void make_folder(const std::string& name) {
  std::error_code trouble;
  std::filesystem::create_directories(name.empty() ? "." : name, trouble);
  if (name.empty() || trouble)
    throw base::error(base::error_code::usage, {"", 0, "--out"}, name.empty() ? "nothing" : name,
                      "a folder for the pages of --format html");
}

/// Judgements take and free the same matrices over and over; giving each back to the system costs a third of the time.
void keep_freed_memory() {
#ifdef __GLIBC__
  constexpr int megabyte = 1 << 20;
  mallopt(M_MMAP_THRESHOLD, 32 * megabyte);
  mallopt(M_TRIM_THRESHOLD, 128 * megabyte);
#endif
}

int batch(const batch_options& options) {
  keep_freed_memory();
  batch_standards standards{{}, load_policy(options.policy, options.spread)};
  for (const auto& file : options.references) standards.references.push_back(job::load_reference(file));
  const auto source = record::open_batch(options.input);
  const bool pages = options.format == "html";
  const auto results_name = pages ? index_rows(options.out) : options.out;
  expect_no_input(options, results_name);
  record::stop_remembering_files_read();  // a batch may hold any number of records, and writes to none of them
  if (pages) make_folder(options.out);
  const bool fresh = options.fresh || (pages && pages_missing(options.out));
  const auto sink = pages                      ? html_sink(options.out, standards.policy)
                    : options.format == "json" ? json_sink()
                                               : csv_sink();
  results_file results(results_name, run_of(options, *source), sink->head(), fresh);
  if (results.taken_over() > 0)
    tool::tell("taken over from " + options.out + ": " + std::to_string(results.taken_over()) +
               (results.taken_over() == 1 ? " machine" : " machines") + " judged before");
  run_batch(*source, standards, *sink, options.threads, results);
  if (pages) write_index(options.out, options.input);
  tell(results.outcomes());
  return exit_code_of_all(results.outcomes());
}

}  // namespace

void add_batch(CLI::App& app, action& chosen) {
  auto options = std::make_shared<batch_options>();
  auto* command = app.add_subcommand(
      "batch", "Judge a folder of records, or the machines of one long table; an interrupted run goes on");
  command
      ->add_option("input", options->input,
                   "Folder with records (*.toml, in the order of their names), or a comma-separated table "
                   "with a column machine: a row a reading, a machine's rows together")
      ->required();
  command
      ->add_option("--reference", options->references,
                   "What good machines of a model draw; several times for several models")
      ->expected(1)
      ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
  command->add_option("--policy", options->policy, "The shop's own policy, a TOML file");
  command->add_option("--spread", options->spread,
                      "How good machines of any model differ, as learn --spread writes it");
  command
      ->add_option("--format", options->format,
                   "csv; json: one result a line; html: a folder with a page a machine and an index")
      ->check(CLI::IsMember({"csv", "json", "html"}))
      ->capture_default_str();
  command->add_option("--out", options->out,
                      "Write to this file instead of standard output; started again, a run goes on where it was "
                      "interrupted (NAME.run beside it keeps how far it was)");
  command->add_flag("--fresh", options->fresh, "Judge everything again and replace the results that are there");
  command->add_option("--threads", options->threads, "Machines judged at a time; the results keep their order")
      ->check(CLI::Range(1u, 256u))
      ->capture_default_str();
  command->footer(
      "Exit code, the first that applies: 65 some could not be read, 10 some hold, 20 some undecided, 0 all release; "
      "64 wrong usage, 70 internal error.");
  command->callback([options, &chosen] { chosen = [options] { return batch(*options); }; });
}

}  // namespace rewound::tool
