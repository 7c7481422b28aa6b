// A page again from its JSON file.
#include "report/pages.hpp"

#include <algorithm>

#include "report/language.hpp"
#include "report/plain_page.hpp"

#include "gapfront/error.hpp"
#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"

namespace gapfront {

Page page_of(const std::string& text, const std::string& language) {
  using report::Json;
  try {
    Json j = Json::parse(text);
    const std::string format = j.is_object() ? j.value("format", "") : "";
    if (format == "gapfront result") {
      Inspection inspection = read_result(text);
      if (!language.empty()) inspection.job.language = language;
      Page page;
      page.html = report_html(inspection, &page.untranslated);
      std::vector<std::string> more;
      page.besides = work_files(inspection, &more);
      for (auto& line : more)
        if (std::find(page.untranslated.begin(), page.untranslated.end(), line) == page.untranslated.end())
          page.untranslated.push_back(std::move(line));
      return page;
    }
    const bool recheck = format == "gapfront re-check";
    if (!recheck && format != "gapfront diagnosis")
      throw Error(Fault::input, "it is some other JSON file; give result.json, recheck.json or diagnosis.json");
    const int version = recheck ? 1 : 2;
    if (j.at("format_version") != version)
      throw Error(Fault::input, "its format version is " + j.at("format_version").dump() + ", this program reads " +
                                    std::to_string(version) + "; use the program that wrote it");
    if (!language.empty()) j.at("job")["report_language"] = language;
    report::Language words(report::language_of(j.at("job")));
    const std::string html = words.page(recheck ? report::recheck_page(j) : report::diagnosis_page(j));
    return {html, words.missing(), {}};
  } catch (const Json::parse_error&) {
    throw Error(Fault::input, "it is cut short or no JSON; make it again");
  } catch (const Json::exception& e) {
    throw Error(Fault::input, std::string("it is incomplete or was edited (") + e.what() + "); make it again");
  }
}

void write_page(const std::string& json, const std::filesystem::path& folder, const std::string& stem) {
  const std::string page = page_of(json).html;
  std::error_code fault;
  std::filesystem::create_directories(folder, fault);
  if (fault)
    throw Error(Fault::input, folder.string() + ": the report folder cannot be made (" + fault.message() +
                                  "); choose another with --output");
  write_file(folder / (stem + ".json"), json);
  write_file(folder / (stem + ".html"), page);
}

}  // namespace gapfront
