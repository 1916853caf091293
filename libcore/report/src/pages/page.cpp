// SPDX-License-Identifier: MIT
#include <rewound/report/html.hpp>
#include <rewound/report/view.hpp>

#include "markup.hpp"
#include "page_css.hpp"
#include "page_frame.hpp"
#include "picture_css.hpp"
#include "sections.hpp"

namespace rewound::report {

std::string framed_page(std::string_view title, std::string_view body) {
  // Nothing is fetched and nothing runs, whatever a record holds: the policy says so to the browser too.
  std::string out =
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; img-src "
      "data:\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
      "<link rel=\"icon\" href=\"data:,\">\n";
  out += text_element("title", "", title) + "\n<style>\n";
  out += detail::picture_css;
  out += detail::page_css;
  out += "</style>\n</head>\n<body>\n";
  out += body;
  return out + "\n</body>\n</html>\n";
}

namespace {

/// Characters of a heading; the facts below it have the whole text.
constexpr std::size_t longest_heading = 120;

}  // namespace

std::string html_report(const job::result& result, const job::pictures& plotted) {
  const view shown = view_of(result);
  std::string body = "<header><h1><bdi>" + escaped(shortened(shown.title, longest_heading)) + "</bdi></h1>" +
                     text_element("p", "soft", shown.subtitle) + "</header>\n<main>\n";
  for (const auto& section :
       {answer_section(shown, result), draw_section(shown, result, plotted), insulation_section_of(result, plotted),
        running_section(result, plotted), causes_section(shown), findings_section(shown), readings_section(plotted),
        cautions_section(shown), owner_section(shown, result)})
    body += section + "\n";
  body += "</main>\n<footer>" +
          text_element("p", "soft",
                       "Made by rewound from the readings entered; local codes and a licensed person decide.") +
          "</footer>";
  return framed_page(shortened(shown.title, longest_heading) + ", " + result.visit.day.iso(), body);
}

}  // namespace rewound::report
