// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <chrono>
#include <cmath>
#include <optional>
#include <string_view>
#include <utility>

#include <rewound/base/characters.hpp>
#include <rewound/base/compiled.hpp>
#include <rewound/base/number_text.hpp>
#include <rewound/record/keys.hpp>
#include <rewound/record/validate.hpp>

namespace rewound::record {

namespace detail {

using base::error_code;

/// A number as a person writes it.
REWOUND_INLINE std::string in_digits(double value) { return base::general_digits(value, 10); }

inline std::string in_quotes(const std::string& text) { return "\"" + text + "\""; }

template <class Names>
std::string listed(const Names& names) {
  std::string out;
  for (const auto& name : names) out += (out.empty() ? "" : ", ") + std::string(name);
  return out;
}

/// Whether a number may stand there.
inline bool within(double value, const range& allowed) {
  return std::isfinite(value) && value <= allowed.high &&
         (allowed.low_open ? value > allowed.low : value >= allowed.low) &&
         (value == 0.0 || std::abs(value) >= allowed.smallest);
}

inline std::string with_example(const char* name, const key_facts& facts) {
  return std::string(facts.allowed.words) + ", as in " + name + " = " + facts.example;
}

/// Visits all keys and holds each value against what it may be.
class value_checker {
 public:
  explicit value_checker(std::vector<problem>& found) : found_(found) {}

  void key(const char* name, const std::string& value, const key_facts& facts) {
    if (facts.needed && value.empty())
      add(error_code::out_of_range, name, "an empty text",
          std::string("a text, as in ") + name + " = " + facts.example);
    text(name, value, facts.prose ? largest::prose : largest::name);
  }
  void key(const char* name, const std::optional<std::string>& value, const key_facts& facts) {
    if (value && value->empty())
      add(error_code::out_of_range, name, "an empty text",
          std::string("a text, as in ") + name + " = " + facts.example);
    else if (value) text(name, *value, facts.prose ? largest::prose : largest::name);
  }
  void key(const char* name, const std::vector<std::string>& values, const key_facts& facts) {
    if (facts.needed && values.empty())
      add(error_code::empty_list, name, "an empty list",
          std::string("at least one text, as in ") + name + " = " + facts.example);
    if (!few_enough(name, values.size(), largest::readings, "texts")) return;
    for (std::size_t i = 0; i < values.size(); ++i) {
      if (values[i].empty()) add(error_code::wrong_type, at(name, i), "an empty text", "a text that is not empty");
      text(at(name, i), values[i], facts.prose ? largest::prose : largest::name);
    }
  }
  void key(const char* name, double value, const key_facts& facts) { number(name, value, name, facts); }
  void key(const char* name, int value, const key_facts& facts) { number(name, value, name, facts); }
  void key(const char*, bool, const key_facts&) {}
  template <class Value>
  void key(const char* name, const std::optional<Value>& value, const key_facts& facts) {
    if (value) key(name, *value, facts);
  }
  void key(const char* name, const date& value, const key_facts&) {
    const std::chrono::year_month_day calendar{std::chrono::year(value.year),
                                               std::chrono::month(static_cast<unsigned>(value.month)),
                                               std::chrono::day(static_cast<unsigned>(value.day))};
    if (!calendar.ok()) add(error_code::out_of_range, name, value.iso(), "a day of the calendar");
  }
  void key(const char* name, const std::vector<double>& values, const key_facts& facts) {
    if (facts.needed && values.empty())
      add(error_code::empty_list, name, "an empty list",
          std::string("at least one reading, as in ") + name + " = " + facts.example);
    if (!few_enough(name, values.size(), largest::readings, "readings")) return;
    for (std::size_t i = 0; i < values.size(); ++i) number(at(name, i), values[i], name, facts);
    if (!facts.rising) return;
    for (std::size_t i = 1; i < values.size(); ++i)
      if (!(values[i] > values[i - 1]))
        return add(error_code::not_rising, name, in_digits(values[i]) + " after " + in_digits(values[i - 1]),
                   "times that rise");
  }
  template <class Value, class Words>
  void word(const char*, const Value&, const Words&, const key_facts&) {}
  void bounded(const char* name, double value, bool, const key_facts& facts) { number(name, value, name, facts); }
  void current(const char* name, double mean, const std::optional<three_lines>& by_line, bool, const key_facts& facts) {
    if (by_line) lines(name, by_line, facts);
    else number(name, mean, name, facts);
  }
  void lines(const char* name, const std::optional<three_lines>& by_line, const key_facts& facts) {
    if (!by_line) return;
    for (std::size_t line = 0; line < 3; ++line) number(at(name, line), (*by_line)[line], name, facts);
  }

  /// Each row's values stand in lists of the section: run_up[0].current_A[2].
  template <class Row>
  void rows(const std::vector<Row>& rows, const char* leader) {
    if (rows.empty()) add(error_code::empty_list, leader, "an empty list", "at least one reading");
    if (!few_enough(leader, rows.size(), largest::readings, "readings")) return;
    for (std::size_t i = 0; i < rows.size(); ++i) {
      row_ = i;
      describe(*this, rows[i]);
    }
    row_.reset();
  }

  template <class Section>
  void table(const char* name, const Section& section, const section_facts&) {
    inside(name, section);
  }
  template <class Section>
  void optional_table(const char* name, const std::optional<Section>& section, const section_facts&) {
    if (section) inside(name, *section);
  }
  template <class Section>
  void tables(const char* name, const std::vector<Section>& sections, const section_facts&) {
    prefix_.clear();
    if (!few_enough(name, sections.size(), largest::sections, "tables")) return;
    for (std::size_t i = 0; i < sections.size(); ++i) inside(at(name, i), sections[i]);
  }
  template <class Section, class Names>
  void named_tables(const char* name, const std::map<std::string, Section>& sections, const Names& names,
                    const section_facts&) {
    for (const auto& [member, section] : sections) {
      const std::string path = std::string(name) + "." + member;
      if (std::find(names.begin(), names.end(), member) == names.end())
        found_.push_back({error_code::unknown_key, path, "an instrument that is not known", "one of " + listed(names)});
      inside(path, section);
    }
  }
  void run_ups(const char* name, const std::vector<run_up_section>& as_marked,
               const std::vector<run_up_section>& rolled, const section_facts& facts) {
    tables(name, as_marked, facts);
    tables("rolled_run_up", rolled, facts);
  }
  void free_flags(const char* name, const std::map<std::string, bool>& flags, const section_facts&) {
    prefix_.clear();
    if (!few_enough(name, flags.size(), largest::sections, "flags")) return;
    for (const auto& [flag, set] : flags) text(name, flag, largest::name);
  }

 private:
  static std::string at(const std::string& name, std::size_t i) { return name + "[" + std::to_string(i) + "]"; }

  template <class Section>
  void inside(const std::string& path, const Section& section) {
    prefix_ = path + ".";
    describe(*this, section);
  }

  void add(error_code code, const std::string& name, std::string read, std::string allowed) {
    std::string path = prefix_ + name;
    if (row_) path += "[" + std::to_string(*row_) + "]";
    found_.push_back({code, std::move(path), std::move(read), std::move(allowed)});
  }

  /// @returns false, and tells, where there are more than a record may hold
  bool few_enough(const std::string& name, std::size_t count, std::size_t most, const char* of_what) {
    if (count <= most) return true;
    add(error_code::too_large, name, std::to_string(count) + " " + of_what,
        std::to_string(most) + " " + of_what + " or fewer");
    return false;
  }

  void text(const std::string& path, const std::string& value, std::size_t most) {
    if (value.size() > most)
      add(error_code::too_large, path, "a text of " + std::to_string(value.size()) + " bytes",
          std::to_string(most) + " bytes or fewer");
    else if (!base::is_utf8(value))
      add(error_code::out_of_range, path, "bytes that are no text", "characters in UTF-8");
  }

  void number(const std::string& path, double value, const char* name, const key_facts& facts) {
    if (!within(value, facts.allowed)) add(error_code::out_of_range, path, in_digits(value), with_example(name, facts));
  }

  std::vector<problem>& found_;
  std::string prefix_;
  std::optional<std::size_t> row_;
};

/// What several values say together.
class whole_checker {
 public:
  whole_checker(const visit_record& in, std::vector<problem>& found) : in_(in), found_(found) {}

  void check() {
    machine();
    for (const auto& [name, meter] : in_.instruments) instrument("instruments." + name, meter);
    run_ups();
    for (std::size_t i = 0; i < in_.insulation.size(); ++i) insulation("insulation[" + std::to_string(i) + "]", i);
    resistances();
    starts();
    for (std::size_t i = 0; i < in_.capacitor.size(); ++i) capacitor("capacitor[" + std::to_string(i) + "]", i);
    if (in_.cord) cord(*in_.cord);
    if (in_.coast_down)
      same_length("coast_down.speed_rpm", in_.coast_down->speed_rpm.size(), "time_s", in_.coast_down->time_s.size());
    if (in_.heat_run) heat_run(*in_.heat_run);
  }

 private:
  void add(error_code code, std::string path, std::string read, std::string allowed) {
    found_.push_back({code, std::move(path), std::move(read), std::move(allowed), true});
  }

  void same_length(const std::string& path, std::size_t length, const char* leader, std::size_t expected) {
    if (length == expected) return;
    add(error_code::unequal_lengths, path, std::to_string(length) + " values",
        std::to_string(expected) + ", as many as in " + leader);
  }

  bool speed_known(const std::string& speed) const {
    return std::find(in_.machine.speeds.begin(), in_.machine.speeds.end(), speed) != in_.machine.speeds.end();
  }

  void expect_speed(const std::string& path, const std::string& speed) {
    if (!speed_known(speed))
      add(error_code::not_a_choice, path, in_quotes(speed),
          "a speed listed under [machine]: " + listed(in_.machine.speeds));
  }

  void machine() {
    const auto& m = in_.machine;
    if (m.phases == 2) add(error_code::out_of_range, "machine.phases", "2", "1 or 3");
    if (m.poles && *m.poles % 2 != 0)
      add(error_code::out_of_range, "machine.poles", std::to_string(*m.poles), "an even number");
    for (std::size_t i = 0; i < m.speeds.size(); ++i)
      if (std::count(m.speeds.begin(), m.speeds.begin() + static_cast<std::ptrdiff_t>(i), m.speeds[i]) > 0)
        add(error_code::repeated, "machine.speeds", in_quotes(m.speeds[i]) + " twice", "names of speeds that differ");
    for (const auto& each : in_.visit.have)  // an empty one is said to be a text already
      if (!each.empty() && std::find(words::equipment.begin(), words::equipment.end(), each) == words::equipment.end())
        add(error_code::not_a_choice, "visit.have", in_quotes(each), "one of " + listed(words::equipment));
  }

  /// An instrument that answers by itself has an address and a query; one of them alone says nothing.
  void instrument(const std::string& path, const instrument_section& meter) {
    if (meter.timeout_s && *meter.timeout_s <= 0.0) return;  // said of the number itself
    if (meter.address.has_value() != meter.query.has_value())
      return add(error_code::missing_key, path + (meter.address ? ".query" : ".address"), "nothing",
                 meter.address ? "query beside address" : "address beside query");
    if (!meter.address) return;
    // What is sent to an instrument is seen as it is: no second line, nothing that a terminal hides.
    const auto plain = [](const std::string& text) {
      return std::all_of(text.begin(), text.end(), [](char c) { return c >= 0x20 && c <= 0x7e; });
    };
    if (!plain(*meter.query))
      add(error_code::out_of_range, path + ".query", in_quotes(*meter.query), "printable ASCII characters on one line");
    if (!plain(*meter.address))
      add(error_code::out_of_range, path + ".address", in_quotes(*meter.address), "printable ASCII characters");
    const auto begins = [&](std::string_view with) {
      return meter.address->starts_with(with) && meter.address->size() > with.size();
    };
    if (!begins("tcp://") && !begins("serial:"))
      add(error_code::out_of_range, path + ".address", in_quotes(*meter.address),
          "tcp://host:port or serial:/dev/name, with @baud behind it where it is not 9600");
  }

  /// No rotor of an induction machine outruns the field of two poles on any grid. What the marked poles and hertz allow
  /// is judged, not refused: either may be wrong.
  void row(const std::string& path, std::size_t i, const run_up_row& r, double fastest_rpm) {
    constexpr double meter_leeway = 1.02;
    constexpr double slack = 0.02;  // of another meter, or another moment; common practice, no source
    const auto at = [&](const char* key) { return path + "." + key + "[" + std::to_string(i) + "]"; };
    if (r.speed_rpm && !r.turning && *r.speed_rpm > 0.0)
      add(error_code::out_of_range, at("speed_rpm"), in_digits(*r.speed_rpm),
          "a speed that agrees with turning = false");
    if (r.speed_rpm && in_.machine.running_circuit != running_circuit::commutator &&
        *r.speed_rpm > meter_leeway * fastest_rpm)
      add(error_code::out_of_range, at("speed_rpm"), in_digits(*r.speed_rpm),
          "at most the synchronous speed, " + in_digits(fastest_rpm) + " for two poles");
    if (r.line_current_A.has_value() != (in_.machine.phases == 3))
      add(error_code::unequal_lengths, path + ".current_A", r.line_current_A ? "3 lists" : "1 list",
          in_.machine.phases == 3 ? "three lists, one a line" : "one list, on a machine of one phase");
    else if (r.line_current_A && std::abs(mean_of(*r.line_current_A) - r.current_A) > 1e-9 * std::abs(r.current_A))
      add(error_code::out_of_range, at("current_A"), in_digits(r.current_A), "the mean of the three lines");
    if (!r.line_voltage_V) return;
    if (in_.machine.phases != 3)
      return add(error_code::unequal_lengths, path + ".line_voltage_V",
                 "line voltages, phases = " + std::to_string(in_.machine.phases),
                 "three lists, one a pair of lines, on a machine of three phases");
    const auto [low, high] = std::minmax_element(r.line_voltage_V->begin(), r.line_voltage_V->end());
    if (r.voltage_V < *low * (1.0 - slack) || r.voltage_V > *high * (1.0 + slack))
      add(error_code::out_of_range, path + ".line_voltage_V",
          in_digits(*low) + " to " + in_digits(*high) + " beside voltage_V " + in_digits(r.voltage_V),
          "voltage_V between the lowest and the highest of the three lines");
  }

  void run_up(const std::string& path, const run_up_section& run) {
    expect_speed(path + ".speed", run.speed);
    if (in_.machine.phases != 3 && run.leads_rolled != 0)
      add(error_code::out_of_range, path + ".leads", "leads on one phase", "nothing: three phases have leads to roll");
    constexpr double other_grid_Hz = 60.0;  // a run-up on it may not have said so: judged, not refused
    double hertz = std::max(in_.machine.rated_frequency_Hz, other_grid_Hz);
    for (const auto& other : {in_.visit.run_up_frequency_Hz, in_.visit.supply_frequency_Hz})
      hertz = std::max(hertz, other.value_or(0.0));
    const auto before = found_.size();
    for (std::size_t i = 0; i < run.rows.size() && found_.size() < before + 3; ++i)
      row(path, i, run.rows[i], 60.0 * hertz);
  }

  void run_ups() {
    const auto all = [&](const char* name, const std::vector<run_up_section>& runs) {
      for (std::size_t i = 0; i < runs.size(); ++i) {
        const std::string path = std::string(name) + "[" + std::to_string(i) + "]";
        run_up(path, runs[i]);
        const bool again = std::any_of(runs.begin(), runs.begin() + static_cast<std::ptrdiff_t>(i), [&](const auto& o) {
          return o.speed == runs[i].speed && o.leads_rolled == runs[i].leads_rolled;
        });
        if (again)
          add(error_code::repeated, path + ".speed", in_quotes(runs[i].speed) + " a second time",
              "one [[run_up]] a speed; repeated readings belong in its lists");
      }
    };
    all("run_up", in_.run_up);
    all("rolled_run_up", in_.rolled_run_up);
    for (std::size_t i = 0; i < in_.run_up.size(); ++i)
      if (in_.run_up[i].leads_rolled != 0)
        add(error_code::out_of_range, "run_up[" + std::to_string(i) + "].leads", "rolled leads",
            "leads as marked here, rolled ones among rolled_run_up");
    for (std::size_t i = 0; i < in_.rolled_run_up.size(); ++i)
      if (std::none_of(in_.run_up.begin(), in_.run_up.end(),
                       [&](const auto& one) { return one.speed == in_.rolled_run_up[i].speed; }))
        add(error_code::missing_key, "rolled_run_up[" + std::to_string(i) + "].leads", "rolled leads alone",
            "a [[run_up]] of speed " + in_.rolled_run_up[i].speed + " with the leads as marked beside it");
  }

  void insulation(const std::string& path, std::size_t i) {
    const auto& entry = in_.insulation[i];
    if (!entry.winding_C && !in_.visit.ambient_C)
      add(error_code::missing_key, path + ".winding_C", "nothing",
          "winding_C, or ambient_C under [visit], which then stands in for it");
    for (std::size_t k = 1; k < entry.rows.size(); ++k)
      if (!(entry.rows[k].time_s > entry.rows[k - 1].time_s))
        return add(error_code::not_rising, path + ".time_s",
                   in_digits(entry.rows[k].time_s) + " after " + in_digits(entry.rows[k - 1].time_s),
                   "times that rise");
  }

  void resistance(const std::string& path, const resistance_section& entry) {
    if (entry.wire_diameter_mm && entry.wire_awg)
      add(error_code::out_of_range, path + ".wire_awg", std::to_string(*entry.wire_awg) + " beside wire_diameter_mm",
          "wire_diameter_mm or wire_awg, not both");
    if (entry.speed) expect_speed(path + ".speed", *entry.speed);
    if (entry.to_speed) {
      expect_speed(path + ".to_speed", *entry.to_speed);
      if (!entry.speed || entry.speed == entry.to_speed)
        add(error_code::missing_key, path + ".speed", entry.speed ? "the same speed" : "nothing",
            "the other of the two speeds beside to_speed");
    }
    if (!entry.lead_resistance_ohm) return;
    if (entry.four_wire && *entry.lead_resistance_ohm > 0.0)
      add(error_code::out_of_range, path + ".lead_resistance_ohm", in_digits(*entry.lead_resistance_ohm),
          "nothing, or 0: a four-wire reading holds no leads");
    else if (*entry.lead_resistance_ohm >= entry.resistance_ohm)
      add(error_code::out_of_range, path + ".lead_resistance_ohm", in_digits(*entry.lead_resistance_ohm),
          "less than resistance_ohm, here " + in_digits(entry.resistance_ohm));
  }

  /// A group of equal sections has two members or more, and a speed's lead is read once.
  void resistances() {
    const auto& all = in_.resistance;
    const auto count = [&](const auto& same) { return std::count_if(all.begin(), all.end(), same); };
    for (std::size_t i = 0; i < all.size(); ++i) {
      const auto& entry = all[i];
      resistance("resistance[" + std::to_string(i) + "]", entry);
      if (entry.equal_group && count([&](const auto& other) { return other.equal_group == entry.equal_group; }) < 2)
        add(error_code::out_of_range, "resistance",
            "equal_group \"" + *entry.equal_group + "\" of section \"" + entry.section + "\" alone",
            "two sections or more in one equal_group");
      const bool again = std::any_of(all.begin(), all.begin() + static_cast<std::ptrdiff_t>(i), [&](const auto& other) {
        return entry.speed && other.speed == entry.speed && other.to_speed == entry.to_speed;
      });
      if (again)
        add(error_code::repeated, "resistance", "speed \"" + *entry.speed + "\" a second time",
            "one [[resistance]] a speed");
    }
  }

  void starts() {
    constexpr long most = 1000000;
    long total = 0;
    for (std::size_t i = 0; i < in_.starts.size(); ++i) {
      const auto& entry = in_.starts[i];
      const std::string path = "starts[" + std::to_string(i) + "]";
      if (entry.successes > entry.attempts)
        add(error_code::out_of_range, path + ".successes", std::to_string(entry.successes),
            "a count from 0 to attempts, here " + std::to_string(entry.attempts));
      if (entry.speed) expect_speed(path + ".speed", *entry.speed);
      const bool before = total > most;
      total += entry.attempts;
      if (total > most && !before)
        add(error_code::out_of_range, path + ".attempts", std::to_string(total) + " attempts in all",
            "1000000 attempts or fewer in one visit");
    }
  }

  void capacitor(const std::string& path, std::size_t i) {
    const auto& entry = in_.capacitor[i];
    if (entry.voltage_V.has_value() != entry.current_A.has_value())
      add(error_code::missing_key, path + (entry.voltage_V ? ".current_A" : ".voltage_V"), "nothing",
          "volts across it and amperes through it together");
  }

  void cord(const cord_section& entry) {
    if (entry.conductor_mm2.has_value() == entry.conductor_awg.has_value())
      add(entry.conductor_mm2 ? error_code::out_of_range : error_code::missing_key, "cord",
          entry.conductor_mm2 ? "both sizes" : "no size", "conductor_mm2 or conductor_awg");
  }

  void heat_run(const heat_run_section& entry) {
    if (entry.resistance_ohm.empty() == entry.temperature_C.empty())
      add(error_code::missing_key, "heat_run", entry.resistance_ohm.empty() ? "neither list" : "both lists",
          "either resistance_ohm or temperature_C");
    else if (!entry.resistance_ohm.empty())
      same_length("heat_run.resistance_ohm", entry.resistance_ohm.size(), "time_s", entry.time_s.size());
    else same_length("heat_run.temperature_C", entry.temperature_C.size(), "time_s", entry.time_s.size());
    if (!entry.cold_ohm && !(entry.resistance_ohm.empty() && entry.cooling_ohm.empty()))
      add(error_code::missing_key, "heat_run.cold_ohm", "nothing", "the winding's ohms before the run");
    same_length("heat_run.cooling_ohm", entry.cooling_ohm.size(), "cooling_time_s", entry.cooling_time_s.size());
  }

  const visit_record& in_;
  std::vector<problem>& found_;
};

/// The name of an entry of a list of tables: its speed, circuit, section ... Empty where it has none yet.
inline std::string name_of_entry(const std::string& section, std::size_t i, const visit_record& in) {
  const auto name = [&](const auto& list, auto member) { return i < list.size() ? list[i].*member : std::string(); };
  if (section == "run_up") return name(in.run_up, &run_up_section::speed);
  if (section == "rolled_run_up") return name(in.rolled_run_up, &run_up_section::speed);
  if (section == "insulation") return name(in.insulation, &insulation_section::circuit);
  if (section == "resistance") return name(in.resistance, &resistance_section::section);
  if (section == "starts") return name(in.starts, &starts_section::position);
  if (section == "capacitor") return name(in.capacitor, &capacitor_section::name);
  if (section == "withstand") return name(in.withstand, &withstand_section::circuit);
  if (section == "leakage") return name(in.leakage, &leakage_section::condition);
  return "";
}

/// "name[3]" taken apart; the position is nothing where there is none.
inline std::pair<std::string, std::optional<std::size_t>> name_and_place(const std::string& text) {
  const auto open = text.find('[');
  if (open == std::string::npos) return {text, std::nullopt};
  std::size_t place = 0;
  std::from_chars(text.data() + open + 1, text.data() + text.size(), place);
  return {text.substr(0, open), place};
}

}  // namespace detail

REWOUND_INLINE std::vector<problem> problems_of(const visit_record& in) {
  std::vector<problem> out;
  detail::value_checker values(out);
  describe_record(values, in);
  detail::whole_checker(in, out).check();
  return out;
}

REWOUND_INLINE std::string words_of_path(const std::string& path, const visit_record& in) {
  const auto dot = path.find('.');
  const auto [section, entry] = detail::name_and_place(path.substr(0, dot));
  if (!entry) return path;
  const auto name = detail::name_of_entry(section, *entry, in);
  std::string out = section == "rolled_run_up" ? "run_up, leads rolled," : section;
  out += name.empty() ? " " + std::to_string(*entry + 1) : " " + detail::in_quotes(name);
  if (dot == std::string::npos) return out;
  const auto [key, reading] = detail::name_and_place(path.substr(dot + 1));
  out += ", " + key;
  // Of three lists the second place is the reading: current_A[1][4].
  const auto last = path.rfind('[');
  if (reading) {
    const bool two = std::count(path.begin() + static_cast<std::ptrdiff_t>(dot), path.end(), '[') > 1;
    const auto place = two ? detail::name_and_place(path.substr(last)).second.value_or(0) : *reading;
    if (two) out += ", line " + std::to_string(*reading + 1);
    out += ", reading " + std::to_string(place + 1);
  }
  return out;
}

REWOUND_INLINE void validate(const visit_record& in) {
  std::vector<base::error> out;
  for (auto& each : problems_of(in))
    out.emplace_back(each.code, base::place{"", 0, each.path, words_of_path(each.path, in)}, std::move(each.read),
                     std::move(each.allowed));
  base::throw_all(std::move(out));
}

}  // namespace rewound::record
