// recheck.json: what a re-check found, for programs, and all that its page needs.
#include "gapfront/pages.hpp"
#include "report/plain_page.hpp"

namespace gapfront {
namespace {

using namespace report;

// Rates are some 1e-5 mm per cycle, and chances may be tiny.
constexpr double kFine = 1e12;

Json inspection(const Record& r) {
  return {{"date", r.date},
          {"cycles", number(r.cycles)},
          {"name", r.name},
          {"instrument", r.instrument},
          {"verdict", r.verdict},
          {"fill_time_s", number(r.fill_time)},
          {"dry_area_mm2", number(r.dry_area)},
          {"last_point_to_vent_mm", number(r.last_to_vent)},
          {"program_version", r.version},
          {"job_sha256", r.job_sha256},
          {"lower_sha256", r.lower_sha256},
          {"upper_sha256", r.upper_sha256}};
}

Json wear(const Wear& w) {
  Json course = Json::array(), line = nullptr;
  for (const auto& p : w.course) course.push_back(Json::array({number(p.cycles), number(p.value), number(p.u)}));
  if (const Line& l = w.line; l.dof > 0)
    line = {{"from_cycles", number(l.first)},
            {"at_first_mm", number(l.at_first)},
            {"rate_mm_per_cycle", number(l.rate, kFine)},
            {"covariance", Json::array({l.v00, l.v01, l.v11})},
            {"t_95", number(l.t)},
            {"degrees_of_freedom", number(l.dof)},
            {"birge_ratio", number(l.scale)}};
  return {{"name", w.name},
          {"face", w.face},
          {"lower_share", number(w.lower_fraction)},
          {"lower_share_U", number(w.lower_fraction_U)},
          {"centre_mm", point(w.centre)},
          {"area_mm2", number(w.area)},
          {"mean_mm", number(w.mean)},
          {"mean_U_mm", number(w.mean_U)},
          {"worst_mm", point(w.worst)},
          {"peak_mm", number(w.peak)},
          {"peak_U_mm", number(w.peak_U)},
          {"rate_mm_per_cycle", number(w.rate, kFine)},
          {"rate_U_mm_per_cycle", number(w.rate_U, kFine)},
          {"mean_rate_mm_per_cycle", number(w.mean_rate, kFine)},
          {"mean_rate_U_mm_per_cycle", number(w.mean_rate_U, kFine)},
          {"limit_mm", number(w.limit)},
          {"enough_evidence", w.enough},
          {"cycles_left", number(w.left)},
          {"cycles_left_low", number(w.left_low)},
          {"cycles_left_high", number(w.left_high)},
          {"course_columns", {"cycles", "gap_mm", "u_mm"}},
          {"course", course},
          {"line", line},
          {"outline_mm", points(w.outline)}};
}

}  // namespace

std::string recheck_json(const Job& job, const Recheck& r, const std::string& outcome) {
  Json all_wear = Json::array(), moved = Json::array(), front = nullptr;
  for (const auto& w : r.wear) all_wear.push_back(wear(w));
  for (const auto& m : r.moved)
    moved.push_back({{"target", m.name}, {"half", m.half}, {"distance_mm", number(m.distance)}, {"U_mm", number(m.U)}});
  if (r.front.max_node >= 0)
    front = {{"greatest_s", number(r.front.max_s)},
             {"greatest_at_mm", point(r.sheet.mesh.points[r.front.max_node])},
             {"rms_s", number(r.front.rms_s)}};
  std::vector<double> significant = r.remainder;
  for (std::size_t i = 0; i < significant.size(); ++i)
    if (!r.significant[i] && std::isfinite(significant[i])) significant[i] = 0;
  Json sheet = mesh(r.sheet.mesh);
  sheet["fields"] = {{"drift_mm", column(r.drift)},           {"drift_U_mm", column(r.U)},
                     {"remainder_mm", column(r.remainder)},   {"significant_mm", column(significant)},
                     {"u_carried_mm", column(r.u_transform)}, {"front_lead_s", column(r.front.seconds)}};
  const Json out = {{"format", "gapfront re-check"},
                    {"format_version", 1},
                    {"job", job_json(job)},
                    {"headline", r.headline},
                    {"outcome", outcome},
                    {"now", inspection(r.now)},
                    {"then", inspection(r.then)},
                    {"datum", to_string(r.datum)},
                    {"moved_targets", moved},
                    {"rigid_offset_mm", number(r.rigid.offset)},
                    {"rigid_offset_U_mm", number(r.rigid.offset_U)},
                    {"rigid_rms_mm", number(r.rigid.rms)},
                    {"rigid_rms_U_mm", number(r.rigid.rms_U)},
                    {"rigid_p", number(r.rigid_p, kFine)},
                    {"detects_mm", number(r.detects)},
                    {"scatter_over_U", number(r.inflation)},
                    {"carried_by_targets", r.transform_targets},
                    {"wear", all_wear},
                    {"front", front},
                    {"next", {{"cycles", number(r.next_cycles)}, {"date", r.next_date}, {"why", r.next_why}}},
                    {"cancels", r.cancels},
                    {"notes", r.notes},
                    {"sheet", sheet}};
  return out.dump(1) + "\n";
}

}  // namespace gapfront
