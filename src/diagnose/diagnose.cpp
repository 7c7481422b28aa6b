// Counterfactuals: the same filling again with one thing put right, or one fault put in.
#include "gapfront/diagnose.hpp"

#include <algorithm>
#include <cmath>

#include "diagnose/states.hpp"
#include "gapfront/error.hpp"
#include "units/words.hpp"

namespace gapfront {
namespace {

using namespace diagnosis;

// A spot counts as predicted when a quarter of it is in trouble: less is an edge that the mesh may place either way.
constexpr double kPredicted = 0.25;
// A cause explains the spot when removing it takes most of the trouble away.
constexpr double kExplains = 0.5;
// A cure leaves less than this of the spot in trouble.
constexpr double kCured = 0.1;
// Air pressed to less than this share of its pocket shows as pores rather than as a dry spot (own choice).
constexpr double kShows = 0.25;
// The ensemble is dear; the causes that matter get it.
constexpr std::size_t kWithChance = 3;

/// Weights of the draws so that they show the spot in the share of the parts in which it was counted (n of m, with half
/// a part on either side: Jeffreys). All 1 where nothing was counted, or where the draws are all of one mind.
std::vector<double> weighted_by_count(const std::vector<char>& hit, const DrySpot& spot) {
  const double p = std::count(hit.begin(), hit.end(), 1) / double(hit.size());
  std::vector<double> w(hit.size(), 1);
  if (spot.parts <= 0 || !(p > 0) || !(p < 1)) return w;
  const double share = (spot.seen + 0.5) / (spot.parts + 1);
  for (std::size_t k = 0; k < w.size(); ++k) w[k] = hit[k] ? share / p : (1 - share) / (1 - p);
  return w;
}

/// Where clay would tell most about a cause: the node of the greatest deviation in its region, or of all.
int telling_node(const CorrectInput& in, const std::string& cause) {
  const DeviationRegion* region = nullptr;
  for (const auto& r : in.verdict.regions)
    if (r.name == cause) region = &r;
  int best = -1;
  const auto take = [&](int i) {
    if (in.gap.nodes[i].measured &&
        (best < 0 || std::abs(in.verdict.deviation[i]) > std::abs(in.verdict.deviation[best])))
      best = i;
  };
  if (region)
    for (const int i : region->nodes) take(i);
  else
    for (int i = 0; i < static_cast<int>(in.sheet.size()); ++i) take(i);
  return best;
}

/// Does a share p agree with n of m, within two standard errors of the count (Wilson's interval)?
bool agrees(double p, int draws, int n, int m) {
  if (m <= 0 || p < 0) return true;
  const double z2 = 4, centre = (n + z2 / 2) / (m + z2),
               half = 2 / (m + z2) * std::sqrt(double(n) * (m - n) / m + z2 / 4);
  const double own = 2 * std::sqrt(std::max(p * (1 - p), 0.25 / std::max(draws, 1)) / std::max(draws, 1));
  return std::abs(p - centre) <= half + own;
}

/// Fills states, and asks the ensemble about them.
class Fillings {
 public:
  Fillings(const CorrectInput& in, const DiagnoseOptions& o, const Progress& progress)
      : in_(in), ensemble_(parts(in, o)), progress_(progress) {}

  Filling operator()(const State& s) {
    report_progress(progress_, "diagnose", std::min(0.99, done / (done + 20.0)));
    ++done;
    LaminateMap laminate = evaluate_laminate(in_.sheet, s.gap, s.laminate);
    if (!s.glass.empty()) scatter_glass(laminate, s.glass);
    return fill(in_.sheet, laminate, s.flow);
  }
  double trouble(const State& s, const DrySpot& spot) { return trouble_at(in_.sheet, (*this)(s), s.flow, spot); }
  /// Per draw: does the spot come about?
  std::vector<char> hits(const State& s, const DrySpot& spot) {
    std::vector<char> out;
    for (const Part& p : ensemble_) out.push_back(trouble(made_as(s, p), spot) >= kPredicted);
    return out;
  }
  /// Share of the draws, weighted, in which it comes about; −1: there is no ensemble.
  double chance(const State& s, const DrySpot& spot, const std::vector<double>& weights) {
    if (weights.empty()) return -1;
    return share(hits(s, spot), weights);
  }
  static double share(const std::vector<char>& hit, const std::vector<double>& weights) {
    double sum = 0, all = 0;
    for (std::size_t k = 0; k < hit.size(); ++k) sum += hit[k] * weights[k], all += weights[k];
    return all > 0 ? sum / all : -1;
  }

  int done = 0;

 private:
  const CorrectInput& in_;
  std::vector<Part> ensemble_;
  const Progress& progress_;
};

/// What is wrong with the tool or the lay-up comes before settings that would only hide it; then the greatest relief.
void rank(std::vector<Try>& tries) {
  const auto setting = [](const Cause& c) { return c.kind >= CauseKind::vent && c.kind != CauseKind::whole_gap; };
  std::stable_sort(tries.begin(), tries.end(), [&](const Try& a, const Try& b) {
    const bool ea = a.cause.relief >= kExplains, eb = b.cause.relief >= kExplains;
    if (ea != eb) return ea;
    if (ea && setting(a.cause) != setting(b.cause)) return !setting(a.cause);
    return a.cause.relief > b.cause.relief;
  });
}

void find_causes(const CorrectInput& in, const State& now, const DiagnoseOptions& o, const std::vector<double>& weights,
                 Fillings& run, SpotDiagnosis& d) {
  std::vector<Try> tries = candidates(in, now, d.spot, o.units);
  for (Try& t : tries) t.cause.without = run.trouble(t.state, d.spot);
  const auto relief = [&](Cause& c) { c.relief = (d.trouble - c.without) / d.trouble; };
  for (Try& t : tries) relief(t.cause);
  const bool single = std::any_of(tries.begin(), tries.end(),
                                  [](const Try& t) { return t.cause.is_gap && t.cause.relief >= kExplains; });
  if (d.gap_explains && !single) {
    Try t{{}, now};
    t.cause.kind = CauseKind::whole_gap, t.cause.name = "gap", t.cause.is_gap = true;
    t.cause.what = "all deviations of the gap together; no single region makes the spot alone";
    t.cause.without = d.nominal_trouble, t.state.gap = in.verdict.nominal;
    if (in.nominal_breathing) t.state.gap = under_filling(std::move(t.state.gap), *in.nominal_breathing);
    relief(t.cause);
    tries.push_back(t);
  }
  rank(tries);
  for (std::size_t k = 0; k < std::min(kWithChance, tries.size()); ++k)
    if (tries[k].cause.relief > 0) tries[k].cause.probability = run.chance(tries[k].state, d.spot, weights);
  for (Try& t : tries) d.causes.push_back(t.cause);
}

void find_suspects(const CorrectInput& in, const State& now, Fillings& run, SpotDiagnosis& d) {
  for (auto& [suspect, state] : suspects(in, now, d.spot)) {
    suspect.trouble = run.trouble(state, d.spot);
    d.suspects.push_back(suspect);
  }
  std::stable_sort(d.suspects.begin(), d.suspects.end(),
                   [](const Suspect& a, const Suspect& b) { return a.trouble > b.trouble; });
}

/// What to press clay on, to make sure that the gap is what the map says.
std::string clay(const CorrectInput& in, const std::string& cause, UnitSystem units) {
  const int i = telling_node(in, cause);
  if (i < 0) return "";
  const NodeGap& n = in.gap.nodes[i];
  return words(
      "To make sure, press clay at %s, close and clamp the mold, and measure its thickness: the map says %s (U %s) "
      "there, and nominal is %s.",
      spot_words(in.sheet.mesh.points[i], units).c_str(), format_length(n.gap, units).c_str(),
      format_length(n.U, units, true).c_str(), format_length(in.verdict.nominal[i], units).c_str());
}

void describe(const CorrectInput& in, const DiagnoseOptions& o, SpotDiagnosis& d) {
  const std::string where = spot_words(d.spot.at, o.units);
  const Cause* first = !d.causes.empty() && d.causes[0].relief >= kExplains ? &d.causes[0] : nullptr;
  const double away = first ? 100 * first->relief : 0;
  if (!d.predicted) {
    d.headline = "Not the gap: with the gap as measured, the model predicts no dry spot at " + where + ".";
    d.discriminate =
        d.suspects.empty() || d.suspects[0].trouble < kPredicted
            ? "None of the usual faults makes it in the model either; check the job against the shop "
              "(vents, ports, glass, vacuum at the mold), then scan again with better coverage there."
            : words("It would come from %s. To tell: %s.", d.suspects[0].what.c_str(), d.suspects[0].measure.c_str());
  } else if (!d.gap_explains) {
    d.headline = "Not the gap: the dry spot at " + where + " is predicted with the nominal gap as well.";
    d.discriminate = first ? words("Removing %s takes away %.0f %% of it.", first->what.c_str(), away)
                           : "No single change removes it; change the vent and the lay-up together.";
  } else {
    const bool single = first && first->is_gap && first->kind != CauseKind::whole_gap;
    d.headline = single ? words("The gap explains the dry spot at %s: removing %s (%s) takes away %.0f %% of it.",
                                where.c_str(), first->what.c_str(), first->name.c_str(), away)
                        : words(
                              "The gap explains the dry spot at %s: with the nominal gap it is gone, but no single "
                              "region makes it alone.",
                              where.c_str());
    d.discriminate = clay(in, single ? first->name : "", o.units);
  }
  if (!d.seen_fits)
    d.discriminate += words(
        " The model expects it in %.0f %% of the parts, but it was seen in %.0f %%: something that "
        "changes from part to part has a hand in it (glass, viscosity, vacuum).",
        100 * d.probability, 100.0 * d.spot.seen / d.spot.parts);
}

/// The cheapest correction that cures it, each tried at the spot itself.
void find_cure(const CorrectInput& in, const CorrectionPlan& plan, const State& now, const std::vector<double>& weights,
               Fillings& run, SpotDiagnosis& d) {
  if (!d.gap_explains) {
    d.cure_text = "No correction of the tool is proposed: the gap is not what makes the spot.";
    return;
  }
  std::vector<int> order(plan.candidates.size());
  for (std::size_t k = 0; k < order.size(); ++k) order[k] = static_cast<int>(k);
  std::stable_sort(order.begin(), order.end(),
                   [&](int a, int b) { return plan.candidates[a].effort < plan.candidates[b].effort; });
  for (const int k : order) {
    const Correction& c = plan.candidates[k];
    State s = now;
    for (std::size_t i = 0; i < c.gap_change.size(); ++i) s.gap[i] += c.gap_change[i];
    s.laminate.zones.insert(s.laminate.zones.end(), c.added.begin(), c.added.end());
    const Filling f = run(s);
    const double left = trouble_at(in.sheet, f, s.flow, d.spot);
    if (left > kCured) continue;
    d.cure = k, d.cure_trouble = left, d.cure_fill_time = f.fill_time, d.cure_text = c.instruction;
    d.cure_probability = run.chance(s, d.spot, weights);
    return;
  }
  d.cure_text = "No single correction of the plan cures it; the chosen steps together are in the report of inspect.";
}

}  // namespace

const char* to_string(CauseKind k) {
  constexpr const char* names[] = {"gap region", "radius",     "seat of the upper half",
                                   "overlap",    "vent place", "flow schedule",
                                   "vacuum",     "viscosity",  "whole gap"};
  return names[static_cast<int>(k)];
}

double trouble_at(const Sheet& sheet, const Filling& f, const FlowOptions& flow, const DrySpot& spot) {
  std::vector<double> shut(sheet.size(), 0);  // share that shows of the pocket around the node; 0: in none
  for (const Pocket& p : f.pockets) {
    const double left = p.initial_volume > 0 ? p.final_volume / p.initial_volume : 1;
    for (const int i : p.nodes) shut[i] = std::max(shut[i], std::clamp(left / kShows, 1e-9, 1.0));
  }
  // Bubbles drift until the resin gels, so air that is shut in within a spot's width of the spot counts for it.
  double bad = 0, disc = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const double d = (sheet.mesh.points[i] - spot.at).norm();
    if (d > spot.size) continue;
    if (d <= spot.size / 2) disc += sheet.area[i];
    const bool dry = !std::isfinite(f.arrival[i]), late = !dry && flow.gel_time > 0 && f.arrival[i] > flow.gel_time;
    // The nodes of a pocket share its air: on a coarse mesh the last one stays dry, however little air is left.
    bad += sheet.area[i] * (late || (dry && shut[i] == 0) ? 1 : shut[i]);
  }
  disc = std::max(disc, M_PI / 4 * spot.size * spot.size * 0.5);  // a spot off the face still has a size
  return std::min(1.0, bad / disc);
}

Diagnosis diagnose(const CorrectInput& in, const CorrectionPlan& plan, const std::vector<DrySpot>& spots,
                   const DiagnoseOptions& o, const Progress& progress) {
  if (spots.empty())
    throw Error(Fault::input, "diagnose: no spot given; add --spot \"x, y, z mm\" in tool coordinates");
  for (const DrySpot& spot : spots) {  // before minutes are spent on the others
    const double off = (in.sheet.mesh.points[nearest_node(in.sheet, spot.at)] - spot.at).norm();
    if (off > spot.size)
      throw Error(Fault::input, words("diagnose: the spot at %s lies %s from the moulding face; give it in tool "
                                      "coordinates, on the lower face",
                                      spot_words(spot.at, o.units).c_str(), format_length(off, o.units).c_str()));
  }
  Diagnosis out;
  Fillings run(in, o, progress);
  const State now = measured_state(in);
  for (const DrySpot& spot : spots) {
    SpotDiagnosis d;
    d.spot = spot;
    d.trouble = trouble_at(in.sheet, in.measured, in.flow, spot);
    d.nominal_trouble = trouble_at(in.sheet, in.nominal, in.flow, spot);
    d.predicted = d.trouble >= kPredicted;
    d.gap_explains = d.predicted && d.nominal_trouble <= (1 - kExplains) * d.trouble;
    std::vector<double> weights;
    if (o.draws > 0) {
      const auto hit = run.hits(now, spot);
      d.probability = Fillings::share(hit, std::vector<double>(hit.size(), 1));
      d.seen_fits = agrees(d.probability, o.draws, spot.seen, spot.parts);
      weights = weighted_by_count(hit, spot);
    }
    if (d.predicted)
      find_causes(in, now, o, weights, run, d);
    else
      find_suspects(in, now, run, d);
    describe(in, o, d);
    find_cure(in, plan, now, weights, run, d);
    out.spots.push_back(std::move(d));
  }
  out.fillings = run.done;
  report_progress(progress, "diagnose", 1);
  return out;
}

}  // namespace gapfront
