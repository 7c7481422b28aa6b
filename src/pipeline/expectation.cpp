// Did the work do what an earlier inspection predicted?
#include <algorithm>
#include <limits>

#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/units.hpp"

namespace gapfront::pipeline {

Prediction prediction_of(Inspection r, const Job& job) {
  const auto fail = [](const std::string& line) { throw Error(Fault::input, line); };
  if (!job.tool.empty() && !r.job.tool.empty() && job.tool != r.job.tool)
    fail("is of tool \"" + r.job.tool + "\", but the job is of \"" + job.tool + "\"; give a result of the same tool");
  const auto then = day_number(r.job.date), now = day_number(job.date);
  if (then && now && *now < *then)
    fail("is of " + r.job.date + ", but the job's scans are of " + job.date +
         ", before the work; give the scans that were taken after it, or correct the date");
  if (r.plan.chosen.empty())
    fail("chose no correction, so it predicts nothing; give the result that the work followed");
  const auto need = [&](bool there, const char* what) {
    if (!there) fail(std::string("does not say ") + what + " at each node; inspect those scans again");
  };
  const auto none_of = [&](double NodeGap::*m) {
    return std::none_of(r.gap.nodes.begin(), r.gap.nodes.end(), [&](const NodeGap& n) { return n.*m > 0; });
  };
  need(r.gap.nodes.size() == r.sheet.size(), "the gap");
  need(r.plan.gap_after.size() == r.sheet.size(), "the gap after the corrections");
  need(!none_of(&NodeGap::U), "the uncertainty of the gap");
  Prediction p;
  p.lower_sha256 = r.lower_sha256, p.upper_sha256 = r.upper_sha256;
  p.name = r.job.name, p.date = r.job.date, p.plan = r.plan, p.after = r.plan.gap_after;
  for (const NodeGap& n : r.gap.nodes)
    p.before.push_back(n.measured ? n.gap : std::numeric_limits<double>::quiet_NaN());
  p.gap = std::move(r.gap), p.sheet = std::move(r.sheet);
  return p;
}

Message prediction_name(const Prediction& p) {
  if (p.date.empty()) return Message("list.inspection", {arg::name(p.name)});
  return Message("list.inspection-of", {arg::name(p.name), arg::name(p.date)});
}

void test_prediction(const Prediction& p, Inspection& r) {
  r.expects = prediction_name(p);
  if (!p.lower_sha256.empty() && p.lower_sha256 == r.lower_sha256 && p.upper_sha256 == r.upper_sha256)
    r.warnings.push_back(Message("warnings.same-scans"));
  if (!r.doubt) r.confirmed = correct::confirm(p, r.sheet, r.gap);
}

}  // namespace gapfront::pipeline
