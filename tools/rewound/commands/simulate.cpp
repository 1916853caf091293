// SPDX-License-Identifier: MIT
#include <charconv>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include <CLI/CLI.hpp>

#include <rewound/job/simulate.hpp>

#include "command.hpp"
#include "exit_code.hpp"
#include "output.hpp"

namespace rewound::tool {

namespace {

struct simulate_command {
  std::string machine;
  std::vector<std::string> faults;
  std::uint64_t seed = 1;
  std::uint64_t unit = 0;
  std::uint64_t bench = 0;
  std::string id;
  std::string state = "after_repair";
  std::string shaft = "loaded";
  std::vector<std::string> with;
  std::string out;
};

/// The parser alone would take what is larger for the largest.
CLI::Validator sixty_four_bits() {
  return {[](const std::string& text) {
            std::uint64_t value = 0;
            const auto [end, trouble] = std::from_chars(text.data(), text.data() + text.size(), value);
            const bool whole = trouble == std::errc() && end == text.data() + text.size();
            return whole ? std::string() : "\"" + text + "\" is no whole number from 0 to 18446744073709551615";
          },
          "UINT64"};
}

job::simulate_options options_of(const simulate_command& asked, const CLI::App& command) {
  job::simulate_options out;
  out.seed = asked.seed;
  if (command.count("--unit") > 0) out.unit = asked.unit;
  if (command.count("--bench") > 0) out.bench = asked.bench;
  if (!asked.id.empty()) out.id = asked.id;
  for (const auto& fault : asked.faults) out.faults.push_back(job::simulated_fault_from(fault));
  out.state = job::visit_state_named(asked.state);
  out.shaft = job::shaft_condition_named(asked.shaft);
  for (const auto& what : asked.with) job::read_too(out, what);
  return out;
}

}  // namespace

void add_simulate(CLI::App& app, action& chosen) {
  auto asked = std::make_shared<simulate_command>();
  auto* command =
      app.add_subcommand("simulate", "Write the record of a machine that there never was, healthy or with faults");
  command->add_option("--machine", asked->machine, "Model to simulate; an unknown one names those that there are")
      ->required();
  command->add_option("--fault", asked->faults, "NAME or NAME=SEVERITY, such as shorted_turns=0.05; may be repeated");
  command->add_option("--seed", asked->seed, "Of everything that is drawn")
      ->check(sixty_four_bits())
      ->capture_default_str();
  command->add_option("--unit", asked->unit, "Seed of the machine's own spread, for further visits of one machine")
      ->check(sixty_four_bits());
  command->add_option("--bench", asked->bench, "Seed of the meters, for machines read on one bench")
      ->check(sixty_four_bits());
  command->add_option("--id", asked->id, "The machine's number in the record");
  command->add_option("--state", asked->state, "as_found, after_repair or recheck")->capture_default_str();
  command->add_option("--shaft", asked->shaft, "loaded or bare")->capture_default_str();
  command->add_option("--with", asked->with, "What is read too: watts,rpm,coast_down,heat_run,polarization")
      ->delimiter(',');
  command->add_option("--out", asked->out, "Write to this file instead of standard output");
  command->footer("Exit code: 0, or 64 wrong usage.");
  command->callback([asked, command, &chosen] {
    chosen = [asked, command] {
      const auto options = options_of(*asked, *command);
      write_out(asked->out, job::simulated_record_text(job::simulated_machine_named(asked->machine), options));
      return released;
    };
  });
}

}  // namespace rewound::tool
