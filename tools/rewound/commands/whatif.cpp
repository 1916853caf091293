// SPDX-License-Identifier: MIT
#include <memory>
#include <string>

#include <CLI/CLI.hpp>

#include <rewound/job/whatif.hpp>
#include <rewound/report/whatif.hpp>

#include "command.hpp"
#include "exit_code.hpp"
#include "output.hpp"

namespace rewound::tool {

namespace {

struct whatif_options {
  std::string file;
  job::whatif_change change;
  double supply_voltage_V = 0.0;
  double supply_frequency_Hz = 0.0;
  double for_current_A = 0.0;
  bool for_current = false;
  output_options output;
};

int show_whatif(const whatif_options& options) {
  const auto record = record::load_record(options.file);
  const auto& change = options.change;
  const auto answer = options.for_current ? job::whatif_for_current(record, options.for_current_A,
                                                                    change.supply_voltage_V, change.supply_frequency_Hz)
                                          : job::whatif(record, change);
  show(options.output, answer, report::whatif_text, report::whatif_json);
  return released;
}

}  // namespace

void add_whatif(CLI::App& app, action& chosen) {
  auto options = std::make_shared<whatif_options>();
  auto* command = app.add_subcommand(
      "whatif", "What other turns, wire or mains would change: amps, watts, flux, rise over the air");
  command->add_option("record", options->file, "Record of the machine, its run-up with the present winding")
      ->required();
  command->add_option("--turns-factor", options->change.turns_factor, "Turns of every coil, new over present")
      ->capture_default_str();
  command
      ->add_option("--wire-area-factor", options->change.wire_area_factor,
                   "Cross-section of the wire, new over present")
      ->capture_default_str();
  auto* wanted = command
                     ->add_option("--for-current", options->for_current_A,
                                  "Amps that the fastest speed is to take on these mains: finds turns and wire")
                     ->excludes("--turns-factor")
                     ->excludes("--wire-area-factor");
  auto* volts =
      command->add_option("--supply-voltage", options->supply_voltage_V, "Volts of the mains; else the record's");
  auto* hertz =
      command->add_option("--supply-frequency", options->supply_frequency_Hz, "Hertz of the mains; else the record's");
  add_output(*command, options->output);
  command->footer("Exit code: 0 whatever the answer, 64 wrong usage, 65 unreadable or impossible input.");
  command->callback([options, volts, hertz, wanted, &chosen] {
    options->for_current = wanted->count() > 0;
    if (volts->count() > 0) options->change.supply_voltage_V = options->supply_voltage_V;
    if (hertz->count() > 0) options->change.supply_frequency_Hz = options->supply_frequency_Hz;
    chosen = [options] { return show_whatif(*options); };
  });
}

}  // namespace rewound::tool
