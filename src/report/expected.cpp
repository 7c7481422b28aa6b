// After the work: what an earlier inspection predicted, and what was achieved.
#include "gapfront/report.hpp"
#include "report/html.hpp"

namespace gapfront::report {

std::string expected_section(const Inspection& r) {
  if (r.expects.empty()) return "";
  const Voice v = voice_of(r.job);
  std::string out = "<section>" + heading("expected", told(v, "work.work-predicted-measured")) +
                    para(told(v, Text{Message("work.predicted-means-over-worked", {arg::message(r.expects)}),
                                      Message("work.en-up-two-agree")}));
  for (const Message& m : r.expected_says) out += para("<b>" + told(v, m) + "</b>");
  if (r.confirmed.empty() && !r.expected_says.empty()) return out + "</section>\n";
  if (r.confirmed.empty()) return out + para(told(v, "work.inspection-chose-no-correction")) + "</section>\n";
  std::vector<std::vector<std::string>> rows{{told(v, "work.correction"), told(v, "work.outcome"),
                                              told(v, "work.gap-before"), told(v, "work.predicted"),
                                              told(v, "work.achieved"), "En", told(v, "page.area")}};
  for (const auto& c : r.confirmed) {
    const auto with_U = [&](double mm, double U) {
      return with_unit(mm, Dimension::length, v) + " ± " + with_unit(U, Dimension::length, v);
    };
    std::vector<std::string> row{"<b>" + own(c.correction) + "</b> " + own(c.part) + "<br>" + told(v, word_of(c.kind)),
                                 told(v, c.says)};
    if (c.can_tell)
      row.insert(row.end(),
                 {with_unit(c.before, Dimension::length, v), with_U(c.predicted, c.predicted_U),
                  with_U(c.achieved, c.achieved_U), fixed(c.En, 2, v), with_unit(c.area, Dimension::area, v)});
    else
      row.insert(row.end(), 5, "–");
    rows.push_back(row);
  }
  return out + table(rows) + "</section>\n";
}

std::string work_section(const Inspection& r) {
  const CorrectionPlan& p = r.plan;
  if (p.chosen.empty() && p.left.empty()) return "";
  const Voice v = voice_of(r.job);
  std::string out = "<section><h3 id=\"work\">" + told(v, "work.carrying-out") + "</h3>\n";
  if (!p.chosen.empty())
    out += para(told(v, Text{Message("work.beside-this-page-lies"), Message("work.templates-where-there-any")}) +
                " <a translate=\"no\" href=\"work-order.html\">work-order.html</a>");
  for (const int k : p.chosen)
    if (const Correction& c = p.candidates[k]; c.kind == Kind::shim && !c.why.empty())
      out += para(told(v, full_sentence({Message("list.named", {arg::name(c.name), arg::message(c.why)})})));
  for (const auto& l : p.left) out += para(told(v, l));
  return out + "</section>\n";
}

}  // namespace gapfront::report
