// The page of a measurement in doubt.
#include <catch2/catch.hpp>

#include "gapfront/gapfront.hpp"
#include "gapfront/report.hpp"
#include "small.hpp"
#include "unsaid.hpp"

namespace {

/// As inspect() leaves it: measured, registered, and nothing else.
Inspection doubted_inspection(const Message& text) {
  Inspection r = small_inspection();
  r.doubt = Doubt{Doubt::Reason::wrong_target, "B3", 0.42, 120, Vec3(1, 2, 3), text, {}};
  r.job.sheet.masks = {{"B1", Vec3(5, 5, 0), 3}, {"", Vec3(9, 5, 0), 3}};
  r.alignment.left_out = {"B3"};
  r.verdict = conformity::not_judged(r.sheet, r.gap, {}, {Message("doubt.registration-must-checked-first"), text});
  r.laminate = {}, r.nominal_filling = r.filling = r.filling_after = {}, r.lead = {};
  return r;
}

const Message kDoubts[] = {
    Message("doubt.target-lies-off-upper", {arg::name("B3"), arg::length(0.42)}),
    Message("doubt.ball-lies-off-along", {arg::name("B3"), arg::length(0.2)}),
    Message("doubt.targets-exchanged-one-half", {arg::name("B2"), arg::name("B5")}),
    Message("doubt.one-targets-lies-about", {arg::name("B1, B3 or B4"), arg::length(0.42)}),
    Message("doubt.halves-targets-differ-size", {arg::number(420), arg::length(0.21), arg::name("B3")}),
    Message("doubt.three-targets-disagree-up", {arg::length(0.42)}),
    Message("doubt.tool-place-target-lies", {arg::name("B3"), arg::length(5)}),
    Message("doubt.other-method-lands-stay", {arg::length(0.5)}),
    Message("doubt.lands-targets-set-upper", {arg::length(0.4)}),
    Message("doubt.halves-run-through-each-other-over-most",
            {arg::area(1330), arg::length(0.4), arg::place({460, 340, 0})}),
};

}  // namespace

TEST_CASE("A page in doubt says so first, withholds verdict, front and corrections, and is in every language") {
  for (const Message& text : kDoubts) {
    Inspection r = doubted_inspection(text);
    const Inspection again = report::read_result(report::result_json(r));
    REQUIRE(again.doubt);
    CHECK(again.doubt->text == text);
    CHECK(again.verdict.overall == Conformity::not_judged);
    Inspection page = again;
    page.job.language = "marked";
    const std::string html = report::report_html(page);
    CAPTURE(text);
    CHECK(unsaid(html) == std::vector<std::string>{});
    CHECK(html.find("id=\"corrections\"") == std::string::npos);
    CHECK(html.find("id=\"front\"") == std::string::npos);
  }
}

TEST_CASE("A measurement in doubt has no work order, no templates, and no correction in its table") {
  const Inspection r = doubted_inspection(kDoubts[0]);
  CHECK(report::work_files(r).empty());
  const std::string csv = report::corrections_csv(r);
  CHECK(std::count(csv.begin(), csv.end(), '\n') == 1);  // the header
}

TEST_CASE("Masks are drawn on the maps and counted beside them") {
  const Inspection r = report::read_result(report::result_json(full_inspection()));
  REQUIRE(r.job.sheet.masks.size() == 1);
  const std::string html = report::report_html(r);
  CHECK(html.find("class=\"masked\"") != std::string::npos);
  CHECK(html.find("Masked: ") != std::string::npos);
}

TEST_CASE("A ball that the job does not name is spoken of in the language of the page") {
  Inspection r = doubted_inspection(kDoubts[0]);
  r.job.language = "de";
  const std::string html = report::report_html(report::read_result(report::result_json(r)));
  CHECK(html.find("B1, Kugel ohne Namen") != std::string::npos);
  CHECK(html.find("without a name") == std::string::npos);
}

TEST_CASE("Balls of a wrong size are read back with their diameters and places") {
  Inspection r = doubted_inspection(kDoubts[0]);
  CHECK(report::result_json(r).find("\"balls\"") == std::string::npos);
  r.doubt->balls = {{"B3", true, 22, 20.003, 0.002, Vec3(210, -40, 1.5)}};
  const Inspection again = report::read_result(report::result_json(r));
  REQUIRE(again.doubt);
  REQUIRE(again.doubt->balls.size() == 1);
  const BallSize& b = again.doubt->balls[0];
  CHECK(b.name == "B3");
  CHECK(b.upper);
  CHECK(b.declared == 22);
  CHECK(b.measured == Approx(20.003));
  CHECK(b.u == Approx(0.002));
  CHECK(b.place == Vec3(210, -40, 1.5));
}
