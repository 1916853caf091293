// SPDX-License-Identifier: MIT
#include <rewound/report/view.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include <rewound/report/cautions.hpp>
#include <rewound/report/number_text.hpp>
#include <rewound/report/wording.hpp>
#include <rewound/verdict/practice_numbers.hpp>

#include "words/cause_words.hpp"

namespace rewound::report {

std::string state_words(record::visit_state state) {
  switch (state) {
    case record::visit_state::as_found: return "as found";
    case record::visit_state::after_repair: return "after repair";
    case record::visit_state::recheck: return "recheck";
  }
  return "";
}

std::string discharge_caution(double applied_s) {
  const double factor = verdict::practice_numbers{}.discharge_factor.value;
  const auto minutes = [&](double seconds) { return number_text(std::ceil(factor * seconds / 60.0)); };
  const std::string rule = "at least " + number_text(factor) + " times as long as the test voltage was on";
  if (applied_s <= 0.0)
    return "After an insulation test keep the winding shorted to the frame for " + rule + " (" + minutes(60.0) +
           " minutes after a one-minute test, " + minutes(600.0) + " after ten minutes); take it as live until then.";
  return "After the insulation test keep the winding shorted to the frame for " + rule + ", here at least " +
         minutes(applied_s) + " minutes; take it as live until then.";
}

namespace {

using verdict::decision;
using verdict::outcome;

std::string title_of(const job::result& in) {
  std::string out = in.machine.id;
  if (in.machine.description) out += ", " + *in.machine.description;
  else if (in.machine.model) out += ", " + *in.machine.model;
  return out;
}

std::string subtitle_of(const job::result& in) {
  std::string out = "visit " + in.visit.day.iso() + " (" + state_words(in.visit.state) + "), rated " +
                    number_text(in.machine.rated_voltage_V) + " V " + number_text(in.machine.rated_frequency_Hz) +
                    " Hz";
  if (in.machine.rated_current_A) out += " " + number_text(*in.machine.rated_current_A) + " A";
  if (in.visit.supply_voltage_V) out += ", mains " + number_text(*in.visit.supply_voltage_V) + " V";
  return out;
}

std::string decision_sentence(decision value) {
  switch (value) {
    case decision::release: return "RELEASE: every test that the policy needs was made and conforms.";
    case decision::hold: return "HOLD: at least one test failed; it does not go back as it is.";
    case decision::undecided: return "UNDECIDED: something needed is missing or too uncertain to tell.";
  }
  return "";
}

void add_once(std::vector<std::string>& list, std::string text) {
  if (!text.empty() && std::find(list.begin(), list.end(), text) == list.end()) list.push_back(std::move(text));
}

danger danger_of(const verdict::finding& f) {
  using enum verdict::check;
  switch (f.check) {
    case insulation:
    case polarization_index:
    case withstand: return danger::insulation;
    case leakage:
    case earth: return danger::frame;
    case heat_run:
    case unbalance: return danger::overload;
    case draw:
      return f.value && *f.value < 0.0 ? danger::other
             : f.says == verdict::statement::draw_far_below_nameplate ||
                     f.says == verdict::statement::draw_far_below_faster
                 ? danger::other
                 : danger::overload;
    default: return danger::other;
  }
}

/// The findings that stand behind the decision, in order of weight; a release rests on those that conform. Of what is
/// open, a value that may be dangerously high comes before what was not measured: that, the person knows.
std::vector<std::size_t> behind(const job::result& in) {
  if (!in.decision.failing.empty()) return in.decision.failing;
  if (!in.decision.open.empty()) {
    auto open = in.decision.open;
    std::stable_partition(open.begin(), open.end(), [&](std::size_t place) {
      const auto& f = in.findings[place];
      return f.outcome == outcome::undecided && f.value && f.limit_high && danger_of(f) != danger::other;
    });
    return open;
  }
  std::vector<std::size_t> out;
  if (in.decision.decision != decision::release) return out;
  for (const auto check : {verdict::check::draw, verdict::check::steps, verdict::check::insulation})
    for (std::size_t i = 0; i < in.findings.size(); ++i)
      if (in.findings[i].check == check && in.findings[i].outcome == outcome::conforms &&
          in.findings[i].bearing == verdict::bearing::decides) {
        out.push_back(i);
        break;
      }
  return out;
}

/// With what says least of what is wrong last: that a machine is unlike good ones as a whole.
std::vector<std::size_t> plainest_first(const job::result& in, std::vector<std::size_t> places) {
  std::stable_partition(places.begin(), places.end(), [&](std::size_t place) {
    const auto says = in.findings[place].says;
    using enum verdict::statement;
    return says != draw_joint_test && says != draw_joint_reference && says != draw_joint_nameplate;
  });
  return places;
}

std::vector<std::size_t> reasons_of(const job::result& in) { return plainest_first(in, behind(in)); }

/// Whether a check's tests are made under power.
bool under_power(verdict::check check) {
  using enum verdict::check;
  return check == draw || check == steps || check == starting || check == heat_run || check == coast_down ||
         check == unbalance || check == leakage || check == withstand || check == readings || check == supply;
}

std::string listed_subjects(const std::vector<std::string>& subjects) {
  std::string out;
  for (std::size_t i = 0; i < subjects.size(); ++i)
    out += (i == 0 ? "" : i + 1 == subjects.size() ? " and " : ", ") + subjects[i];
  return out;
}

/// Whether a finding's advice is contained in that of another: readings that are taken again make a speed usable, and a
/// speed that can be used has its place in the order.
bool superseded(const job::result& in, const verdict::finding& f) {
  using enum verdict::statement;
  const auto any = [&](const auto& answers) { return std::any_of(in.findings.begin(), in.findings.end(), answers); };
  // What a winding should have tells nothing while it was tested with too few volts.
  if (f.says == insulation_unstated)
    return any([&](const auto& each) { return each.subject == f.subject && each.says == insulation_test_voltage_low; });
  if (f.says == speed_without_usable_reading)
    return any([&](const auto& each) {
      return each.subject == f.subject && (each.says == reading_suspect || each.check == verdict::check::starting);
    });
  if (f.says == steps_speed_missing)
    return any(
        [](const auto& each) { return each.says == speed_without_usable_reading || each.says == speed_not_run; });
  return false;
}

/// Suspect readings of one speed are taken again together: the first of them speaks for all.
std::optional<verdict::finding> advising(const job::result& in, std::size_t place) {
  auto out = in.findings[place];
  if (superseded(in, out)) return std::nullopt;
  if (out.says != verdict::statement::reading_suspect) return out;
  std::vector<std::string> numbers;
  for (std::size_t i = 0; i < in.findings.size(); ++i) {
    const auto& each = in.findings[i];
    if (each.says != out.says || each.subject != out.subject) continue;
    if (i < place) return std::nullopt;
    const auto number = std::to_string(static_cast<int>(std::lround(each.numbers.front().value)));
    if (std::find(numbers.begin(), numbers.end(), number) == numbers.end()) numbers.push_back(number);
  }
  if (numbers.size() < 2) return out;
  for (auto& [key, text] : out.texts)
    if (key == "which") text = "readings " + listed_subjects(numbers);
  return out;
}

/// Whether the person has what a finding's advice needs; yes where nothing is said of what there is.
bool has_meter_for(const job::result& in, const verdict::finding& f) {
  return record::has_equipment(in.visit.have, verdict::meter_for(f));
}

std::string who_measures(const job::result& in, const verdict::finding& f) {
  if (has_meter_for(in, f)) return "";
  std::string meter(verdict::meter_for(f));
  std::replace(meter.begin(), meter.end(), '_', ' ');
  return " (needs a meter that you do not have, " + meter + ": ask a shop that has one)";
}

/// What may be done now, first what the person has the meters for.
std::vector<std::size_t> steps_of(const job::result& in) {
  auto out = plainest_first(in, in.decision.steps);
  std::stable_partition(out.begin(), out.end(),
                        [&](std::size_t place) { return has_meter_for(in, in.findings[place]); });
  return out;
}

constexpr std::size_t most_reasons = 3;

void fill_reasons(const job::result& in, view& out) {
  for (const auto place : reasons_of(in)) {
    if (out.reasons.size() == most_reasons) break;
    add_once(out.reasons, sentence(in.findings[place]));
  }
  for (const auto place : steps_of(in)) {
    const auto advises = advising(in, place);
    if (!advises) continue;
    const auto text = advice(*advises);
    if (!text.empty()) add_once(out.next, text + who_measures(in, *advises));
  }
  for (const auto check : in.decision.absent) {
    if (out.reasons.size() < most_reasons) add_once(out.reasons, advice_for_absent(check));
    if (in.decision.may_energise || !under_power(check)) add_once(out.next, advice_for_absent(check));
  }
}

/// "in May", "in May 2025", or the day where both visits fall into one month.
std::string earlier_words(const job::result& in) {
  if (!in.earlier_visit) return "at the earlier visit";
  constexpr std::array months{"January", "February", "March",     "April",   "May",      "June",
                              "July",    "August",   "September", "October", "November", "December"};
  const auto& then = *in.earlier_visit;
  if (then.year == in.visit.day.year && then.month == in.visit.day.month) return "on " + then.iso();
  std::string out = std::string("in ") + months[static_cast<std::size_t>(then.month - 1)];
  return then.year == in.visit.day.year ? out : out + " " + std::to_string(then.year);
}

/// Findings that say the same of several subjects, in the same direction.
struct said_together {
  verdict::finding first;
  std::vector<std::string> subjects;
};

std::vector<said_together> together(const std::vector<verdict::finding>& findings) {
  std::vector<said_together> out;
  for (const auto& f : findings) {
    const auto same = std::find_if(out.begin(), out.end(), [&](const auto& each) {
      return each.first.says == f.says && each.first.says != verdict::statement::reading_suspect &&
             each.first.texts == f.texts && (each.first.value.value_or(0.0) < 0.0) == (f.value.value_or(0.0) < 0.0);
    });
    if (same == out.end()) out.push_back({f, {f.subject}});
    else if (std::find(same->subjects.begin(), same->subjects.end(), f.subject) == same->subjects.end())
      same->subjects.push_back(f.subject);
  }
  return out;
}

std::vector<verdict::finding> findings_at(const job::result& in, const std::vector<std::size_t>& places) {
  std::vector<verdict::finding> out;
  for (const auto place : places) out.push_back(in.findings[place]);
  return out;
}

/// The same of those that advise something of their own, as they advise it.
std::vector<verdict::finding> advising_at(const job::result& in, const std::vector<std::size_t>& places) {
  std::vector<verdict::finding> out;
  for (const auto place : places)
    if (auto advises = advising(in, place)) out.push_back(std::move(*advises));
  return out;
}

std::string reason_words(const said_together& in, std::string_view then) {
  std::string out = short_sentence(in.first, then);
  if (in.subjects.size() < 2) return out;
  return out + " (" + listed_subjects({in.subjects.begin() + 1, in.subjects.end()}) + " too)";
}

std::string step_words(const said_together& in, std::string_view then) {
  auto all = in.first;
  all.subject = listed_subjects(in.subjects);
  return short_advice(all, then);
}

/// What fails in the order of danger; what is open in the order given.
std::vector<std::size_t> by_danger(const job::result& in, std::vector<std::size_t> places) {
  places = plainest_first(in, std::move(places));
  if (in.decision.failing.empty()) return places;
  std::stable_sort(places.begin(), places.end(),
                   [&](std::size_t a, std::size_t b) { return danger_of(in.findings[a]) < danger_of(in.findings[b]); });
  return places;
}

/// Steps on a dead machine come first, and those that there is a meter for. What the decision holds back until the cold
/// tests are settled is counted only.
struct steps_told {
  std::vector<std::string> now;
  std::size_t later = 0;
  bool live = false;
};

steps_told brief_steps_of(const job::result& in, std::string_view then) {
  auto places = by_danger(in, in.decision.failing);
  places.insert(places.end(), in.decision.open.begin(), in.decision.open.end());
  const auto& allowed = in.decision.steps;
  const auto held_back = std::stable_partition(places.begin(), places.end(), [&](std::size_t place) {
    return std::find(allowed.begin(), allowed.end(), place) != allowed.end();
  });
  steps_told out;
  out.later = together(findings_at(in, {held_back, places.end()})).size();
  places.erase(held_back, places.end());
  auto all = together(advising_at(in, places));
  std::stable_partition(all.begin(), all.end(), [](const auto& each) { return !verdict::advises_power(each.first); });
  std::stable_partition(all.begin(), all.end(), [&](const auto& each) { return has_meter_for(in, each.first); });
  for (const auto& each : all) {
    const auto text = step_words(each, then);
    if (!text.empty()) add_once(out.now, text + who_measures(in, each.first));
    out.live = out.live || verdict::advises_power(each.first);
  }
  for (const auto check : in.decision.absent) {
    const bool live = under_power(check);
    if (live && !in.decision.may_energise) ++out.later;
    else add_once(out.now, "make the tests of " + check_words(check));
    out.live = out.live || (live && in.decision.may_energise);
  }
  return out;
}

void fill_brief(const job::result& in, view& out) {
  const std::string then = earlier_words(in);
  for (const auto& each : together(findings_at(in, by_danger(in, behind(in)))))
    if (out.brief.reasons.size() < most_reasons) add_once(out.brief.reasons, reason_words(each, then));
  for (const auto check : in.decision.absent)
    if (out.brief.reasons.size() < most_reasons)
      add_once(out.brief.reasons, "nothing is recorded of " + check_words(check));
  auto steps = brief_steps_of(in, then);
  out.brief.next = std::move(steps.now);
  out.brief.more_next = steps.later;
  constexpr std::size_t most_steps = 3;
  if (out.brief.next.size() > most_steps) {
    out.brief.more_next += out.brief.next.size() - most_steps;
    out.brief.next.resize(most_steps);
  }
  if (steps.live) out.brief.cautions.emplace_back(cautions::live_shortly);
  out.brief.cautions.emplace_back(cautions::shortly);
}

/// What a finding's condition says, whatever it says it of.
std::string condition_of_any(verdict::finding f) {
  f.subject = "\x01";
  return condition(f);
}

bool one_condition(const verdict::finding& a, const verdict::finding& b) {
  return a.says == b.says && a.subject != b.subject && condition_of_any(a) == condition_of_any(b);
}

bool told_before(const job::result& in, std::size_t place) {
  return std::any_of(in.findings.begin(), in.findings.begin() + static_cast<std::ptrdiff_t>(place),
                     [&](const auto& each) { return one_condition(each, in.findings[place]); });
}

/// The other subjects that a condition holds for.
std::string and_others(const job::result& in, std::size_t place) {
  std::vector<std::string> others;
  if (condition(in.findings[place]) == condition_of_any(in.findings[place])) return "";  // it names no subject
  for (std::size_t i = place + 1; i < in.findings.size(); ++i)
    if (one_condition(in.findings[place], in.findings[i])) add_once(others, in.findings[i].subject);
  return others.empty() ? "" : " (" + listed_subjects(others) + " too)";
}

/// The voltage below which it stands and heats, where that was found; else 0.
double starts_only_from_V(const job::result& in) {
  double out = 0.0;
  for (const auto& f : in.findings) {
    if (f.says != verdict::statement::starting_voltage_high) continue;
    const bool stands = std::any_of(f.texts.begin(), f.texts.end(), [](const auto& each) {
      return each.first == "below_it" && each.second == "stands";
    });
    for (const auto& number : f.numbers)
      if (stands && number.key == "volts") out = std::max(out, number.value);
  }
  return out;
}

/// Conditions that say how well something is known. Those that ask for something to be done or minded stand first: a
/// small screen shows the first only.
bool of_evidence(verdict::statement says) {
  using enum verdict::statement;
  return says == accuracy_assumed || says == draw_under_nameplate_ceiling || says == draw_below_fastest ||
         says == resistance_alone || says == resistance_leads_assumed || says == starts_clean;
}

void fill_conditions(const job::result& in, view& out) {
  if (in.decision.decision != decision::release) return;
  const double window = verdict::tables::supply_window.front().voltage_percent / 100.0;
  const double rated = in.machine.rated_voltage_V;
  const double least = std::max(rated * (1.0 - window), starts_only_from_V(in));
  const std::string run_on = "run it on " + number_text(least) + " to " + number_text(rated * (1.0 + window)) + " V, " +
                             number_text(in.machine.rated_frequency_Hz) + " Hz";
  out.conditions.push_back(run_on + " (" + in.supply_source + ")");
  out.brief.conditions.push_back(run_on);
  if (!in.not_asked.empty()) {
    std::string names;
    for (const auto check : in.not_asked) names += (names.empty() ? "" : ", ") + check_words(check);
    out.conditions.push_back("the policy \"" + in.policy_name +
                             "\" does not ask for what was not shown to conform: " + names);
    out.brief.conditions.push_back(out.conditions.back());
  }
  std::vector<std::string> of_readings;
  for (std::size_t i = 0; i < in.findings.size(); ++i) {
    const auto& finding = in.findings[i];
    const std::string text = condition(finding);
    add_once(out.conditions, text);
    if (!text.empty() && !told_before(in, i))
      add_once(of_evidence(finding.says) ? of_readings : out.brief.conditions, first_clause(text) + and_others(in, i));
    // What protects from a shock must not be among those that a small screen leaves out.
    if (finding.says == verdict::statement::frame_without_earth && !text.empty())
      std::rotate(out.brief.conditions.begin(), out.brief.conditions.end() - 1, out.brief.conditions.end());
  }
  out.brief.conditions.insert(out.brief.conditions.end(), of_readings.begin(), of_readings.end());
}

std::string amperes(const std::optional<measurement::uncertain<units::current>>& value) {
  if (!value) return "-";
  return with_uncertainty(units::in_amperes(value->value),
                          measurement::coverage_95 * units::in_amperes(value->standard_uncertainty));
}

/// What a slower speed may draw at most where only the marked current is known.
std::string ceiling_text(const job::result& in, const std::string& speed) {
  for (const auto& f : in.findings)
    if (f.says == verdict::statement::draw_under_nameplate_ceiling && f.subject == speed && f.limit_high)
      return "up to " + number_text(*f.limit_high, 0.05 * *f.limit_high);
  return "-";
}

std::string expected_text(const job::result& in, const verdict::draw_row& row) {
  if (!row.expected_at_rated)
    return row.judged_by == verdict::expectation::nameplate_ceiling ? ceiling_text(in, row.speed) : "-";
  const bool measured = row.at_rated && row.judged_by >= verdict::expectation::earlier;
  const double half = measured ? measurement::coverage_95 * units::in_amperes(row.at_rated->standard_uncertainty) : 0.0;
  return number_text(units::in_amperes(*row.expected_at_rated), half);
}

std::string percent(const std::optional<measurement::uncertain<double>>& value) {
  if (!value) return "-";
  const std::string shown = with_uncertainty(value->value, measurement::coverage_95 * value->standard_uncertainty);
  return value->value >= 0.0 ? std::string(1, '+').append(shown) : shown;
}

/// What is told of a speed in one word: the worst that decides on its draw, at the rated voltage or on today's mains.
outcome outcome_of(const job::result& in, const verdict::draw_row& row) {
  outcome out = row.outcome;
  for (const auto& f : in.findings)
    if (f.check == verdict::check::draw && f.subject == row.speed && f.bearing == verdict::bearing::decides &&
        (f.outcome == outcome::fails || (f.outcome == outcome::undecided && out != outcome::fails)))
      out = f.outcome;
  return out;
}

void fill_speeds(const job::result& in, view& out) {
  const bool good = std::any_of(in.draw.begin(), in.draw.end(),
                                [](const auto& row) { return row.judged_by == verdict::expectation::reference; });
  out.expectation =
      good ? "good machines of the model (" + std::to_string(in.reference_machines) + ")"
      : in.earlier_visit && std::any_of(in.draw.begin(), in.draw.end(),
                                        [](const auto& row) { return row.judged_by == verdict::expectation::earlier; })
          ? "the visit of " + in.earlier_visit->iso()
      : in.machine.rated_current_A ? "the nameplate"
                                   : "nothing: no earlier visit, no marked current";
  for (const auto& row : in.draw) {
    std::string exponent = "-";
    if (row.exponent)
      exponent = number_text(row.exponent->value, measurement::coverage_95 * row.exponent->standard_uncertainty);
    out.speeds.push_back({row.speed, amperes(row.at_rated), expected_text(in, row), percent(row.level_percent),
                          amperes(row.at_supply), exponent, outcome_of(in, row)});
  }
}

/// The speed that fails or is undecided by most; else the fastest that was read.
std::string deciding_speed(const job::result& in) {
  for (const auto& list : {in.decision.failing, in.decision.open})
    for (const auto place : list)
      for (const auto& row : in.draw)
        if (row.speed == in.findings[place].subject && row.at_rated) return row.speed;
  const verdict::draw_row* out = nullptr;
  for (const auto& row : in.draw)
    if (row.at_rated && (out == nullptr || row.outcome == outcome::fails)) {
      out = &row;
      if (row.outcome == outcome::fails) break;
    }
  return out == nullptr ? "" : out->speed;
}

danger worst_danger(const job::result& in) {
  danger out = danger::other;
  for (const auto place : in.decision.failing.empty() ? in.decision.open : in.decision.failing)
    out = std::min(out, danger_of(in.findings[place]));
  return out;
}

void fill_findings(const job::result& in, view& out) {
  for (const auto& finding : in.findings) {
    const bool noted = finding.value.has_value() &&
                       (finding.bearing == verdict::bearing::informs || finding.bearing == verdict::bearing::noted);
    out.findings.push_back({finding.check, finding.outcome, noted, sentence(finding), finding.source});
    if (finding.outcome == outcome::not_tested && finding.bearing != verdict::bearing::does_not_apply &&
        !finding.value && finding.check != verdict::check::readings &&
        finding.says != verdict::statement::insulation_humidity_not_given)
      add_once(out.not_tested,
               std::string(heading(finding.check)) + (finding.subject.empty() ? "" : " (" + finding.subject + ")"));
  }
}

/// 3 for what stands most in the way of a release.
int weight(outcome value) {
  switch (value) {
    case outcome::fails: return 3;
    case outcome::undecided: return 2;
    case outcome::conforms: return 1;
    case outcome::not_tested: return 0;
  }
  return 0;
}

void fill_tests(const job::result& in, view& out) {
  for (std::size_t i = 0; i < verdict::check_names.size(); ++i) {
    view_test test{static_cast<verdict::check>(i), outcome::not_tested};
    const auto absent =
        std::find(in.decision.absent.begin(), in.decision.absent.end(), test.check) != in.decision.absent.end();
    bool due = absent;
    for (const auto& f : in.findings) {
      if (f.check != test.check || f.bearing == verdict::bearing::does_not_apply) continue;
      if (f.bearing == verdict::bearing::noted) continue;
      due = true;
      if (f.bearing == verdict::bearing::informs && f.outcome != outcome::fails) continue;
      if (weight(f.outcome) > weight(test.outcome)) test.outcome = f.outcome;
    }
    if (due) out.tests.push_back(test);
  }
}

std::string_view unit_of_instrument(std::string_view kind) {
  if (kind == "voltmeter") return "V";
  if (kind == "ammeter" || kind == "leakage_meter") return "A";
  if (kind == "wattmeter") return "W";
  if (kind == "tachometer") return "rpm";
  if (kind == "thermometer") return "degC";
  if (kind == "capacitance_meter") return "F";
  return "ohm";
}

/// "0.8 % and 3 digits of 0.001 A"
std::string accuracy_words(const record::instrument_section& meter, std::string_view unit) {
  constexpr double mega = 1e6;
  const bool stated = meter.reading_percent || meter.digits;
  if (!stated) return "what is usual, its accuracy was not stated";
  const auto percent = meter.reading_percent ? number_text(*meter.reading_percent) + " %" : "";
  if (meter.digits.value_or(0.0) == 0.0) return percent.empty() ? "0 digits" : percent;
  std::string digits = number_text(*meter.digits) + (*meter.digits == 1.0 ? " digit" : " digits");
  if (const auto& one = meter.resolution) {
    const bool in_mega = unit == "ohm" && *one >= 0.001 * mega;
    digits += " of " + number_text(in_mega ? *one / mega : *one) + (in_mega ? " M" : " ") + std::string(unit);
  }
  return meter.reading_percent.value_or(0.0) > 0.0 ? percent + " and " + digits : digits;
}

void fill_instruments(const job::result& in, view& out) {
  for (const auto& [kind, meter] : in.instruments) {
    std::string name = kind;
    std::replace(name.begin(), name.end(), '_', ' ');
    std::string line = name + (meter.name ? " \"" + *meter.name + "\"" : "") + ": within " +
                       accuracy_words(meter, unit_of_instrument(kind));
    out.instruments.push_back(std::move(line));
  }
}

/// Whether what fails is a part that was looked at or measured by itself: no cause stands behind it that the list could
/// name.
bool told_by_itself(const job::result& in) {
  using enum verdict::check;
  const auto of_a_part = [&](std::size_t place) {
    const auto of = in.findings[place].check;
    return of == earth || of == leakage || of == withstand || of == capacitor || of == commutator || of == starting ||
           of == mechanics || of == checks;
  };
  const auto& failing = in.decision.failing;
  return !failing.empty() && std::all_of(failing.begin(), failing.end(), of_a_part);
}

/// Causes are told where a machine is more likely than not to have one, or where the decision asks why.
void fill_causes(const job::result& in, view& out) {
  if (in.causes.empty()) return;
  const auto& first = in.causes.front();
  const bool asks_why = in.decision.decision != decision::release && first.probability < 0.75;
  if (first.cause == verdict::cause::none && in.decision.failing.empty() && !asks_why) return;
  constexpr std::size_t most = 4;
  constexpr double worth_a_line = 0.05;
  for (const auto& each : in.causes)
    if (out.causes.size() < most && (out.causes.empty() || each.probability >= worth_a_line))
      out.causes.push_back(cause_line(each));
  constexpr double worth_naming = 0.3;  // below it the list as a whole says more than its first (project's choice)
  if (first.cause != verdict::cause::none && !(first.cause == verdict::cause::something_else && told_by_itself(in)) &&
      in.decision.decision != decision::release && first.probability >= worth_naming)
    out.brief.likely = out.causes.front().substr(0, out.causes.front().find("; "));
  constexpr std::size_t best = 2;
  constexpr double tells_something = 0.03;  // bits
  for (const auto& step : in.next_steps.get())
    if (out.telling.size() < best && step.bits >= tells_something) out.telling.push_back(next_step_line(step));
}

/// Cautions that go with the tests on record; common practice, and the local code stands above all of them.
void fill_cautions(const job::result& in, view& out) {
  out.cautions.emplace_back(cautions::before_touching);
  if (in.machine.running_circuit == record::running_circuit::permanent_capacitor ||
      in.machine.running_circuit == record::running_circuit::start_winding_switched ||
      in.machine.speed_control == record::speed_control::series_capacitor)
    out.cautions.emplace_back(cautions::discharge_capacitors);
  // Printed whether the test was made or is still to come: without it there is no release.
  out.cautions.push_back(discharge_caution(in.longest_insulation_s));
  out.cautions.emplace_back(cautions::under_power);
  const bool unearthed = in.machine.frame_earthed == false ||
                         in.machine.appliance_class == record::appliance_class::class_0 ||
                         in.machine.appliance_class == record::appliance_class::class_0I;
  if (unearthed) out.cautions.emplace_back(cautions::frame_not_earthed);
  const auto found = [&](verdict::check which, auto&& holds) {
    return std::any_of(in.findings.begin(), in.findings.end(),
                       [&](const auto& finding) { return finding.check == which && holds(finding); });
  };
  // The withstand voltage is named even where no test was made, so its caution always stands beside it.
  if (found(verdict::check::withstand, [](const auto&) { return true; }))
    out.cautions.emplace_back(cautions::withstand);
  if (in.longest_direct_test_s > 0.0) out.cautions.emplace_back(cautions::after_direct_voltage);
  if (found(verdict::check::leakage, [](const auto& f) { return f.bearing != verdict::bearing::does_not_apply; }))
    out.cautions.emplace_back(cautions::leakage);
  out.cautions.emplace_back(cautions::advice_only);
}

}  // namespace

view view_of(const job::result& result) {
  view out;
  out.title = title_of(result);
  out.subtitle = subtitle_of(result);
  for (const auto& own : result.own_limits)
    out.own_limits.push_back(own.name + " = " + number_text(own.value) + " [" + own.source + "]");
  out.decision = verdict::name(result.decision.decision);
  out.decision_sentence = decision_sentence(result.decision.decision);
  fill_reasons(result, out);
  fill_brief(result, out);
  out.rated = number_text(result.machine.rated_voltage_V) + " V";
  if (result.visit.supply_voltage_V) out.mains = number_text(*result.visit.supply_voltage_V) + " V";
  if (out.mains == out.rated) out.mains.clear();
  out.deciding = deciding_speed(result);
  out.worst = worst_danger(result);
  fill_conditions(result, out);
  fill_speeds(result, out);
  fill_findings(result, out);
  fill_tests(result, out);
  fill_instruments(result, out);
  fill_causes(result, out);
  fill_cautions(result, out);
  return out;
}

}  // namespace rewound::report
