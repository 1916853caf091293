// SPDX-License-Identifier: MIT
// One program for all targets, chosen by --target=NAME: what is read may be refused by base::error and nothing else,
// and what is taken must hold what its reader promises.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <string>
#include <string_view>
#include <variant>

#include <unistd.h>

#include <rewound/base/characters.hpp>
#include <rewound/base/error.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/job/reference.hpp>
#include <rewound/record/record.hpp>
#include <rewound/record/validate.hpp>

#include "dialogue/entry/insulation_answer.hpp"
#include "dialogue/entry/over_range.hpp"
#include "dialogue/entry/run_up_reading.hpp"
#include "dialogue/entry/typed_reading.hpp"
#include "dialogue/entry/worded_reading.hpp"
#include "dialogue/meters/scpi.hpp"

namespace {

using namespace rewound;

[[noreturn]] void broken(const char* what) {
  std::fprintf(stderr, "does not hold: %s\n", what);
  std::abort();
}

void expect(bool holds, const char* what) {
  if (!holds) broken(what);
}

/// A refusal is one line that steers no terminal, and never our own mistake.
void expect_told(const base::error& trouble) {
  const std::string line = trouble.what();
  expect(trouble.code() != base::error_code::precondition, "a refusal is of the input");
  expect(line == base::seen_text(line), "a refusal steers no terminal");
}

template <class Read>
void refused_or(Read&& read) {
  try {
    read();
  } catch (const base::errors& trouble) {
    for (const auto& each : trouble.all()) expect_told(each);
  } catch (const base::error& trouble) {
    expect_told(trouble);
  }
}

void record_text(std::string_view text) {
  refused_or([&] {
    const auto read = record::record_from(record::read_toml_text(text, "fuzz"));
    expect(record::problems_of(read).empty(), "a record that was read has no problem");
    const auto written = record::record_text(read);
    const auto again = record::record_from(record::read_toml_text(written, "written"));
    expect(record::record_text(again) == written, "a record that was written reads as it was");
  });
}

void reference_text(std::string_view text) {
  refused_or([&] {
    const auto read = job::reference_from(record::read_toml_text(text, "fuzz"));
    for (const auto& machine : read.machines)
      for (const auto& block : machine.blocks) {
        const auto& precision = block.information.precision;
        expect(precision.allFinite() && block.information.weighted.allFinite(), "a reference is finite");
        expect((precision - precision.transpose()).norm() <= 1e-6 * (1.0 + precision.norm()), "symmetric");
      }
  });
}

void policy_text(std::string_view text) {
  refused_or([&] {
    const auto read = job::policy_from(record::read_toml_text(text, "fuzz"));
    expect(!read.needed.empty(), "a policy needs something");
    expect(read.needs(verdict::check::readings), "suspect readings are never passed over");
  });
}

/// A table needs a file: one in memory, of this process.
void table_text(std::string_view text) {
  static const std::string folder = [] {
    std::string name = "/dev/shm/rewound-fuzz-XXXXXX";
    if (::mkdtemp(name.data()) == nullptr) broken("a folder for the table");
    return name;
  }();
  const auto at = text.find('\0');  // before it the section's name
  const auto section = text.substr(0, std::min(at, std::size_t{20}));
  const auto table = at == std::string_view::npos ? text : text.substr(at + 1);
  const std::string file = folder + "/table.csv";
  std::ofstream(file, std::ios::binary) << table;
  constexpr std::string_view sections[] = {"run_up", "insulation", "resistance", "starts", "withstand", "leakage"};
  std::string of = "run_up";
  for (const auto& each : sections)
    if (each == section) of = each;
  const std::string record = folder + "/record.toml";
  std::ofstream(record, std::ios::binary)
      << "format = \"rewound-record/1\"\n"
      << (of == "run_up" ? "" : "run_up = []\n")
      << "[machine]\nid = \"a\"\nphases = 1\nrated_voltage_V = 230\nrated_frequency_Hz = 50\nspeeds = [\"high\", "
         "\"low\"]\nspeed_control = \"unknown\"\nrunning_circuit = \"unknown\"\n[visit]\ndate = 2026-05-14\nstate = "
         "\"recheck\"\nambient_C = 20\n[["
      << of << "]]\nfile = \"table.csv\"\n";
  refused_or([&] { expect(record::problems_of(record::load_record(record)).empty(), "a table that was read holds"); });
}

/// What is typed at the bench, and what stands before a reading is taken: each parser refuses or gives finite numbers.
void typed_line(std::string_view text) {
  using namespace tool::dialogue;
  const std::string line(text.substr(0, 400));
  refused_or([&] {
    for (const auto& number : parse_line(line, {"high", "low", "2"}).numbers)
      expect(std::isfinite(number.value) && std::isfinite(number.typed), "a typed number is finite");
  });
  refused_or([&] { expect(std::isfinite(parse_number(line, quantity::current, 1.0)), "a number is finite"); });
  refused_or([&] { parse_pair(line, quantity::voltage, 1.0, quantity::current, 1.0); });
  refused_or([&] { parse_insulation(line); });
  refused_or([&] { parse_resistance(line); });
  refused_or([&] { parse_earth(line); });
  refused_or([&] { parse_leakage(line); });
  refused_or([&] { parse_starts(line); });
  refused_or([&] { over_range_in(line); });
}

void answer_line(std::string_view text) {
  using namespace tool::dialogue;
  const auto answer = scpi_answer(text);
  if (const auto* value = std::get_if<double>(&answer)) {
    expect(std::isfinite(*value) && std::abs(*value) <= 1e16, "an instrument's reading is a number of its range");
  } else {
    const auto& why = std::get<no_reading>(answer).why;
    expect(!why.empty() && why == base::seen_text(why), "why there is none steers no terminal");
  }
}

struct target {
  std::string_view name;
  void (*run)(std::string_view);
};
constexpr target targets[] = {{"record", record_text}, {"reference", reference_text}, {"policy", policy_text},
                              {"table", table_text},   {"typed", typed_line},         {"answer", answer_line}};

const target* chosen = nullptr;

}  // namespace

extern "C" int LLVMFuzzerInitialize(int* count, char*** arguments) {
  constexpr std::string_view asked = "--target=";
  for (int i = 1; i < *count; ++i) {
    const std::string_view argument = (*arguments)[i];
    if (!argument.starts_with(asked)) continue;
    for (const auto& each : targets)
      if (each.name == argument.substr(asked.size())) chosen = &each;
  }
  if (chosen == nullptr) {
    std::fprintf(stderr, "--target= one of:");
    for (const auto& each : targets) std::fprintf(stderr, " %s", std::string(each.name).c_str());
    std::fprintf(stderr, "\n");
    std::exit(64);
  }
  return 0;
}

extern "C" int LLVMFuzzerTestOneInput(const unsigned char* data, std::size_t size) {
  chosen->run({reinterpret_cast<const char*>(data), size});
  return 0;
}
