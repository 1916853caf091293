// SPDX-License-Identifier: MIT
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <string>

#include "simulate.hpp"

namespace {

constexpr const char* usage =
    "usage: tools/study [--scale FACTOR] [--seed NUMBER] "
    "[coverage|judgement|readings|learning|causes|judging|heat]...\n"
    "Prints tables of the expected-current engine on the project's own simulation; without names, all of them.\n"
    "  --scale  multiplies the numbers of simulated cases (1)\n"
    "  --seed   another seed (fixed)\n"
    "tools/study fits [--scale FACTOR] [--repeats NUMBER] prints the table of curve fits beside general solvers.\n";

bool print(const std::string& table, const rewound::study::options& asked) {
  if (table == "coverage") rewound::study::print_coverage(asked);
  else if (table == "judgement") rewound::study::print_judgement(asked);
  else if (table == "readings") rewound::study::print_bad_readings(asked);
  else if (table == "learning") rewound::study::print_learning(asked);
  else if (table == "causes") rewound::study::print_causes(asked);
  else if (table == "judging") rewound::study::print_judging(asked);
  else if (table == "heat") rewound::study::print_heat_runs(asked);
  else return false;
  std::fflush(stdout);
  return true;
}

}  // namespace

int main(int count, char** words) try {
  rewound::study::options asked;
  std::vector<std::string> tables;
  for (int i = 1; i < count; ++i) {
    const std::string word = words[i];
    if (word == "--help") return std::fputs(usage, stdout), 0;
    if (word == "--scale" && i + 1 < count) asked.scale = std::atof(words[++i]);
    else if (word == "--seed" && i + 1 < count) asked.seed = std::strtoull(words[++i], nullptr, 10);
    else tables.push_back(word);
  }
  if (tables.empty()) tables = {"readings", "learning", "judgement", "coverage", "causes", "judging", "heat"};
  for (const auto& table : tables)
    if (!(asked.scale > 0.0) || !print(table, asked)) return std::fputs(usage, stderr), 64;
  return 0;
} catch (const std::exception& trouble) {
  std::fprintf(stderr, "study: %s\n", trouble.what());
  return 1;
}
