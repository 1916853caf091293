// SPDX-License-Identifier: MIT
#include <cmath>
#include <numbers>

#include <rewound/record/fields.hpp>
#include "judge_parts.hpp"

namespace rewound::job {

namespace {

using verdict::rules::contradiction;
using found = std::vector<contradiction>;

std::string entry(const char* key, double value) { return std::string(key) + " = " + record::shown_number(value); }

void by_dates(const record::visit_record& in, const verdict::policy& policy, found& out) {
  const auto from = policy.practice.earliest_year, to = policy.practice.latest_year;
  const int year = in.visit.day.year;
  const auto visit = "date = " + in.visit.day.iso();
  if (year < from.value || year > to.value)
    out.push_back(
        {"visit.date", visit,
         "years of visits lie from " + record::shown_number(from.value) + " to " + record::shown_number(to.value),
         std::string(from.source)});
  if (in.machine.wound_year && *in.machine.wound_year > year)
    out.push_back({"visit.date or machine.wound_year", visit, entry("wound_year", *in.machine.wound_year),
                   "a winding is not younger than its test (logic)"});
}

void by_nameplate(const record::visit_record& in, const verdict::policy& policy, found& out) {
  const auto& m = in.machine;
  if (!m.rated_power_W || !m.rated_current_A) return;
  const double apparent = m.rated_voltage_V * *m.rated_current_A * (m.phases == 3 ? std::numbers::sqrt3 : 1.0);
  const auto rounding = policy.practice.marked_power_percent;
  if (*m.rated_power_W <= (1.0 + rounding.value / 100.0) * apparent) return;
  out.push_back({"machine.rated_power_W or rated_current_A", entry("rated_power_W", *m.rated_power_W),
                 entry("rated_current_A", *m.rated_current_A) + " at " + entry("rated_voltage_V", m.rated_voltage_V) +
                     ", which is " + record::shown_number(std::round(apparent)) + " VA",
                 "active power never exceeds volts times amperes (mathematics); " + std::string(rounding.source)});
}

void by_instruments(const record::visit_record& in, found& out) {
  for (const auto& [kind, meter] : in.instruments)
    if (meter.reading_percent == 0.0 && meter.digits == 0.0)
      out.push_back({"instruments." + kind, "reading_percent = 0 and digits = 0", "no meter is exact",
                     "common practice, no source"});
}

void by_air(const record::visit_record& in, const verdict::policy& policy, found& out) {
  if (!in.visit.ambient_C) return;
  const auto low = policy.practice.ambient_low_C, high = policy.practice.ambient_high_C;
  if (*in.visit.ambient_C >= low.value && *in.visit.ambient_C <= high.value) return;
  out.push_back({"visit.ambient_C", entry("ambient_C", *in.visit.ambient_C),
                 "air of a bench lies from " + record::shown_number(low.value) + " to " +
                     record::shown_number(high.value) + " degC",
                 std::string(*in.visit.ambient_C > high.value ? high.source : low.source)});
}

}  // namespace

std::vector<contradiction> contradictions_of(const record::visit_record& in, const verdict::policy& policy) {
  found out;
  by_dates(in, policy, out);
  by_nameplate(in, policy, out);
  by_instruments(in, out);
  by_air(in, policy, out);
  return out;
}

}  // namespace rewound::job
