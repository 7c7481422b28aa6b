#include "report/plain_page.hpp"

#include "gapfront/error.hpp"
#include "report/assets.hpp"

namespace gapfront::report {

Json job_json(const Job& job) {
  Json vents = Json::array();
  for (const auto& v : job.flow.vents) vents.push_back({{"name", v.name}, {"path_mm", points(v.path)}});
  return {{"name", job.name},
          {"tool", job.tool},
          {"date", job.date},
          {"cycles", number(job.cycles)},
          {"note", job.note},
          {"data_is_invented", job.invented},
          {"report_language", job.language},
          {"report_units", job.units == UnitSystem::inch ? "inch" : "mm"},
          {"file", job.file.filename().string()},
          {"vents", vents}};
}

std::string text_of(const Json& j, const char* key) { return escape(j.at(key).get<std::string>()); }
double real_of(const Json& j, const char* key) { return real(j.at(key)); }

Inspection stage_of(const Json& file, const char* regions) {
  Inspection r;
  const Json& job = file.at("job");
  r.job.units = job.at("report_units") == "inch" ? UnitSystem::inch : UnitSystem::mm;
  for (const auto& v : job.at("vents")) r.job.flow.vents.push_back({v.at("name"), vecs(v.at("path_mm"))});
  Mesh mesh;
  mesh.points = vecs(file.at("sheet").at("nodes_mm"));
  for (const auto& t : file.at("sheet").at("triangles")) mesh.triangles.push_back(t.get<std::array<int, 3>>());
  for (const auto& t : mesh.triangles)
    for (const int k : t)
      if (k < 0 || k >= static_cast<int>(mesh.points.size()))
        throw Error(Fault::input, "a triangle names a node that is not there");
  r.sheet = make_sheet(std::move(mesh));
  for (const auto& [id, values] : file.at("sheet").at("fields").items()) {
    r.columns[id] = reals(values);
    if (r.columns[id].size() != r.sheet.size()) throw Error(Fault::input, "field " + id + " is not one value per node");
  }
  for (const auto& g : file.at(regions)) {
    DeviationRegion region;
    region.name = g.at("name"), region.centre = vec(g.at("centre_mm")), region.outline = vecs(g.at("outline_mm"));
    r.verdict.regions.push_back(region);
  }
  return r;
}

std::string language_of(const Json& job) { return job.value("report_language", "en"); }

std::string plain_page(const Json& job, const std::string& title, const std::string& facts, const std::string& body) {
  const std::string name = escape(job.at("name").get<std::string>()), note = job.at("note");
  std::string out =
      "<!doctype html>\n<html lang=\"" + language_of(job) +
      "\"><head><meta charset=\"utf-8\">"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src "
      "'unsafe-inline'\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><title "
      "translate=\"no\">" +
      name + ": " + title + "</title>\n<style>\n" + page_css + "</style></head><body>\n<header><h1 translate=\"no\">" +
      name + "</h1><p>" + facts + "</p>";
  if (job.at("data_is_invented")) out += "<p class=\"invented\">Invented data: no real tool, no real part.</p>";
  if (!note.empty()) out += "<p>" + own(note) + "</p>";
  return out + "</header>\n<main>\n" + body + cautions_section() + "</main></body></html>\n";
}

std::string section(const std::string& id, const std::string& title, const std::string& body) {
  return "<section><h2 id=\"" + id + "\">" + title + "</h2>\n" + body + "</section>\n";
}

std::string verdict_box(const std::string& style, const std::string& word, const std::string& headline,
                        const std::string& more) {
  return "<section class=\"verdict " + style + "\"><p class=\"word\">" + word + "</p><p class=\"headline\">" +
         headline + "</p>\n" + more + "</section>\n";
}

std::string outcome_of(const Json& file) {
  const std::string line = file.value("outcome", "");
  return line.empty() ? "" : "<p class=\"outcome\">" + escape(line) + "</p>\n";
}

std::string bullets(const std::vector<std::string>& texts) {
  if (texts.empty()) return "";
  std::string out = "<ul>";
  for (const auto& t : texts) out += "<li>" + escape(t) + "</li>";
  return out + "</ul>\n";
}

}  // namespace gapfront::report
