// After the work: what an earlier inspection predicted, and what was achieved.
#include "report/html.hpp"

namespace gapfront::report {

std::string expected_section(const Inspection& r) {
  if (r.expects.empty()) return "";
  const UnitSystem u = r.job.units;
  std::string out = "<section><h2 id=\"expected\">The work, as predicted and as measured</h2>\n<p>Predicted by " +
                    escape(r.expects) +
                    "; means over the worked area, or over the part of the sheet nearest to a station. En up to 1: the "
                    "two agree within their uncertainties.</p>\n";
  if (r.confirmed.empty()) return out + "<p>That inspection chose no correction.</p></section>\n";
  std::vector<std::vector<std::string>> rows{
      {"correction", "outcome", "gap before", "predicted", "achieved", "En", "area"}};
  for (const auto& c : r.confirmed) {
    const auto with_U = [&](double v, double U) {
      return with_unit(v, Dimension::length, u) + " ± " + with_unit(U, Dimension::length, u);
    };
    std::vector<std::string> row{"<b>" + escape(c.correction) + "</b> " + escape(c.part) + "<br>" + to_string(c.kind),
                                 told(r, c.says)};
    if (c.can_tell)
      row.insert(row.end(), {with_unit(c.before, Dimension::length, u), with_U(c.predicted, c.predicted_U),
                             with_U(c.achieved, c.achieved_U), fixed(c.En, 2), with_unit(c.area, Dimension::area, u)});
    else
      row.insert(row.end(), 5, "–");
    rows.push_back(row);
  }
  return out + table(rows) + "</section>\n";
}

std::string work_section(const Inspection& r) {
  const CorrectionPlan& p = r.plan;
  if (p.chosen.empty() && p.left.empty()) return "";
  std::string out = "<section><h3 id=\"work\">Carrying it out</h3>\n";
  if (!p.chosen.empty())
    out +=
        "<p>Beside this page lies a work order, to print and take to the mold: places by tape, thicknesses, depth "
        "stops, steps. Templates at 1:1, where there are any, are in templates.pdf. <a translate=\"no\" "
        "href=\"work-order.html\">work-order.html</a></p>\n";
  for (const int k : p.chosen)
    if (const Correction& c = p.candidates[k]; c.kind == Kind::shim && !c.why.empty())
      out += para(told(r, full_sentence({Message("list.named", {arg::name(c.name), arg::message(c.why)})})));
  for (const auto& l : p.left) out += "<p>" + told(r, l) + "</p>\n";
  return out + "</section>\n";
}

}  // namespace gapfront::report
