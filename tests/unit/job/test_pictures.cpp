// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include <rewound/job/pictures.hpp>
#include <rewound/report/html.hpp>
#include <rewound/report/picture.hpp>

#include "judged.hpp"

namespace job = rewound::job;
namespace report = rewound::report;
namespace altered = rewound::testing;

namespace {

job::pictures drawn_of(const rewound::testing::record_text& text, const job::sources& beside = {}) {
  return job::pictures_of(text.record(), beside, job::default_policy());
}

std::size_t count_of(const std::string& text, std::string_view part) {
  std::size_t count = 0;
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + part.size())) ++count;
  return count;
}

}  // namespace

TEST_CASE("every reading of a run-up and of an insulation test is in a picture") {
  const auto record = altered::good.record();
  const auto drawn = drawn_of(altered::good);
  REQUIRE(drawn.draw.size() == record.run_up.size());
  for (std::size_t i = 0; i < drawn.draw.size(); ++i)
    CHECK(drawn.draw[i].readings.size() == record.run_up[i].rows.size());
  REQUIRE(drawn.insulation.size() == 1);
  CHECK(drawn.insulation.front().readings.size() == record.insulation.front().rows.size());
  CHECK_FALSE(drawn.heat_run.has_value());
  CHECK_FALSE(drawn.coast_down.has_value());
}

TEST_CASE("the curve that is drawn goes through the current that was judged") {
  const auto judged = altered::good.judged();
  const auto drawn = drawn_of(altered::good);
  const double rated = judged.machine.rated_voltage_V;
  for (std::size_t i = 0; i < drawn.draw.size(); ++i) {
    const auto& curve = drawn.draw[i].fitted;
    REQUIRE(judged.draw[i].at_rated.has_value());
    const auto above = std::lower_bound(curve.x.begin(), curve.x.end(), rated);
    REQUIRE(above != curve.x.end());
    const auto k = static_cast<std::size_t>(above - curve.x.begin());
    REQUIRE(k > 0);
    const double share = (rated - curve.x[k - 1]) / (curve.x[k] - curve.x[k - 1]);
    const double there = std::lerp(curve.y[k - 1], curve.y[k], share);
    CHECK(std::abs(there / judged.draw[i].at_rated->value.value() - 1.0) < 1e-3);
    CHECK(curve.low[k] < curve.y[k]);
    CHECK(curve.high[k] > curve.y[k]);
  }
}

TEST_CASE("beside an earlier visit there is a band, and this visit's good readings lie within it") {
  const auto drawn = drawn_of(altered::good, {altered::good.record(), {}});
  for (const auto& speed : drawn.draw) {
    REQUIRE_FALSE(speed.expected.empty());
    REQUIRE(speed.expected.low.size() == speed.expected.x.size());
    for (std::size_t i = 0; i < speed.expected.x.size(); ++i) {
      CHECK(speed.expected.low[i] < speed.fitted.y[i]);
      CHECK(speed.expected.high[i] > speed.fitted.y[i]);
    }
  }
}

TEST_CASE("what the judgement calls suspect is suspect in the picture") {
  const auto misread = altered::good.replaced("0.381", "0.831");
  const auto judged = misread.judged();
  REQUIRE(judged.suspects.size() == 1);
  std::size_t suspects = 0;
  for (const auto& speed : drawn_of(misread).draw)
    for (const auto& each : speed.readings)
      if (each.suspect) {
        ++suspects;
        CHECK(speed.speed == judged.suspects.front().speed);
        CHECK(each.index == judged.suspects.front().reading.index);
      }
  CHECK(suspects == 1);
}

TEST_CASE("the page holds every reading once and the decision in words") {
  const auto judged = altered::good.judged();
  const auto drawn = drawn_of(altered::good);
  const auto page = report::html_report(judged, drawn);
  std::size_t readings = 0;
  for (const auto& speed : drawn.draw) readings += speed.readings.size();
  for (const auto& circuit : drawn.insulation) readings += circuit.readings.size();
  CHECK(count_of(page, "data-reading=") == readings);
  CHECK(count_of(page, ">Release<") + count_of(page, "</span> Release</p>") == 1);
  CHECK(count_of(page, "<script") == 0);
  CHECK(count_of(page, " safe") == 0);
}

TEST_CASE("a picture alone carries its style, and names what there is when asked for something else") {
  const auto judged = altered::good.judged();
  const auto drawn = drawn_of(altered::good);
  const auto svg = report::picture_file(judged, drawn, report::picture_kind::draw, "low");
  CHECK(svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\""));
  CHECK(count_of(svg, "<style>") == 1);
  CHECK(count_of(svg, "data-reading=\"low:") == drawn.draw.back().readings.size());
  CHECK_THROWS_AS(report::picture_file(judged, drawn, report::picture_kind::draw, "fast"), rewound::base::error);
  CHECK_THROWS_AS(report::picture_file(judged, drawn, report::picture_kind::coast_down, ""), rewound::base::error);
}

TEST_CASE("markup in a record's fields is text on the page") {
  const auto hostile = altered::good.replaced("\"palm house, circulating fan 7\"", "\"<img src=x onerror=alert(1)>\"");
  const auto page = report::html_report(hostile.judged(), drawn_of(hostile));
  CHECK(count_of(page, "<img") == 0);
  CHECK(count_of(page, "&lt;img src=x onerror=alert(1)&gt;") >= 1);
}
