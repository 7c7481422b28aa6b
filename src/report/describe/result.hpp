// result.json.
#pragma once
#include "report/describe/front.hpp"
#include "report/describe/measured.hpp"
#include "report/describe/plan.hpp"
#include "report/fields.hpp"
#include "report/trial.hpp"

namespace gapfront::report {

/// DEVELOPERS.md says when it rises. 1: until keys of the probabilities, the mean's budget and what holds the mold shut
/// became required.
inline constexpr int kResultVersion = 10;

inline double worst_registration(const Inspection& r) {
  double worst = 0;
  for (const auto all = fields(r); const double u : find_field(all, "u_registration_mm").values)
    if (u > worst) worst = u;
  return worst;
}

void describe(auto& v, Is<Mask> auto& m) {
  v.about("mask");
  v("name", m.name, "Empty: a ball that the job does not name.");
  v("centre_mm", m.centre);
  v("radius_mm", m.radius);
}

void describe_sheet(auto& v, Is<Inspection> auto& r) {
  describe_mesh(v, r.sheet.mesh);
  v("min_angle_deg", r.sheet.min_angle_deg, "99 % of the triangles have no smaller angle.");
  v.object("edge_mm", "Percentiles of the triangles' edges.", [&](auto& g) {
    g("p05", r.sheet.edge_p05);
    g("p50", r.sheet.edge_p50);
    g("p95", r.sheet.edge_p95);
  });
  v("uncovered_area_mm2", r.sheet.uncovered_area, "Inside the seal line, not covered by the lower scan.");
  v("unmeasured_area_mm2", r.gap.unmeasured_area,
    "Inside the seal line, where either scan is missing or no gap was found.");
  v("masked_area_mm2", r.sheet.masked_area,
    "Left out around what stands on the halves; no part of the area that is judged.");
  v("masks", r.job.sheet.masks, "Balls, targets, dowels that reach the sheet.");
  auto all = fields(r);  // when read: their names
  v.object(
      "fields", "One value per node. The list below is that of this program; a result of an older one may lack some.",
      [&](auto& g) {
        for (Field& f : all)
          g.maybe(f.id.c_str(), in_files(f), per_node(rounded(f.dimension == Dimension::pressure ? 1 : 1e6, f.values)),
                  say(Message("list.named", {arg::message(f.title), arg::message(f.meaning)})).c_str());
      });
  if constexpr (!std::is_const_v<std::remove_reference_t<decltype(r)>>)
    v.check(
        "fields", [&] { return put_fields(all, r); }, "must not be empty");
}

void describe(auto& v, Is<Inspection> auto& r) {
  v.about(
      nullptr,
      "What an inspection found. Lengths in mm, times in s, pressures in Pa, masses in g, angles in rad, unless the "
      "name says otherwise; coordinates in the tool frame (fixed to the lower half, Z towards the upper). null is "
      "'not measured' or 'never'. Text is English, whatever the report's language.");
  v.constant("format", "gapfront result");
  v.constant("format_version", kResultVersion,
             "Rises when a reader of the old format would misread the new, and when the program can no longer read the "
             "old.");
  v("program_version", r.version);
  v.object("job", "What the job file asked for, as far as the report shows it.", [&](auto& g) { describe_job(g, r); });
  v.object("lower", nullptr, [&](auto& g) {
    describe_scan(g, r.job.lower, r.lower_patches, r.lower_format, r.lower_sha256, r.lower_clean);
  });
  v.object("upper", nullptr, [&](auto& g) {
    describe_scan(g, r.job.upper, r.upper_patches, r.upper_format, r.upper_sha256, r.upper_clean);
  });
  v("extra_inputs", r.extra_inputs, "Files read besides the two scans.");
  v.object("outcome", "What all of it comes to; every page states `line`.", [&](auto& g) { describe_outcome(g, r); });
  v("doubt", r.doubt,
    "Why nothing is judged: the registration must be checked first. Then the verdict is 'not judged', all shares are "
    "0, "
    "and front and corrections are empty. null: no doubt.");
  v.object("verdict", "Decision rule of ISO 14253-1 on the mean gap about every node, and what it comes to.",
           [&](auto& g) {
             describe_verdict(g, r.verdict);
             g.derived(
                 "provisional", [&] { return job::provisional(r.job); },
                 "Nominal thickness or tolerance is a guess that nobody has confirmed.");
           });
  v.object("seal", "Where the line comes from inside which the sheet lies.",
           [&](auto& g) { describe_seal(g, r.seal, r.job.sheet.seal); });
  v.object("registration", nullptr,
           [&](auto& g) { describe_registration(g, r.alignment, [&] { return worst_registration(r); }); });
  v("spot_readings", r.spots, "Readings with the mold clamped, against the map before any shift is taken out.");
  v("spot_shift", r.spot_shift);
  v.object("laminate", nullptr, [&](auto& g) { describe_laminate(g, r); });
  v.object("front", nullptr, [&](auto& g) { describe_front(g, r); });
  v("corrections", r.plan);
  v.object("material", "Glass and resin of one part.", [&](auto& g) {
    g("now", r.material);
    g("after_corrections", r.material_after);
    g("nominal", r.nominal_material);
  });
  v.object("expectations",
           "After the work: what an earlier inspection predicted for each correction, and what was achieved.",
           [&](auto& g) {
             g("from", r.expects, "That inspection; empty: none.");
             g("corrections", coarse(r.confirmed));
             g.maybe("says", !r.expected_says.empty(), r.expected_says, "Of all of them together.");
           });
  v("warnings", r.warnings);
  v.object("sheet", "The triangle mesh on the lower moulding face, and what is known at each of its nodes.",
           [&](auto& g) { describe_sheet(g, r); });
  std::string trials = trial_text(r.live);
  v.maybe("trial_data", !trials.empty(), trials,
          "For the report's page alone: what its own trials compute with, as the program did, every bit of it. Base64 "
          "of a deflated stream that only the same version reads. Absent where nothing can be tried.");
  if constexpr (!std::is_const_v<std::remove_reference_t<decltype(r)>>)
    if (!trials.empty())
      v.check(
          "trial_data", [&] { return put_trials(trials, r); }, "is no such stream");
  v.maybe("times_s", true, rounded(1e3, by_name(r.times)), "Left out where results are compared.");
}

}  // namespace gapfront::report
