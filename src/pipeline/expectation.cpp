// Did the work do what an earlier inspection predicted?
#include <algorithm>
#include <limits>

#include "core/places.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/units.hpp"

namespace gapfront::pipeline {
namespace {

/// The gap says nothing of a port; the new job does.
void see_port(const Correction& asked, const Job& job, Confirmed& c) {
  c.port = correct::port_made(asked, job.flow);
  const Argument name = arg::name(asked.port);
  if (c.port == Confirmed::Port::missing)
    c.says = Message("work.port-missing", {name, arg::place(mean_place(asked.port_to), 2)});
  else if (c.port == Confirmed::Port::there)
    c.says = Message("work.port-there", {name});
}

/// The chance that a part traps air, as it was predicted and as it is computed now.
Text air_then_and_now(const Chance& p, const Chance& is) {
  if (p.draws <= 0 || is.draws <= 0) return {};
  const std::vector<Argument> chances{arg::probability(p.p),  arg::probability(p.low),  arg::probability(p.high),
                                      arg::probability(is.p), arg::probability(is.low), arg::probability(is.high)};
  return {is.low > p.high ? Message("work.air-more-than-predicted", chances)
                          : Message("work.air-then-and-now", chances)};
}

}  // namespace

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
  p.air_after = r.outcome.after.air;
  p.gap = std::move(r.gap), p.sheet = std::move(r.sheet);
  return p;
}

Message prediction_name(const Prediction& p) {
  if (p.date.empty()) return Message("list.inspection", {arg::name(p.name)});
  return Message("list.inspection-of", {arg::name(p.name), arg::name(p.date)});
}

bool of_same_scans(const Prediction& p, const Inspection& r) {
  return !p.lower_sha256.empty() && p.lower_sha256 == r.lower_sha256 && p.upper_sha256 == r.upper_sha256;
}

void test_prediction(const Prediction& p, Inspection& r) {
  r.expects = prediction_name(p);
  if (of_same_scans(p, r)) {  // nothing was measured after the work
    r.expected_says = {Message("warnings.same-scans")};
    return;
  }
  if (r.doubt) return;
  r.confirmed = correct::confirm(p, r.sheet, r.gap, &r.verdict);
  for (Confirmed& c : r.confirmed)
    for (const int k : p.plan.chosen)
      if (const Correction& asked = p.plan.candidates[k]; asked.name == c.correction) see_port(asked, r.job, c);
  r.expected_says = air_then_and_now(p.air_after, r.outcome.now.air);
}

}  // namespace gapfront::pipeline
