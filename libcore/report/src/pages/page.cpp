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

/// The sheets for shop and owner are what is printed; whoever wants the annex on paper says so here, without a script:
/// it is printed while it is what the address points at.
std::string annex_control() {
  return "<p class=\"control\">Printing leaves out this annex: <a href=\"#annex\">print it too</a>, or <a "
         "href=\"#shop\">leave it out again</a>.</p>";
}

}  // namespace

std::string html_report(const job::result& result, const job::pictures& plotted) {
  const view shown = view_of(result);
  std::string body = "<header><h1><bdi>" + escaped(shortened(shown.title, longest_heading)) + "</bdi></h1>" +
                     text_element("p", "soft", shown.subtitle) + "</header>\n<main>\n";
  body += "<section class=\"shop\" id=\"shop\" aria-label=\"Decision\">" +
          answer_section(shown, result, deciding_figure(shown, result, plotted)) + "\n" +
          draw_section(shown, result, plotted) + short_cautions(shown) + "</section>\n" + owner_section(shown, result) +
          "\n<div class=\"annex\" id=\"annex\">\n" + annex_control() + "\n";
  for (const auto& section :
       {steps_section(shown), findings_section(shown), other_pictures_section(result, plotted), causes_section(shown),
        facts_section(shown, result), readings_section(plotted), cautions_section(shown)})
    body += section + "\n";
  body += "</div>\n</main>\n<footer>" +
          text_element("p", "soft",
                       "Made by rewound from the readings entered; local codes and a licensed person decide.") +
          "</footer>";
  return framed_page(shortened(shown.title, longest_heading) + ", " + result.visit.day.iso(), body);
}

}  // namespace rewound::report
