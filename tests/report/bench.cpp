// The work order on the bench: templates and sketches are parsed back and laid on the half as their words say.
#include <catch2/catch.hpp>
#include <cmath>
#include <regex>

#include "../correct/plate_case.hpp"
#include "gapfront/report.hpp"
#include "report/templates.hpp"

using namespace gapfront;

namespace {

using V2 = Eigen::Vector2d;

/// An L: no mirror image of it lies on it.
double ell(double x, double y) {
  const auto to = [&](V2 a, V2 b) {
    const V2 p(x, y), d = b - a;
    return (p - a - std::clamp((p - a).dot(d) / d.squaredNorm(), 0.0, 1.0) * d).norm();
  };
  const double d = std::min(to({-60, -20}, {40, -20}), to({40, -20}, {40, 50})) / 30;
  return d < 1 ? 0.8 * (1 - d * d) * (1 - d * d) : 0;
}

Inspection worked(bool upper) {
  plate::Case c([](const Vec3& p) { return 3 + ell(p.x(), p.y()); }, false);
  c.options.face = upper ? "upper" : "lower";
  c.options.references = {{"B1", Vec3(-140, -70, 5), 10, Mark::target}, {"B2", Vec3(90, 120, 5), 10, Mark::target}};
  Inspection r;
  r.job.name = "L";
  r.sheet = c.sheet, r.gap = c.gap, r.verdict = c.verdict;
  r.plan = c.plan();
  return r;
}

std::vector<V2> path_of(const std::string& d) {
  std::vector<V2> out;
  const std::regex place(R"([ML](-?[\d.]+) (-?[\d.]+))");
  for (std::sregex_iterator it(d.begin(), d.end(), place), end; it != end; ++it)
    out.emplace_back(std::stod((*it)[1]), -std::stod((*it)[2]));  // y up
  return out;
}
std::vector<std::vector<V2>> paths(const std::string& svg, const std::string& style) {
  std::vector<std::vector<V2>> out;
  const std::regex path("<path " + style + "[^>]* d=\"([^\"]*)\"");
  for (std::sregex_iterator it(svg.begin(), svg.end(), path), end; it != end; ++it) out.push_back(path_of((*it)[1]));
  return out;
}

bool inside(const std::vector<V2>& loop, const V2& p) {
  bool in = false;
  for (std::size_t i = 0, j = loop.size() - 1; i < loop.size(); j = i++)
    if ((loop[i].y() > p.y()) != (loop[j].y() > p.y()) &&
        p.x() < loop[i].x() + (p.y() - loop[i].y()) * (loop[j].x() - loop[i].x()) / (loop[j].y() - loop[i].y()))
      in = !in;
  return in;
}

double number_in(const std::string& text, const std::string& before) {
  std::string t = text.substr(text.find(before) + before.size(), 12);
  if (t.compare(0, 3, "−") == 0) t = "-" + t.substr(3);
  return std::stod(t);
}

/// About its middle, in units of its size.
std::vector<V2> normed(std::vector<V2> loop, bool mirror = false) {
  V2 low = loop[0], high = loop[0];
  for (const V2& p : loop) low = low.cwiseMin(p), high = high.cwiseMax(p);
  for (V2& p : loop) {
    p = (p - 0.5 * (low + high)) / (high - low).maxCoeff();
    if (mirror) p.y() = -p.y();
  }
  return loop;
}
/// Of what one of the two covers, the share that both do.
double common(const std::vector<V2>& a, const std::vector<V2>& b) {
  double both = 0, any = 0;
  for (double x = -0.5; x <= 0.5; x += 0.01)
    for (double y = -0.5; y <= 0.5; y += 0.01) {
      const bool in_a = inside(a, {x, y}), in_b = inside(b, {x, y});
      both += in_a && in_b, any += in_a || in_b;
    }
  return both / any;
}

struct Word {
  V2 low, high;
  std::string text;
  double font;
};
std::vector<Word> numbers(const std::string& svg, bool middle) {
  std::vector<Word> out;
  const std::regex text(
      middle ? R"re(<text [^>]*font-size="([\d.]+)" x="(-?[\d.]+)" y="(-?[\d.]+)"[^>]*>([\d.]+)</text>)re"
             : R"re(<text x="(-?[\d.]+)" y="(-?[\d.]+)" font-size="([\d.]+)">([\d.]+)</text>)re");
  for (std::sregex_iterator it(svg.begin(), svg.end(), text), end; it != end; ++it) {
    const auto at = [&](int k) { return std::stod((*it)[k]); };
    const double font = middle ? at(1) : at(3), x = middle ? at(2) : at(1), y = middle ? at(3) : at(2);
    // Digits of common sans-serif faces are 0.556 em wide and 0.72 em high.
    const double width = 0.556 * font * static_cast<double>((*it)[4].length());
    const double left = middle ? x - 0.5 * width : x;
    out.push_back({V2(left, y - 0.72 * font), V2(left + width, y), (*it)[4], font});
  }
  return out;
}
void check_apart(const std::vector<Word>& words) {
  for (std::size_t a = 0; a < words.size(); ++a)
    for (std::size_t b = 0; b < a; ++b) {
      CAPTURE(words[a].text, words[b].text);
      CHECK_FALSE(((words[a].low.array() < words[b].high.array()).all() &&
                   (words[a].high.array() > words[b].low.array()).all()));
    }
}

}  // namespace

TEST_CASE("The template, laid down as it says, covers the planted defect, and its mirror image does not") {
  const bool upper = GENERATE(false, true);
  CAPTURE(upper);
  const Inspection r = worked(upper);
  const auto svgs = report::template_svgs(r);
  REQUIRE(svgs.size() == 1);
  const std::string& svg = svgs[0].second;
  // The words: where tool +y points on the bench, seen from above; tool +x points to the right.
  const bool away = svg.find("tool +x points to the right and tool +y away from you.") != std::string::npos;
  const bool towards = svg.find("tool +x points to the right and tool +y towards you.") != std::string::npos;
  CHECK(away == !upper);
  CHECK(towards == upper);
  CHECK_THAT(svg, Catch::Contains("cavity side up.") && Catch::Contains("Printed side up.") &&
                      Catch::Contains("The arrow points along tool +x"));
  const auto bench = [&](const V2& tool) { return V2(tool.x(), away ? tool.y() : -tool.y()); };
  const auto outline = paths(svg, "stroke-width=\"0.50\"");
  REQUIRE(outline.size() == 1);
  V2 mark(0, 0), arrow(0, 0);
  for (const auto& p : paths(svg, "stroke-width=\"0.30\"")) {
    if (p.size() == 2 && std::abs((p[1] - p[0]).norm() - 12) < 1e-2 && std::abs(p[1].y() - p[0].y()) < 1e-6)
      mark = 0.5 * (p[0] + p[1]);
    if (p.size() == 2 && std::abs((p[1] - p[0]).norm() - 20) < 1e-2) arrow = (p[1] - p[0]).normalized();
  }
  REQUIRE(arrow.norm() > 0.9);
  const std::string at = svg.substr(svg.find("The mark lies at"));
  const V2 on_tool(number_in(at, "x "), number_in(at, "y "));
  const auto covered = [&](bool mirror) {
    std::vector<V2> lain;
    for (V2 p : outline[0]) {
      p -= mark;
      if (mirror) p.y() = -p.y();
      // The arrow is turned to the right.
      lain.push_back(bench(on_tool) + V2(arrow.x() * p.x() + arrow.y() * p.y(), arrow.x() * p.y() - arrow.y() * p.x()));
    }
    double in = 0, all = 0;
    for (double x = -119; x < 120; x += 1)
      for (double y = -89; y < 90; y += 1)
        if (ell(x, y) > 0.1) ++all, in += inside(lain, bench({x, y}));
    return in / all;
  };
  CHECK(covered(false) > 0.9);
  CHECK(covered(true) < 0.7);
}

TEST_CASE("The sketches show the work as the template does, not its mirror image") {
  const bool upper = GENERATE(false, true);
  CAPTURE(upper);
  const Inspection r = worked(upper);
  const auto outline = normed(paths(report::template_svgs(r)[0].second, "stroke-width=\"0.50\"")[0]);
  const std::string page = report::work_order_html(r);
  const auto drawn = paths(page, "class=\"out\"");
  REQUIRE(drawn.size() == 2);  // the place, and the depths
  for (const auto& d : drawn) {
    CHECK(common(outline, normed(d)) > 0.95);
    CHECK(common(outline, normed(d, true)) < 0.7);
  }
  // The arrows: +x to the right; +y up, or down on the half that is turned over.
  for (const auto& a : paths(page, "class=\"axis\" data-axis=\"tool \\+x\"")) CHECK((a[1] - a[0]).x() > 10);
  const auto y = paths(page, "class=\"axis\" data-axis=\"tool \\+y\"");
  REQUIRE(y.size() == 1);
  CHECK((y[0][1] - y[0][0]).y() * (upper ? -1 : 1) > 10);
}

TEST_CASE(
    "Numbers of contours and depth stops are readable: apart, inside the drawing, on their lines, in shop steps") {
  const Inspection r = worked(GENERATE(false, true));
  const std::string svg = report::template_svgs(r)[0].second;
  const auto words = numbers(svg, false);
  REQUIRE(words.size() > 8);
  check_apart(words);
  std::smatch box;
  REQUIRE(std::regex_search(svg, box, std::regex("viewBox=\"0 0 ([\\d.]+) ([\\d.]+)\"")));
  const auto contours = paths(svg, "stroke-width=\"0.18\"");
  for (const auto& w : words) {
    CAPTURE(w.text);
    CHECK(w.font >= 2.4);  // mm on paper
    CHECK(w.low.minCoeff() >= 0);
    CHECK(w.high.x() <= std::stod(box[1]));
    CHECK(w.high.y() <= std::stod(box[2]));
    CHECK(std::abs(std::remainder(std::stod(w.text), 0.05)) < 1e-9);
  }
  for (const auto& l : r.plan.candidates[r.plan.chosen[0]].templates[0].contours)
    if (l.depth > 0) {
      int on = 0;
      for (const auto& w : words)
        if (std::abs(std::stod(w.text) - l.depth) < 1e-6)
          for (const auto& line : contours)
            for (const V2& p : line) on += (V2(p.x(), -p.y()) - 0.5 * (w.low + w.high)).norm() < 1.5;
      CAPTURE(l.depth);
      CHECK(on > 0);
    }
  const std::string page = report::work_order_html(r);
  for (std::size_t at = page.find("<svg"); at != std::string::npos; at = page.find("<svg", at + 1))
    check_apart(numbers(page.substr(at, page.find("</svg>", at) - at), true));
}

TEST_CASE("Outlines are closed and smooth, and keep the area of the mesh's") {
  const Inspection r = worked(true);
  const Correction& c = r.plan.candidates[r.plan.chosen[0]];
  const auto area = [](const auto& loop) {
    double sum = 0;
    for (std::size_t k = 1; k < loop.size(); ++k)
      sum += 0.5 * (loop[k - 1].x() * loop[k].y() - loop[k].x() * loop[k - 1].y());
    return std::abs(sum);
  };
  REQUIRE((c.outline.front() - c.outline.back()).norm() < 1e-9);
  double sharpest = 1;
  for (std::size_t k = 1; k + 1 < c.outline.size(); ++k)
    sharpest = std::min(
        sharpest, (c.outline[k] - c.outline[k - 1]).normalized().dot((c.outline[k + 1] - c.outline[k]).normalized()));
  CHECK(sharpest > std::cos(0.35));  // 20° in 2 mm: a radius of 6 mm
  // Where the level is positive, by triangles cut where its linear course is zero.
  double level = 0;
  for (const auto& t : r.sheet.mesh.triangles) {
    const double whole = 50;  // half of 10 × 10 mm
    std::vector<double> up, down;
    for (const int k : t) (c.inside[k] > 0 ? up : down).push_back(c.inside[k]);
    if (up.size() == 3) level += whole;
    if (up.size() == 1) level += whole * up[0] / (up[0] - down[0]) * up[0] / (up[0] - down[1]);
    if (up.size() == 2) level += whole * (1 - down[0] / (down[0] - up[0]) * down[0] / (down[0] - up[1]));
  }
  CHECK(area(c.outline) == Approx(level).epsilon(0.02));
}
