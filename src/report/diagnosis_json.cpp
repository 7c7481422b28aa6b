// diagnosis.json: what a diagnosis found, for programs, and all that its page needs.
#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"
#include "report/fields.hpp"
#include "report/plain_page.hpp"

namespace gapfront {
namespace {

using namespace report;

/// A share or a probability; below nothing: not computed.
Json chance(double p) { return p < 0 ? Json() : number(p); }

Json effect(const Effect& e) {
  return {{"out_of_tolerance_area_mm2", number(e.out_of_tolerance_area)},
          {"greatest_lead_s", number(e.greatest_lead_s)},
          {"dry_area_mm2", number(e.dry_area)},
          {"fill_time_s", number(e.fill_time)},
          {"last_point_to_vent_mm", number(e.last_to_vent)}};
}

Json spot(const SpotDiagnosis& d, const CorrectionPlan& plan) {
  Json causes = Json::array(), suspects = Json::array(), cure = nullptr;
  for (const Cause& c : d.causes)
    causes.push_back({{"kind", to_string(c.kind)},
                      {"name", c.name},
                      {"what", c.what},
                      {"is_gap", c.is_gap},
                      {"relief", number(c.relief)},
                      {"without", number(c.without)},
                      {"probability", chance(c.probability)}});
  for (const Suspect& s : d.suspects)
    suspects.push_back({{"what", s.what}, {"measure", s.measure}, {"trouble", number(s.trouble)}});
  if (d.cure >= 0) {
    const Correction& c = plan.candidates.at(d.cure);
    cure = {{"correction", c.name},
            {"kind", to_string(c.kind)},
            {"effort_h", number(c.effort)},
            {"trouble", number(d.cure_trouble)},
            {"probability", chance(d.cure_probability)},
            {"spot_fill_time_s", number(d.cure_fill_time)},
            {"before", effect(c.before)},
            {"after", effect(c.after)}};
  }
  return {{"at_mm", point(d.spot.at)},
          {"size_mm", number(d.spot.size)},
          {"seen", d.spot.seen},
          {"parts", d.spot.parts},
          {"headline", d.headline},
          {"predicted", d.predicted},
          {"gap_explains", d.gap_explains},
          {"trouble", number(d.trouble)},
          {"trouble_nominal", number(d.nominal_trouble)},
          {"probability", chance(d.probability)},
          {"seen_fits", d.seen_fits},
          {"causes", causes},
          {"suspects", suspects},
          {"discriminate", d.discriminate},
          {"cure", d.cure_text},
          {"cure_effect", cure}};
}

Json pockets(const Filling& f) {
  Json out = Json::array();
  for (const Pocket& p : f.pockets)
    out.push_back({{"centre_mm", point(p.centre)},
                   {"closed_at_s", number(p.closed_at)},
                   {"initial_volume_mm3", number(p.initial_volume)},
                   {"final_volume_mm3", number(p.final_volume)}});
  return out;
}

}  // namespace

std::string diagnosis_json(const Inspection& r, const Diagnosis& d) {
  Json spots = Json::array(), regions = Json::array();
  for (const auto& s : d.spots) spots.push_back(spot(s, r.plan));
  for (const auto& g : r.verdict.regions)
    regions.push_back({{"name", g.name}, {"centre_mm", point(g.centre)}, {"outline_mm", points(g.outline)}});
  Json sheet = mesh(r.sheet.mesh);
  const auto all = fields(r);
  for (const char* id : {"deviation_mm", "arrival_s", "arrival_nominal_s", "lead_s"})
    sheet["fields"][id] = column(find_field(all, id).values);
  const Json out = {{"format", "gapfront diagnosis"},
                    {"format_version", 1},
                    {"program_version", r.version},
                    {"job", job_json(r.job)},
                    {"job_sha256", r.job_sha256},
                    {"lower_sha256", r.lower_sha256},
                    {"upper_sha256", r.upper_sha256},
                    {"outcome", outcome_line(r)},
                    {"spots", spots},
                    {"fillings_computed", d.fillings},
                    {"fill_time_s", number(r.filling.fill_time)},
                    {"fill_time_nominal_s", number(r.nominal_filling.fill_time)},
                    {"pockets", pockets(r.filling)},
                    {"pockets_nominal", pockets(r.nominal_filling)},
                    {"regions", regions},
                    {"sheet", sheet}};
  return out.dump(1) + "\n";
}

}  // namespace gapfront
