#include <algorithm>
#include <catch2/catch.hpp>
#include <set>

#include "gapfront/catalogue.hpp"
#include "gapfront/report.hpp"
#include "report/describe/describe.hpp"
#include "report/html.hpp"
#include "report/language.hpp"
#include "small.hpp"

using report::Language;

namespace {

/// The places of arguments, sorted.
std::string places(const std::string& text) {
  std::string out;
  for (std::size_t i = 0; (i = text.find('{', i)) != std::string::npos; ++i) out += text[i + 1];
  std::sort(out.begin(), out.end());
  return out;
}

}  // namespace

TEST_CASE("Every entry of the catalogue is in every language, with its arguments, and stands there once") {
  std::set<std::string> seen;
  for (const auto& entry : report::catalogue()) {
    const std::string& english = entry.at("en");
    CAPTURE(english);
    CHECK(seen.insert(english).second);
    for (const char* code : languages) {
      CAPTURE(code);
      REQUIRE(entry.count(code) == 1);
      CHECK(places(entry.at(code)) == places(english));
    }
  }
  CHECK(seen.size() > 200);
}

TEST_CASE("A report with something in every place of it leaves nothing in English") {
  Inspection r = full_inspection();
  for (const char* code : languages) {
    r.job.language = code;
    std::vector<std::string> left;
    const std::string page = report::report_html(r, &left);
    CAPTURE(code, left);
    CHECK(left.empty());
    CHECK(page.find("<html lang=\"" + std::string(code) + "\">") != std::string::npos);
  }
}

TEST_CASE("A language with a decimal comma has it in text, not in markup") {
  Language german("de");
  CHECK(german.page("<p>12.5 mm</p>") == "<p>12,5 mm</p>");
  CHECK(german.page("<rect x=\"1.5\"/><text x=\"2.5\">0.125</text>") ==
        "<rect x=\"1.5\"/><text x=\"2.5\">0,125</text>");
  CHECK(german.page("<td>x 1.50, y −2.25, z 3.00 in</td>") == "<td>x 1,50; y −2,25; z 3,00 in</td>");
  CHECK(german.page("<svg aria-label=\"Flow rate at the inlet\">") == "<svg aria-label=\"Durchfluss am Anguss\">");
  CHECK(Language("en").page("<p>12.5 mm</p>") == "<p>12.5 mm</p>");
}

TEST_CASE("Arguments keep their places: quantities are spelt anew, known words translated, names kept") {
  Language german("de");
  CHECK(german.say("vent \"E.1 north\" is narrower than the sheet's mesh; it was taken at the nearest node") ==
        "Entlüftung „E.1 north“ ist schmaler als die Maschen der Formfläche; sie wurde am nächsten Knoten angenommen.");
  CHECK(german.say("Gap in plan.") == "Formspalt im Grundriss.");
  CHECK(german.say("Station S1: take out 0.50 mm, from 1.00 to 0.50 mm (no shim); station S2 will then stand clear by "
                   "0.05 mm.") ==
        "Station S1: 0,50 mm herausnehmen, von 1,00 auf 0,50 mm (kein Blech); Station S2 "
        "steht dann um 0,05 mm frei.");
  CHECK(german.missing().empty());
}

TEST_CASE("A sentence without an entry stays English, is listed once, and takes nothing with it") {
  Language german("de");
  const std::string page =
      "<p>A new sentence at 3.5 mm. The front closes around no air.</p><p>A new sentence at 3.5 mm.</p>";
  CHECK(german.page(page) ==
        "<p>A new sentence at 3.5 mm. Die Front schließt keine Luft ein.</p><p>A new sentence at 3.5 mm.</p>");
  CHECK(german.missing() == std::vector<std::string>{"A new sentence at 3.5 mm."});
}

TEST_CASE("A name from the job is not translated, whatever it means in English") {
  Inspection r = full_inspection();
  r.job.language = "de";
  r.job.name = r.job.tool = "gap";
  r.alignment.residuals[0].name = "shim";
  const std::string page = report::report_html(r);
  CHECK(page.find("<h1 translate=\"no\">gap</h1><p><span translate=\"no\">gap</span>") != std::string::npos);
  CHECK(page.find("<span translate=\"no\">shim</span>") != std::string::npos);
}

TEST_CASE("The page's script gets the texts that it asks for, in the page's language, and no other") {
  Inspection r = small_inspection();
  r.job.language = "es";
  const std::string page = report_html(r);
  const auto ids = report::script_ids(page);
  CHECK(std::count(ids.begin(), ids.end(), "front.play") == 1);
  for (const std::string& id : ids) {
    CAPTURE(id);
    CHECK(catalogue_of("en")->find(id));
  }
  const auto from = page.find("id=\"data\">") + 10;
  const auto words = report::Json::parse(page.substr(from, page.find("</script>", from) - from)).at("words");
  CHECK(words.at("front.play") == "reproducir");
  CHECK(words.at("front.from") == "{1}, de {2} a {3}");
  CHECK(words.size() == std::set<std::string>(ids.begin(), ids.end()).size());
  CHECK(page.find("\"decimal\":\",\"") != std::string::npos);
}
