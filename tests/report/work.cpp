// The work order, and its files.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <regex>

#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"
#include "report/labels.hpp"
#include "report/templates.hpp"
#include "report/work_sketches.hpp"
#include "unsaid.hpp"
#include "work_case.hpp"

using namespace gapfront;

TEST_CASE("The work order says where, how deep, how much and in which order, and escapes what users wrote") {
  const std::string page = report::work_order_html(with_template());
  for (const char* words :
       {"Build up &lt;here&gt;.", "straight through free air from target B1", "123\u00a0mm", "Depth stops",
        "0.42\u00a0%", "R2 is left as it is.", "--expects", "Peroxide", "build-up</th>"})
    CHECK_THAT(page, Catch::Contains(words));
  CHECK(page.find("<here>") == std::string::npos);
}

TEST_CASE("Where no template can be laid, no step lays one: the outline is marked by its coordinates") {
  Inspection r = with_template();
  CHECK_THAT(report::work_order_html(r), Catch::Contains("lay the template on it"));
  Correction& c = r.plan.candidates[0];
  c.templates.clear(), c.no_template = free_text("The face is curved too much.");
  for (const Kind kind : {Kind::build_up, Kind::relief, Kind::reinforcement_patch}) {
    c.kind = kind;
    const std::string page = report::work_order_html(r);
    CHECK_THAT(page, Catch::Contains("Mark the outline by its coordinates") && Catch::Contains("Outline in tool") &&
                         !Catch::Contains("lay the template") && !Catch::Contains("by the template"));
    CHECK((page.find("draw the feathered edge 15\u00a0mm outside it") != std::string::npos) ==
          (kind != Kind::reinforcement_patch));
  }
}

TEST_CASE("Where a half has to be scanned first, the work order begins with that, drawn on the half it lacks") {
  Inspection r = with_template();
  CHECK(report::work_order_html(r).find("id=\"scan\"") == std::string::npos);
  r.verdict.covered = false;
  r.verdict.unseen = {{{100, 50, 0}, 8000, Missing::upper, {}}, {{200, 150, 0}, 2000, Missing::both, {0, 1, 2}}};
  const std::string page = report::work_order_html(r);
  const auto scan = page.find("<section class=\"work\" id=\"scan\">");
  REQUIRE(scan != std::string::npos);
  CHECK(scan < page.find("id=\"C1\""));
  const std::string lower = report::scan_sketch(r, false), upper = report::scan_sketch(r, true);
  CHECK(lower.find("80 cm²") == std::string::npos);
  CHECK_THAT(lower, Catch::Contains("20 cm²"));
  CHECK_THAT(upper, Catch::Contains("80 cm²") && Catch::Contains("20 cm²"));
  // The place without cells is a disc, the other one is the triangle between its nodes.
  CHECK(std::count(upper.begin(), upper.end(), 'L') > std::count(lower.begin(), lower.end(), 'L') + 20);
}

TEST_CASE("The work order and the templates are in the report's language, every text of them") {
  Inspection r = with_all_kinds();
  r.job.language = "marked";
  for (const auto& [name, text] : report::work_files(r)) {
    CAPTURE(name);
    if (name == "work-order.html") CHECK(unsaid(text) == std::vector<std::string>{});
    if (name.ends_with(".svg")) CHECK(unsaid(text) == std::vector<std::string>{r.job.name});
  }
  r.job.language = "de";
  for (const char* kept : {"<html lang=\"de\">", "North end", "whatever our shop does", "0,60"})
    CHECK_THAT(report::work_order_html(r), Catch::Contains(kept));
  const std::string page = report::work_order_html(r);
  for (const char* words :
       {"<h1>Arbeitsauftrag</h1>",
        "Station Ä 1 (vorgeschlagen bei x\u00a01; y\u00a02; z\u00a00\u00a0mm): 0,40\u00a0mm einlegen",
        "gerade durch die Luft von Zielmarke B1", "1. C1: Materialauftrag, untere Formfläche</h2>"})
    CHECK_THAT(page, Catch::Contains(words));
  const std::string svg = report::template_svgs(r)[0].second;
  CHECK_THAT(svg, Catch::Contains("Dieser Balken misst 100 mm."));
  CHECK_THAT(svg, Catch::Contains("C1 Teil 1: Materialauftrag, untere Formfläche"));
  CHECK_THAT(svg, Catch::Contains(">0,60<"));
}

TEST_CASE("A report made again in another language has its work order in that language as well") {
  Inspection r = with_all_kinds();
  const Page page = report::page_of(report::result_json(r), "pt");
  const auto order = std::find_if(page.besides.begin(), page.besides.end(),
                                  [](const auto& f) { return f.first == "work-order.html"; });
  REQUIRE(order != page.besides.end());
  CHECK_THAT(order->second, Catch::Contains("<h1>Ordem de trabalho</h1>"));
}

TEST_CASE("What the work order and the templates are made from is in result.json") {
  Inspection r = with_template();
  Confirmed c;
  c.correction = "C1", c.can_tell = true, c.says = free_text("It did what was predicted."), c.predicted = 3.1,
  c.achieved = 3.05;
  r.expects = Message("list.inspection-of", {arg::name("before"), arg::name("2026-01-01")}), r.confirmed = {c};
  const Inspection again = report::read_result(report::result_json(r));
  CHECK(report::result_json(again) == report::result_json(r));
  CHECK(report::work_files(again) == report::work_files(report::read_result(report::result_json(again))));
  CHECK(report::work_order_html(again) == report::work_order_html(r));
  CHECK_THAT(report::report_html(again), Catch::Contains("It did what was predicted."));
}

namespace {

/// All places "x y" that a pattern finds in a drawing.
std::vector<Eigen::Vector2d> places_in(const std::string& svg, const std::string& pattern) {
  std::vector<Eigen::Vector2d> out;
  const std::regex form(pattern);
  for (std::sregex_iterator m(svg.begin(), svg.end(), form), end; m != end; ++m)
    out.emplace_back(std::stod((*m)[1]), std::stod((*m)[2]));
  return out;
}

}  // namespace

TEST_CASE("Each number of a depth stop stands nearest to its own cross, and parts are drawn to one scale") {
  Inspection r = with_template();
  Correction& c = r.plan.candidates[0];
  Template& t = c.templates[0];
  t.part = 1, t.outline = {{-110, -20}, {110, -20}, {110, 20}, {-110, 20}, {-110, -20}};
  t.stops = {{Vec3(14, 2, 0), 1.3, 1}};  // the deepest lies beside a grid of the others
  for (int k = 0; k < 9; ++k) t.stops.push_back({Vec3(-80 + 20 * k, 0, 0), 1.1, k + 2});
  t.contours.clear();
  for (int k = 1; k < 26; ++k) {
    t.contours.push_back({0.05 * k, {}});
    for (int x = -100; x <= 100; x += 5) t.contours.back().line.emplace_back(x, k - 20.0, 0);
  }
  const std::string one = report::depth_sketches(r, c);
  const auto crosses = places_in(one, "class=\"stop\" d=\"M([-0-9.]+) ([-0-9.]+)h6"),
             numbers = places_in(one, "class=\"name\" style=\"font-size:13px\" x=\"([-0-9.]+)\" y=\"([-0-9.]+)\"");
  REQUIRE(crosses.size() == 10);
  REQUIRE(numbers.size() == 10);
  for (std::size_t k = 0; k < 10; ++k) {
    CAPTURE(k);
    const auto off = [&](std::size_t j) { return (numbers[k] - Eigen::Vector2d(3, 0.36 * 13) - crosses[j]).norm(); };
    for (std::size_t j = 0; j < 10; ++j)
      if (j != k) CHECK(off(k) < off(j));
  }
  // 25 thicknesses have no room across 40 mm: a few are drawn, and their numbers are no stops'.
  CHECK(places_in(one, "class=\"level\" d=\"M([-0-9.]+) ([-0-9.]+)L").size() < 8);
  CHECK_THAT(one, Catch::Contains("class=\"name thick\"") && !Catch::Contains(">0.05<"));

  Template small = t;
  small.part = 2, small.outline = {{0, 0}, {50, 0}, {50, 20}, {0, 20}, {0, 0}}, small.stops.resize(1),
  small.contours.clear();
  c.templates.push_back(small);
  const std::string both = report::depth_sketches(r, c);
  const std::regex box("viewBox=\"\\S+ \\S+ (\\S+ \\S+)\"");
  std::vector<std::string> frames;
  for (std::sregex_iterator m(both.begin(), both.end(), box), end; m != end; ++m) frames.push_back((*m)[1]);
  REQUIRE(frames.size() == 2);
  CHECK(frames[0] == frames[1]);
  const std::string place = report::place_sketch(r, c);
  CHECK_THAT(place, Catch::Contains("Numbers: the parts of the template."));
}

TEST_CASE("The middle of a path is half-way by length") {
  CHECK(report::middle_along({Vec3(1, 2, 3)}) == Vec3(1, 2, 3));
  CHECK((report::middle_along({Vec3(0, -60, 0), Vec3(0, 60, 0)}) - Vec3::Zero()).norm() < 1e-12);
  CHECK((report::middle_along({Vec3(0, 0, 0), Vec3(1, 0, 0), Vec3(2, 0, 0), Vec3(10, 0, 0)}) - Vec3(5, 0, 0)).norm() <
        1e-12);
}

TEST_CASE("Work files of an earlier run do not outlive it") {
  namespace fs = std::filesystem;
  const fs::path folder = fs::temp_directory_path() / ("gapfront-work-" + std::to_string(::getpid()));
  Inspection r = with_template();
  report::write_report(report::report_files(r), folder);
  CHECK(fs::exists(folder / "work-order.html"));
  CHECK(fs::exists(folder / "template-C1.svg"));
  CHECK(fs::exists(folder / "templates.pdf"));
  r.plan.chosen.clear(), r.plan.after_each.clear();
  report::write_report(report::report_files(r), folder);
  CHECK_FALSE(fs::exists(folder / "work-order.html"));
  CHECK_FALSE(fs::exists(folder / "template-C1.svg"));
  CHECK_FALSE(fs::exists(folder / "templates.pdf"));
  CHECK(fs::exists(folder / "report.html"));
  fs::remove_all(folder);
}
