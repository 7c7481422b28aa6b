// The page of a measurement in doubt: why nothing is judged, and what proves it.
#include "report/html.hpp"

namespace gapfront::report {
std::string masked_line(const Inspection& r) {
  // Balls on a flange outside the seal line leave nothing out.
  if (r.job.sheet.masks.empty() || (!r.doubt && !(r.sheet.masked_area > 0))) return "";
  const Voice v = voice_of(r.job);
  std::string names;
  for (const Mask& m : r.job.sheet.masks) names += (names.empty() ? "" : ", ") + told(v, word_of(m));
  return para(told(v, Text{Message("doubt.masked-around-what-stands", {arg::area(r.sheet.masked_area)}),
                           Message("doubt.no-region-no-correction")})) +
         para("<small translate=\"no\">" + names + "</small>");
}

std::string doubt_sections(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const Doubt& d = *r.doubt;
  std::string out = "<section class=\"verdict bad\"><p class=\"word\">" + told(v, word_of(Conformity::not_judged)) +
                    "</p><p class=\"headline\">" + told(v, conformity::what_first(d)) + "</p>\n" +
                    para(told(v, d.text)) + "</section>\n<section>";
  out += para(told(v, conformity::why_no_verdict(d)));
  if (d.area > 0) out += para(told(v, "doubt.halves-run-through-each", {arg::area(d.area)}));
  if (!r.alignment.left_out.empty()) {
    std::string names;
    for (const auto& n : r.alignment.left_out) names += (names.empty() ? "" : ", ") + n;
    out += para(told(v, "doubt.map-below-registered-without", {arg::name(names)}));
  }
  if (!r.expects.empty()) out += para(told(v, "doubt.prediction-earlier-inspection-not"));
  out += list(r, r.warnings) + "</section>\n<section>" + heading("gap", told(v, "doubt.gap-not-judged"));
  const auto all = fields(r);
  const Field& f = find_field(all, "deviation_mm");
  out +=
      "<div class=\"maps\">" +
      map_figure(r, f, "<b>" + told(v, Message("verdict.not-judged")) + "</b> " + told(v, "doubt.gap-as-registered")) +
      "</div>\n" + masked_line(r) + "</section>\n";
  return out + "<section>" + heading("proof", told(v, "doubt.registration")) + residual_chart(r) +
         registration_tables(r) + list(r, r.alignment.warnings) + "</section>\n";
}

}  // namespace gapfront::report
