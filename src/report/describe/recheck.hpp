// recheck.json.
#pragma once
#include "gapfront/recheck.hpp"
#include "report/describe/head.hpp"

namespace gapfront::report {

inline constexpr int kRecheckVersion = 4;

void describe(auto& v, Is<Record> auto& r) {
  v.about("inspection", "One of the two inspections that are compared.");
  v("date", r.date);
  v("cycles", r.cycles, "Parts made until then.");
  v("name", r.name);
  v("instrument", r.instrument, "The scanner; empty: not named.");
  v("verdict", r.verdict);
  v("fill_time_s", r.fill_time);
  v("dry_area_mm2", r.dry_area);
  v("last_point_to_vent_mm", r.last_to_vent);
  v("program_version", r.version);
  v("job_sha256", hash(r.job_sha256));
  v("lower_sha256", hash(r.lower_sha256));
  v("upper_sha256", hash(r.upper_sha256));
}

void describe(auto& v, Is<Line> auto& l) {
  v.about("line", "Weighted regression through the course; value = at_first + rate · (cycles − from_cycles).");
  v("from_cycles", l.first);
  v("at_first_mm", l.at_first);
  v("rate_mm_per_cycle", fine(l.rate));
  v("covariance", row(exact(l.v00), exact(l.v01), exact(l.v11)), "Of at_first and rate: 00, 01, 11.");
  v("t_95", l.t);
  v("degrees_of_freedom", l.dof);
  v("birge_ratio", l.scale, "By how much the scatter about the line exceeds the uncertainties; at least 1.");
}

void describe(auto& v, Is<Wear> auto& w) {
  v.about("wear", "A place that has provably changed.");
  v("name", w.name);
  v("face", w.face, "lower, upper or both.");
  v("lower_share", w.lower_fraction, "Of the change that the lower face made.");
  v("lower_share_U", w.lower_fraction_U);
  v("centre_mm", w.centre);
  v("area_mm2", w.area);
  v("mean_mm", w.mean, "Change of the gap, mean over the place.");
  v("mean_U_mm", w.mean_U);
  v("worst_mm", w.worst, "Where the change is greatest.");
  v("peak_mm", w.peak, "Change of the gap there.");
  v("peak_U_mm", w.peak_U);
  v("rate_mm_per_cycle", fine(w.rate), "There; null: the course is bent.");
  v("rate_U_mm_per_cycle", fine(w.rate_U));
  v("mean_rate_mm_per_cycle", fine(w.mean_rate), "Of the mean; null: the course is bent.");
  v("mean_rate_U_mm_per_cycle", fine(w.mean_rate_U));
  v("limit_mm", w.limit, "Gap there that ends the use, with the seat's movement taken out as in the course.");
  v.maybe("seat_mm", w.seat != 0, w.seat, "What the seat's movement takes of the gap there; counted in the limit.");
  v.maybe(
      "limit_by_seat_only", w.by_seat, w.by_seat,
      "The seat's movement takes the gap past its limit, the wear alone does not: limit and cycles are those of the "
      "wear alone; absent: false.");
  v.maybe("course_bent", w.bent, w.bent,
          "No straight line holds through the course: no rate, and no cycles left; absent: false.");
  v.maybe("past_limit_at_top_only", w.narrow, w.narrow, "Not over the least area that the verdict judges.");
  v("enough_evidence", w.enough, "For a finite interval of the cycles that are left.");
  v("cycles_left", never(w.left), "null: no end in sight.");
  v("cycles_left_low", never(w.left_low), "95 % interval.");
  v("cycles_left_high", never(w.left_high));
  v.maybe("cycles_left_at_fastest_pace", std::isfinite(w.soonest), w.soonest,
          "At the fastest credible pace between two dates; absent: not known.");
  v.constant("course_columns", {"cycles", "gap_mm", "u_mm"});
  v("course", each(w.course, [](auto& p) { return row(p.cycles, p.value, p.u); }));
  v("line", only_if(w.line.dof > 0 && !w.bent, w.line), "null: the course is bent, or no cycles between the dates.");
  v("outline_mm", w.outline);
}

void describe(auto& v, Is<Vanished> auto& g) {
  v.about("vanished_change", "A change that an earlier inspection proved, and the next one no longer shows.");
  v("at_mm", g.at);
  v("change_mm", g.was, "Of the gap there since the baseline, when it was last seen.");
  v("change_U_mm", g.was_U);
  v("seen_date", g.date);
  v("seen_cycles", g.cycles);
  v("gone_date", g.gone, "Of the inspection that first lacks it.");
  v("gone_cycles", g.gone_cycles);
  v("left_mm", g.left, "Of it today.");
}

void describe(auto& v, Is<DatumMove> auto& m) {
  v.about("moved_target", "A target that is not where it was, seen from the others.");
  v("target", m.name);
  v("several", m.several, "It moved most, and is not the only one.");
  v("half", one_of(m.half, {"lower", "upper"}));
  v("distance_mm", m.distance);
  v("U_mm", m.U);
}

/// Change of the gap where it is significant, 0 elsewhere; and back.
inline std::vector<double> significant_change(const Recheck& r) {
  std::vector<double> out = r.remainder;
  for (std::size_t i = 0; i < out.size(); ++i)
    if (!r.significant[i] && std::isfinite(out[i])) out[i] = 0;
  return out;
}
inline Vec3 front_place(const Recheck& r) {
  return r.front.max_node < 0 ? Vec3::Zero().eval() : r.sheet.mesh.points[r.front.max_node];
}
/// The node at a place; −1: none.
inline int node_at(const Sheet& s, const Vec3& place) {
  int best = -1;
  for (std::size_t i = 0; i < s.size(); ++i)
    if (best < 0 || (s.mesh.points[i] - place).norm() < (s.mesh.points[best] - place).norm())
      best = static_cast<int>(i);
  return best;
}

/// What the file holds.
struct RecheckFile {
  Job job;
  Recheck recheck;
  Text outcome;  ///< of the inspection that was re-checked
};
void describe(auto& v, Is<RecheckFile> auto& file) {
  auto& r = file.recheck;
  v.about(nullptr,
          "What has changed on a tool since an earlier inspection. Lengths in mm, times in s; coordinates in the tool "
          "frame. null is 'not measured', or 'never'.");
  v.constant("format", "gapfront re-check");
  v.constant("format_version", kRecheckVersion);
  v.object("job", nullptr, [&](auto& g) { describe_head(g, file.job); });
  v("headline", r.headline);
  v.maybe("outcome", true, file.outcome, "What the inspection comes to; files of before lack it.");
  v("now", r.now);
  v("then", r.then);
  v("datum", word(r.datum, DatumState::untold), "Whether targets or upper half stand where they stood.");
  v("moved_targets", r.moved);
  v("rigid_offset_mm", r.rigid.offset, "Rigid motion of the upper half since then, along the opening axis.");
  v("rigid_offset_U_mm", r.rigid.offset_U);
  v("rigid_rms_mm", r.rigid.rms, "Effect of that motion on the gap, root mean square.");
  v("rigid_rms_U_mm", r.rigid.rms_U);
  v("rigid_p", fine(r.rigid_p), "p-value of so large a motion if nothing moved.");
  v("detects_mm", r.detects, "Change at one place that would still have been found.");
  v("scatter_over_U", r.inflation, "By how much the scatter of the drift exceeds what U says.");
  v("carried_by_targets", r.transform_targets, "Targets that brought the scans onto the common sheet.");
  v("wear", r.wear, "The greatest volume first.");
  v.maybe("vanished", !r.vanished.empty(), r.vanished, "The latest first; absent: none.");
  v.maybe("seat_first", r.seat_first, r.seat_first,
          "The upper half's seat is to be put right before anything else; absent: false.");
  v.maybe("history_rows_sha256", !r.rows_sha256.empty(), r.rows_sha256,
          "Of the history's rows that were compared; files of before lack it.");
  v.object_if(r.front.max_node >= 0, "front", "How the front has changed; positive: it comes earlier now.",
              [&](auto& g) {
                g("greatest_s", r.front.max_s);
                g.via(
                    "greatest_at_mm", [&] { return front_place(r); },
                    [&](const auto& at) { r.front.max_node = node_at(r.sheet, at); });
                g("rms_s", r.front.rms_s);
              });
  v("not_compared_mm2", r.not_compared,
    "That one of the two dates does not show, where it is enough for a wear to hide in; 0: all is compared.");
  v.maybe("unsure", r.unsure, r.unsure,
          "Something changed, or scatters too much, and no place of wear can be named; absent: false.");
  v.object("next", "The next re-check.", [&](auto& g) {
    g("cycles", r.next_cycles);
    g("date", r.next_date, "Empty: the pace is not known.");
    g("why", r.next_why);
  });
  v("cancels", r.cancels, "What drops out of the difference.");
  v("notes", r.notes);
  v.object("sheet", nullptr, [&](auto& g) {
    describe_mesh(g, r.sheet.mesh);
    g.object("fields", "One value per node.", [&](auto& f) {
      f("drift_mm", per_node(r.drift), "Gap now − gap then.");
      f("drift_U_mm", per_node(r.U));
      f("remainder_mm", per_node(r.remainder), "Drift without the rigid motion.");
      f.via(
          "significant_mm", [&] { return per_node(significant_change(r)); },
          [&](const auto& change) {
            r.significant.assign(change.value.size(), 0);
            for (std::size_t i = 0; i < change.value.size(); ++i)
              r.significant[i] = std::isfinite(change.value[i]) && change.value[i] != 0;
          },
          "Remainder where it is more than noise; elsewhere 0.");
      f("u_carried_mm", per_node(r.u_transform), "Of bringing the scans onto the common sheet.");
      f("front_lead_s", per_node(r.front.seconds), "Arrival then − arrival now.");
    });
  });
}

}  // namespace gapfront::report
