// Did the work do what an earlier inspection predicted?
#include <cmath>

#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"

namespace gapfront::pipeline {

Prediction prediction_of(Inspection r, const Job& job) {
  const auto fail = [](const std::string& line) { throw Error(Fault::input, line); };
  if (!job.tool.empty() && !r.job.tool.empty() && job.tool != r.job.tool)
    fail("is of tool \"" + r.job.tool + "\", but the job is of \"" + job.tool + "\"; give a result of the same tool");
  if (r.plan.chosen.empty())
    fail("chose no correction, so it predicts nothing; give the result that the work followed");
  const auto column = [&](const char* id) -> const std::vector<double>& {
    const auto it = r.columns.find(id);
    if (it == r.columns.end()) fail(std::string("lacks the field ") + id + "; inspect those scans again");
    return it->second;
  };
  Prediction p;
  p.name = r.job.name, p.date = r.job.date, p.plan = r.plan;
  p.before = column("gap_mm"), p.after = column("gap_after_mm");
  const auto &lower = column("u_lower_mm"), &upper = column("u_upper_mm"), &instrument = column("u_instrument_mm"),
             &registration = column("u_registration_mm"), &temperature = column("u_temperature_mm");
  // Results from before fit areas were kept: those of the new scans may stand in (see confirm()).
  const auto area = r.columns.find("fit_area_mm2");
  p.gap.registration = r.alignment.covariance, p.gap.pivot = r.alignment.pivot, p.gap.coverage = r.gap.coverage;
  p.gap.nodes.resize(p.before.size());
  for (std::size_t i = 0; i < p.before.size(); ++i) {
    NodeGap& n = p.gap.nodes[i];
    n.measured = std::isfinite(p.before[i]);
    if (!n.measured) continue;
    n.gap = p.before[i], n.direction = r.sheet.normals[i];
    n.u_lower = lower[i], n.u_upper = upper[i], n.u_instrument = instrument[i], n.u_registration = registration[i],
    n.u_temperature = temperature[i];
    if (area != r.columns.end() && std::isfinite(area->second[i])) n.fit_area = area->second[i];
  }
  p.sheet = std::move(r.sheet);
  return p;
}

std::string prediction_words(const Prediction& p) {
  return "\"" + p.name + "\"" + (p.date.empty() ? "" : ", " + p.date);
}

void test_prediction(const Prediction& p, Inspection& r) {
  r.expects = prediction_words(p);
  if (!r.doubt) r.confirmed = correct::confirm(p, r.sheet, r.gap);
}

}  // namespace gapfront::pipeline
