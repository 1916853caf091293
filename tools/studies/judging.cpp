// SPDX-License-Identifier: MIT
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <stdio.h>
#include <time.h>

#include <rewound/checks/fault_likelihood.hpp>
#include <rewound/job/judge.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/record/batch_source.hpp>

#include "batch/in_order.hpp"
#include "evidence/electrical_evidence.hpp"
#include "evidence/pooled_references.hpp"
#include "evidence/prepared_designs.hpp"
#include "analysis/analysis.hpp"
#include "simulate.hpp"

namespace rewound::study {

namespace {

namespace fs = std::filesystem;

double seconds_of(const auto& work) {
  const auto start = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

/// Milliseconds of processor time: what else runs on the machine does not count.
double processor_ms_of(const auto& work, clockid_t whose = CLOCK_THREAD_CPUTIME_ID) {
  const auto now = [&] {
    timespec at{};
    clock_gettime(whose, &at);
    return 1e3 * static_cast<double>(at.tv_sec) + 1e-6 * static_cast<double>(at.tv_nsec);
  };
  const double start = now();
  work();
  return now() - start;
}

/// Median milliseconds, and the fastest.
struct timing {
  double median = 0.0;
  double least = 0.0;
};

timing timing_of(std::vector<double> each) {
  std::sort(each.begin(), each.end());
  return {each[each.size() / 2], each.front()};
}

void forget_all() {
  job::forget_prepared_designs();
  job::forget_pooled_references();
}

timing time_of(const std::vector<record::visit_record>& records, const job::sources& beside,
               const verdict::policy& policy, bool cold) {
  std::vector<double> each;
  for (const auto& record : records) {
    if (cold) forget_all();
    each.push_back(processor_ms_of([&] { job::judge(record, beside, policy); }));
  }
  return timing_of(std::move(each));
}

/// What the larger parts of a judgement take by themselves, the model seen before: they are made again here.
void print_parts(const std::vector<record::visit_record>& records, const job::sources& beside,
                 const verdict::policy& policy) {
  std::vector<double> curves, evidence, drawing, steps;
  for (const auto& record : records) {
    const auto visits = job::visits_of(record, {});
    const auto good = job::without_this_visit(beside.good, record);
    std::optional<job::running_population> population;
    job::run_up_analysis run_ups;
    curves.push_back(processor_ms_of([&] {
      population = job::population_beside(visits, good, policy);
      run_ups = job::analyse_run_ups(visits.today, {});
    }));
    const auto channels = job::analyse_channels(job::channels_of(visits.today, run_ups));
    std::optional<job::electrical_evidence> found;
    evidence.push_back(processor_ms_of([&] {
      found = population ? job::evidence_beside(visits.today, *population->machines, population->pooled,
                                                channels.readings, policy)
                         : job::evidence_by_nameplate(visits.today, channels.readings, policy);
    }));
    if (found)
      drawing.push_back(processor_ms_of([&] { checks::fault_likelihood({found->observed, found->model, 600, 60}); }));
    const auto judged = job::judge(record, beside, policy);
    steps.push_back(processor_ms_of([&] { judged.next_steps.get(); }));
  }
  const auto median = [](const std::vector<double>& each) { return each.empty() ? 0.0 : timing_of(each).median; };
  std::printf("    of these: curves and suspect readings %.3f, what designs show %.3f, weighing faults %.3f\n",
              median(curves), median(evidence), median(drawing));
  std::printf("    when asked for: what to measure next %.3f\n", median(steps));
}

void write_rows(std::ofstream& out, const record::visit_record& in) {
  const auto& m = in.machine;
  for (const auto& run : in.run_up)
    for (const auto& reading : run.rows) {
      char row[200];
      std::snprintf(row, sizeof row, "%s,%s,%g,%g,%g,2026-05-14,%s,%.1f,%.3f\n", m.id.c_str(),
                    m.model.value_or("").c_str(), m.rated_voltage_V, m.rated_frequency_Hz,
                    m.rated_current_A.value_or(1.0), run.speed.c_str(), reading.voltage_V, reading.current_A);
      out << row;
    }
}

constexpr const char* table_head =
    "machine,model,rated_voltage_V,rated_frequency_Hz,rated_current_A,date,speed,voltage_V,current_A\n";

/// A long table of machines of one model, on disk for as long as this lives.
struct table_on_disk {
  fs::path path = fs::temp_directory_path() / "rewound_study_season.csv";
  explicit table_on_disk(const std::vector<record::visit_record>& records, std::size_t times) {
    std::ofstream out(path);
    out << table_head;
    for (std::size_t t = 0; t < times; ++t)
      for (auto record : records) {
        record.machine.id += "-" + std::to_string(t);
        write_rows(out, record);
      }
  }
  ~table_on_disk() { fs::remove(path); }
  double megabytes() const { return static_cast<double>(fs::file_size(path)) / 1e6; }
};

/// Seconds that pandas takes to read the same file; below 0 where it is not installed.
double seconds_of_pandas(const fs::path& path) {
  const std::string command =
      "python3 -c \"import pandas,time;s=time.perf_counter();pandas.read_csv('" + path.string() +
      "');print(time.perf_counter()-s)\" 2>/dev/null || /usr/bin/python3 -c \"import pandas,time;"
      "s=time.perf_counter();pandas.read_csv('" +
      path.string() + "');print(time.perf_counter()-s)\" 2>/dev/null";
  std::FILE* shell = popen(command.c_str(), "r");
  double seconds = -1.0;
  if (shell == nullptr || std::fscanf(shell, "%lf", &seconds) != 1) seconds = -1.0;
  if (shell != nullptr) pclose(shell);
  return seconds;
}

void print_reading(const std::vector<record::visit_record>& records) {
  const table_on_disk table(records, 20);
  std::size_t machines = 0;
  const double blocks = seconds_of([&] {
    for (const auto source = record::open_batch(table.path.string()); source->next();) ++machines;
  });
  double amperes = 0.0;
  const double whole = seconds_of([&] {
    const auto source = record::open_batch(table.path.string());
    while (const auto item = source->next()) amperes += item->load().run_up.front().rows.front().current_A;
  });
  const double pandas = seconds_of_pandas(table.path);
  std::printf("\nReading a long table of %zu machines, %.1f MB (first current in all: %.3f A)\n", machines,
              table.megabytes(), amperes);
  std::printf("  parted into machines            %8.1f MB/s\n", table.megabytes() / blocks);
  std::printf("  read and checked as records     %8.1f MB/s\n", table.megabytes() / whole);
  if (pandas > 0.0) std::printf("  pandas.read_csv, columns alone  %8.1f MB/s\n", table.megabytes() / pandas);
  else std::printf("  pandas.read_csv                 not installed\n");
}

void print_batch(const std::vector<record::visit_record>& records, const job::sources& beside,
                 const verdict::policy& policy, const char* name) {
  const table_on_disk table(records, 1);
  for (const unsigned threads : {1u, 2u}) {
    forget_all();
    std::size_t held = 0;
    struct piece {
      record::batch_item item;
      bool hold = false;
    };
    double seconds = 0.0;
    const auto run = [&] {
      const auto source = record::open_batch(table.path.string());
      tool::in_order(
          threads,
          [&]() -> std::optional<piece> {
            auto item = source->next();
            return item ? std::optional(piece{std::move(*item)}) : std::nullopt;
          },
          [&](piece& one) {
            one.hold = job::judge(one.item.load(), beside, policy).decision.decision == verdict::decision::hold;
          },
          [&](piece& one) { held += one.hold ? 1 : 0; });
    };
    const double ms = processor_ms_of([&] { seconds = seconds_of(run); }, CLOCK_PROCESS_CPUTIME_ID);
    const auto count = static_cast<double>(records.size());
    std::printf("  %-22s %u thread%s %9.0f records/s, %7.3f ms of processor time each (%zu, %zu of them on hold)\n",
                name, threads, threads > 1 ? "s" : " ", count / seconds, ms / count, records.size(), held);
  }
}

}  // namespace

void print_judging(const options& asked) {
  generator random(asked.seed + 7);
  const auto policy = job::default_policy();
  const auto model = random_design(shape::saturating, random);
  const auto meters = random_meters("shop", random);
  std::vector<record::visit_record> good, records;
  for (int i = 0; i < 5; ++i)
    good.push_back(visit("good" + std::to_string(i), random_unit(model, {}, random), meters, {}, random));
  for (std::size_t i = 0; i < cases(asked, 1000); ++i)
    records.push_back(visit("unit" + std::to_string(i), random_unit(model, {}, random), meters, {}, random));
  const double marked = good.front().run_up.front().rows.back().current_A;
  for (auto& record : records) record.machine.rated_current_A = marked;
  const job::sources by_reference{{}, job::learn(good, policy)};
  const std::vector<record::visit_record> some(
      records.begin(), records.begin() + static_cast<std::ptrdiff_t>(std::min<std::size_t>(20, records.size())));
  std::printf(
      "\nMilliseconds of processor time of one judgement on a loaded record of three speeds, 6 to 8 readings each: "
      "median (fastest)\n");
  std::printf("  %-22s %20s %20s\n", "judged by", "first of its model", "model seen before");
  for (const auto& [name, beside] :
       {std::pair<const char*, job::sources>{"nameplate", {}}, {"reference of five", by_reference}}) {
    const auto cold = time_of(some, beside, policy, true);
    time_of(records, beside, policy, false);
    const auto warm = time_of(records, beside, policy, false);
    std::printf("  %-22s %11.3f (%6.3f) %11.3f (%6.3f)\n", name, cold.median, cold.least, warm.median, warm.least);
    print_parts(some, beside, policy);
  }
  std::printf("\nA long table from file to decisions, designs not prepared\n");
  print_batch(records, {}, policy, "nameplate");
  print_batch(records, by_reference, policy, "reference of five");
  print_reading(records);
}

}  // namespace rewound::study
