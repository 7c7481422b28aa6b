#include "report/plain_page.hpp"

#include "gapfront/report.hpp"
#include "report/assets.hpp"

namespace gapfront::report {

Inspection stage_of(const Job& job, Mesh mesh) {
  Inspection r;
  r.job.units = job.units, r.job.language = job.language, r.job.flow.vents = job.flow.vents;
  r.sheet = cavity::make_sheet(std::move(mesh));
  return r;
}

std::string plain_page(const Job& job, const Message& title, const std::string& facts, const std::string& body) {
  const Voice v = voice_of(job);
  std::string out =
      "<!doctype html>\n<html lang=\"" + job.language +
      "\"><head><meta charset=\"utf-8\">"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src "
      "'unsafe-inline'\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><title "
      "translate=\"no\">" +
      told(v, "list.named", {arg::name(job.name), arg::message(title)}) + "</title>\n<style>\n" + page_css +
      "</style></head><body>\n<header><h1 translate=\"no\">" + escape(job.name) + "</h1><p>" + facts + "</p>";
  if (job.invented) out += "<p class=\"invented\">" + told(v, "page.invented-data-no-real") + "</p>";
  const std::string note = job.note.empty() ? "" : "<p class=\"note\">" + own(job.note) + "</p>\n";
  return out + "</header>\n<main>\n" + body + note + cautions_section(v) + "</main></body></html>\n";
}

std::string section(const std::string& id, const std::string& title, const std::string& body) {
  return "<section><h2 id=\"" + id + "\">" + title + "</h2>\n" + body + "</section>\n";
}

std::string verdict_box(const std::string& style, const std::string& word, const std::string& headline,
                        const std::string& more) {
  return "<section class=\"verdict " + style + "\"><p class=\"word\">" + word + "</p><p class=\"headline\">" +
         headline + "</p>\n" + more + "</section>\n";
}

std::string beside(const Voice& v) {
  return para(told(v, "pages.same-folder") + " <a translate=\"no\" href=\"report.html\">report.html</a>");
}

std::string folded(const std::string& summary, const std::string& body) {
  return "<details class=\"more\"><summary>" + summary + "</summary>\n" + body + "</details>\n";
}

std::string outcome_of(const Voice& v, const Text& outcome) {
  return outcome.empty() ? "" : "<p class=\"outcome\">" + told(v, outcome) + "</p>\n";
}

}  // namespace gapfront::report
