// The report is tested on a small inspection made by hand, so that every expected number is known.
#include <unistd.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "gapfront/error.hpp"
#include "gapfront/report.hpp"
#include "report/fields.hpp"
#include "report/html.hpp"
#include "small.hpp"

using namespace gapfront;
namespace fs = std::filesystem;

namespace {

std::string slurp(const fs::path& p) {
  std::ifstream in(p, std::ios::binary);
  std::ostringstream s;
  s << in.rdbuf();
  return s.str();
}

struct Folder {
  fs::path path = fs::temp_directory_path() / ("gapfront-report-" + std::to_string(::getpid()));
  Folder() { fs::remove_all(path); }
  ~Folder() { fs::remove_all(path); }
};

}  // namespace

TEST_CASE("result.json carries the gap of every measured node and null where there is none") {
  const auto j = nlohmann::json::parse(report::result_json(small_inspection()));
  const auto& gap = j["sheet"]["fields"]["gap_mm"];
  REQUIRE(gap.size() == 4);
  CHECK(gap[1] == 3.1);
  CHECK(gap[3].is_null());
  CHECK(j["sheet"]["fields"]["arrival_s"][3].is_null());  // never reached
  CHECK(j["format_version"] == 10);
}

TEST_CASE("result.json without times is the same for the same inspection") {
  Inspection a = small_inspection(), b = small_inspection();
  a.times = {{"scan", 1.0}};
  b.times = {{"scan", 2.0}};
  CHECK(report::result_json(a, false) == report::result_json(b, false));
  CHECK(report::result_json(a) != report::result_json(b));
}

TEST_CASE("A title from the job file cannot become markup") {
  Inspection r = small_inspection();
  r.job.name = "<script>alert(1)</script>\"'&";
  r.job.note = "<img src=x onerror=alert(1)>";
  r.job.text = "</pre><script>alert(2)</script>";
  r.warnings = {Message("warnings.inlet-narrower-than-sheets", {arg::name("<b>bold</b>")})};
  const std::string page = report::report_html(r);
  CHECK(page.find("<script>alert") == std::string::npos);
  CHECK(page.find("<img src=x") == std::string::npos);
  CHECK(page.find("<b>bold") == std::string::npos);
  CHECK(page.find("&lt;script&gt;alert(1)&lt;/script&gt;&quot;&#39;&amp;") != std::string::npos);
}

TEST_CASE("Text put inside a script element cannot close it") {
  CHECK(report::script_safe("{\"a\":\"</script>\"}") == "{\"a\":\"\\u003c/script>\"}");
}

TEST_CASE("The report asks the network for nothing") {
  const std::string page = report::report_html(small_inspection());
  // Scripts hold names that look like addresses (name spaces); they cannot fetch: the policy below forbids every
  // connection.
  std::string rest = page;
  for (std::size_t from; (from = rest.find("<script")) != std::string::npos;)
    rest.erase(from, rest.find("</script>", from) + 9 - from);
  for (const char* word : {"http://", "https://", "src=\"//", "@import", "url("}) {
    CAPTURE(word);
    CHECK(rest.find(word) == std::string::npos);
  }
  CHECK(page.find("default-src 'none'") != std::string::npos);
}

TEST_CASE("A cell of corrections.csv that starts like a formula is disarmed and quotes are doubled") {
  Inspection r = small_inspection();
  Correction c;
  c.name = "C1";
  c.instruction = {free_text("=HYPERLINK(\"x\")")};
  r.plan.candidates = {c};
  const std::string csv = report::corrections_csv(r);
  CHECK(csv.find("\"'=HYPERLINK(\"\"x\"\")\"") != std::string::npos);
}

TEST_CASE("corrections.csv has as many cells in a row as in its header") {
  Inspection r = small_inspection();
  Correction c;
  c.name = "C1";
  c.instruction = {free_text("plain")};
  c.shims = {{"S1", -0.5, {0.5}, 0}, {"S2", 0, {1}, 0}};
  r.plan.candidates = {c};
  std::istringstream in(report::corrections_csv(r));
  std::string line;
  std::vector<long> commas;
  while (std::getline(in, line)) commas.push_back(std::count(line.begin(), line.end(), ','));
  REQUIRE(commas.size() == 3);
  CHECK(commas[1] == commas[0]);
  CHECK(commas[2] == commas[0]);
}

TEST_CASE("sheet.ply holds coordinates, fields and faces where its header says") {
  const Inspection r = small_inspection();
  const std::string ply = report::sheet_ply(r);
  const std::size_t body = ply.find("end_header\n") + 11;
  const auto all = report::fields(r);
  const std::size_t row = 3 * 8 + 4 * std::size_t(std::count_if(all.begin(), all.end(), report::in_files));
  REQUIRE(ply.size() == body + 4 * row + 2 * 13);
  double x;
  std::memcpy(&x, ply.data() + body + row, 8);
  CHECK(x == 10);
  float gap;  // the first field of node 2
  std::memcpy(&gap, ply.data() + body + 2 * row + 24, 4);
  CHECK(gap == 3.2f);
}

TEST_CASE("The report folder gets all files, their checksums, and no leftovers") {
  Folder folder;
  report::write_report(report::report_files(small_inspection()), folder.path);
  std::vector<std::string> names;
  for (const auto& e : fs::directory_iterator(folder.path)) names.push_back(e.path().filename());
  std::sort(names.begin(), names.end());
  CHECK(names == std::vector<std::string>{"checksums.sha256", "corrections.csv", "report.html", "result.json",
                                          "sheet.pcd", "sheet.ply", "sheet.vtu"});
  CHECK(slurp(folder.path / "result.json") == report::result_json(small_inspection()));
}

TEST_CASE("A report folder that cannot be made is a one-line error with a remedy") {
  Folder folder;
  std::ofstream(folder.path) << "a file, not a folder";
  CHECK_THROWS_WITH(report::write_report(report::report_files(small_inspection()), folder.path / "sub"),
                    Catch::Contains("--output"));
}

TEST_CASE("A number is shown in the units the job asks for, without a negative zero") {
  CHECK(report::shown(3.05, Dimension::length, UnitSystem::mm) == "3.050");
  CHECK(report::shown(25.4, Dimension::length, UnitSystem::inch) == "1.0000");
  CHECK(report::shown(-0.0001, Dimension::length, UnitSystem::mm) == "0.000");
  CHECK(report::shown(-0.2, Dimension::length, UnitSystem::mm) == "−0.200");
  CHECK(report::shown(6894.757, Dimension::pressure, UnitSystem::inch) == "1.0");
  // A US gallon is 231 in³ (NIST SP 811, appendix B); sentences say gal/min, and so do tables and charts.
  CHECK(report::shown(231 * std::pow(25.4, 3) / 60, Dimension::flow_rate, UnitSystem::inch) == "1.00");
  CHECK(report::shown_unit(Dimension::flow_rate, UnitSystem::inch) == "gal/min");
}

TEST_CASE("A picture covers the sheet and leaves the rest transparent") {
  const Inspection r = small_inspection();
  const auto view = report::plan_view(r.sheet.mesh, 100, 100);
  std::vector<double> values{0, 0, 0, 0};
  report::Paint paint;
  paint.values = &values;
  const auto rgba = report::rasterise(r.sheet.mesh, view, paint);
  long covered = 0;
  for (std::size_t i = 3; i < rgba.size(); i += 4) covered += rgba[i] == 255;
  const double side = 10 * view.px_per_mm;
  CHECK(covered == Approx(side * side).epsilon(0.02));
  CHECK(rgba[3] == 0);
}

TEST_CASE("What is read back from result.json is the structs that were computed") {
  Inspection r = full_inspection();
  r.plan.gap_after = {3, 3.05, 3.1, std::numeric_limits<double>::quiet_NaN()};
  r.filling.opening.minimum = {1, 2, 3, 4}, r.lead.mm = {5, 6, 7, 8}, r.ensemble.dry = {0, 0, 0.5, 1};
  r.laminate.nodes[1].over_packed = true, r.laminate.nodes[1].load_fraction = 1.25;
  const Inspection again = report::read_result(report::result_json(r));
  for (std::size_t i = 0; i < 4; ++i) {
    const NodeGap &was = r.gap.nodes[i], &is = again.gap.nodes.at(i);
    CHECK((is.measured == was.measured && is.gap == was.gap && is.U == was.U));
    CHECK(again.verdict.limits.at(i).low == r.verdict.limits[i].low);
    CHECK(again.laminate.nodes.at(i).over_packed == r.laminate.nodes[i].over_packed);
    CHECK(again.laminate.nodes.at(i).load_fraction == r.laminate.nodes[i].load_fraction);
  }
  CHECK(again.verdict.nominal == r.verdict.nominal);
  CHECK(again.verdict.node == r.verdict.node);
  CHECK(again.filling.arrival == r.filling.arrival);  // never is infinity
  CHECK(again.filling.peak_pressure == r.filling.peak_pressure);
  CHECK(again.filling.opening.minimum == r.filling.opening.minimum);
  CHECK(again.lead.mm == r.lead.mm);
  CHECK(again.ensemble.dry == r.ensemble.dry);
  CHECK(again.breathing.dry.move == r.breathing.dry.move);
  CHECK((again.air.computed && again.air.node == r.air.node && again.air.area == r.air.area));
  CHECK((again.air.between == r.air.between && again.air.wormed.at(0).roving == r.air.wormed[0].roving));
  CHECK(again.nodes_after.conformity == r.nodes_after.conformity);
  CHECK((again.plan.gap_after[2] == 3.1 && std::isnan(again.plan.gap_after[3])));
  CHECK(again.flow_gap[2] == 3.2);
  CHECK(again.flow_gap[3] == Approx(3.1));  // not measured: between 3.0 and 3.2, as it was computed
  // So the files that are made of it are the same.
  CHECK(report::sheet_ply(again) == report::sheet_ply(r));
  CHECK(report::sheet_vtu(again) == report::sheet_vtu(r));
  CHECK(report::corrections_csv(again) == report::corrections_csv(r));
}

TEST_CASE("What stays of air is told by a map, five classes and their shares, and only where it was asked for") {
  Inspection r = full_inspection();
  const std::string page = report::report_html(r);
  CHECK_THAT(page, Catch::Contains("What stays of air, in plan"));
  CHECK_THAT(page, Catch::Contains("takes out nothing that resin has closed in"));
  CHECK_THAT(page, Catch::Contains("of roving fill it and cure that"));
  CHECK_THAT(report::sheet_ply(r), Catch::Contains("property float residual_air_class\n"));
  CHECK_THAT(report::sheet_vtu(r), Catch::Contains("Name=\"bubbles_between_bundles\""));
  r.air = {};
  CHECK_THAT(report::sheet_ply(r), !Catch::Contains("residual_air"));
  CHECK_THAT(report::report_html(r), !Catch::Contains("What stays of air, in plan"));
  CHECK_THAT(report::result_json(r), !Catch::Contains("residual_air"));
  // Told apart without colour: lightness, or a pattern of its own in every piece of 12 pixels.
  std::set<std::vector<std::uint8_t>> pieces;
  for (std::size_t k = 0; k < kAirClasses; ++k) {
    std::vector<std::uint8_t> piece;
    for (int i = 0; i < 144; ++i) {
      const report::Rgb ink = report::air_colour(static_cast<AirClass>(k), i % 12, i / 12);
      piece.push_back(std::uint8_t(std::lround(0.299 * ink.r + 0.587 * ink.g + 0.114 * ink.b)) > 128);
    }
    pieces.insert(piece);
  }
  CHECK(pieces.size() == kAirClasses);
}

TEST_CASE("What is read back from result.json is written the same again, and so is the page") {
  const Inspection r = full_inspection();
  const std::string json = report::result_json(r);
  const Inspection again = report::read_result(json);
  CHECK(report::result_json(again) == json);
  CHECK_THAT(report::report_html(again), Catch::Contains("0.079\u00a0mm less gap"));
  CHECK(report::report_html(again) == report::report_html(report::read_result(report::result_json(again))));
}

TEST_CASE("A file that is no result is refused in one line with a remedy") {
  CHECK_THROWS_WITH(report::read_result("{\"format\""), Catch::Contains("inspect again"));
  CHECK_THROWS_WITH(report::read_result("{}"), Catch::Contains("give the folder"));
  CHECK_THROWS_WITH(report::read_result("{\"format\":\"gapfront result\",\"format_version\":10}"),
                    Catch::Contains("incomplete"));
}

TEST_CASE("A result of another format version is refused with both versions and the remedy") {
  for (const char* other : {"1", "9", "11"})
    CHECK_THROWS_WITH(
        report::read_result(std::string("{\"format\":\"gapfront result\",\"format_version\":") + other + "}"),
        Catch::Equals(std::string("its format version is ") + other +
                      ", this program reads 10 only; inspect its scans again with this program, or use "
                      "the program that wrote it"));
}

TEST_CASE("The page's script gets each number as it is printed") {
  // 3.0525 mm is stored a little below or above the tie; whichever way it is printed, the count of steps agrees.
  report::Field gap;
  gap.dimension = Dimension::length;
  for (double v : {3.0525, 3.0515, -0.0004, 12.3})
    CHECK(report::shown(v, Dimension::length, UnitSystem::mm) ==
          spoken(report::shown_steps(v, gap, UnitSystem::mm) / 1000.0, 3));
}
