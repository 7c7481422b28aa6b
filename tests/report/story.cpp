// One story: the outcome's line, the digits of figures, the colour bars.
#include <catch2/catch.hpp>
#include <cmath>
#include <regex>
#include <set>

#include "gapfront/report.hpp"
#include "report/html.hpp"
#include "report/overview.hpp"
#include "report/scales.hpp"
#include "small.hpp"
#include "units/digits.hpp"

using Catch::Contains;

namespace {

/// A page's text without its scripts, styles and what the job wrote, cut to pieces at tags: std::regex recurses with
/// the length of what it looks at.
std::vector<std::string> texts_of_page(const std::string& html) {
  std::vector<std::string> out;
  for (std::size_t at = 0; at < html.size();) {
    const std::size_t open = std::min(html.find('<', at), html.size());
    if (open > at) out.push_back(html.substr(at, open - at));
    if (open == html.size()) break;
    at = html.find('>', open) + 1;
    for (const std::string tag : {"script", "style", "pre", "code"})
      if (html.compare(open, tag.size() + 1, "<" + tag) == 0) at = html.find("</" + tag, at);
  }
  return out;
}

bool is_round(double step) {
  const double leading = step / std::pow(10, std::floor(std::log10(step) + 1e-9));
  return std::abs(leading - 1) < 1e-6 || std::abs(leading - 2) < 1e-6 || std::abs(leading - 5) < 1e-6;
}

report::Field field(const char* id, std::vector<double> values, bool about_zero = false) {
  report::Field f;
  f.id = id, f.dimension = Dimension::length, f.scale = report::Scale::sequence, f.about_zero = about_zero;
  f.values = std::move(values);
  return f;
}

}  // namespace

TEST_CASE("Report and work order state the outcome in the same line, and result.json keeps it") {
  const Inspection r = full_inspection();
  const std::string line = report::outcome_line(r);
  CHECK(line ==
        "Verdict: nonconforming over 0.0 % of the area. The computed front did not converge, so do not rely on what is "
        "said of it. Gap out of tolerance: 15 cm² now, 1.2 cm² after the corrections (95 %: 0.8 cm² to 1.9 cm²). "
        "That is of what is measured: 0.2 cm² is not, and may be out of tolerance. "
        "Chance of trapped air (over 2 cm² dry) with its 95 % interval: now "
        "25 % (12 % to 43 %); after the corrections 12 % (4 % to 29 %); in a nominal mold 0 % (0 % to 11 %). The mold "
        "opens while it fills: "
        "closing force over opening force falls to 0.80 now, 1.10 after the corrections. The mold is not full when the "
        "resin gels, after 1 min 40 s: the fill takes 3 min 20 s now, 3 min 20 s after the corrections.");
  const Inspection again = report::read_result(report::result_json(r));
  CHECK(report::outcome_line(again) == line);
  for (const std::string& page : {report::report_html(again), report::work_order_html(again)})
    CHECK_THAT(std::regex_replace(page, std::regex("\u00a0"), " "), Contains(line));
}

TEST_CASE("Without drawn fillings the outcome says what the one filling does, and no chance") {
  Inspection r = small_inspection();
  CHECK_THAT(report::outcome_line(r), Contains("not estimated; the one filling with the measured gap traps none."));
  r.filling.pockets.resize(2);
  r.filling.pockets[0].area = 150, r.filling.pockets[1].area = 60;
  CHECK_THAT(report::outcome_line(r), Contains("traps air."));
}

TEST_CASE("Pockets that leave no more dry than the least dry spot are not called trapped air") {
  Inspection r = small_inspection();
  r.filling.pockets.resize(1);
  r.filling.pockets[0].area = 190;
  CHECK_THAT(report::outcome_line(r), Contains("air (over 2 cm² dry): not estimated") && Contains("traps none."));
  CHECK_THAT(report::report_html(r), Contains("too little to count as trapped air"));
  r.job.ensemble.min_dry = 150;
  const Inspection again = report::read_result(report::result_json(r));
  CHECK_THAT(report::outcome_line(again), Contains("air (over 1.5 cm² dry): not estimated") && Contains("traps air."));
  CHECK_THAT(report::report_html(again), !Contains("too little to count as trapped air"));
  r.job.units = UnitSystem::inch;
  CHECK_THAT(report::outcome_line(r), Contains("(over 0.233 in² dry)"));
  r.job.ensemble.min_dry = 0;
  CHECK_THAT(report::outcome_line(r), Contains("trapped air: not estimated"));
}

TEST_CASE("What no work on the gap can cure stands above the verdict") {
  Inspection r = small_inspection();
  r.plan.obstacle_says = {free_text("The glass alone holds the mold open.")};
  const std::string page = report::report_html(r);
  REQUIRE(page.find("The glass alone holds the mold open.") != std::string::npos);
  CHECK(page.find("The glass alone holds the mold open.") < page.find("class=\"word\""));
}

TEST_CASE("The first screen: verdict, the map with numbered places, and cause, work and outcome, in this order") {
  Inspection r = full_inspection();
  r.verdict.node[1] = Conformity::nonconforming,
  r.verdict.regions[0].outline = {{5, -5, 0}, {15, -5, 0}, {15, 5, 0}, {5, 5, 0}};
  r.verdict.regions.resize(1), r.filling.pockets[0].area = 900;
  const std::string page = report::report_html(r);
  std::size_t at = 0;
  for (const char* next : {"class=\"word\"", "id=\"overview\"", "Cause</dt>", "At place 1 the gap is 3.10",
                           "Do this</dt>", "href=\"#row-C1\"", "Then</dt>", "Gap out of tolerance: 15\u00a0cm² now",
                           "gap 3.100\u00a0mm ± 0.040\u00a0mm", "Verdict: nonconforming"}) {
    INFO(next);
    const std::size_t found = page.find(next, at);
    REQUIRE(found != std::string::npos);
    at = found;
  }
  // Number 1 is the region's worst node, number 2 the air; both lead to rows that are there.
  CHECK_THAT(page, Contains("href=\"#row-R1\"") && Contains("<tr id=\"row-R1\">") && Contains("href=\"#row-air\"") &&
                       Contains("<tr id=\"row-air\">") && Contains("<tr id=\"row-C1\">"));
  CHECK_THAT(page, Contains("closes around air at place 2."));
}

TEST_CASE("An inlet around the perimeter is drawn closed on the first screen, and a runner open") {
  Inspection r = full_inspection();
  r.job.sheet.seal = {{0, 0, 0}, {20, 0, 0}, {20, 20, 0}};
  Inlet inlet;
  inlet.perimeter = true;
  r.job.flow.inlets = {inlet};
  const auto drawn = [](const std::string& page) {
    const auto at = page.find("<path class=\"inlet\" d=\"");
    REQUIRE(at != std::string::npos);
    const auto from = at + std::string("<path class=\"inlet\" d=\"").size();
    return page.substr(from, page.find('"', from) - from);
  };
  const std::string page = report::overview_map(r, {});
  CHECK(drawn(page).back() == 'Z');
  CHECK_THAT(page, !Contains("<g class=\"between\">"));  // of a square tool all of them would touch
  Inspection wide = r;
  for (Vec3& p : wide.sheet.mesh.points) p.x() *= 3;
  CHECK_THAT(report::overview_map(wide, {}), Contains("<g class=\"between\">"));  // that a phone has no room for
  r.job.flow.inlets[0].perimeter = false, r.job.flow.inlets[0].path = {{0, 0, 0}, {20, 0, 0}};
  CHECK(drawn(report::overview_map(r, {})).back() != 'Z');
}

TEST_CASE("After the work the first line says whether it did what was predicted") {
  Inspection r = full_inspection();
  CHECK_THAT(report::report_html(r), !Contains("The work did"));
  r.expects = free_text("\"before\"");
  const auto first = [&](double En, bool can_tell) {
    r.confirmed.assign(2, {});
    for (Confirmed& c : r.confirmed) c.can_tell = can_tell, c.says = Message("work.did-what-predicted");
    r.confirmed[1].En = En;
    const std::string page = report::report_html(r);
    const auto at = page.find("<p class=\"headline first\">");
    REQUIRE(at < page.find("class=\"word\""));
    return page.substr(at, page.find("</p>", at) - at);
  };
  CHECK_THAT(first(0.8, true), Contains("The work did what was predicted."));
  CHECK_THAT(first(1.2, true), Contains("did not do all that was predicted: 1 of 2 results agree."));
  CHECK_THAT(first(0, false), Contains("cannot be told"));
}

TEST_CASE("A port that was not made is work that did not do what was predicted, and result.json keeps all of it") {
  Inspection r = full_inspection();
  r.expects = free_text("\"before\"");
  r.confirmed.assign(2, {});
  Confirmed &filler = r.confirmed[0], &vent = r.confirmed[1];
  filler.correction = "C1", filler.kind = Kind::build_up, filler.can_tell = true, filler.En = 0.5;
  filler.seat = 0.125, filler.worst = -0.25, filler.worst_is = Conformity::undecided;
  filler.says = Message("work.did-what-predicted");
  vent.correction = "C2", vent.kind = Kind::vent_add, vent.port = Confirmed::Port::missing;
  vent.says = Message("work.port-missing", {arg::name("vent 2"), arg::place({1, 2, 3}, 2)});
  r.expected_says = {Message("warnings.same-scans")};
  const Inspection again = report::read_result(report::result_json(r));
  CHECK(report::result_json(again) == report::result_json(r));
  CHECK(again.confirmed[0].seat == 0.125);
  CHECK(again.confirmed[0].worst_is == Conformity::undecided);
  CHECK(again.confirmed[1].port == Confirmed::Port::missing);
  const std::string page = report::report_html(again);
  CHECK_THAT(page, Contains("1 of 2 results agree") && Contains("is not in this job at") &&
                       Contains("These are the very scans"));
}

TEST_CASE("A step that was drawn less often than the first and the last state shows no mean beside theirs") {
  Inspection r = full_inspection();
  CorrectionPlan& p = r.plan;
  p.after_each[0].pocket = 0.125, p.after_each[0].expected_dry_area = 4321;
  p.now.drawn.resize(64), p.after.drawn.resize(64), p.after_each[0].drawn.resize(24), p.after_each[1].drawn.resize(64);
  p.candidates[0].before.drawn.resize(8);
  const Inspection again = report::read_result(report::result_json(r));
  CHECK(again.plan.after_each[0].drawn.size() == 24);
  CHECK(report::result_json(again) == report::result_json(r));
  CHECK_THAT(report::report_html(again), !Contains("43\u00a0cm²") && Contains("candidates are drawn 8 times"));
  CHECK_THAT(report::work_order_html(again), !Contains("43\u00a0cm²"));
  r.plan.after_each[0].drawn.resize(64);
  CHECK_THAT(report::report_html(r), Contains("43\u00a0cm²"));
}

TEST_CASE("Masks that leave nothing out are neither drawn nor counted") {
  Inspection r = full_inspection();
  CHECK_THAT(report::report_html(r), Contains("class=\"masked\""));
  r.sheet.masked_area = 0;
  CHECK_THAT(report::report_html(r),
             !Contains("class=\"masked\"") && !Contains("Masked: ") && !Contains("Dotted circles"));
}

TEST_CASE("A length is printed with two digits of its U at the most") {
  CHECK(decimals_for(0.042, 6) == 3);
  CHECK(decimals_for(0.42, 6) == 2);
  CHECK(decimals_for(0.1, 6) == 2);
  CHECK(decimals_for(12, 6) == 0);
  CHECK(decimals_for(0.042, 2) == 2);  // never more than the place prints
  CHECK(decimals_for(0, 3) == 3);      // not known: as the place prints
}

TEST_CASE("A time is printed to half a percent of the fill time") {
  CHECK(time_in_fill(58.3589, 20) == "58.4 s");
  CHECK(time_in_fill(8.44, 66) == "8 s");
  CHECK(time_in_fill(521.5193, 575) == "8 min 42 s");
  CHECK(time_in_fill(2003, 2003) == "33 min 20 s");
  CHECK(time_in_fill(-3.2, 575) == "−3 s");
  CHECK(time_in_fill(INFINITY, 575) == "–");
}

TEST_CASE("Pages print no length in micrometres, no area below a tenth and no time below a tenth of a second") {
  for (const UnitSystem u : {UnitSystem::mm, UnitSystem::inch}) {
    Inspection r = full_inspection();
    r.job.units = u;
    r.lead.max_s = 0.123456, r.filling.last_to_vent = 283.976;
    const Inspection again = report::read_result(report::result_json(r));
    for (const std::string& page : {report::report_html(again), report::work_order_html(again)}) {
      const auto texts = texts_of_page(page);
      REQUIRE(texts.size() > 50);
      const auto most = [&](const char* pattern) {
        const std::regex wrong(pattern);
        for (const std::string& text : texts) {
          std::smatch found;
          INFO(text);
          if (std::regex_search(text, found, wrong)) FAIL_CHECK(found.str());
        }
      };
      const std::string space = "(?:\u00a0| )";
      most(("\\d\\.\\d{4,}" + space + "mm").c_str());   // 0.1 µm
      most(("\\d{3,}\\.\\d+" + space + "mm").c_str());  // a place to less than a mm
      most(("\\d\\.\\d{5,}" + space + "in").c_str());   // 0.25 µm
      most(("\\d\\.\\d{2,}" + space + "cm").c_str());   // of an area or a volume
      most(("\\d{2,}\\.\\d" + space + "cm").c_str());
      most(("\\d\\.\\d{2,}" + space + "s\\b").c_str());
      most(("\\d\\.\\d{3,}" + space + "bar").c_str());
      most(("\\d\\.\\d{2,}" + space + "psi").c_str());
    }
  }
}

TEST_CASE("States of one quantity share a colour scale, which does not depend on which is shown") {
  const auto now = field("deviation_mm", {-0.2, 0.4, 0.83}, true), after = field("deviation_after_mm", {0, 0.1}, true),
             other = field("U_mm", {0.04, 0.05});
  const std::vector<report::Field> all{now, after, other};
  const auto a = report::scale_of(all, now, UnitSystem::mm), b = report::scale_of(all, after, UnitSystem::mm);
  CHECK(a.low == b.low);
  CHECK(a.high == b.high);
  CHECK(a.ticks == b.ticks);
  CHECK(a.high >= 0.83);
  CHECK(report::scale_of(all, other, UnitSystem::mm).high < 0.1);
  for (const char* id : {"arrival_s", "arrival_nominal_s", "arrival_after_s"})
    CHECK(report::scale_family(id) == "arrival");
}

TEST_CASE("Ticks of a colour bar are round in the units that are read") {
  for (const UnitSystem u : {UnitSystem::mm, UnitSystem::inch})
    for (double high : {0.013, 0.62, 3.17, 47.0, 574.7}) {
      const auto f = field("some_mm", {0, high});
      const auto s = report::scale_of({f}, f, u);
      INFO(high << " " << s.step);
      CHECK(is_round(s.step));
      CHECK(s.ticks.size() >= 3);
      CHECK(s.ticks.size() <= 9);
      for (double t : s.ticks) CHECK(std::abs(t / s.step - std::round(t / s.step)) < 1e-6);
    }
}

TEST_CASE("The limits lie on the bar of the deviation, also where no value comes near them") {
  auto low = field("limit_low_mm", {2.7, 2.7}), high = field("limit_high_mm", {3.3, 3.3}),
       nominal = field("nominal_mm", {3, 3}), d = field("deviation_mm", {-0.01, 0.02}, true);
  const auto s = report::scale_of({low, high, nominal, d}, d, UnitSystem::mm);
  REQUIRE(s.limits.size() == 2);
  CHECK(s.limits[0] == Approx(-0.3));
  CHECK(s.limits[1] == Approx(0.3));
  CHECK(s.low <= -0.3);
  CHECK(s.high >= 0.3);
  high.values[1] = 3.5;  // zones with other limits: no line would be true everywhere
  CHECK(report::scale_of({low, high, nominal, d}, d, UnitSystem::mm).limits.empty());
}

TEST_CASE("A value beyond the bar is shown by an arrow with its number") {
  Inspection r = small_inspection();
  report::Field f = field("other_mm", std::vector<double>(300, 0.1));
  r.sheet.mesh.points.resize(4);
  for (int i = 0; i < 150; ++i) f.values[i] = 0.2;
  f.values[0] = 9.87, f.decimals = 2;
  CHECK_THAT(report::map_figure(r, f, "", false), Contains("class=\"beyond\"") && Contains(">9.87</text>"));
  f.values[0] = 0.2;
  CHECK_THAT(report::map_figure(r, f, "", false), !Contains("class=\"beyond\""));
}

TEST_CASE("A vent that a correction adds stands on the maps of the state after it, and on no other") {
  Inspection r = small_inspection();
  r.job.flow.vents = {{"old", {r.sheet.mesh.points[0]}, 5, 0}};
  Correction c;
  c.kind = Kind::vent_add, c.port = "new", c.port_to = {r.sheet.mesh.points[2]};
  r.plan.candidates = {c}, r.plan.chosen = {0};
  const auto vents = [&](const std::string& id) {
    report::Field f;
    f.id = id, f.values.assign(r.sheet.size(), 1.0);
    const std::string svg = report::map_figure(r, f, "", false);
    std::size_t count = 0;
    for (auto at = svg.find("class=\"vent\""); at != std::string::npos; at = svg.find("class=\"vent\"", at + 1))
      ++count;
    return count;
  };
  CHECK(vents("arrival_s") == 1);
  CHECK(vents("arrival_after_s") == 2);
}
