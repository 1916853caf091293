// SPDX-License-Identifier: MIT
#include <rewound/job/trend.hpp>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <set>

#include <rewound/base/error.hpp>
#include <rewound/record/validate.hpp>
#include <rewound/verdict/rules/trend.hpp>

#include "analysis/insulation_analysis.hpp"

namespace rewound::job {

using base::error;
using base::error_code;
using record::insulation_system;

namespace {

constexpr double days_a_year = 365.2425;  // of the Gregorian calendar

std::chrono::sys_days calendar_day(const record::date& day) {
  return std::chrono::year_month_day{std::chrono::year(day.year), std::chrono::month(static_cast<unsigned>(day.month)),
                                     std::chrono::day(static_cast<unsigned>(day.day))};
}

double years_of(const record::date& day) {
  return static_cast<double>(calendar_day(day).time_since_epoch().count()) / days_a_year;
}

/// The month so many years after a day, "2031-04"; "never" where there is none.
std::string month_after(const record::date& day, const std::optional<double>& years) {
  if (!years) return "never";
  const auto days = std::chrono::days(static_cast<int>(std::lround(*years * days_a_year)));
  const std::chrono::year_month_day there{calendar_day(day) + days};
  return record::date{static_cast<int>(there.year()), static_cast<int>(static_cast<unsigned>(there.month())), 1}
      .iso()
      .substr(0, 7);
}

/// One circuit of one visit, measured.
struct measured_circuit {
  const record::visit_record* in;
  const record::insulation_section* entry;
  bench_instruments instruments;
  verdict::rules::circuit_insulation found;
};

void expect_one_machine(const std::vector<const record::visit_record*>& visits) {
  const auto& first = visits.front()->machine;
  for (const auto* visit : visits) {
    const auto& machine = visit->machine;
    if (machine.id != first.id)
      throw error(error_code::records_do_not_match, {"", 0, "machine.id"},
                  "\"" + first.id + "\" and \"" + machine.id + "\"", "records of one machine");
    if (machine.rated_voltage_V != first.rated_voltage_V || machine.phases != first.phases)
      throw error(error_code::records_do_not_match, {"", 0, "machine.rated_voltage_V"},
                  "another rated voltage or number of phases on " + visit->visit.day.iso(),
                  "the same rating in all records");
  }
  for (std::size_t i = 1; i < visits.size(); ++i)
    if (visits[i]->visit.day == visits[i - 1]->visit.day)
      throw error(error_code::repeated, {"", 0, "visit.date"}, "two records of " + visits[i]->visit.day.iso(),
                  "one record a date: leave out one of them");
}

std::vector<const record::visit_record*> by_date(const std::vector<record::visit_record>& records) {
  if (records.empty()) throw error(error_code::empty_list, {"", 0, "records"}, "none", "at least one record");
  std::vector<const record::visit_record*> out;
  for (const auto& in : records) out.push_back(&in);
  std::stable_sort(out.begin(), out.end(), [](const auto* a, const auto* b) { return a->visit.day < b->visit.day; });
  expect_one_machine(out);
  return out;
}

/// Names of the circuits in the order of their first appearance.
std::vector<std::string> circuits_of(const std::vector<const record::visit_record*>& visits) {
  std::vector<std::string> out;
  for (const auto* visit : visits) {
    std::set<std::string> here;
    for (const auto& entry : visit->insulation) {
      if (!here.insert(entry.circuit).second)
        throw error(error_code::repeated, {"", 0, "insulation.circuit"},
                    "\"" + entry.circuit + "\" twice on " + visit->visit.day.iso(), "each circuit once a visit");
      if (std::find(out.begin(), out.end(), entry.circuit) == out.end()) out.push_back(entry.circuit);
    }
  }
  return out;
}

std::vector<measured_circuit> measured(const std::vector<const record::visit_record*>& visits,
                                       const std::string& circuit, const verdict::policy& policy) {
  std::vector<measured_circuit> out;
  for (const auto* visit : visits)
    for (const auto& entry : visit->insulation) {
      if (entry.circuit != circuit) continue;
      const auto instruments = instruments_of(*visit);
      auto worked = analyse_insulation(*visit, instruments, entry, policy);
      if (worked.result.at_one_minute) out.push_back({visit, &entry, instruments, std::move(worked)});
    }
  return out;
}

const measurement::uncertain<units::resistance>& corrected(const measured_circuit& at, insulation_system system) {
  return system == insulation_system::thermosetting ? *at.found.result.thermosetting_at_40
                                                    : *at.found.result.thermoplastic_at_40;
}

/// One tester throughout has one gain error, which leaves the slope alone.
bool one_tester(const std::vector<const measured_circuit*>& line) {
  return std::all_of(line.begin(), line.end(), [&](const auto* at) {
    return at->instruments.insulation_tester.same_meter(line.front()->instruments.insulation_tester);
  });
}

checks::trend_input line_input(const std::vector<const measured_circuit*>& line, insulation_system system,
                               double minimum_Mohm, const verdict::policy& policy) {
  checks::trend_input out;
  out.minimum = minimum_Mohm;
  out.horizon_years = policy.practice.trend_horizon_years.value;
  out.step_certainty = policy.practice.trend_step_certainty.value;
  out.step_factor = policy.practice.trend_step_factor.value;
  const double repeat = policy.practice.trend_repeat_percent.value / 100.0;
  const bool same = one_tester(line);
  for (const auto* at : line) {
    const auto& result = at->found.result;
    const double from_temperature = system == insulation_system::thermosetting ? result.thermosetting_temperature_u
                                                                               : result.thermoplastic_temperature_u;
    const double gain = tester_gain_uncertainty(at->instruments);
    if (same) out.common_uncertainty = gain;
    const double own = std::hypot(from_temperature, result.independent_u, same ? 0.0 : gain);
    out.points.push_back(
        {years_of(at->in->visit.day), units::in_megohms(corrected(*at, system).value), std::hypot(own, repeat)});
  }
  return out;
}

trend_visit visit_of(const measured_circuit& at, insulation_system system, bool in_line) {
  const auto& value = corrected(at, system);
  const double megohm = units::in_megohms(value.value);
  const double factor = std::exp(measurement::coverage_95 * (value.standard_uncertainty / value.value).value());
  return {at.in->visit.day,
          at.in->visit.state,
          at.found.result.one_minute_read,
          units::in_megohms(at.found.result.at_one_minute->value),
          verdict::rules::winding_C(*at.in, *at.entry),
          !at.entry->winding_C,
          megohm,
          {megohm / factor, megohm * factor},
          in_line};
}

std::string differing_voltages(const std::vector<const measured_circuit*>& line) {
  std::set<long> volts;
  for (const auto* at : line) volts.insert(std::lround(at->entry->test_voltage_V));
  std::string out;
  if (volts.size() > 1)
    for (const long v : volts) out += (out.empty() ? "" : ", ") + std::to_string(v);
  return out;
}

std::string work_text(const std::vector<std::string>& words) {
  std::string out;
  for (const auto& word : words) out += (out.empty() ? "" : ", ") + word;
  return out;
}

circuit_trend trend_of(const std::string& circuit, const std::vector<measured_circuit>& all,
                       const verdict::policy& policy) {
  const auto& last = all.back();
  const auto stated = last.in->machine.insulation_system;
  const auto system = verdict::rules::deciding_system(stated, last.found.result);
  circuit_trend out{circuit,
                    system == insulation_system::thermosetting ? "thermosetting" : "thermoplastic",
                    stated.has_value(),
                    verdict::rules::insulation_minimum(last.in->machine, verdict::rules::wound_year(*last.in), policy),
                    {},
                    {},
                    {}};
  std::vector<const measured_circuit*> line;
  for (const auto& at : all) {
    const auto& year = at.in->machine.wound_year;
    const auto& present = last.in->machine.wound_year;
    const bool present_winding = !year || !present || *year == *present;
    out.visits.push_back(visit_of(at, system, present_winding));
    if (present_winding) line.push_back(&at);
  }
  const auto input = line_input(line, system, out.minimum.value, policy);
  out.line = checks::trend(input);
  const auto& today = last.in->visit.day;
  verdict::rules::dated_line dated{.visits = line.size(),
                                   .years = input.points.back().years - input.points.front().years,
                                   .system = stated ? "stated" : "unknown_" + out.system,
                                   .rewound = line.size() < all.size() ? line.front()->in->visit.day.iso() : "",
                                   .voltages = differing_voltages(line),
                                   .steps = {},
                                   .crosses = month_after(today, out.line.crosses_in_years),
                                   .earliest = month_after(today, out.line.earliest_years),
                                   .latest = month_after(today, out.line.latest_years)};
  for (const auto& step : out.line.steps)
    dated.steps.push_back({line[step.index - 1]->in->visit.day.iso(), line[step.index]->in->visit.day.iso(),
                           work_text(line[step.index]->in->visit.work)});
  out.findings = verdict::rules::trend(circuit, out.line, dated, out.minimum, policy);
  return out;
}

}  // namespace

trend_result trend(const std::vector<record::visit_record>& records, const verdict::policy& policy) {
  for (const auto& record : records) record::validate(record);
  const auto visits = by_date(records);
  trend_result out;
  out.machine = visits.front()->machine.id;
  for (const auto* visit : visits) out.visits.push_back(visit->visit.day);
  out.horizon_years = policy.practice.trend_horizon_years.value;
  for (const auto& circuit : circuits_of(visits)) {
    const auto all = measured(visits, circuit, policy);
    if (!all.empty()) out.circuits.push_back(trend_of(circuit, all, policy));
  }
  if (out.circuits.empty())
    throw error(error_code::empty_list, {"", 0, "insulation"}, "no insulation resistance at one minute in any record",
                "at least one [[insulation]] with a reading at 60 s");
  return out;
}

}  // namespace rewound::job
