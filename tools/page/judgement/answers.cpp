// SPDX-License-Identifier: MIT
#include "answers.hpp"

#include <algorithm>
#include <optional>
#include <utility>

#include <rewound/base/error.hpp>
#include <rewound/job/analysis.hpp>
#include <rewound/job/expected_reading.hpp>
#include <rewound/job/judge.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/job/policy_file.hpp>
#include <rewound/record/words.hpp>
#include <rewound/report/html.hpp>
#include <rewound/report/json.hpp>
#include <rewound/report/number_text.hpp>
#include <rewound/report/picture.hpp>
#include <rewound/report/view.hpp>
#include <rewound/report/wording.hpp>
#include <rewound/verdict/check.hpp>

#include "dialogue/plan.hpp"
#include "dialogue/steps/stop_rules.hpp"
#include "key_list.hpp"
#include "typed_record.hpp"

namespace rewound::page {

namespace {

namespace dialogue = tool::dialogue;

/// The lines that the command line prints for an error.
json lines_of(const base::error& trouble) {
  json out = json::array();
  if (const auto* several = dynamic_cast<const base::errors*>(&trouble))
    for (const auto& each : several->all()) out.push_back(each.what());
  else out.push_back(trouble.what());
  return out;
}

const verdict::policy& usual_policy() {
  static const verdict::policy policy = job::default_policy();
  return policy;
}

std::string text_at(const json& in, const char* key) { return in.value(key, std::string()); }

job::reference reference_read(const std::string& text, const std::string& name) {
  return job::reference_from(record::read_toml_text(text, name));
}

/// The reference and the earlier visit that a question names.
job::sources sources_of(const json& question) {
  job::sources out;
  if (const auto text = text_at(question, "reference"); !text.empty()) out.good = reference_read(text, "reference");
  if (const auto text = text_at(question, "earlier"); !text.empty())
    out.earlier = record::record_from_text(text, "earlier");
  return out;
}

json place_json(const field_place& in) {
  return {{"section", in.section}, {"entry", in.entry}, {"row", in.row}, {"key", in.key}};
}

json problems_json(const typed_record& in) {
  json out = json::array();
  for (const auto& each : in.problems) {
    auto one = place_json(each.where);
    one["read"] = each.read;
    one["allowed"] = each.allowed;
    out.push_back(std::move(one));
  }
  return out;
}

json lines_json(const std::vector<report::view_line>& lines) {
  json out = json::array();
  for (const auto& line : lines)
    out.push_back({{"check", verdict::name(line.check)},
                   {"outcome", verdict::name(line.outcome)},
                   {"outcome_words", report::outcome_words(line.outcome)},
                   {"noted", line.noted},
                   {"sentence", line.sentence},
                   {"source", line.source}});
  return out;
}

json tests_json(const std::vector<report::view_test>& tests) {
  json out = json::array();
  for (const auto& test : tests)
    out.push_back({{"check", verdict::name(test.check)},
                   {"heading", report::heading(test.check)},
                   {"outcome", verdict::name(test.outcome)},
                   {"outcome_words", report::outcome_words(test.outcome)}});
  return out;
}

json view_json(const report::view& in) {
  return {{"title", in.title},
          {"subtitle", in.subtitle},
          {"decision", in.decision},
          {"decision_sentence", in.decision_sentence},
          {"reasons", in.reasons},
          {"next", in.next},
          {"conditions", in.conditions},
          {"cautions", in.cautions},
          {"expectation", in.expectation},
          {"causes", in.causes},
          {"telling", in.telling},
          {"findings", lines_json(in.findings)},
          {"tests", tests_json(in.tests)},
          {"brief",
           {{"reasons", in.brief.reasons},
            {"likely", in.brief.likely},
            {"next", in.brief.next},
            {"conditions", in.brief.conditions},
            {"cautions", in.brief.cautions}}}};
}

json pictures_json(const job::result& result, const job::pictures& plotted) {
  json out = json::array();
  for (const auto& each : plotted.draw)
    out.push_back({{"speed", each.speed},
                   {"svg", report::picture_file(result, plotted, report::picture_kind::draw, each.speed)}});
  return out;
}

json plan_json(const record::visit_record& record) {
  json out = json::array();
  for (const auto& each : dialogue::plan_of(record, usual_policy()))
    out.push_back({{"step", each.step.name()},
                   {"speed", each.step.speed},
                   {"recorded", each.recorded},
                   {"energises", dialogue::energises(each.step.kind)}});
  return out;
}

json energising_json(const job::result& judged) {
  const auto may = dialogue::may_energise(judged);
  const char* const names[] = {"granted", "ask", "refused"};
  return {{"permission", names[static_cast<int>(may.permission)]}, {"why", may.why}};
}

/// The last reading before another that is not itself in doubt, the rotor turning; null where there is none.
const record::run_up_row* sound_reading_before(const record::run_up_section& run, std::size_t place,
                                               const job::result& judged) {
  const auto doubtful = [&](std::size_t i) {
    return std::any_of(judged.suspects.begin(), judged.suspects.end(), [&](const auto& each) {
      return each.speed == run.speed && static_cast<std::size_t>(each.reading.index) == i;
    });
  };
  while (place-- > 0)
    if (run.rows[place].turns() && !doubtful(place)) return &run.rows[place];
  return nullptr;
}

/// What each reading of a run-up is held against, and what speaks against going on after it.
json run_up_json(const typed_record& typed, const job::sources& compare_with, const job::result& judged) {
  const auto& record = typed.record;
  const auto& policy = usual_policy();
  json out = json::array();
  for (std::size_t r = 0; r < record.run_up.size(); ++r) {
    const auto& run = record.run_up[r];
    std::vector<units::voltage> volts;
    for (const auto& row : run.rows) volts.push_back(units::volts(row.voltage_V));
    std::vector<job::expected_reading> expected;
    if (compare_with.good || compare_with.earlier)
      expected = job::expect_readings(record, compare_with, policy, run.speed, volts);
    json rows = json::array();
    for (std::size_t i = 0; i < run.rows.size(); ++i) {
      const auto& row = run.rows[i];
      dialogue::reading_facts facts{.speed = run.speed,
                                    .index = static_cast<int>(i),
                                    .voltage_V = row.voltage_V,
                                    .current_A = row.current_A,
                                    .rated_V = record.machine.rated_voltage_V,
                                    .rated_current_A = record.machine.rated_current_A,
                                    .turning = row.turns()};
      json one = json::object();
      if (i < expected.size()) {
        facts.expected = expected[i];
        one["expected_A"] = report::number_text(units::in_amperes(expected[i].value));
        one["low_A"] = report::number_text(units::in_amperes(expected[i].low));
        one["high_A"] = report::number_text(units::in_amperes(expected[i].high));
      }
      if (const auto* before = row.turns() ? sound_reading_before(run, i, judged) : nullptr) {
        facts.before_V = before->voltage_V;
        facts.before_A = before->current_A;
      }
      // What looks misread is in the judgement's own list of suspect readings.
      for (const auto& stop : dialogue::stops_after(facts, judged, policy))
        if (stop.why != dialogue::stop_reason::misread) one["stop"] = stop.line;
      rows.push_back(std::move(one));
    }
    const auto next = dialogue::suggested_voltage(record, run.speed);
    out.push_back({{"speed", run.speed},
                   {"entry", typed.run_up.at(r).entry},
                   {"places", typed.run_up.at(r).rows},
                   {"rows", rows},
                   {"suggested_V", next ? json(*next) : json(nullptr)}});
  }
  return out;
}

/// What can be measured with what there is, by the words of the list of equipment; everything where nothing is said.
json equipment_json(const json& typed) {
  std::vector<std::string> have;
  if (typed.contains("visit"))
    for (const auto& each : typed["visit"].value("have", json::array()))
      if (each.is_string()) have.push_back(each.get<std::string>());
  json out = json::object();
  for (const auto* each : record::words::equipment) out[each] = record::has_equipment(have, each);
  return out;
}

json judge_typed(const json& question) {
  const auto typed = record_of_typed(question.at("typed"));
  json out{{"whole", typed.whole},
           {"problems", problems_json(typed)},
           {"missing", json::array()},
           {"has", equipment_json(question.at("typed"))}};
  for (const auto& each : typed.missing) out["missing"].push_back(place_json(each));
  out["unfinished"] = json::array();
  for (const auto& each : typed.unfinished) out["unfinished"].push_back(place_json(each));
  if (!typed.whole) return out;
  auto compare_with = sources_of(question);
  std::shared_ptr<const job::analysis> seen;
  try {
    seen = job::analyse(typed.record, compare_with, usual_policy());
  } catch (const base::error& trouble) {
    // A reference or an earlier visit of another machine: judged without them, and said.
    if (!compare_with.good && !compare_with.earlier) throw;
    out["not_compared"] = lines_of(trouble);
    compare_with = {};
    seen = job::analyse(typed.record, compare_with, usual_policy());
  }
  const auto judged = job::judge(*seen);
  out["view"] = view_json(report::view_of(judged));
  out["result"] = json::parse(report::json_report(judged));
  out["energise"] = energising_json(judged);
  out["plan"] = plan_json(typed.record);
  out["run_up"] = run_up_json(typed, compare_with, judged);
  out["voltages"] = dialogue::run_up_voltages(typed.record);
  out["pictures"] = pictures_json(judged, job::pictures_of(*seen));
  return out;
}

/// @throws base::error where what was typed is no record yet
record::visit_record whole_record(const json& typed) {
  auto out = record_of_typed(typed);
  if (out.whole) return std::move(out.record);
  const auto where = out.missing.empty() ? field_place{} : out.missing.front();
  throw base::error(base::error_code::missing_key, {"", 0, where.section + "." + where.key}, "nothing",
                    "what every record needs");
}

json report_page(const json& question) {
  const auto record = whole_record(question.at("typed"));
  const auto compare_with = sources_of(question);
  const auto seen = job::analyse(record, compare_with, usual_policy());
  return {{"html", report::html_report(job::judge(*seen), job::pictures_of(*seen))}};
}

json learnt(const json& question) {
  std::vector<job::reference> parts;
  for (const auto& typed : question.at("typed")) parts.push_back(job::learn({whole_record(typed)}, usual_policy()));
  for (const auto& text : question.value("references", json::array()))
    parts.push_back(reference_read(text.get<std::string>(), "reference"));
  const auto merged = job::merge(parts, usual_policy());
  json aside = json::array();
  for (const auto& machine : merged.set_aside) aside.push_back(machine.visit_name());
  return {{"toml", job::reference_text(merged, usual_policy())},
          {"model", merged.model},
          {"machines", merged.machines.size()},
          {"set_aside", aside},
          {"unlike", job::kept_though_unlike(merged, usual_policy())}};
}

json referred(const json& question) {
  const auto read = reference_read(question.at("text").get<std::string>(), text_at(question, "name"));
  return {{"model", read.model},
          {"machines", read.machines.size()},
          {"rated_voltage_V", read.rated_voltage_V},
          {"rated_frequency_Hz", read.rated_frequency_Hz}};
}

/// As `rewound judge RECORD --reference R --earlier E --format F` does.
json judged_files(const json& question) {
  const auto record = record::record_from_text(question.at("record").get<std::string>(), text_at(question, "name"));
  const auto compare_with = sources_of(question);
  const auto seen = job::analyse(record, compare_with, usual_policy());
  const auto judged = job::judge(*seen);
  json out{{"json", report::json_report(judged)}};
  if (question.value("page", false)) out["html"] = report::html_report(judged, job::pictures_of(*seen));
  return out;
}

json answered(const json& question) {
  const auto ask = text_at(question, "ask");
  if (ask == "keys") return key_list();
  if (ask == "judge") return judge_typed(question);
  if (ask == "report") return report_page(question);
  if (ask == "write") return {{"toml", record::record_text(whole_record(question.at("typed")))}};
  if (ask == "read")
    return {{"typed", typed_of_record(record::record_from_text(question.at("text").get<std::string>(),
                                                               text_at(question, "name")))}};
  if (ask == "learn") return learnt(question);
  if (ask == "refer") return referred(question);
  if (ask == "files") return judged_files(question);
  throw base::error(base::error_code::usage, {"", 0, "ask"}, ask, "a question of this page");
}

}  // namespace

std::string answer(std::string_view question) {
  json out;
  try {
    out = answered(json::parse(question));
  } catch (const base::error& trouble) {
    out = {{"trouble", lines_of(trouble)}};
  } catch (const std::exception& trouble) {
    out = {{"trouble", json::array({std::string("internal error: ") + trouble.what()})}};
  }
  return out.dump(-1, ' ', false, json::error_handler_t::replace);
}

}  // namespace rewound::page
