// What proves the numbers: uncertainty, provenance, cautions.
#include <algorithm>
#include <cmath>

#include "report/html.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

/// Lands, nominal surfaces, and what each of several methods would have said alone.
std::string align_tables(const Alignment& a, UnitSystem u) {
  std::string out;
  if (a.flange) {
    const FlangeContact& f = *a.flange;
    std::vector<std::vector<std::string>> rows{
        {"flange", ""},
        {"places compared, each " + with_unit(f.cell, D::length, u) + " across", std::to_string(f.places)},
        {"of these in contact", std::to_string(f.carrying)},
        {"seen in one half only", std::to_string(f.one_sided)},
        {"clearance beyond the stand-off, mean", with_unit(f.mean_open, D::length, u)},
        {"greatest clearance", with_unit(f.max_open, D::length, u) + " at " + place(f.max_open_at, u)}};
    rows.push_back(
        {"rocks", f.rock > 0 ? "by " + with_unit(f.rock, D::length, u) + " at " + place(f.rock_at, u) : "no"});
    out += table(rows);
  }
  if (!a.nominal.empty()) {
    std::vector<std::vector<std::string>> rows{{"half on its nominal surface", "scatter (root mean square)",
                                                "share of the datum met", "pose score", "next other pose"}};
    for (const auto& n : a.nominal)
      rows.push_back({n.half, with_unit(n.rms, D::length, u), fixed(100 * n.overlap, 0) + " %",
                      n.score > 0 ? fixed(n.score, 2) : "–", n.score > 0 ? fixed(n.second_score, 2) : "–"});
    out += table(rows);
  }
  if (!a.methods.empty()) {
    std::vector<std::vector<std::string>> rows{{"method", "chi-square", "alone it would move the upper half by"}};
    for (const auto& m : a.methods) rows.push_back({own(m.name), fixed(m.chi2, 1), with_unit(m.moved, D::length, u)});
    out += table(rows, "Methods combined by least squares, each weighted by its own uncertainty; together chi-square " +
                           fixed(a.chi2, 1) + " with " + fixed(a.dof, 0) + " degrees of freedom");
  }
  return out;
}

/// "chi-square 12.3 with 15 degrees of freedom, p = 0.66".
std::string test_words(const TargetTest& t) {
  if (t.dof <= 0) return "–";
  return "chi-square " + fixed(t.chi2, 1) + " with " + fixed(t.dof, 0) + " degrees of freedom, p = " + fixed(t.p, 4);
}

}  // namespace

std::string registration_tables(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const Alignment& a = r.alignment;
  double worst = 0;
  for (const auto all = fields(r); double v : find_field(all, "u_registration_mm").values)
    if (v > worst) worst = v;
  std::string out =
      table({{"registration", ""},
             {"method", told(r, in_one_sentence(a.method))},
             {"fit residual (root mean square)", with_unit(a.fit_rms, D::length, u)},
             {"predicted error at the worst cavity point (1 standard uncertainty)", with_unit(worst, D::length, u)},
             {"do the halves' targets agree", test_words(a.closure)},
             {"do the lower half's targets agree with their tool places", test_words(a.lower_tool)},
             {"apparent scale, upper against lower",
              spoken(a.scale_ppm, 0) + " ± " + fixed(2 * a.scale_ppm_u, 0) + " ppm"}}) +
      para("A small residual does not prove a small error elsewhere (Fitzpatrick 2009): read the two lines together.");
  out += align_tables(a, u);
  if (!a.residuals.empty()) {
    std::vector<std::vector<std::string>> rows{{"target", "place", "residual x", "y", "z", "length", "ball fit, lower",
                                                "ball fit, upper", "without this target"}};
    for (const auto& t : a.residuals)
      rows.push_back({own(t.name), place(t.place, u), shown(t.residual.x(), D::length, u),
                      shown(t.residual.y(), D::length, u), shown(t.residual.z(), D::length, u),
                      with_unit(t.residual.norm(), D::length, u), shown(t.lower_form, D::length, u),
                      shown(t.upper_form, D::length, u), with_unit(t.leave_one_out, D::length, u)});
    out += table(rows,
                 "Targets: residual after the fit, form of the fitted balls, and the miss predicted when the target is "
                 "left out");
  }
  return out;
}

std::string uncertainty_section(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const Alignment& a = r.alignment;
  std::string out = "<section>" + heading("proof", "The uncertainty") + "<div class=\"pair\">" + budget_chart(r) +
                    residual_chart(r) + "</div>\n" + mean_budget_table(r) + registration_tables(r);
  if (!r.spots.empty()) {
    std::vector<std::vector<std::string>> rows{{"spot reading", "map", "U", "reading", "U", "E<sub>n</sub>", ""}};
    for (const auto& s : r.spots)
      rows.push_back({own(s.name), s.found ? shown(s.map, D::length, u) : "–",
                      s.found ? shown(s.map_U, D::length, u) : "–", shown(s.reading, D::length, u),
                      shown(s.reading_U, D::length, u), s.found ? fixed(s.En, 2) : "–",
                      !s.found    ? "not on the measured sheet"
                      : s.En <= 1 ? "agrees"
                                  : "disagrees"});
    out +=
        table(rows, "Spot readings with the mold clamped (agreement: E<sub>n</sub> ≤ 1, ISO 13528)") + spots_chart(r);
    if (const SpotShift& s = r.spot_shift; s.parameters > 0) {
      const double tilt = 1e3 * s.tilt.norm();
      std::string line = "What they have in common: the map shows " + with_unit(std::abs(s.offset), D::length, u) +
                         (s.offset < 0 ? " less" : " more") + " gap (U " + with_unit(s.offset_U, D::length, u) + ").";
      if (s.parameters == 3) line += " It shows a tilt of " + fixed(tilt, 3) + " mm/m besides.";
      line += (s.p < 0.05 ? " That is more than chance (p = " : " That may be chance (p = ") + fixed(s.p, 4) + ").";
      line += s.removed ? " <b>It was taken out of the gap</b>, as the job asks, and U gained what it is not known to. "
                          "The table compares with the map before that."
                        : " Nothing was taken out of the gap.";
      if (s.p < 0.05 && s.p_beyond >= 0.05)
        line += " Registration, instrument and temperature, as declared, may explain it.";
      out += para(line);
    }
  }
  out += para("Combination by JCGM 100 (GUM), U = " + fixed(r.gap.coverage, 0) +
              " u. Decision rule of ISO 14253-1: conforming is what is inside the limits by at least U; "
              "nonconforming is what is outside by more than U; between the two nothing is proven.");
  return out + list(r, a.warnings) + "</section>\n";
}

std::string provenance_section(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const CleanReport &lower = r.lower_clean, &upper = r.upper_clean;
  const auto file = [](const HalfInput& in, const std::string& format) {
    return own(in.file.filename().string()) + "<br>" + own(format);
  };
  const auto count = [&](const char* name, auto member) {
    return std::vector<std::string>{name, std::to_string(lower.*member), std::to_string(upper.*member)};
  };
  const auto size = [&](const char* name, auto member) {
    return std::vector<std::string>{name, with_unit(lower.*member, D::length, u),
                                    with_unit(upper.*member, D::length, u)};
  };
  std::string out = "<section>" + heading("provenance", "Where the numbers come from");
  out +=
      table({{"half", "lower", "upper"},
             {"file", file(r.job.lower, r.lower_format), file(r.job.upper, r.upper_format)},
             {"SHA-256", "<code>" + escape(r.lower_sha256) + "</code>", "<code>" + escape(r.upper_sha256) + "</code>"},
             count("points", &CleanReport::read),
             count("not finite", &CleanReport::nonfinite),
             count("double", &CleanReport::duplicates),
             count("clutter", &CleanReport::clutter),
             count("outliers", &CleanReport::outliers),
             count("kept", &CleanReport::kept),
             size("spacing", &CleanReport::spacing),
             size("noise", &CleanReport::noise)});
  out += extra_inputs_table(r);
  out += para("Sheet: " + std::to_string(r.sheet.size()) + " nodes, " + std::to_string(r.sheet.mesh.triangles.size()) +
              " triangles, edge " + with_unit(r.job.sheet.edge, D::length, u) + " (nine of ten from " +
              with_unit(r.sheet.edge_p05, D::length, u) + " to " + with_unit(r.sheet.edge_p95, D::length, u) +
              "), 99 % of triangles have no angle under " + fixed(r.sheet.min_angle_deg, 0) + "°. Made by gapfront " +
              own(r.version) + ". Job file <code>" + escape(r.job.file.filename().string()) +
              "</code>, SHA-256 <code>" + escape(r.job_sha256) + "</code>.");
  return out + "<details><summary>The job file as it was read</summary><pre>" + escape(r.job.text) +
         "</pre></details></section>\n";
}

std::string cautions_section() {
  return "<section class=\"cautions\">" + heading("cautions", "Cautions") +
         "<ul><li>This report is a calculation from scans and declared data. It replaces neither judgement nor "
         "licensed practice; local codes, the "
         "resin maker's data sheet and the equipment makers' instructions come first.</li>"
         "<li>A mold under vacuum or resin pressure stores energy. Relieve both before loosening a clamp, and keep "
         "clear of the parting line while injecting.</li>"
         "<li>Mold halves are heavy. Lift with rated gear, support the open half, and never reach under a half that "
         "only hangs.</li>"
         "<li>Resins, styrene and organic peroxides harm eyes, skin and lungs, and can burn. Ventilate, keep ignition "
         "away, wear the protection that the "
         "data sheets name, and never mix peroxide with accelerator directly.</li>"
         "<li>Grinding a mold face makes harmful dust, glass and silica among it. Extract it at the tool and wear a "
         "fitted respirator.</li>"
         "<li>After any correction, measure again before making a part.</li></ul></section>\n";
}

}  // namespace gapfront::report
