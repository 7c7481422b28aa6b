#include <algorithm>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>

#include "gapfront/catalogue.hpp"
#include "gapfront/report.hpp"
#include "report/describe/describe.hpp"
#include "report/html.hpp"
#include "small_pages.hpp"
#include "unsaid.hpp"

namespace {

report::Json data_of(const std::string& page) {
  const auto from = page.find("id=\"data\">") + 10;
  return report::Json::parse(page.substr(from, page.find("</script>", from) - from));
}

}  // namespace

TEST_CASE("What stands on a page beside the catalogue's texts is found") {
  CHECK(unsaid("<p>⟦The ⟦gap⟧ is⟧ 12.5 mm <span translate=\"no\">Tool of ours</span> <b>⟦here⟧</b>.</p>").empty());
  CHECK(unsaid("<svg aria-label=\"⟦Gap⟧ now\"><p>⟦At⟧ x 1, y −2 mm</p><td>⟦none⟧; take it off</td>") ==
        std::vector<std::string>{" now", "; take it off"});
}

TEST_CASE("A report with something in every place of it leaves nothing in English") {
  Inspection r = full_inspection();
  for (const char* code : languages) {
    r.job.language = code;
    CHECK(report::report_html(r).find("<html lang=\"" + std::string(code) + "\">") != std::string::npos);
  }
  // What is in the catalogue is in every language (text: …), so nothing may stand beside it.
  r.job.language = "marked";
  for (const UnitSystem units : {UnitSystem::mm, UnitSystem::inch}) {
    r.job.units = units;
    const std::string page = report::report_html(r);
    CHECK(unsaid(page) == std::vector<std::string>{});
    const auto data = data_of(page);
    for (const auto& field : data.at("fields"))
      for (const char* words : {"title", "meaning"}) CHECK(field.at(words).get<std::string>().starts_with("⟦"));
  }
}

TEST_CASE("A language with a decimal comma has it in text, not in markup") {
  Inspection r = full_inspection();
  r.job.language = "de";
  const std::string page = report::report_html(r);
  CHECK(page.find("0,079\u00a0mm weniger Formspalt") != std::string::npos);
  CHECK(page.find("x\u00a01; y\u00a02; z\u00a03\u00a0mm") != std::string::npos);
  CHECK(page.find("<rect class=\"col\" x=\"4.0\"") != std::string::npos);
}

TEST_CASE("No number on a page of a language with a decimal comma has a point") {
  const std::regex point("[0-9]\\.[0-9]");
  std::vector<std::string> pages;
  for (const std::string& json : {report::result_json(full_inspection()), report::recheck_json(small_job(), worn()),
                                  report::diagnosis_json(dry_inspection(), dry())}) {
    const Page page = report::page_of(json, "de");
    pages.push_back(page.html);
    for (const auto& [name, text] : page.besides)
      if (name == "work-order.html") pages.push_back(text);
  }
  CHECK(pages.size() == 4);
  for (const std::string& page : pages)
    for (const std::string& line : lines_of(page)) {
      CAPTURE(line);
      CHECK_FALSE(std::regex_search(line, point));
    }
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
  const std::string page = report::report_html(r);
  std::vector<std::string> ids;
  const auto asked = nlohmann::json::parse(report::script_words(page, {}));
  for (const auto& [id, words] : asked.items()) ids.push_back(id);
  CHECK(std::count(ids.begin(), ids.end(), "front.play") == 1);
  for (const std::string& id : ids) {
    CAPTURE(id);
    CHECK(catalogue_of("en")->find(id));
  }
  const auto words = data_of(page).at("words");
  CHECK(words.at("front.play") == "reproducir");
  CHECK(words.at("front.from") == "{1}, de {2} a {3}");
  CHECK(words.size() == std::set<std::string>(ids.begin(), ids.end()).size());
  CHECK(page.find("\"decimal\":\",\"") != std::string::npos);
}
