// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include <near.hpp>
#include <rewound/base/error.hpp>
#include <rewound/machine/fault.hpp>
#include <rewound/verdict/rules/causes.hpp>

namespace verdict = rewound::verdict;
namespace rules = rewound::verdict::rules;
namespace cause_tables = rewound::verdict::cause_tables;
using rewound::machine::all_faults;
using rewound::testing::near_absolute;
using rewound::testing::near_relative;
using verdict::cause;
using verdict::check;
using verdict::outcome;

namespace {

double probability_of(const std::vector<rules::ranked_cause>& ranked, cause which) {
  for (const auto& each : ranked)
    if (each.cause == which) return each.probability;
  return -1.0;
}

double cause_total(const std::vector<rules::ranked_cause>& ranked) {
  double sum = 0.0;
  for (const auto& each : ranked) sum += each.probability;
  return sum;
}

/// Bayes's rule as it is written: prior times probability of what was seen, over the sum of those.
template <class Likelihood>
void check_by_hand(const rules::cause_facts& facts, Likelihood likelihood) {
  double total = 0.0;
  for (const auto& row : cause_tables::cause_evidence) total += row.prior * likelihood(row);
  const auto ranked = rules::rank_causes(facts);
  for (const auto& row : cause_tables::cause_evidence) {
    CAPTURE(row.cause);
    CHECK(near_relative(probability_of(ranked, *verdict::cause_named(row.cause)), row.prior * likelihood(row) / total,
                        1e-12));
  }
}

}  // namespace

TEST_CASE("the model's likelihoods tell which fault it is by their square root, and whether there is one in full") {
  constexpr double nothing = -std::numeric_limits<double>::infinity();
  std::vector<double> log_evidence(verdict::cause_count, nothing);
  const auto at = [](cause which) { return static_cast<std::size_t>(which); };
  log_evidence[at(cause::shorted_turns)] = 9.0;
  log_evidence[at(cause::too_few_turns)] = 5.0;
  log_evidence[at(cause::weak_capacitor)] = -3.0;
  const auto believed = rules::as_believed(log_evidence);
  const auto whole = [](const std::vector<double>& log) {
    double sum = 0.0;
    for (std::size_t i = 0; i < log.size(); ++i) sum += cause_tables::cause_evidence[i].prior * std::exp(log[i]);
    return sum;
  };
  CHECK(near_relative(whole(believed), whole(log_evidence), 1e-12));
  CHECK(believed[at(cause::rotor_fault)] == nothing);
  // What is beyond the tenth that tells nothing goes by the root: exp((9 - 5) / 2), exp((9 + 3) / 2) between them.
  const double prior = cause_tables::cause_evidence[at(cause::shorted_turns)].prior +
                       cause_tables::cause_evidence[at(cause::too_few_turns)].prior +
                       cause_tables::cause_evidence[at(cause::weak_capacitor)].prior;
  const auto told = [&](cause which) { return std::exp(believed[at(which)]) / whole(log_evidence) - 0.1 / prior; };
  CHECK(near_relative(told(cause::shorted_turns) / told(cause::too_few_turns), std::exp(2.0), 1e-9));
  CHECK(near_relative(told(cause::shorted_turns) / told(cause::weak_capacitor), std::exp(6.0), 1e-6));
}

TEST_CASE("the table of causes names every cause in order, with priors that sum to one and shares that are shares") {
  double sum = 0.0;
  REQUIRE(cause_tables::cause_evidence.size() == verdict::cause_count);
  for (std::size_t i = 0; i < verdict::cause_count; ++i) {
    const auto& row = cause_tables::cause_evidence[i];
    CAPTURE(row.cause);
    CHECK(row.cause == verdict::name(static_cast<cause>(i)));
    CHECK_FALSE(row.source.empty());
    CHECK(row.prior > 0.0);
    sum += row.prior;
    for (const double share :
         {row.hesitates, row.insulation_low, row.polarization_low, row.drags, row.hot, row.suspect}) {
      CHECK(share > 0.0);  // a share of 0 or 1 would make one finding an outright proof
      CHECK(share < 1.0);
    }
  }
  CHECK(near_absolute(sum, 1.0, 1e-12));
}

TEST_CASE("every fault that has a range of severity is one of the machine model and a cause") {
  for (const auto& row : cause_tables::fault_severity) {
    CAPTURE(row.fault);
    CHECK(std::count_if(all_faults.begin(), all_faults.end(),
                        [&](auto one) { return rewound::machine::name(one) == row.fault; }) == 1);
    CHECK(verdict::cause_named(row.cause).has_value());
    CHECK(row.least > 0.0);
    CHECK(row.most >= row.least);
  }
}

TEST_CASE("every fault of the machine model is a cause, or a way to get one") {
  for (const auto one : rewound::machine::all_faults) {
    CAPTURE(rewound::machine::name(one));
    const auto told = std::find_if(cause_tables::fault_severity.begin(), cause_tables::fault_severity.end(),
                                   [&](const auto& row) { return row.fault == rewound::machine::name(one); });
    const auto cause = told == cause_tables::fault_severity.end() ? rewound::machine::name(one) : told->cause;
    CHECK(verdict::cause_named(cause).has_value());
  }
  CHECK_FALSE(verdict::cause_named("moonlight").has_value());
}

TEST_CASE("nothing read leaves the priors, healthy first") {
  const auto ranked = rules::rank_causes({});
  CHECK(ranked.size() == verdict::cause_count);
  CHECK(ranked.front().cause == cause::none);
  check_by_hand({}, [](const auto&) { return 1.0; });
  for (const auto& each : ranked) CHECK(each.factors.empty());
}

TEST_CASE("probabilities sum to one and fall, whatever is read") {
  rules::cause_facts facts;
  facts.log_electrical.assign(verdict::cause_count, 0.0);
  facts.log_electrical[4] = 900.0;
  facts.log_electrical[7] = -std::numeric_limits<double>::infinity();
  facts.start_attempts = 5;
  facts.start_failures = 2;
  facts.insulation = outcome::fails;
  facts.polarization_index = outcome::fails;
  facts.coast_down = outcome::conforms;
  facts.heat_run = outcome::fails;
  facts.suspect_reading = true;
  facts.other_frequency = false;
  const auto ranked = rules::rank_causes(facts);
  CHECK(near_absolute(cause_total(ranked), 1.0, 1e-12));
  CHECK(std::is_sorted(ranked.begin(), ranked.end(),
                       [](const auto& a, const auto& b) { return a.probability > b.probability; }));
  CHECK(ranked.front().cause == cause::wire_too_thin);
  CHECK(probability_of(ranked, cause::speed_section_shorted) == 0.0);
  for (const auto& each : ranked) CHECK(each.factors.size() == 8);
}

TEST_CASE("starts that fail: Bayes's rule by hand") {
  for (const auto& [attempts, failures] : {std::pair{5, 2}, {5, 0}, {1, 1}, {10, 10}}) {
    const auto attempts_shown = attempts;
    CAPTURE(attempts_shown);
    const auto failures_shown = failures;
    CAPTURE(failures_shown);
    double ways = 1.0;
    for (int k = 1; k <= failures; ++k) ways *= static_cast<double>(attempts - failures + k) / k;
    const double steady = ways * std::pow(0.002, failures) * std::pow(0.998, attempts - failures);
    rules::cause_facts facts;
    facts.start_attempts = attempts;
    facts.start_failures = failures;
    // Any probability of failing alike gives every number of failures the same chance (T. Bayes).
    check_by_hand(facts, [&](const auto& row) {
      return row.hesitates / (attempts_shown + 1.0) + (1.0 - row.hesitates) * steady;
    });
  }
  rules::cause_facts facts;
  facts.start_attempts = 5;
  facts.start_failures = 2;
  const auto ranked = rules::rank_causes(facts);
  CHECK(probability_of(ranked, cause::weak_capacitor) > 4.0 * 0.04);
  CHECK(probability_of(ranked, cause::none) < 0.25 * 0.50);
}

TEST_CASE(
    "low insulation, its index, a short coast-down, heat: Bayes's rule by hand, and nothing of what is undecided") {
  rules::cause_facts low;
  low.insulation = outcome::fails;
  check_by_hand(low, [](const auto& row) { return row.insulation_low; });
  low.polarization_index = outcome::conforms;
  check_by_hand(low, [](const auto& row) { return row.insulation_low * (1.0 - row.polarization_low); });
  rules::cause_facts drags;
  drags.coast_down = outcome::fails;
  drags.heat_run = outcome::conforms;
  check_by_hand(drags, [](const auto& row) { return row.drags * (1.0 - row.hot); });
  rules::cause_facts open;
  open.insulation = open.polarization_index = open.coast_down = open.heat_run = outcome::undecided;
  check_by_hand(open, [](const auto&) { return 1.0; });
  open.insulation = outcome::not_tested;
  check_by_hand(open, [](const auto&) { return 1.0; });
  low.polarization_index = outcome::fails;
  CHECK(rules::rank_causes(low).front().cause == cause::damp_insulation);
  CHECK(rules::rank_causes(drags).front().cause == cause::tight_bearing);
}

TEST_CASE("a misread reading and another frequency: Bayes's rule by hand") {
  rules::cause_facts facts;
  facts.suspect_reading = false;
  check_by_hand(facts, [](const auto& row) { return 1.0 - row.suspect; });
  facts.suspect_reading = true;
  facts.other_frequency = false;
  check_by_hand(facts, [](const auto& row) { return row.suspect * (row.cause == "wrong_frequency" ? 0.1 : 0.998); });
  rules::cause_facts other;
  other.other_frequency = true;
  check_by_hand(other, [](const auto& row) { return row.cause == "wrong_frequency" ? 0.9 : 0.002; });
  // 0.01 * 0.9 against 0.99 * 0.002
  CHECK(near_relative(probability_of(rules::rank_causes(other), cause::wrong_frequency), 0.009 / (0.009 + 0.00198),
                      1e-12));
}

TEST_CASE("factors are those over a healthy machine, and with the priors they make the probabilities") {
  rules::cause_facts facts;
  facts.log_electrical.assign(verdict::cause_count, -1.0);
  facts.log_electrical[0] = 0.0;
  facts.log_electrical[10] = 2.0;
  facts.insulation = outcome::conforms;
  facts.start_attempts = 3;
  const auto ranked = rules::rank_causes(facts);
  const double healthy = probability_of(ranked, cause::none);
  for (const auto& each : ranked) {
    CAPTURE(verdict::name(each.cause));
    double sum = std::log(cause_tables::cause_evidence[static_cast<std::size_t>(each.cause)].prior / 0.50);
    for (const auto& factor : each.factors) sum += factor.log_factor;
    CHECK(near_absolute(std::log(each.probability / healthy), sum, 1e-10));
    REQUIRE(each.factors.size() == 3);
    CHECK(each.factors[0].from == rules::evidence::electrical);
    CHECK(each.factors[1].from == rules::evidence::starting);
    CHECK(each.factors[2].from == rules::evidence::insulation);
    CHECK(near_absolute(each.factors[0].log_factor, facts.log_electrical[static_cast<std::size_t>(each.cause)], 1e-12));
  }
}

TEST_CASE("more electrical evidence for a cause makes it more probable and every other less") {
  for (std::size_t which = 0; which < verdict::cause_count; ++which) {
    CAPTURE(which);
    std::map<cause, double> before;
    for (const double evidence : {-20.0, -2.0, 0.0, 1.5, 6.0}) {
      rules::cause_facts facts;
      facts.log_electrical.assign(verdict::cause_count, 0.0);
      facts.log_electrical[which] = evidence;
      const auto ranked = rules::rank_causes(facts);
      for (const auto& each : ranked) {
        if (before.contains(each.cause)) {
          if (static_cast<std::size_t>(each.cause) == which) CHECK(each.probability > before[each.cause]);
          else CHECK(each.probability < before[each.cause]);
        }
        before[each.cause] = each.probability;
      }
    }
  }
}

TEST_CASE("evidence of any other length than the list of causes is refused") {
  for (const std::size_t length : {std::size_t{1}, verdict::cause_count - 1, verdict::cause_count + 1}) {
    rules::cause_facts facts;
    facts.log_electrical.assign(length, 0.0);
    CHECK_THROWS_AS(rules::rank_causes(facts), rewound::base::error);
  }
}

TEST_CASE("a failed test is not explained by health, and one that no cause of the list can fail by something else") {
  for (const auto failed : {check::draw, check::earth, check::insulation, check::steps, check::withstand}) {
    rules::cause_facts facts;
    facts.failed = {failed};
    CHECK(rules::rank_causes(facts).front().cause != cause::none);
  }
  rules::cause_facts earth;
  earth.failed = {check::earth};
  CHECK(rules::rank_causes(earth).front().cause == cause::something_else);
}

TEST_CASE("what a repairer reads off a record names the cause that he would name") {
  using rules::pattern;
  const std::pair<rules::pattern, cause> known[] = {{pattern::equal_taps, cause::speed_section_shorted},
                                                    {pattern::order_wrong, cause::speed_leads_exchanged},
                                                    {pattern::slower_takes_more, cause::speed_section_shorted},
                                                    {pattern::one_position, cause::tight_bearing},
                                                    {pattern::never_starts, cause::weak_capacitor}};
  for (const auto& [seen, first] : known) {
    rules::cause_facts facts;
    facts.patterns = {seen};
    facts.failed = {check::steps};
    CHECK(rules::rank_causes(facts).front().cause == first);
  }
}

TEST_CASE("a release needs the causes to agree") {
  rules::cause_facts healthy;
  CHECK(rules::causes_against_release(rules::rank_causes(healthy), {}).empty());
  rules::cause_facts doubtful;
  doubtful.patterns = {rules::pattern::slower_takes_more};
  const auto found = rules::causes_against_release(rules::rank_causes(doubtful), {});
  REQUIRE(found.size() == 1);
  CHECK(found.front().outcome == outcome::undecided);
  CHECK(found.front().value.value() < 0.2);
}

TEST_CASE("every cause that a shop rule names is in the list") {
  for (const auto& row : cause_tables::shop_rules)
    for (const auto name : {row.first, row.second, row.third}) CHECK(verdict::cause_named(name).has_value());
}

TEST_CASE("evidence to be tempered is one value a cause, no fewer and no more") {
  for (const std::size_t length : {verdict::cause_count - 1, verdict::cause_count + 1})
    CHECK_THROWS_AS(rules::as_believed(std::vector<double>(length, 0.0)), rewound::base::error);
}

TEST_CASE("each pattern's causes show it by their own shares, all others by the rest: Bayes's rule by hand") {
  for (std::size_t i = 0; i < cause_tables::shop_rules.size(); ++i) {
    const auto& rule = cause_tables::shop_rules[i];
    CAPTURE(i);
    std::map<std::string_view, double> shares{{"none", rule.healthy},
                                              {rule.first, rule.first_share},
                                              {rule.second, rule.second_share},
                                              {rule.third, rule.third_share}};
    rules::cause_facts facts;
    facts.patterns = {static_cast<rules::pattern>(i)};
    check_by_hand(facts,
                  [&](const auto& row) { return shares.contains(row.cause) ? shares.at(row.cause) : rule.other; });
  }
}

TEST_CASE("a failed test is nine tenths of what can make it fail, and three in a thousand of the others") {
  const auto explained_by = [](check failed, const std::vector<std::string_view>& causes) {
    rules::cause_facts facts;
    facts.failed = {failed};
    check_by_hand(facts, [&](const auto& row) {
      return std::find(causes.begin(), causes.end(), row.cause) != causes.end() ? 0.9 : 0.003;
    });
  };
  explained_by(check::withstand, {"damp_insulation", "contaminated_insulation", "aged_insulation", "something_else"});
  for (const auto never : {check::earth, check::leakage, check::commutator, check::checks, check::supply})
    explained_by(never, {"something_else"});
  std::vector<std::string_view> all;
  for (const auto& row : cause_tables::cause_evidence)
    if (row.cause != "none") all.push_back(row.cause);
  explained_by(check::draw, all);
}
