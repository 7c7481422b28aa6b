// The page of a measurement in doubt: why nothing is judged, and what proves it.
#include "report/html.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

}  // namespace

std::string masked_line(const Inspection& r) {
  // Balls on a flange outside the seal line leave nothing out.
  if (r.job.sheet.masks.empty() || (!r.doubt && !(r.sheet.masked_area > 0))) return "";
  std::string names;
  for (const Mask& m : r.job.sheet.masks) names += (names.empty() ? "" : ", ") + escape(m.name);
  return para("Masked: " + with_unit(r.sheet.masked_area, D::area, r.job.units) +
              " around what stands on the halves and is no moulding face. No region, no correction and no flow is "
              "there.") +
         para("<small><span translate=\"no\">" + names + "</span>" + "</small>");
}

std::string doubt_sections(const Inspection& r) {
  const UnitSystem u = r.job.units;
  const Doubt& d = *r.doubt;
  std::string out = "<section class=\"verdict bad\"><p class=\"word\">not judged</p><p class=\"headline\">" +
                    std::string("The registration must be checked first.") + "</p>\n" + para(told(r, d.text)) +
                    "</section>\n<section>";
  out += para("No verdict, no front and no correction are given: they would rest on halves that may lie otherwise.");
  if (d.area > 0) out += para("The halves run through each other over " + with_unit(d.area, D::area, u) + ".");
  if (!r.alignment.left_out.empty()) {
    std::string names;
    for (const auto& n : r.alignment.left_out) names += (names.empty() ? "" : ", ") + escape(n);
    out += para("The map below was registered without " + names + ".");
  }
  if (!r.expects.empty()) out += para("The prediction of the earlier inspection was not tested.");
  out += list(r, r.warnings) + "</section>\n<section>" + heading("gap", "The gap, not judged");
  const auto all = fields(r);
  const Field& f = find_field(all, "deviation_mm");
  out += "<div class=\"maps\">" +
         map_figure(r, f,
                    "<b>Not judged.</b> Gap minus nominal with the halves as registered: it shows where the doubt "
                    "comes from, and no more.") +
         "</div>\n" + masked_line(r) + "</section>\n";
  return out + "<section>" + heading("proof", "The registration") + residual_chart(r) + registration_tables(r) +
         list(r, r.alignment.warnings) + "</section>\n";
}

}  // namespace gapfront::report
