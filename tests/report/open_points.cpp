// What was guessed and not confirmed, and a proposed seal line, on the pages.
#include <catch2/catch.hpp>

#include "gapfront/report.hpp"
#include "small.hpp"
#include "unsaid.hpp"

namespace {

Inspection guessed() {
  Inspection r = small_inspection();
  r.job.unconfirmed = {{"cavity.nominal", "3.0 mm"}, {"laminate.ply.glass", "a <mat>"}, {"flow.inlet", ""}};
  r.job.sheet.seal = {Vec3(0, 0, 0), Vec3(10, 0, 0), Vec3(10, 10, 0), Vec3(0, 10, 0)};
  r.seal = {SealOrigin::Source::proposed, SealFound::land, 0.9, 1.5};
  return r;
}

}  // namespace

TEST_CASE("Guesses and a proposed seal line stand on the page, in every language, and survive result.json") {
  Inspection r = guessed();
  for (const SealFound found : {SealFound::land, SealFound::rim})
    for (const double confidence : {0.9, 0.0})
      for (const char* language : {"en", "marked"}) {
        r.job.language = language, r.seal.found = found, r.seal.confidence = confidence;
        const std::string page = report::report_html(r);
        if (language == std::string("marked")) CHECK(unsaid(page) == std::vector<std::string>{});
        CHECK_THAT(page, Catch::Contains("<code>cavity.nominal</code> 3.0 mm") && Catch::Contains("a &lt;mat&gt;") &&
                             Catch::Contains("class=\"seal\""));
      }
  r = guessed();
  const Inspection again = report::read_result(report::result_json(r));
  REQUIRE(again.job.unconfirmed.size() == 3);
  CHECK(again.job.unconfirmed[0].key == "cavity.nominal");
  CHECK(again.job.unconfirmed[0].value == "3.0 mm");
  CHECK(again.seal.source == SealOrigin::Source::proposed);
  CHECK(again.seal.found == SealFound::land);
  CHECK(again.seal.confidence == 0.9);
  CHECK(again.job.sheet.seal.size() == 4);
  CHECK(job::provisional(again.job));
}

TEST_CASE("With nothing guessed and a seal line given, the page has no such lines") {
  const std::string page = report::report_html(small_inspection());
  CHECK(page.find("unconfirmed\"") == std::string::npos);
  CHECK(page.find("proposed seal line") == std::string::npos);
  CHECK(page.find("provisionally") == std::string::npos);
}
