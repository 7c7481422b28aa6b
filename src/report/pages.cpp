// A page again from its JSON file.
#include "report/pages.hpp"

#include "gapfront/error.hpp"
#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"

namespace gapfront::report {

Page page_of(const std::string& text, const std::string& language) {
  using report::Json;
  try {
    Json j = Json::parse(text);
    const std::string format = j.is_object() ? j.value("format", "") : "";
    if (format == "gapfront result") {
      Inspection inspection = result_in(j);
      if (!language.empty()) inspection.job.language = language;
      return {report_html(inspection), work_files(inspection)};
    }
    const bool recheck = format == "gapfront re-check", shot = format == "gapfront shot";
    if (!recheck && !shot && format != "gapfront diagnosis")
      throw Error(Fault::input,
                  "it is some other JSON file; give result.json, recheck.json, diagnosis.json or shot.json");
    const int version = recheck ? report::kRecheckVersion : shot ? report::kShotVersion : report::kDiagnosisVersion;
    if (!j.contains("format_version") || j["format_version"] != version)
      throw Error(Fault::input, "its format version is " + j.value("format_version", Json()).dump() +
                                    ", this program reads " + std::to_string(version) +
                                    "; use the program that wrote it");
    const auto page = [&](auto file, const auto& render) {
      if (!language.empty()) file.job.language = language;
      return Page{render(file), {}};
    };
    try {
      if (shot) return page(report::read_shot(j), report::shot_page);
      return recheck ? page(report::read_recheck(j), report::recheck_page)
                     : page(report::read_diagnosis(j), report::diagnosis_page);
    } catch (const Error& e) {
      throw Error(Fault::input, std::string("it is incomplete or was edited (") + e.what() + "); make it again");
    }
  } catch (const Json::parse_error&) {
    throw Error(Fault::input, "it is cut short or no JSON; make it again");
  } catch (const Json::exception& e) {
    throw Error(Fault::input, std::string("it is incomplete or was edited (") + e.what() + "); make it again");
  }
}

FileSet page_files(const std::string& json, const std::string& stem) {
  return {{stem + ".json", json}, {stem + ".html", page_of(json).html}};
}

}  // namespace gapfront::report
