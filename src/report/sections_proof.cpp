// What proves the numbers: uncertainty, provenance, cautions.
#include <algorithm>
#include <cmath>

#include "gapfront/report.hpp"
#include "report/html.hpp"
#include "units/words.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

/// Lands, nominal surfaces, and what each of several methods would have said alone.
std::string align_tables(const Alignment& a, const Voice& v) {
  std::string out;
  const auto length = [&](double mm) { return with_unit(mm, D::length, v); };
  if (a.flange) {
    const FlangeContact& f = *a.flange;
    const auto at = [&](const char* id, double mm, const Vec3& p) {
      return told(v, id, {arg::name(length(mm)), arg::place(p)});
    };
    out +=
        table({heads(v, {"proof.flange", ""}),
               {told(v, "proof.places-compared-each-across", {arg::name(length(f.cell))}), std::to_string(f.places)},
               {told(v, "proof.these-contact"), std::to_string(f.carrying)},
               {told(v, "proof.seen-one-half-only"), std::to_string(f.one_sided)},
               {told(v, "proof.clearance-beyond-stand-off"), length(f.mean_open)},
               {told(v, "proof.greatest-clearance"), at("page.1-at-2", f.max_open, f.max_open_at)},
               {told(v, "proof.rocks"), f.rock > 0 ? at("proof.by-1-at-2", f.rock, f.rock_at) : told(v, "page.no")}});
  }
  if (!a.nominal.empty()) {
    std::vector<std::vector<std::string>> rows{
        heads(v, {"proof.half-nominal-surface", "proof.scatter-root-mean-square", "proof.share-datum-met",
                  "proof.pose-score", "proof.next-other-pose"})};
    for (const auto& n : a.nominal)
      rows.push_back({told(v, half_word(n.half)), length(n.rms), percent(n.overlap, 0, v),
                      n.score > 0 ? fixed(n.score, 2, v) : "–", n.score > 0 ? fixed(n.second_score, 2, v) : "–"});
    out += table(rows);
  }
  if (!a.methods.empty()) {
    std::vector<std::vector<std::string>> rows{
        heads(v, {"proof.method", "proof.chi-square", "proof.alone-would-move-upper"})};
    for (const auto& m : a.methods)
      rows.push_back({told(v, align::method_word(m.name)), fixed(m.chi2, 1, v), length(m.moved)});
    out += table(rows, told(v, "proof.methods-combined-least-squares", {arg::number(a.chi2, 1), arg::number(a.dof)}));
  }
  return out;
}

/// "chi-square 12.3 with 15 degrees of freedom, p = 0.66".
std::string test_words(const TargetTest& t, const Voice& v) {
  if (t.dof <= 0) return "–";
  return told(v, "doubt.chi-square-degrees-freedom",
              {arg::number(t.chi2, 1), arg::number(t.dof), arg::number(t.p, t.p < 0.1 ? 4 : 2)});
}

/// To a tenth of a millimetre: whole ones would tell two balls of one height apart by their rounding.
std::string place_of_ball(const Vec3& p, const Voice& v) {
  const std::string comma = v.language == "en" ? ", " : "; ";  // as say(Place) has it
  const auto number = [&](double mm) { return spoken_length(mm, 1, v.units); };
  const std::string all = "x " + number(p.x()) + comma + "y " + number(p.y()) + comma + "z " + number(p.z());
  return told(v, "list.plain", {arg::name(spelt(all + " " + length_unit(v.units), v))});
}

std::string residual_table(const Alignment& a, const Voice& v) {
  if (a.residuals.empty()) return "";
  const auto number = [&](double mm) { return spelt(shown(mm, D::length, v.units), v); };
  std::vector<std::vector<std::string>> rows{
      heads(v, {"proof.target", "page.place", "proof.residual-x", "y", "z", "proof.length", "proof.ball-fit-lower",
                "proof.ball-fit-upper", "proof.without-this-target"})};
  for (const auto& t : a.residuals)
    rows.push_back({own(t.name), go(t.place, place_of_ball(t.place, v)), number(t.residual.x()), number(t.residual.y()),
                    number(t.residual.z()), with_unit(t.residual.norm(), D::length, v), number(t.lower_form),
                    number(t.upper_form), with_unit(t.leave_one_out, D::length, v)});
  return table(rows, told(v, "proof.targets-residual-after-fit"));
}

/// Readings with the mold clamped against the map, and what they have in common.
std::string spot_readings(const Inspection& r, const Voice& v) {
  if (r.spots.empty()) return "";
  const auto number = [&](double mm) { return spelt(shown(mm, D::length, v.units), v); };
  std::vector<std::vector<std::string>> rows{
      heads(v, {"proof.spot-reading", "proof.map", "U", "proof.reading", "U", "E<sub>n</sub>", ""})};
  for (const auto& s : r.spots)
    rows.push_back({own(s.name), s.found ? number(s.map) : "–", s.found ? number(s.map_U) : "–", number(s.reading),
                    number(s.reading_U), s.found ? fixed(s.En, 2, v) : "–",
                    told(v, !s.found    ? "proof.not-measured-sheet"
                            : s.En <= 1 ? "proof.agrees"
                                        : "proof.disagrees")});
  std::string out = table(rows, rich(v, "proof.spot-readings-mold-clamped")) + spots_chart(r);
  const SpotShift& s = r.spot_shift;
  if (s.parameters <= 0) return out;
  std::string line =
      told(v, s.offset < 0 ? "proof.what-they-have-common-map" : "proof.what-they-have-common",
           {arg::name(with_unit(std::abs(s.offset), D::length, v)), arg::name(with_unit(s.offset_U, D::length, v))});
  const auto add = [&](const std::string& sentence) { line += " " + sentence; };
  if (s.parameters == 3)
    add(told(v, "proof.shows-tilt-besides", {arg::name(fixed(1e3 * s.tilt.norm(), 3, v) + "\u00a0mm/m")}));
  add(told(v, s.p < 0.05 ? "proof.more-than-chance-p" : "proof.may-chance-p", {arg::number(s.p, s.p < 0.1 ? 4 : 2)}));
  add(rich(v, s.removed ? "proof.taken-out-gap-job" : "proof.nothing-taken-out-gap"));
  if (s.p < 0.05 && s.p_beyond >= 0.05) add(told(v, "proof.registration-instrument-temperature-declared"));
  return out + para(line);
}

}  // namespace

std::string registration_tables(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const Alignment& a = r.alignment;
  double worst = 0;
  for (const auto all = fields(r); double u : find_field(all, "u_registration_mm").values)
    if (u > worst) worst = u;
  return table({heads(v, {"proof.registration", ""}),
                {told(v, "proof.method"), told(v, in_one_sentence(a.method))},
                {told(v, "proof.fit-residual-root-mean"), with_unit(a.fit_rms, D::length, v)},
                {told(v, "proof.predicted-error-worst-cavity"), with_unit(worst, D::length, v)},
                {told(v, "doubt.do-halves-targets-agree"), test_words(a.closure, v)},
                {told(v, "doubt.do-lower-halfs-targets"), test_words(a.lower_tool, v)},
                {told(v, "proof.apparent-scale-upper-against"),
                 spoken(a.scale_ppm, 0) + " ± " + fixed(2 * a.scale_ppm_u, 0) + " ppm"}}) +
         para(told(v, "proof.small-residual-does-not")) + align_tables(a, v) + residual_table(a, v);
}

std::string uncertainty_section(const Inspection& r) {
  const Voice v = voice_of(r.job);
  return "<section>" + heading("proof", told(v, "proof.uncertainty")) + "<div class=\"pair\">" + budget_chart(r) +
         residual_chart(r) + "</div>\n" + mean_budget_table(r) + registration_tables(r) + spot_readings(r, v) +
         para(told(
             v, "proof.combination-jcgm-100-gum",
             {arg::number(r.gap.coverage), arg::length(r.verdict.rule.across, 0), arg::number(r.verdict.rule.inside, 2),
              arg::number(r.verdict.rule.outside, 2), arg::number(r.verdict.rule.outside_node, 2)})) +
         list(r, r.alignment.warnings) + "</section>\n";
}

std::string provenance_section(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const CleanReport &lower = r.lower_clean, &upper = r.upper_clean;
  const auto file = [](const HalfInput& in, const std::vector<PatchFit>& further, const std::string& format) {
    std::string names = own(in.file.filename().string());
    for (const PatchFit& f : further) names += "<br>+ " + own(f.path);
    return names + "<br>" + own(format);
  };
  const auto count = [&](const char* name, auto member) {
    return std::vector<std::string>{told(v, name), std::to_string(lower.*member), std::to_string(upper.*member)};
  };
  const auto length = [&](double mm) { return with_unit(mm, D::length, v); };
  const auto size = [&](const char* name, auto member) {
    return std::vector<std::string>{told(v, name), length(lower.*member), length(upper.*member)};
  };
  const auto code = [](const std::string& s) { return "<code>" + escape(s) + "</code>"; };
  return "<section>" + heading("provenance", told(v, "proof.where-numbers-come-from")) +
         table({heads(v, {"proof.half", "page.lower", "page.upper"}),
                {told(v, "proof.file"), file(r.job.lower, r.lower_patches, r.lower_format),
                 file(r.job.upper, r.upper_patches, r.upper_format)},
                {told(v, "proof.sha-256"), code(r.lower_sha256), code(r.upper_sha256)},
                count("proof.points", &CleanReport::read),
                count("proof.not-finite", &CleanReport::nonfinite),
                count("proof.double", &CleanReport::duplicates),
                count("proof.clutter", &CleanReport::clutter),
                count("proof.outliers", &CleanReport::outliers),
                count("proof.kept", &CleanReport::kept),
                size("proof.spacing", &CleanReport::spacing),
                size("proof.noise", &CleanReport::noise)}) +
         extra_inputs_table(r) +
         para(told(v, "zones.sheet-nodes-triangles-edge",
                   {arg::number(r.sheet.size()), arg::number(r.sheet.mesh.triangles.size()),
                    arg::name(length(r.job.sheet.edge)), arg::name(length(r.sheet.edge_p05)),
                    arg::name(length(r.sheet.edge_p95)), arg::name(fixed(r.sheet.min_angle_deg, 0) + "°")}) +
              " " + told(v, "proof.made-gapfront", {arg::name(r.version)}) + " " +
              rich(v, "proof.job-file-sha-256", {arg::name(r.job.file.filename().string()), arg::name(r.job_sha256)})) +
         "<details><summary>" + told(v, "proof.job-file-read") + "</summary><pre>" + escape(r.job.text) +
         "</pre></details></section>\n";
}

std::string cautions_section(const Voice& v) {
  std::string items;
  for (const char* id : {"proof.this-report-calculation-from", "proof.mold-under-vacuum-resin",
                         "proof.mold-halves-heavy", "proof.resins-styrene-organic-peroxides",
                         "proof.grinding-mold-face-makes", "proof.after-any-correction-measure"})
    items += "<li>" + told(v, id) + "</li>";
  return "<section class=\"cautions\">" + heading("cautions", told(v, "proof.cautions")) + "<ul>" + items +
         "</ul></section>\n";
}

}  // namespace gapfront::report
