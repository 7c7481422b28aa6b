#include "report/paper.hpp"

#include <cctype>
#include <cstdio>

#include "gapfront/report.hpp"
#include "units/inch.hpp"

namespace gapfront::report {
namespace {

/// A text as a string of a style sheet; what might end it is written by number.
std::string css_string(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte >= 0x80 || std::isalnum(byte) || c == ' ') {
      out += c;
    } else {
      char code[8];
      std::snprintf(code, sizeof code, "\\%x ", byte);
      out += code;
    }
  }
  return out + "\"";
}

/// "page 1 of 3", the numbers counted by the browser.
std::string page_number(const Voice& v) {
  const std::string page = "\x01", pages = "\x02";
  const std::string said = say(Message("paper.page-of", {arg::name(page), arg::name(pages)}), v);
  std::string out, text;
  for (const char c : said) {
    if (c != page[0] && c != pages[0]) {
      text += c;
      continue;
    }
    out += css_string(text) + (c == page[0] ? " counter(page) " : " counter(pages) ");
    text.clear();
  }
  return out + css_string(text);
}

}  // namespace

Paper paper_of(const Inspection& r) { return r.plan.letter ? Paper{8.5 * inch, 11 * inch} : Paper{210, 297}; }

std::string paper_css(const Inspection& r) {
  std::string head = r.job.tool.empty() ? r.job.name : r.job.tool;
  if (!r.job.date.empty()) head += " · " + r.job.date;
  return "@page { size: " + std::string(r.plan.letter ? "letter" : "A4") +
         "; margin: 14mm 12mm; font: 8pt sans-serif; @top-left { content: " + css_string(head) +
         "; } @bottom-right { content: " + page_number(voice_of(r.job)) + "; } }\n";
}

}  // namespace gapfront::report
