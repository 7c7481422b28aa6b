// The page of a measurement in doubt.
#include <catch2/catch.hpp>

#include "gapfront/gapfront.hpp"
#include "gapfront/report.hpp"
#include "small.hpp"

namespace {

/// As inspect() leaves it: measured, registered, and nothing else.
Inspection doubted_inspection(const std::string& text) {
  Inspection r = small_inspection();
  r.doubt = Doubt{Doubt::Reason::wrong_target, "B3", 0.42, 120, Vec3(1, 2, 3), text};
  r.job.sheet.masks = {{"B1", Vec3(5, 5, 0), 3}};
  r.alignment.left_out = {"B3"};
  r.verdict = not_judged(r.sheet, r.gap, {}, "Not judged: the registration must be checked first. " + text);
  r.laminate = {}, r.nominal_filling = r.filling = r.filling_after = {}, r.lead = {};
  return r;
}

const char* const kDoubtTexts[] = {
    "Target B3 lies 0.42 mm off in the upper half, and the other targets agree without it: check its name, its place "
    "in "
    "the job and its seat.",
    "Ball B3 lies 0.20 mm off along the opening axis, and the other targets agree without it: look for dirt in its "
    "seat, "
    "clean it and scan again.",
    "Targets B2 and B5 are exchanged in one half: with their places exchanged all targets agree; correct the job.",
    "One of the targets B1, B3 or B4 lies about 0.42 mm off, and it cannot be told which: check their names, places "
    "and "
    "seats.",
    "The halves' targets differ in size by 420 ppm (0.21 mm at B3): check the temperatures of the two scans and the "
    "scanner's scale.",
    "The three targets disagree by up to 0.42 mm, and three cannot tell which is wrong: check their places and seats, "
    "or "
    "scan a fourth.",
    "The tool place of target B3 lies 5.00 mm from where the other targets put it: correct its tool place in the job.",
    "By the other method the lands stay 0.50 mm apart that should meet: something lies between the halves or in a "
    "seat, or "
    "the stand-off in the job is wrong.",
    "Lands and targets set the upper half up to 0.40 mm apart at one side: look for dirt between the lands there and "
    "in "
    "the seats.",
    "The halves run through each other over 13.3 cm², most by 0.40 mm at x 460, y 340, z 0 mm: check the targets' "
    "names, "
    "places and seats, and that nothing unlisted stands there.",
};

}  // namespace

TEST_CASE("A page in doubt says so first, withholds verdict, front and corrections, and is in every language") {
  for (const char* text : kDoubtTexts) {
    Inspection r = doubted_inspection(text);
    const Inspection again = read_result(result_json(r));
    REQUIRE(again.doubt);
    CHECK(again.doubt->text == text);
    CHECK(again.verdict.overall == Conformity::not_judged);
    for (const char* code : languages) {
      Inspection page = again;
      page.job.language = code;
      std::vector<std::string> left;
      const std::string html = report_html(page, &left);
      CAPTURE(code, left, text);
      CHECK(left.empty());
      CHECK(html.find("id=\"corrections\"") == std::string::npos);
      CHECK(html.find("id=\"front\"") == std::string::npos);
    }
  }
}

TEST_CASE("A measurement in doubt has no work order, no templates, and no correction in its table") {
  const Inspection r = doubted_inspection(kDoubtTexts[0]);
  CHECK(work_files(r).empty());
  const std::string csv = corrections_csv(r);
  CHECK(std::count(csv.begin(), csv.end(), '\n') == 1);  // the header
}

TEST_CASE("Masks are drawn on the maps and counted beside them") {
  const Inspection r = read_result(result_json(full_inspection()));
  REQUIRE(r.job.sheet.masks.size() == 1);
  const std::string html = report_html(r);
  CHECK(html.find("class=\"masked\"") != std::string::npos);
  CHECK(html.find("Masked: ") != std::string::npos);
}
