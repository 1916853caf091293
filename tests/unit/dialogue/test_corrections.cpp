// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <optional>
#include <string>
#include <vector>

#include <judged.hpp>
#include <near.hpp>
#include <rewound/base/error.hpp>

#include "dialogue/keeping/correction.hpp"
#include "dialogue/entry/insulation_answer.hpp"
#include "dialogue/keeping/listing.hpp"
#include "dialogue/entry/over_range.hpp"
#include "dialogue/keeping/rehearsal.hpp"

namespace dialogue = rewound::tool::dialogue;
namespace job = rewound::job;
namespace record = rewound::record;
using rewound::testing::good;
using rewound::testing::near_relative;

namespace {

/// A record with a step's entries of every kind.
record::visit_record noted_record() {
  auto out = good.record();
  out.insulation = {{.circuit = "lamp cord, 2 m",
                     .test_voltage_V = 500.0,
                     .winding_C = 21.0,
                     .rows = {{15, 900}, {60, 2000, true}, {120, 2000, true}}}};
  out.checks = {{dialogue::no_rehearsal_key, false}, {"guard on", true}};
  out.withstand = {{.circuit = "winding to frame", .voltage_V = 1500.0, .duration_s = 60.0}};
  return out;
}

}  // namespace

TEST_CASE("an insulation answer is a number, two, or more than the range holds") {
  struct line {
    const char* text;
    std::optional<double> seconds;
    std::optional<double> megohms;
    bool over_range;
  };
  const std::vector<line> lines{{"310", {}, 310, false},
                                {"60 310", 60, 310, false},
                                {"310 M\u03a9 60s", 60, 310, false},
                                {">2000", {}, 2000, true},
                                {"> 2 G\u03a9", {}, 2000, true},
                                {"60 >= 2000 Mohm", 60, 2000, true},
                                {"1min \u2265 2000", 60, 2000, true},
                                {"60 over 2000", 60, 2000, true},
                                {"at least 550", {}, 550, true},
                                {"60310 Mohm", {}, 60310, false},
                                {"OL", {}, {}, true},
                                {"60s ol", 60, {}, true},
                                {"inf", {}, {}, true},
                                {"over range", {}, {}, true},
                                {" Over ", {}, {}, true}};
  for (const auto& each : lines) {
    CAPTURE(each.text);
    const auto answer = dialogue::parse_insulation(each.text);
    CHECK(answer.over_range == each.over_range);
    REQUIRE(answer.seconds.has_value() == each.seconds.has_value());
    REQUIRE(answer.megohms.has_value() == each.megohms.has_value());
    if (each.seconds) CHECK(near_relative(*answer.seconds, *each.seconds, 1e-12));
    if (each.megohms) CHECK(near_relative(*answer.megohms, *each.megohms, 1e-12));
  }
  for (const char* text :
       {"", ">", "> 5A", "5A OL", "60 120 OL", "OL 2000", "cool", ">2000 >3000", "60 310 5", "60310"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(dialogue::parse_insulation(text), rewound::base::error);
  }
}

TEST_CASE("a sign or a word of more than the range is told apart from what stands before it") {
  const auto taken = dialogue::over_range_in("120 >2");
  REQUIRE(taken);
  CHECK(taken->before == "120");
  CHECK(taken->least == "2");
  const auto bare = dialogue::over_range_in("high 120 OL");
  REQUIRE(bare);
  CHECK(bare->before == "high 120");
  CHECK(bare->least.empty());
  for (const char* text : {"120 .68", ">", "", "cool", "60OL"}) {
    CAPTURE(text);
    CHECK_FALSE(dialogue::over_range_in(text).has_value());
  }
}

TEST_CASE("the mark of a rehearsal is no check that a person answered and cannot be dropped among them") {
  CHECK(dialogue::entries_of(noted_record(), {dialogue::step_kind::checks, ""}) ==
        std::vector<std::string>{"guard on yes"});
  const auto without = dialogue::without_entry(noted_record(), {dialogue::step_kind::checks, ""}, 0);
  CHECK(dialogue::is_rehearsal(without));
  CHECK(without.checks.size() == noted_record().checks.size() - 1);
  CHECK(dialogue::with_entry_corrected(noted_record(), {dialogue::step_kind::checks, ""}, 0, "no")
            .checks.at("guard on") == false);
}

TEST_CASE("entries over range are listed as such, and corrected to a number or to another range") {
  const dialogue::step here{dialogue::step_kind::insulation, ""};
  CHECK(dialogue::entries_of(noted_record(), here) ==
        std::vector<std::string>{"lamp cord, 2 m 15 s 900 Mohm", "lamp cord, 2 m 60 s over 2000 Mohm, beyond the range",
                                 "lamp cord, 2 m 120 s over 2000 Mohm, beyond the range"});
  const auto corrected = dialogue::with_entry_corrected(noted_record(), here, 1, "1800");
  CHECK(corrected.insulation[0].rows == std::vector<record::insulation_row>{{15, 900}, {60, 1800}, {120, 2000, true}});
  CHECK(dialogue::with_entry_corrected(noted_record(), here, 0, ">2000").insulation[0].rows[0] ==
        record::insulation_row{15, 2000, true});
  CHECK(dialogue::without_entry(noted_record(), here, 2).insulation[0].rows.size() == 2);
  CHECK_THROWS_AS(dialogue::with_entry_corrected(noted_record(), here, 0, "OL"), rewound::base::error);
  CHECK_THROWS_AS(dialogue::with_entry_corrected(noted_record(), here, 3, "1800"), rewound::base::error);
}

TEST_CASE("a record keeps readings over range as such, in its file too") {
  const auto record = noted_record();
  const auto text = record::record_text(record);
  CHECK(text.find("\">2000\"") != std::string::npos);
  CHECK(record::record_from(record::read_toml_text(text, "")) == record);
}

TEST_CASE("a withstand test's voltage and its outcome are corrected apart or together") {
  const dialogue::step here{dialogue::step_kind::withstand, ""};
  CHECK(dialogue::with_entry_corrected(noted_record(), here, 0, "broke down").withstand[0].broke_down);
  const auto both = dialogue::with_entry_corrected(noted_record(), here, 0, "1250 V broke down").withstand[0];
  CHECK(both.broke_down);
  CHECK(both.voltage_V == 1250.0);
  CHECK_FALSE(dialogue::with_entry_corrected(noted_record(), here, 0, "1250").withstand[0].broke_down);
  CHECK_THROWS_AS(dialogue::with_entry_corrected(noted_record(), here, 0, "5A"), rewound::base::error);
}
