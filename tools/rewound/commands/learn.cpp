// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <iostream>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include <CLI/CLI.hpp>

#include <rewound/base/error.hpp>
#include <rewound/job/judge.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/job/spread.hpp>
#include <rewound/report/wording.hpp>

#include "command.hpp"
#include "exit_code.hpp"
#include "judging.hpp"
#include "output.hpp"
#include "progress.hpp"

namespace rewound::tool {

namespace {

struct learn_options {
  std::vector<std::string> files;
  std::string policy;
  std::string out;
  std::vector<std::string> spread;  ///< a spread to believe in, or references to learn one from
};

/// A file is a reference, a spread or a record, as its format line says.
bool has_format(const record::node& document, std::string_view format) {
  const auto* table = std::get_if<record::node_table>(&document.value);
  if (table == nullptr) return false;
  for (const auto& [key, value] : *table)
    if (const auto* text = std::get_if<std::string>(&value.value))
      if (key == "format" && text->starts_with(format)) return true;
  return false;
}

/// A record whose draw, steps or readings do not hold by themselves is learnt all the same, since good machines outrank
/// the rules of thumb; but whoever learns from it is told.
void tell_doubts(const std::string& file, const record::visit_record& record, const verdict::policy& policy) {
  const auto judged = job::judge(record, {}, policy);
  for (const auto& finding : judged.findings) {
    const bool of_draw = finding.check == verdict::check::draw || finding.check == verdict::check::steps;
    const bool doubtful =
        finding.bearing == verdict::bearing::decides &&
        ((of_draw && finding.outcome == verdict::outcome::fails) ||
         (finding.check == verdict::check::readings && finding.outcome == verdict::outcome::undecided));
    if (doubtful) tell("note: " + file + ": " + report::sentence(finding));
  }
}

/// A spread named before the records takes them along: its own file is the one with its format.
learn_options sorted_out(learn_options options) {
  const auto its_own = std::find_if(options.spread.begin(), options.spread.end(), [](const auto& file) {
    return has_format(record::read_toml_file(file, record::largest::reference), "rewound-spread/");
  });
  if (its_own == options.spread.end()) {
    if (!options.files.empty() && !options.spread.empty())
      throw base::error(base::error_code::usage, {"", 0, "--spread"}, options.spread.front(),
                        "a file that learn --spread has written, beside records");
    if (options.files.empty() && options.spread.empty())
      throw base::error(base::error_code::usage, {"", 0, "good"}, "nothing", "records, references, or --spread");
    return options;
  }
  const std::string spread = *its_own;
  options.spread.erase(its_own);
  options.files.insert(options.files.end(), options.spread.begin(), options.spread.end());
  options.spread = {spread};
  if (options.files.empty())
    throw base::error(base::error_code::usage, {"", 0, "good"}, "nothing", "records or references to learn from");
  return options;
}

/// Of references, one a model: how good machines of any model differ.
int learn_spread_of(const learn_options& options) {
  std::vector<job::reference> references;
  for (const auto& file : options.spread) references.push_back(job::load_reference(file));
  const auto learnt = job::learn_spread(references, load_policy(options.policy));
  write_out(options.out, job::spread_text(learnt));
  std::cerr << "learnt how " << learnt.machines << " good machines of " << learnt.references
            << " references differ: " << std::round(10.0 * learnt.level_percent) / 10.0 << " % of the current\n";
  return released;
}

int learn(const learn_options& asked) {
  const auto options = sorted_out(asked);
  if (options.files.empty()) return learn_spread_of(options);
  const auto policy = load_policy(options.policy, options.spread.empty() ? std::string() : options.spread.front());
  std::vector<job::reference> parts;
  terminal_progress progress("files read");
  for (const auto& file : options.files) {
    progress.show(parts.size());
    const auto document = record::read_toml_file(file, record::largest::reference);
    if (has_format(document, "rewound-reference/")) {
      parts.push_back(job::reference_from(document));
      continue;
    }
    const auto record = record::record_from(document);
    parts.push_back(job::learn({record}, policy));
    progress.clear();
    tell_doubts(file, record, policy);
  }
  progress.clear();
  const auto learnt = job::merge(parts, policy);
  write_out(options.out, job::reference_text(learnt, policy));
  tell("learnt " + learnt.model + " from " + std::to_string(learnt.machines.size()) +
       (learnt.machines.size() == 1 ? " good machine" : " good machines"));
  for (const auto& machine : learnt.set_aside) tell("set aside, unlike the others: " + machine.visit_name());
  for (const auto& name : job::kept_though_unlike(learnt, policy))
    tell("note: " + name + " is unlike the others, but of fewer than four none is set aside");
  return released;
}

}  // namespace

void add_learn(CLI::App& app, action& chosen) {
  auto options = std::make_shared<learn_options>();
  auto* command = app.add_subcommand("learn", "Learn what good machines of one model draw, from records or references");
  command->add_option("good", options->files, "Records of good machines, or references to merge");
  command
      ->add_option(
          "--spread", options->spread,
          "References of several models: learn how good machines of any model differ. Beside records: what that "
          "wrote, to be believed in")
      ->expected(1, 100000);
  command->add_option("--policy", options->policy, "The shop's own policy, a TOML file");
  command->add_option("--out", options->out, "Write to this file instead of standard output");
  command->callback([options, &chosen] { chosen = [options] { return learn(*options); }; });
}

}  // namespace rewound::tool
