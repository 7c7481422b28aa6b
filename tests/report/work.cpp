// The work order and the templates: what is drawn is measured back.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <regex>

#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"
#include "report/templates.hpp"
#include "small.hpp"
#include "unsaid.hpp"

using namespace gapfront;

namespace {

constexpr double kPoint = 72.0 / 25.4;  // PDF units per mm (ISO 32000: 1/72 in)

/// One build-up with a rectangular template of 300 × 250 mm, too large for one sheet of paper.
Inspection with_template() {
  Inspection r;
  r.job.name = "Tool (A) \\ ü";
  r.sheet = cavity::make_sheet({{{0, 0, 0}, {300, 0, 0}, {300, 250, 0}, {0, 250, 0}}, {{0, 1, 2}, {0, 2, 3}}});
  r.gap.nodes.resize(4);
  r.verdict.nominal = r.verdict.deviation = {3, 3, 3, 3};
  r.verdict.node.assign(4, Conformity::conforming);
  r.laminate.nodes.resize(4);
  r.nominal_filling.arrival = r.filling.arrival = {0, 1, 2, 1};
  Correction c;
  c.kind = Kind::build_up, c.name = "C1", c.face = "lower", c.instruction = {free_text("Build up <here>.")},
  c.blend = 15, c.effort = 3;
  c.outline = {{0, 0, 0}, {300, 0, 0}, {300, 250, 0}, {0, 250, 0}, {0, 0, 0}};
  c.centre = Vec3(150, 125, 0);
  c.tape = {{Message("order.target", {arg::name("B1")}), 123.4, Vec3(-50, 0, 0)},
            {Message("bench.edge-towards", {arg::name("+x")}),
             150,
             Vec3(300, 125, 0),
             Way::from_edge,
             {Vec3(300, 125, 0), Vec3(150, 125, 0)}}};
  r.plan.shop_step = 0.05;
  r.plan.references = {{"B1", Vec3(-50, 0, 0), 10, Mark::target}, {"S2", Vec3(320, 270, 0), 0, Mark::station}};
  c.stops = {{Vec3(150, 125, 0), 0.6, 1}, {Vec3(20, 20, 0), 0.1, 2}};
  c.contours = {{0.1, {{10, 10, 0}, {290, 10, 0}, {290, 240, 0}, {10, 10, 0}}}};
  Template t;
  t.stretch = 0.0042, t.origin = Vec3(150, 125, 0);
  for (const Vec3& p : c.outline) t.outline.emplace_back(p.x() - 150, p.y() - 125);
  t.contours = {{0, {{-160, -135, 0}, {160, -135, 0}}}, {0.1, {{-140, -115, 0}, {140, -115, 0}}}};
  t.stops = {{Vec3(0, 0, 0), 0.6, 1}};
  t.rays = {{Message("bench.target-near-side-ball", {arg::name("B1")}), Eigen::Vector2d(-0.85, -0.53)}};
  c.templates = {t};
  c.gap_change = {-0.1, 0, -0.2, 0};
  r.plan.candidates = {c}, r.plan.chosen = {0}, r.plan.after_each = {Effect{}};
  r.plan.effort = correct::default_effort(), r.plan.left = {free_text("R2 is left as it is.")};
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

// What is seen of a sheet is the clip "x y w h re W n"; what a printer keeps off is about 5 mm at the edges (common
// practice, no source). The frame of the drawing is found by the corner of the outline on each sheet.
TEST_CASE("The sheets of a template leave no gap between them, and each has a bar and its name outside the drawing") {
  Inspection r = with_template();
  r.plan.letter = GENERATE(false, true);
  const double width = r.plan.letter ? 215.9 : 210, height = r.plan.letter ? 279.4 : 297;
  const auto pages = pages_of(report::templates_pdf(r));
  REQUIRE(pages.size() == 4);
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
                               std::to_string(k + 1) + " of 4\\)"));
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
  for (const auto& [a, b] : {std::pair(0, 1), std::pair(2, 3), std::pair(0, 2), std::pair(1, 3)}) {
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
  const std::string page = report::work_order_html(with_template());
  for (const char* words : {"Build up &lt;here&gt;.", "straight through free air from target B1", "123\u00a0mm",
                            "Depth stops", "0.42 %", "R2 is left as it is.", "--expects", "Peroxide", "build-up</th>"})
    CHECK_THAT(page, Catch::Contains(words));
  CHECK(page.find("<here>") == std::string::npos);
}

namespace {

/// One correction of every kind, with everything a work order may say.
Inspection with_all_kinds() {
  Inspection r = with_template();
  r.job.tool = "no. 7", r.job.date = "2026-01-01", r.job.invented = true;
  CorrectionPlan& p = r.plan;
  const Correction build = p.candidates[0];
  p.candidates[0].instruction = {
      free_text("Build up the lower face around x 1, y 2, z −3 by up to 0.40 mm (over 12 cm²), 2 g of filler with "
                "waste, feathered out over 15 mm around its outline; the lower face because the job prefers it.")};
  p.candidates[0].templates.push_back(p.candidates[0].templates[0]);
  p.candidates[0].templates[0].part = 1, p.candidates[0].templates[1].part = 2;
  for (auto& t : p.candidates[0].templates) t.joins = {{"a", {0, 0}}, {"b", {10, 0}}};
  p.candidates[0].area = 75000, p.candidates[0].peak = 0.6, p.candidates[0].mean = 0.3, p.candidates[0].volume = 2e4,
  p.candidates[0].mass = 40;
  const auto add = [&](Kind kind, const char* face, const Messages& instruction) {
    Correction c = build;
    c.kind = kind, c.face = face, c.instruction = instruction, c.name = "C" + std::to_string(p.candidates.size() + 1);
    p.candidates.push_back(c);
  };
  const Argument station = arg::message(Message("order.proposed", {arg::name("Station Ä 1"), arg::place({1, 2, 0})}));
  const Message pieces("join.sum", {Messages(2, Message("list.plain", {arg::length(0.2)}))});
  add(Kind::shim, "flange",
      {full_sentence({Message("corrections.station-put-from",
                              {station, arg::length(0.4), arg::length(1), arg::length(1.4), arg::message(pieces)}),
                      Message("order.station-relieve-flange-take-out", {arg::name("S2"), arg::length(0.05)}),
                      Message("corrections.station-will-then-stand", {arg::name("S3"), arg::length(0.05)}),
                      Message("order.upper-half-swings-sideways", {arg::length(0.12)})})});
  Correction& shim = p.candidates.back();
  shim.outline.clear(), shim.templates.clear(), shim.stops.clear(), shim.contours.clear(), shim.tape.clear();
  shim.shims = {{"North end", 0.4, {0.2, 0.2}, 0}, {"S2", -0.05, {}, 0, Vec3(1, 1, 0), 0.05}, {"S3", 0, {}, 0.05}};
  shim.why = free_text(
      "the best found; by the bound reached, no combination leaves less than 1.0 % of the area out (this one 1.2 %), "
      "or "
      "less than 0.012 mm RMS (this one 0.013 mm); of the 6 that leave as little out and come nearest to nominal, the "
      "front is disturbed least, by re-computation");
  add(Kind::relief, "upper",
      {free_text(
          "Relieve the upper face around x 1, y 2, z −3 by up to 0.40 mm (over 12 cm²), feathered out over 15 "
          "mm around its outline; the upper face because it is the convex one there, so it is easier to reach.")});
  p.candidates.back().tape = {
      {Message("bench.place-edge-nearest", {arg::message(Message("order.station-2", {arg::name("S2")}))}),
       12,
       Vec3(1, 1, 0),
       Way::along_edge,
       {Vec3(1, 1, 0), Vec3(1, 0, 0)}},
      {Message("bench.place-edge-so-found"), 13, Vec3(1, 0, 0), Way::from_edge, {}}};
  p.candidates.back().tape_side = "−y";
  p.candidates.back().templates.clear();
  p.candidates.back().no_template = free_text(
      "The face is curved so much both ways there that paper would stretch by more than 2 % even in 16 pieces: mark "
      "the "
      "outline by the coordinates.");
  add(Kind::reinforcement_patch, "laminate",
      {free_text("Lay 1 extra ply of mat 450 within the outline around x 1, y 2, z 3 (12 cm², 5 g) in every part; the "
                 "tool stays "
                 "as "
                 "it is.")});
  add(Kind::radius_packing, "laminate",
      {free_text(
          "Pack the radius around x 1, y 2, z 3 with roving: 120 mm long, 12 mm wide, 3.0 cm³ to fill, 4 g of glass in "
          "every "
          "part; the tool stays as it is.")});
  p.candidates.back().templates.clear();
  p.candidates.back().no_template = free_text("Roving is packed along the radius and needs no template.");
  for (const Kind kind : {Kind::vent_move, Kind::inlet_move}) {
    add(kind, "port",
        {Message("work.last-point-fill-lies", {arg::place({1, 2, 3}), arg::length(120, 0), arg::name("middle")}),
         kind == Kind::vent_move ? Message("work.move-vent-there")
                                 : Message("work.move-inlet", {arg::name("gate"), arg::place({1, 2, 3})})});
    p.candidates.back().outline.clear(), p.candidates.back().templates.clear();
    p.candidates.back().stops.clear(), p.candidates.back().contours.clear();
  }
  p.chosen.clear(), p.after_each.clear();
  for (int k = 0; k < static_cast<int>(p.candidates.size()); ++k) {
    p.chosen.push_back(k);
    p.after_each.push_back({100, 200, 3, 1, 50, 200, 12, 0.25, 60});
  }
  p.now = {200, 300, 4, 2, 60, 200, 20, 0.5, 90};
  p.effort.push_back({Kind::shim, 1, 2, 3, Message("list.plain", {arg::name("whatever our shop does")})});
  p.remains = {
      free_text("The whole measured area is then within tolerance and no pocket stays dry as computed, but one may.")};
  p.left = {free_text(
      "R2 around x 1, y 2, z 3, 1.2 cm², is left as it is: what it would gain is less than the computation can "
      "tell.")};
  return r;
}

}  // namespace

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
       {"<h1>Arbeitsauftrag</h1>", "Station Ä 1 (vorgeschlagen bei x 1; y 2; z 0 mm): 0,40 mm einlegen",
        "gerade durch die Luft von Zielmarke B1", "1. C1: Auftrag, untere Formfläche</h2>"})
    CHECK_THAT(page, Catch::Contains(words));
  const std::string svg = report::template_svgs(r)[0].second;
  CHECK_THAT(svg, Catch::Contains("Dieser Balken misst 100 mm."));
  CHECK_THAT(svg, Catch::Contains("C1 Teil 1: Auftrag, untere Formfläche"));
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

TEST_CASE("The parts of a split template carry the letters to join them by") {
  const auto svgs = report::template_svgs(with_all_kinds());
  for (int part = 0; part < 2; ++part)
    for (const char* letter : {">a<", ">b<", "Letters: lay this part to the others so that the same letters meet."})
      CHECK_THAT(svgs[part].second, Catch::Contains(letter));
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
