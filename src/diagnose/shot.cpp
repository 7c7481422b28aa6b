// What a shot's log says of the shot.
#include "gapfront/shot.hpp"

#include <algorithm>
#include <cmath>

#include "core/distributions.hpp"
#include "diagnose/shot.hpp"

namespace gapfront {

const char* to_string(ShotCause c) {
  constexpr const char* kNames[] = {
      "none",     "thick resin", "thin resin", "low permeability", "high permeability", "more glass", "less glass",
      "wide gap", "race-track",  "resin leak", "poor vacuum",      "clogged vent",      "pump"};
  return kNames[static_cast<int>(c)];
}

const char* to_string(ShotVerdict v) {
  constexpr const char* kNames[] = {"normal", "not normal", "unclear", "unexplained"};
  return kNames[static_cast<int>(v)];
}

namespace diagnosis {
namespace {

// Before its log is looked at: four shots of five are normal (own choice).
constexpr double kPriorNormal = 0.8;
// Below the first a shot was not normal, above the second it was (own choice).
constexpr double kSurelyNot = 0.1, kMostLikely = 0.6;
// Below this no cause, and no normal shot, makes such a log.
constexpr double kUnexplained = 1e-3;

ShotVerdict verdict_of(const std::vector<ShotCandidate>& causes) {
  if (causes[0].p_value < kUnexplained) return ShotVerdict::unexplained;
  double normal = 0;
  for (const ShotCandidate& c : causes)
    if (c.cause == ShotCause::none) normal = c.probability;
  return normal < kSurelyNot    ? ShotVerdict::abnormal
         : normal > kMostLikely ? ShotVerdict::normal
                                : ShotVerdict::unclear;
}

}  // namespace

ShotFound judge_shot(const Sheet& sheet, const std::vector<double>& gap, const LaminateOptions& laminate,
                     const FlowOptions& job, const ShotLog& log, const ShotOptions& o, const Progress& progress) {
  const Stretches stretches = stretches_of(log, job);
  ShotFound out;
  out.volume = stretches.volume, out.duration = stretches.end - stretches.start;
  out.earlier = static_cast<int>(o.earlier.size());
  const ShotCase tool = case_of(sheet, gap, laminate, job, stretches);
  Family permeability;
  std::vector<Family> families = run_families(tool, job, progress, out.fillings, permeability);
  Family pump = families[0];
  pump.cause = ShotCause::pump;
  families.push_back(pump);
  const Evidence evidence(log, stretches, job, o);
  const Course& base = families[0].courses[0];
  // Pressure per rate with the half filled cavity, if it were as the job says.
  const double resists = job.viscosity * base.resistance(0.45 * base.full, 0.55 * base.full);
  ShotContext context{log, stretches, job, laminate, o, evidence, {}};
  for (const double earlier : o.earlier) context.earlier.push_back(std::log(earlier / resists));
  double priors = 0, most = -1e300;
  for (const Family& f : families)
    if (f.cause != ShotCause::none) priors += f.prior;
  std::vector<Judged> judged;
  std::vector<double> weight;
  for (const Family& f : families) {
    judged.push_back(judge_family(f, context));
    const double prior = f.cause == ShotCause::none ? kPriorNormal : (1 - kPriorNormal) * f.prior / priors;
    weight.push_back(judged.back().log_evidence + std::log(prior));
    most = std::max(most, weight.back());
  }
  double sum = 0;
  for (double& w : weight) sum += w = std::exp(w - most);
  std::vector<std::size_t> order(families.size());
  for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
  std::stable_sort(order.begin(), order.end(), [&](auto a, auto b) { return weight[a] > weight[b]; });
  for (const std::size_t k : order) {
    ShotCandidate c;
    c.cause = families[k].cause, c.subject = families[k].subject, c.at = families[k].at;
    c.probability = weight[k] / sum, c.amount = judged[k].amount;
    c.p_value = p_value(judged[k].chi2, std::max(1, evidence.data() - 2));
    tell_cause(c);
    out.causes.push_back(c);
  }
  out.verdict = verdict_of(out.causes);
  // As the job has it, without anything fitted; and with the likely cause.
  const auto plain = evidence.pressures(base, {}), arrivals = evidence.vents(base, {});
  const Judged& likely = judged[order[0]];
  out.cavity = base.full;
  for (std::size_t k = 0; k < stretches.size(); ++k)
    out.course.push_back({0.5 * (stretches.edge_time[k] + stretches.edge_time[k + 1]) - stretches.start,
                          0.5 * (stretches.edge[k] + stretches.edge[k + 1]), stretches.rate[k], stretches.pressure[k],
                          plain[k], likely.pressure[k]});
  for (const VentSeen& seen : log.vents)
    for (std::size_t v = 0; v < job.vents.size(); ++v)
      if (job.vents[v].name == seen.vent)
        out.vents.push_back({seen.vent, seen.time, time_at(log, arrivals[v]), time_at(log, likely.vents[v])});
  fit_together(permeability, context, out);
  out.resists = resists * out.resistance.value;
  tell_shot(log, job, o, out);
  return out;
}

}  // namespace diagnosis
}  // namespace gapfront
