// diagnosis.json: what a diagnosis found, for programs, and all that its page needs.
#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"
#include "report/fields.hpp"
#include "report/plain_page.hpp"

namespace gapfront {
namespace {

using namespace report;

/// Null: nothing was drawn.
Json chance(const Chance& c) {
  if (c.draws <= 0) return {};
  return {{"p", number(c.p)}, {"low", number(c.low)}, {"high", number(c.high)}, {"hits", c.hits}, {"draws", c.draws}};
}

Json effect(const Effect& e) {
  return {{"out_of_tolerance_area_mm2", number(e.out_of_tolerance_area)},
          {"greatest_lead_s", number(e.max_lead_s)},
          {"dry_area_mm2", number(e.dry_area)},
          {"fill_time_s", number(e.fill_time)},
          {"last_point_to_vent_mm", number(e.last_to_vent)}};
}

/// What cures the spot: all that the plan has chosen, or one more.
Json cure(const SpotDiagnosis& d, const CorrectionPlan& plan) {
  if (d.cure_by == CureBy::none) return nullptr;
  Json names = Json::array();
  double effort = 0;
  const auto add = [&](int k) {
    const Correction& c = plan.candidates.at(k);
    names.push_back({{"name", c.name}, {"kind", to_string(c.kind)}});
    effort += c.effort;
  };
  for (const int k : plan.chosen) add(k);
  if (d.cure_by == CureBy::one) add(d.cure);
  Json out = {{"corrections", names},
              {"effort_h", number(effort)},
              {"trouble", number(d.cure_trouble)},
              {"probability", chance(d.cure_chance)},
              {"fill_time_s", number(d.cure_fill_time)},
              {"before", effect(plan.now)},
              {"after", nullptr}};
  // Of one more on top of others nobody has computed it.
  if (d.cure_by == CureBy::plan) out["after"] = effect(plan.after);
  if (d.cure_by == CureBy::one && plan.chosen.empty()) out["after"] = effect(plan.candidates.at(d.cure).after);
  return out;
}

Json spot(const SpotDiagnosis& d, const CorrectionPlan& plan) {
  Json causes = Json::array(), suspects = Json::array(), planned = nullptr;
  for (const Cause& c : d.causes)
    causes.push_back({{"kind", to_string(c.kind)},
                      {"name", c.name},
                      {"what", c.what},
                      {"is_gap", c.is_gap},
                      {"relief", number(c.relief)},
                      {"without", number(c.without)},
                      {"probability", chance(c.chance)}});
  for (const Suspect& s : d.suspects)
    suspects.push_back(
        {{"what", s.what}, {"measure", s.measure}, {"trouble", number(s.trouble)}, {"sheet_left_dry", number(s.dry)}});
  if (d.plan_works)
    planned = {{"trouble", number(d.plan_trouble)},
               {"probability", chance(d.plan_chance)},
               {"fill_time_s", number(d.plan_fill_time)}};
  return {{"at_mm", point(d.spot.at)},
          {"size_mm", number(d.spot.size)},
          {"seen", d.spot.seen},
          {"parts", d.spot.parts},
          {"headline", d.headline},
          {"predicted", d.predicted},
          {"gap_explains", d.gap_explains},
          {"layout", d.layout},
          {"trouble", number(d.trouble)},
          {"trouble_nominal", number(d.nominal_trouble)},
          {"probability_model", chance(d.model)},
          {"probability", chance(d.now)},
          {"probability_nominal", chance(d.nominal)},
          {"seen_fits", d.seen_fits},
          {"causes", causes},
          {"suspects", suspects},
          {"discriminate", d.discriminate},
          {"with_the_chosen_corrections", planned},
          {"cure", d.cure_text},
          {"cure_steps", d.cure_steps},
          {"cure_effect", cure(d, plan)}};
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
                    {"format_version", 2},
                    {"program_version", r.version},
                    {"job", job_json(r.job)},
                    {"job_sha256", r.job_sha256},
                    {"lower_sha256", r.lower_sha256},
                    {"upper_sha256", r.upper_sha256},
                    {"outcome", outcome_line(r)},
                    {"spots", spots},
                    {"fillings_computed", d.fillings},
                    {"cured_below", number(d.cured_below)},
                    {"traps_air_now", chance(r.outcome.now.air)},
                    {"traps_air_after", chance(r.outcome.after.air)},
                    {"fill_time_s", number(r.filling.fill_time)},
                    {"fill_time_nominal_s", number(r.nominal_filling.fill_time)},
                    {"pockets", pockets(r.filling)},
                    {"pockets_nominal", pockets(r.nominal_filling)},
                    {"regions", regions},
                    {"sheet", sheet}};
  return out.dump(1) + "\n";
}

}  // namespace gapfront
