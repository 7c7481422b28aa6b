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
      "wide gap", "race-track",  "resin leak", "poor vacuum",      "clogged vent",      "pump",       "inlet blocked"};
  return kNames[static_cast<int>(c)];
}

const char* to_string(ShotVerdict v) {
  constexpr const char* kNames[] = {"normal", "not normal", "unclear", "unexplained"};
  return kNames[static_cast<int>(v)];
}

bool ShotFound::resistance_holds() const {
  if (causes.empty() || verdict == ShotVerdict::unexplained) return false;
  switch (causes[0].cause) {
    case ShotCause::none:
    case ShotCause::thick_resin:
    case ShotCause::thin_resin:
    case ShotCause::low_permeability:
    case ShotCause::high_permeability:
    case ShotCause::resin_leak:
      return true;
    default:
      return false;
  }
}

bool ShotFound::leak_holds() const {
  return resistance_holds() && (causes[0].cause == ShotCause::none || causes[0].cause == ShotCause::resin_leak);
}

namespace diagnosis {
namespace {

// Before its log is looked at: four shots of five are normal (own choice).
constexpr double kPriorNormal = 0.8;
// Below the first a shot was not normal, above the second it was (own choice).
constexpr double kSurelyNot = 0.1, kMostLikely = 0.6;
// Below it a cause is not worth looking for (own choice).
constexpr double kNoticeable = 0.05;
// A log that ends before so much of the cavity is full ends before the shot does (own choice: what the model's volume,
// a meter's scale and the last of a filling leave).
constexpr double kWhole = 0.9;

/// Nothing, or the resin alone.
bool of_resin(ShotCause c) { return c == ShotCause::none || c == ShotCause::thick_resin || c == ShotCause::thin_resin; }

/// Share of the cavity that was full when the log ended, or the pump was shut off; 1 of a shot that came to its end.
double judged_share(const ShotLog& log, const FlowOptions& job, const Stretches& s, double cavity) {
  const bool all_reached =
      !job.vents.empty() && log.vents.size() == job.vents.size() &&
      std::all_of(log.vents.begin(), log.vents.end(), [](const VentSeen& v) { return std::isfinite(v.time); });
  const double full = s.volume / cavity;
  return all_reached || full >= kWhole ? 1 : full;  // a stop before, even under pressure, is no normal end
}

/// A resin that was measured to be another than the job's is a fact: what the log leaves to it and to nothing at all
/// are one candidate.
void believe_measured(const ShotLog& log, const FlowOptions& job, std::vector<ShotCandidate>& causes) {
  const double factor = log.viscosity / job.viscosity;
  const ShotCause is = factor > 1 ? ShotCause::thick_resin : ShotCause::thin_resin;
  double probability = 0;
  for (const ShotCandidate& c : causes)
    if (of_resin(c.cause)) probability += c.probability;
  const auto first = std::find_if(causes.begin(), causes.end(), [](const auto& c) { return of_resin(c.cause); });
  ShotCandidate resin = *first;
  std::erase_if(causes, [](const ShotCandidate& c) { return of_resin(c.cause); });
  resin.cause = is, resin.probability = probability, resin.amount = {factor, NAN, NAN};
  tell_measured(resin);
  const auto place =
      std::find_if(causes.begin(), causes.end(), [&](const ShotCandidate& c) { return c.probability < probability; });
  causes.insert(place, resin);
}

ShotVerdict by_causes(const std::vector<ShotCandidate>& causes) {
  if (causes[0].p_value < kUnexplained) return ShotVerdict::unexplained;
  double normal = 0;
  for (const ShotCandidate& c : causes)
    if (c.cause == ShotCause::none && c.p_value >= kUnexplained) normal = c.probability;
  return normal < kSurelyNot    ? ShotVerdict::abnormal
         : normal > kMostLikely ? ShotVerdict::normal
                                : ShotVerdict::unclear;
}

/// By the causes, and by what none of them speaks of: jumps, and what a log that is cut short does not show.
ShotVerdict verdict_of(const ShotFound& f) {
  const ShotVerdict out = by_causes(f.causes);
  if (!f.steps.empty() && out != ShotVerdict::abnormal) return ShotVerdict::unexplained;
  return f.judged < 1 && out == ShotVerdict::normal ? ShotVerdict::unclear : out;
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
  if (stretches.stands && stretches.volume < families[0].courses[0].full) {  // else nothing was kept out
    Family blocked = families[0];
    blocked.cause = ShotCause::inlet_blocked, blocked.fixed = true;
    families.push_back(blocked);
  }
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
  std::vector<ShotCandidate> ranked(families.size());
  for (const std::size_t k : order) {
    ShotCandidate c;
    c.cause = families[k].cause, c.subject = families[k].subject, c.at = families[k].at;
    c.probability = weight[k] / sum, c.amount = judged[k].amount;
    // Among many pressures that fit, a vent that was reached hours late would go under: the farthest of vents and rest
    // is judged by itself as well (of so many: Bonferroni).
    c.p_value = std::min({p_value(judged[k].chi2, std::max(1, evidence.data() - 2)),
                          2 * std::max(1, evidence.ends()) * normal_beyond(judged[k].worst), 1.0});
    tell_cause(c);
    ranked[k] = c;
  }
  // What the log refutes is no likely cause as long as another explains it.
  std::stable_partition(order.begin(), order.end(), [&](std::size_t k) {
    return ranked[k].p_value >= kUnexplained && ranked[k].probability >= kNoticeable;
  });
  for (const std::size_t k : order) out.causes.push_back(ranked[k]);
  if (measured_apart(log, job, o)) believe_measured(log, job, out.causes);
  out.cavity = base.full, out.judged = judged_share(log, job, stretches, base.full);
  find_steps(log, stretches, job, out);
  out.verdict = verdict_of(out);
  // As the job has it, without anything fitted; and with the likely cause.
  const auto plain = evidence.pressures(base, {}), arrivals = evidence.vents(base, {});
  const Judged& likely = judged[order[0]];
  for (std::size_t k = 0; k < stretches.size(); ++k)
    out.course.push_back({0.5 * (stretches.edge_time[k] + stretches.edge_time[k + 1]) - stretches.start,
                          0.5 * (stretches.edge[k] + stretches.edge[k + 1]), stretches.rate[k], stretches.pressure[k],
                          plain[k], likely.at.pressure[k]});
  for (const VentSeen& seen : log.vents)
    for (std::size_t v = 0; v < job.vents.size(); ++v)
      if (job.vents[v].name == seen.vent)
        out.vents.push_back({seen.vent, seen.time, time_at(log, arrivals[v]), time_at(log, likely.at.vents[v])});
  fit_together(permeability, context, out);
  out.resists = resists * out.resistance.value;
  const Eigen::VectorXd off = evidence.residuals(likely.at);
  Eigen::Index astray = -1;
  if (evidence.vents_seen() > 0)
    off.segment(static_cast<int>(stretches.size()), evidence.vents_seen()).cwiseAbs().maxCoeff(&astray);
  tell_shot(log, job, o, static_cast<int>(astray), out);
  return out;
}

}  // namespace diagnosis
}  // namespace gapfront
