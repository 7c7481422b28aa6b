// The page of a shot: was it normal, why not, and the log beside the model; from what shot.json holds.
#include <cmath>

#include "gapfront/pages.hpp"
#include "report/describe/reader.hpp"
#include "report/describe/schema.hpp"
#include "report/describe/shot.hpp"
#include "report/describe/writer.hpp"
#include "report/pages.hpp"
#include "report/plain_page.hpp"
#include "units/digits.hpp"

namespace gapfront::report {
namespace {

std::string with_interval(const ShotEstimate& e, const Voice& v) {
  if (!std::isfinite(e.value)) return "–";
  return fixed(e.value, 2, v) + " (" + fixed(e.low, 2, v) + " – " + fixed(e.high, 2, v) + ")";
}

std::string shot_verdict(const ShotFile& file, const Voice& v) {
  const ShotFound& f = file.found;
  const bool normal = f.verdict == ShotVerdict::normal;
  const char* word = normal                                  ? "shot.normal"
                     : f.verdict == ShotVerdict::abnormal    ? "shot.abnormal"
                     : f.verdict == ShotVerdict::unexplained ? "shot.abnormal"
                                                             : "page.undecided";
  std::string more;
  for (const Message& check : f.check) more += para(told(v, check));
  more += para(told(v, "shot.injected", {arg::volume(f.volume), arg::time(f.duration), arg::volume(f.cavity)}));
  return verdict_box(normal                              ? "ok"
                     : f.verdict == ShotVerdict::unclear ? "maybe"
                                                         : "bad",
                     told(v, word), told(v, f.headline), more);
}

std::string pressure_chart(const ShotFile& file, const char* title, const char* model, double ShotStretch::*member,
                           const Voice& v) {
  const double unit = per_shown_unit(Dimension::pressure, v.units);
  std::vector<Curve> curves{{Message("shot.logged"), {}, false}, {Message(model), {}, true}};
  for (const ShotStretch& s : file.found.course) {
    curves[0].points.emplace_back(s.time, s.measured / unit);
    curves[1].points.emplace_back(s.time, s.*member / unit);
  }
  return line_chart(v, Message(title), shown_unit(Dimension::pressure, v.units), curves);
}

std::string cause_table(const ShotFound& f, const Voice& v) {
  constexpr double kWorthARow = 0.01;
  Rows rows{heads(v, {"shot.cause", "work.probability", "shot.to-check"})};
  for (const ShotCandidate& c : f.causes)
    if (c.probability >= kWorthARow)
      // Of causes that all miss the log a share says nothing.
      rows.push_back({"<div class=\"do\">" + told(v, c.what) + "</div>",
                      f.verdict == ShotVerdict::unexplained ? "–" : counted_percent(c.probability, v),
                      c.check.empty() ? "" : "<div class=\"do\">" + told(v, c.check) + "</div>"});
  return table(rows, told(v, "shot.causes-caption"));
}

std::string fit_table(const ShotFound& f, const Voice& v) {
  if (!f.resistance_holds())
    return para(told(v, f.verdict == ShotVerdict::unexplained ? "shot.fit-none" : "shot.fit-apart"));
  Rows rows{heads(v, {"shot.fitted", "shot.value-interval"}),
            {told(v, "shot.resistance"), with_interval(f.resistance, v)},
            {told(v, f.rests_on_earlier() ? "shot.normal-range-tool" : "shot.normal-range-job"),
             fixed(f.normal_low, 2, v) + " – " + fixed(f.normal_high, 2, v)},
            {told(v, "shot.permeability-scale"), with_interval(f.permeability, v)},
            {told(v, "shot.viscosity-scale"), with_interval(f.viscosity, v)}};
  if (f.leak_holds())
    rows.push_back({told(v, "shot.leak-share"), percent(f.leak.value, 0, v) + " (" + percent(f.leak.low, 0, v) + " – " +
                                                    percent(f.leak.high, 0, v) + ")"});
  return table(rows) + para(told(v, "shot.fit-note"));
}

std::string vent_table(const ShotFound& f, const Voice& v) {
  if (f.vents.empty()) return "";
  const auto when = [&](double t) {
    return std::isfinite(t) ? with_time(t, f.duration, v) : told(v, "shot.not-within-log");
  };
  Rows rows{heads(v, {"gap.vent", "shot.seen", "work.predicted", "shot.with-cause"})};
  for (const ShotVent& s : f.vents) rows.push_back({own(s.name), when(s.seen), when(s.predicted), when(s.explained)});
  return table(rows);
}

}  // namespace

std::string shot_page(const ShotFile& file) {
  const Voice v = voice_of(file.job);
  const ShotFound& f = file.found;
  std::string charts =
      "<div class=\"pair\">" +
      pressure_chart(file, "shot.pressure-job", "shot.as-the-job", &ShotStretch::predicted, v) +
      (f.verdict == ShotVerdict::normal
           ? std::string()
           : pressure_chart(file, "shot.pressure-cause", "shot.with-cause", &ShotStretch::explained, v)) +
      "</div>\n";
  const auto hash = [](const std::string& s) { return "<code>" + escape(s) + "</code>"; };
  const std::string body =
      shot_verdict(file, v) + section("log", told(v, "shot.log-and-model"), charts + vent_table(f, v)) +
      section("causes", told(v, "shot.possible-causes"), cause_table(f, v) + para(told(v, "shot.causes-note"))) +
      section("fit", told(v, "shot.fit"), fit_table(f, v)) +
      section("provenance", told(v, "proof.where-numbers-come-from"),
              table({{"", ""},
                     {told(v, "shot.log-file"), own(file.log.file)},
                     {told(v, "proof.sha-256"), hash(file.log.sha256)},
                     {told(v, "pages.fillings-computed"), std::to_string(f.fillings)},
                     {told(v, "pages.made-gapfront"), own(file.version)},
                     {told(v, "pages.job-file-sha-256"), hash(file.job_sha256)},
                     {told(v, "pages.lower-scan-sha-256"), hash(file.lower_sha256)},
                     {told(v, "pages.upper-scan-sha-256"), hash(file.upper_sha256)}}));
  return plain_page(file.job, Message("shot.title"), told(v, "shot.title"), body);
}

ShotFile read_shot(const Json& json) {
  ShotFile file;
  Reader reader(json, 0);
  describe(reader, file);
  return file;
}

std::string shot_json(const Measured& m, const ShotLog& log, const ShotFound& found) {
  ShotFile file;
  file.job = m.job, file.version = m.version, file.job_sha256 = m.job_sha256;
  file.lower_sha256 = m.lower_sha256, file.upper_sha256 = m.upper_sha256;
  file.log.file = std::filesystem::path(log.file).filename().string(), file.log.sha256 = log.sha256;
  file.log.viscosity = log.viscosity, file.found = found;
  Writer writer;
  describe(writer, std::as_const(file));
  return writer.out.dump(1) + "\n";
}

std::string shot_schema() {
  Json definitions = first_definitions();
  Schema schema(definitions);
  ShotFile file;
  describe(schema, file);
  return schema_text("shot", kShotVersion, schema, definitions);
}

}  // namespace gapfront::report
