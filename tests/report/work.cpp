// The work order and the templates: what is drawn is measured back.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <regex>

#include "gapfront/report.hpp"
#include "report/templates.hpp"

using namespace gapfront;

namespace {

constexpr double kPoint = 72.0 / 25.4;  // PDF units per mm (ISO 32000: 1/72 in)

/// One build-up with a rectangular template of 300 × 250 mm, too large for one sheet of paper.
Inspection with_template() {
  Inspection r;
  r.job.name = "Tool (A) \\ ü";
  r.sheet = make_sheet({{{0, 0, 0}, {300, 0, 0}, {300, 250, 0}, {0, 250, 0}}, {{0, 1, 2}, {0, 2, 3}}});
  r.gap.nodes.resize(4);
  r.verdict.nominal = r.verdict.deviation = {3, 3, 3, 3};
  r.verdict.node.assign(4, Conformity::conforming);
  r.laminate.nodes.resize(4);
  r.nominal_filling.arrival = r.filling.arrival = {0, 1, 2, 1};
  Correction c;
  c.kind = Kind::build_up, c.name = "C1", c.face = "lower", c.instruction = "Build up <here>.", c.blend = 15,
  c.effort = 3;
  c.outline = {{0, 0, 0}, {300, 0, 0}, {300, 250, 0}, {0, 250, 0}, {0, 0, 0}};
  c.tape = {{"target B1", 123.4, Vec3(-50, 0, 0)}, {"edge of the sheet towards +x", 150, Vec3(300, 125, 0)}};
  c.stops = {{Vec3(150, 125, 0), 0.6}, {Vec3(20, 20, 0), 0.12}};
  c.contours = {{0.1, {{10, 10, 0}, {290, 10, 0}, {290, 240, 0}, {10, 10, 0}}}};
  Template t;
  t.name = "C1", t.stretch = 0.0042, t.origin = Vec3(150, 125, 0);
  for (const Vec3& p : c.outline) t.outline.emplace_back(p.x() - 150, p.y() - 125);
  t.contours = {{0, {{-160, -135, 0}, {160, -135, 0}}}, {0.1, {{-140, -115, 0}, {140, -115, 0}}}};
  t.stops = {{Vec3(0, 0, 0), 0.6}};
  c.templates = {t};
  c.gap_change = {-0.1, 0, -0.2, 0};
  r.plan.candidates = {c}, r.plan.chosen = {0}, r.plan.after_each = {Effect{}};
  r.plan.effort = default_effort(), r.plan.left = {"R2 is left as it is."};
  return r;
}

using Segment = std::pair<Eigen::Vector2d, Eigen::Vector2d>;

/// Straight pieces of the paths of one PDF page, mm on the paper.
std::vector<Segment> segments(const std::string& page) {
  std::vector<Segment> out;
  const std::regex op(R"((-?[\d.]+) (-?[\d.]+) ([ml])\n)");
  Eigen::Vector2d at(0, 0);
  for (std::sregex_iterator it(page.begin(), page.end(), op), end; it != end; ++it) {
    const Eigen::Vector2d p(std::stod((*it)[1]) / kPoint, std::stod((*it)[2]) / kPoint);
    if ((*it)[3] == "l") out.push_back({at, p});
    at = p;
  }
  return out;
}

std::vector<std::string> pages_of(const std::string& pdf) {
  std::vector<std::string> out;
  for (std::size_t at = pdf.find("stream\n"); at != std::string::npos; at = pdf.find("\nstream\n", at + 1)) {
    const std::size_t end = pdf.find("endstream", at);
    out.push_back(pdf.substr(at, end - at));
  }
  return out;
}

bool has_length(const std::vector<Segment>& all, double mm) {
  return std::any_of(all.begin(), all.end(),
                     [&](const Segment& s) { return std::abs((s.second - s.first).norm() - mm) < 2e-3; });
}

}  // namespace

TEST_CASE("The SVG template is in millimetres at 1:1, its check bars too") {
  const auto svgs = report::template_svgs(with_template());
  REQUIRE(svgs.size() == 1);
  CHECK(svgs[0].first == "template-C1.svg");
  const std::string& svg = svgs[0].second;
  std::smatch m;
  REQUIRE(std::regex_search(
      svg, m, std::regex("width=\"([\\d.]+)mm\" height=\"([\\d.]+)mm\" viewBox=\"0 0 ([\\d.]+) ([\\d.]+)\"")));
  CHECK(m[1] == m[3]);  // one unit of the drawing is one millimetre
  CHECK(m[2] == m[4]);
  std::vector<Segment> all;
  const std::regex step(R"(([ML])(-?[\d.]+) (-?[\d.]+))");
  Eigen::Vector2d at(0, 0);
  for (std::sregex_iterator it(svg.begin(), svg.end(), step), end; it != end; ++it) {
    const Eigen::Vector2d p(std::stod((*it)[2]), std::stod((*it)[3]));
    if ((*it)[1] == "L") all.push_back({at, p});
    at = p;
  }
  for (const double length : {300.0, 250.0, 100.0, 101.6}) CHECK(has_length(all, length));
}

TEST_CASE("The PDF template is tiled at 1:1, with a bar on every sheet, and its marks join the sheets") {
  Inspection r = with_template();
  r.plan.letter = GENERATE(false, true);
  const std::string pdf = report::templates_pdf(r);
  // A4 is 210 × 297 mm (ISO 216), Letter 8.5 × 11 in, in units of 1/72 in.
  CHECK_THAT(pdf,
             Catch::Contains(r.plan.letter ? "/MediaBox [0 0 612.000 792.000]" : "/MediaBox [0 0 595.276 841.890]"));
  CHECK_THAT(pdf, Catch::Contains("/PrintScaling /None"));
  CHECK_THAT(pdf, Catch::Contains("(Tool \\(A\\) \\\\ \xfc)"));  // WinAnsi, with what PDF needs escaped
  const auto pages = pages_of(pdf);
  REQUIRE(pages.size() == 4);
  std::vector<std::vector<Segment>> all;
  for (const auto& p : pages) all.push_back(segments(p));
  for (const auto& s : all)
    for (const double length : {300.0, 250.0, 100.0}) CHECK(has_length(s, length));
  // Every sheet draws the whole, shifted; between neighbours by one step, to the right and down.
  const auto corner = [](const std::vector<Segment>& s) {
    for (const auto& g : s)
      if (std::abs((g.second - g.first).norm() - 300) < 2e-3) return g.first;
    return Eigen::Vector2d(0, 0);
  };
  // Marks are crosses of 6 mm; those of the first sheet that lie in its right overlap are on the second as well, and
  // both put the outline's corner at the same place relative to the mark.
  const auto marks = [](const std::vector<Segment>& s) {
    std::vector<Eigen::Vector2d> out;
    for (const auto& g : s)
      if (std::abs((g.second - g.first).norm() - 6) < 2e-3 && std::abs(g.second.y() - g.first.y()) < 1e-6)
        out.push_back(0.5 * (g.first + g.second));
    return out;
  };
  const double width = r.plan.letter ? 215.9 : 210;
  int joined = 0;
  for (const auto& a : marks(all[0]))
    for (const auto& b : marks(all[1]))
      if (a.x() > width - 22 && a.x() < width - 12 && b.x() > 12 && b.x() < 22 && std::abs(a.y() - b.y()) < 1e-3) {
        CHECK(((corner(all[0]) - a) - (corner(all[1]) - b)).norm() < 2e-3);
        ++joined;
      }
  CHECK(joined >= 2);
}

TEST_CASE("The places in the PDF's table are where its objects are") {
  const std::string pdf = report::templates_pdf(with_template());
  const std::size_t table = std::stoul(pdf.substr(pdf.rfind("startxref\n") + 10));
  REQUIRE(pdf.compare(table, 5, "xref\n") == 0);
  std::size_t line = pdf.find("f \n", table) + 3;
  for (int k = 1; pdf[line] != 't'; ++k, line += 20) {
    const std::string object = std::to_string(k) + " 0 obj";
    CHECK(pdf.compare(std::stoul(pdf.substr(line, 10)), object.size(), object) == 0);
  }
}

TEST_CASE("The work order says where, how deep, how much and in which order, and escapes what users wrote") {
  const std::string page = work_order_html(with_template());
  for (const char* words : {"Build up &lt;here&gt;.", "straight distance from target B1", "123.400\u00a0mm",
                            "Depth stops", "0.42 %", "R2 is left as it is.", "--expects", "Peroxide", "build-up</th>"})
    CHECK_THAT(page, Catch::Contains(words));
  CHECK(page.find("<here>") == std::string::npos);
}

TEST_CASE("What the work order and the templates are made from is in result.json") {
  Inspection r = with_template();
  Confirmed c;
  c.correction = "C1", c.can_tell = true, c.says = "It did what was predicted.", c.predicted = 3.1, c.achieved = 3.05;
  r.expects = "\"before\", 2026-01-01", r.confirmed = {c};
  const Inspection again = read_result(result_json(r));
  CHECK(result_json(again) == result_json(r));
  CHECK(work_files(again) == work_files(read_result(result_json(again))));
  CHECK(work_order_html(again) == work_order_html(r));
  CHECK_THAT(report_html(again), Catch::Contains("It did what was predicted."));
}

TEST_CASE("Work files of an earlier run do not outlive it") {
  namespace fs = std::filesystem;
  const fs::path folder = fs::temp_directory_path() / ("gapfront-work-" + std::to_string(::getpid()));
  Inspection r = with_template();
  write_report(r, folder);
  CHECK(fs::exists(folder / "work-order.html"));
  CHECK(fs::exists(folder / "template-C1.svg"));
  CHECK(fs::exists(folder / "templates.pdf"));
  r.plan.chosen.clear(), r.plan.after_each.clear();
  write_report(r, folder);
  CHECK_FALSE(fs::exists(folder / "work-order.html"));
  CHECK_FALSE(fs::exists(folder / "template-C1.svg"));
  CHECK_FALSE(fs::exists(folder / "templates.pdf"));
  CHECK(fs::exists(folder / "report.html"));
  fs::remove_all(folder);
}
