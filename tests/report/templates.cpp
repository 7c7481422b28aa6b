// The templates: what is drawn is measured back.
#include <catch2/catch.hpp>
#include <cmath>
#include <regex>

#include "report/templates.hpp"
#include "work_case.hpp"

using namespace gapfront;

namespace {

constexpr double kPoint = 72.0 / 25.4;  // PDF units per mm (ISO 32000: 1/72 in)

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

TEST_CASE("What a template's captions stand on hides neither its mark nor its rays, and no caption covers another") {
  Inspection r = with_template();
  auto& t = r.plan.candidates[0].templates[0];
  t.rays = {{Message("bench.edge-towards", {arg::name("+x")}), Eigen::Vector2d(1, 0)},
            {Message("bench.edge-towards", {arg::name("+y")}), Eigen::Vector2d(0, 1)},
            {Message("bench.target-near-side-ball", {arg::name("B1")}), Eigen::Vector2d(-0.85, -0.53)}};
  for (const double size : {1.0, 0.2}) {  // of this and of a small work, where the captions find no room
    for (auto& p : t.outline) p *= size;
    const std::string svg = report::template_svgs(r).at(0).second;
    CHECK(svg.rfind("<rect") < svg.rfind("stroke-dasharray"));  // drawn before all but the contours
    using Box = std::array<double, 4>;
    std::vector<Box> boxes;
    const std::regex rect(R"re(<rect x="(-?[\d.]+)" y="(-?[\d.]+)" width="([\d.]+)" height="([\d.]+)")re");
    for (std::sregex_iterator it(svg.begin(), svg.end(), rect), end; it != end; ++it) {
      const double x = std::stod((*it)[1]), y = std::stod((*it)[2]);
      boxes.push_back({x, y, x + std::stod((*it)[3]), y + std::stod((*it)[4])});
    }
    REQUIRE(boxes.size() >= 4);
    for (std::size_t a = 0; a < boxes.size(); ++a)
      for (std::size_t b = 0; b < a; ++b)
        CHECK_FALSE((boxes[a][0] < boxes[b][2] - 0.4 && boxes[a][2] > boxes[b][0] + 0.4 &&
                     boxes[a][1] < boxes[b][3] - 0.4 && boxes[a][3] > boxes[b][1] + 0.4));
    const std::regex dashed(R"re(dasharray="2 1.5" d="M(-?[\d.]+) (-?[\d.]+)L(-?[\d.]+) (-?[\d.]+)")re");
    const std::string firm = svg.substr(svg.rfind("<rect"));
    int rays = 0;
    for (std::sregex_iterator it(firm.begin(), firm.end(), dashed), end; it != end; ++it, ++rays)
      for (int k = 0; k <= 100; ++k) {
        const double x = std::stod((*it)[1]) + k / 100.0 * (std::stod((*it)[3]) - std::stod((*it)[1])),
                     y = std::stod((*it)[2]) + k / 100.0 * (std::stod((*it)[4]) - std::stod((*it)[2]));
        const auto covers = [&](const Box& b) { return b[0] < x && x < b[2] && b[1] < y && y < b[3]; };
        CHECK(std::none_of(boxes.begin(), boxes.end(), covers));
      }
    CHECK(rays == 3);
  }
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
  // Two by two; on A4 without the lower right one, which is 18 mm higher than on Letter: nothing is left for it.
  REQUIRE(pages.size() == (r.plan.letter ? 4 : 3));
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

// What is seen of a sheet is the clip "x y w h re W n"; what a printer keeps off is about 5 mm at the edges (common
// practice, no source). The frame of the drawing is found by the corner of the outline on each sheet.
TEST_CASE("The sheets of a template leave no gap between them, and each has a bar and its name outside the drawing") {
  Inspection r = with_template();
  r.plan.letter = GENERATE(false, true);
  const double width = r.plan.letter ? 215.9 : 210, height = r.plan.letter ? 279.4 : 297;
  const auto pages = pages_of(report::templates_pdf(r));
  REQUIRE(pages.size() == (r.plan.letter ? 4 : 3));
  struct Seen {
    Eigen::Vector2d low, high;  ///< in the frame of the outline's corner
    std::vector<Eigen::Vector2d> marks;
  };
  std::vector<Seen> seen;
  for (std::size_t k = 0; k < pages.size(); ++k) {
    std::smatch clip;
    REQUIRE(std::regex_search(pages[k], clip, std::regex(R"(q (-?[\d.]+) (-?[\d.]+) (-?[\d.]+) (-?[\d.]+) re W n\n)")));
    const Eigen::Vector2d low(std::stod(clip[1]) / kPoint, std::stod(clip[2]) / kPoint);
    const Eigen::Vector2d high = low + Eigen::Vector2d(std::stod(clip[3]) / kPoint, std::stod(clip[4]) / kPoint);
    const std::size_t end = pages[k].rfind("\nQ\n");
    REQUIRE(end != std::string::npos);
    const auto inside = segments(pages[k].substr(0, end)), outside = segments(pages[k].substr(end));
    int bars = 0;
    for (const auto& [a, b] : outside) {
      for (const auto& p : {a, b}) {
        CHECK(p.x() >= 5);
        CHECK(p.x() <= width - 5);
        CHECK(p.y() >= 3.9);
        CHECK(p.y() <= low.y());  // the clipped drawing does not run over it
      }
      bars += std::abs((b - a).norm() - 100) < 2e-3;
    }
    CHECK(bars == 1);
    CHECK(high.y() <= height - 5);
    CHECK_THAT(pages[k].substr(end),
               Catch::Contains("sheet " + std::string(k < 2 ? "A" : "B") + std::to_string(k % 2 + 1) + " \\(" +
                               std::to_string(k + 1) + " of " + std::to_string(pages.size()) + "\\)"));
    Seen s;
    Eigen::Vector2d corner(1e9, 1e9);
    for (const auto& [a, b] : inside)
      if (std::abs((b - a).norm() - 300) < 2e-3 && std::min(a.y(), b.y()) < corner.y()) corner = a.x() < b.x() ? a : b;
    s.low = low - corner, s.high = high - corner;
    for (const auto& [a, b] : inside)
      if (std::abs((b - a).norm() - 6) < 2e-3 && std::abs(a.y() - b.y()) < 1e-6) {
        const Eigen::Vector2d m = 0.5 * (a + b);
        // Whole within the clip, or it could not be laid on the other one.
        if (m.x() - 3 > low.x() && m.x() + 3 < high.x() && m.y() - 3 > low.y() && m.y() + 3 < high.y())
          s.marks.push_back(m - corner);
      }
    seen.push_back(std::move(s));
  }
  for (double x = 0; x <= 300; x += 2.5)
    for (double y = 0; y <= 250; y += 2.5) {
      const bool there = std::any_of(seen.begin(), seen.end(), [&](const Seen& s) {
        const double thin = 2e-3;  // of a place on the very edge, by the PDF's three decimals
        return x >= s.low.x() - thin && x <= s.high.x() + thin && y >= s.low.y() - thin && y <= s.high.y() + thin;
      });
      if (!there) FAIL("no sheet shows the place " << x << ", " << y);
    }
  for (const auto& [a, b] : {std::pair(0, 1), std::pair(0, 2)}) {
    CAPTURE(a, b);
    const bool beside = b == a + 1;
    // They overlap by 10 mm, and two marks at least are whole on both.
    CHECK((beside ? seen[a].high.x() - seen[b].low.x() : seen[b].high.y() - seen[a].low.y()) ==
          Approx(10).margin(2e-3));
    int common = 0;
    for (const auto& m : seen[a].marks)
      for (const auto& n : seen[b].marks) common += (m - n).norm() < 2e-3;
    CHECK(common >= 2);
  }
}

TEST_CASE("A template is cut into the fewest sheets, upright or across, and one that nobody would join is refused") {
  Inspection r = with_template();
  const auto sized = [&](double x, double y) {
    Template& t = r.plan.candidates[r.plan.chosen[0]].templates[0];
    t.outline = {{0, 0}, {x, 0}, {x, y}, {0, y}, {0, 0}}, t.contours.clear(), t.stops.clear(), t.rays.clear();
    return report::templates_pdf(r);
  };
  // Upright 186 mm of A4 can be drawn on, across 273 mm.
  const std::string wide = sized(260, 60), narrow = sized(160, 60);
  CHECK(pages_of(wide).size() == 1);
  CHECK_THAT(wide, Catch::Contains("/MediaBox [0 0 841.890 595.276]"));
  CHECK(pages_of(narrow).size() == 1);
  CHECK_THAT(narrow, Catch::Contains("/MediaBox [0 0 595.276 841.890]"));
  CHECK_THROWS_WITH(sized(3e6, 2e6), Catch::StartsWith("template C1: 3000.0 m by 2000.") &&
                                         Catch::Contains("more than 400") && !Catch::Contains("\n"));
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

TEST_CASE("The parts of a split template carry the letters to join them by") {
  const auto svgs = report::template_svgs(with_all_kinds());
  for (int part = 0; part < 2; ++part)
    for (const char* letter : {">a<", ">b<", "Letters: lay this part to the others so that the same letters meet."})
      CHECK_THAT(svgs[part].second, Catch::Contains(letter));
}
