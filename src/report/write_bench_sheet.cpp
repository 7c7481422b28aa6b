// The sheet for the bench: to print, write on, and type into the job file.
#include "gapfront/bench_sheet.hpp"

#include "report/assets.hpp"
#include "report/html.hpp"
#include "report/plain_page.hpp"

namespace gapfront::report {
namespace {

constexpr const char* kBenchCss = R"(
.bench td { height: 1.6rem; min-width: 5rem; }
.bench .line { border-bottom: 1px solid var(--ink); display: inline-block; min-width: 14rem; }
.bench svg { max-width: 22rem; }
@media print { .bench { font-size: 9.5pt; } .bench section { break-inside: avoid; } }
)";

constexpr const char* kBenchLines = R"([[laminate.measured]]
glass = "chopped strand mat 450"
piece = [
  { area = "900 cm2", weight = "41.2 g" },
  { area = "900 cm2", weight = "39.8 g" },
]
press = [
  { thickness = "5.4 mm", plies = 4 },
  { mass = "5 kg", area = "100 cm2", thickness = "4.1 mm", plies = 4 },
  { mass = "50 kg", area = "100 cm2", thickness = "2.7 mm", plies = 4 },
]
strip = [
  { length = "300 mm", time = "95 s", pressure = "0.8 bar", viscosity = "0.2 Pa.s", gap = "3 mm", plies = 3 },
]
)";

/// Rows to write in: the header, and so many empty rows with what is written in their first cell.
std::string to_fill(const Voice& v, const std::vector<const char*>& columns, const std::vector<std::string>& first) {
  Rows rows(1);
  for (const char* id : columns) rows[0].push_back(told(v, id));
  for (const std::string& cell : first) {
    rows.emplace_back(columns.size(), "&nbsp;");
    rows.back()[0] = cell.empty() ? "&nbsp;" : cell;
  }
  return table(rows);
}

/// A stack between two plates, a weight on top, and where to measure.
std::string press_sketch() {
  return "<svg viewBox=\"0 0 220 110\" role=\"img\" aria-hidden=\"true\"><rect x=\"20\" y=\"90\" width=\"180\" "
         "height=\"10\" "
         "fill=\"#8a949c\"/><rect x=\"50\" y=\"62\" width=\"120\" height=\"28\" fill=\"#dfe6ea\" stroke=\"#5a6670\"/>"
         "<path d=\"M50 69H170M50 76H170M50 83H170\" stroke=\"#5a6670\"/><rect x=\"44\" y=\"54\" width=\"132\" "
         "height=\"8\" "
         "fill=\"#8a949c\"/><rect x=\"80\" y=\"16\" width=\"60\" height=\"38\" fill=\"#5a6670\"/><path d=\"M186 "
         "54V90M181 "
         "54h10M181 90h10\" stroke=\"#111\" fill=\"none\"/></svg>";
}

}  // namespace

std::string bench_sheet_html(const std::string& language, UnitSystem units) {
  const Voice v{units, language};
  const auto line = [&](const char* id) { return para(told(v, id) + " <span class=\"line\">&nbsp;</span>"); };
  const auto part = [&](const char* title, const char* how, const std::string& rest) {
    return "<section><h2>" + told(v, title) + "</h2>\n" + para(told(v, how)) + rest + "</section>\n";
  };
  return "<!doctype html>\n<html lang=\"" + language +
         "\"><head><meta charset=\"utf-8\"><meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
         "style-src 'unsafe-inline'\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><title>" +
         told(v, "bench.title") + "</title>\n<style>\n" + page_css + kBenchCss +
         "</style></head><body class=\"bench\">\n<header><h1>" + told(v, "bench.title") + "</h1>" +
         para(told(v, "bench.why")) + line("bench.glass") + line("bench.batch") + "</header>\n<main>\n" +
         part("bench.weigh", "bench.weigh-how",
              to_fill(v, {"page.area", "bench.weight"}, std::vector<std::string>(4))) +
         part("bench.press", "bench.press-how",
              press_sketch() + to_fill(v, {"bench.load", "page.area", "try.thickness", "clamping.plies"},
                                       {told(v, "bench.no-load"), "", ""})) +
         part("bench.strip", "bench.strip-how",
              to_fill(v,
                      {"proof.length", "front.time", "bench.pressure", "pages.viscosity", "page.gap", "clamping.plies"},
                      std::vector<std::string>(2))) +
         part("bench.into-job", "bench.into-job-how", "<pre translate=\"no\">" + escape(kBenchLines) + "</pre>") +
         cautions_section(v) + "</main></body></html>\n";
}

}  // namespace gapfront::report
