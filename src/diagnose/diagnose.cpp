// Counterfactuals: the same filling again with one thing put right, or one fault put in.
#include "gapfront/diagnose.hpp"

#include <algorithm>
#include <cmath>

#include "core/parallel.hpp"
#include "diagnose/states.hpp"
#include "gapfront/ensemble.hpp"
#include "gapfront/error.hpp"
#include "units/words.hpp"

namespace gapfront {
namespace {

using namespace diagnosis;

// A spot counts as predicted when a quarter of it is in trouble: less is an edge that the mesh may place either way.
constexpr double kPredicted = 0.25;
// A cause explains the spot when removing it takes most of the trouble away.
constexpr double kExplains = 0.5;
// Of one filling, where nothing is drawn: a cure leaves less than this of the spot in trouble.
constexpr double kCured = 0.1;
// Air pressed to less than this share of its pocket shows as pores rather than as a dry spot (own choice).
constexpr double kShows = 0.25;
// Air shut in over so many times the spot goes where the resin drives it: there, and only there, it makes a spot.
constexpr double kWide = 10;
// The ensemble is dear; the causes that matter get all of it, and of corrections only so many are tried with it.
constexpr std::size_t kWithChance = 3;
constexpr int kTries = 3;
// Draws between two reports of progress.
constexpr int kBatch = 8;

/// Weights of the draws so that they show the spot in the share of the parts in which it was counted (n of m, with half
/// a part on either side: Jeffreys). All 1 where nothing was counted, or where the draws are all of one mind.
std::vector<double> weighted_by_count(const std::vector<char>& hit, const DrySpot& spot) {
  const double p = std::count(hit.begin(), hit.end(), 1) / double(hit.size());
  std::vector<double> w(hit.size(), 1);
  if (spot.parts <= 0 || !(p > 0) || !(p < 1)) return w;
  const double fraction = (spot.seen + 0.5) / (spot.parts + 1);
  for (std::size_t k = 0; k < w.size(); ++k) w[k] = hit[k] ? fraction / p : (1 - fraction) / (1 - p);
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
    progress(1);
    return filled(s);
  }
  double trouble(const State& s, const DrySpot& spot) {
    return diagnosis::trouble_at(in_.sheet, (*this)(s), s.flow, spot);
  }
  /// Per draw, from the first so many: does the spot come about?
  std::vector<char> hits(const State& s, const DrySpot& spot, std::size_t draws) {
    std::vector<char> out(std::min(draws, ensemble_.size()));
    const LaminateCurves reinforcement(in_.sheet, s.gap, s.laminate);
    State quick = s;
    quick.flow = flow::drawn_flow(in_.sheet, s.flow, {});
    for (std::size_t first = 0; first < out.size(); first += kBatch) {
      const std::size_t some = std::min<std::size_t>(kBatch, out.size() - first);
      parallel_for(
          some,
          [&](std::size_t k) {
            const State part = made_as(quick, ensemble_[first + k]);
            LaminateMap laminate = reinforcement(part.gap);
            flow::scatter_reinforcement(laminate, part.reinforcement);
            const Filling f = flow::fill_watched(in_.sheet, laminate, part.flow, unwatched);
            out[first + k] = diagnosis::trouble_at(in_.sheet, f, part.flow, spot) >= kPredicted;
          },
          1);
      progress(static_cast<int>(some));
    }
    return out;
  }

  int done = 0;

 private:
  Filling filled(const State& s) const {
    LaminateMap laminate = laminate::evaluate_laminate(in_.sheet, s.gap, s.laminate);
    if (!s.reinforcement.empty()) flow::scatter_reinforcement(laminate, s.reinforcement);
    return flow::fill_watched(in_.sheet, laminate, s.flow, unwatched);
  }
  static void unwatched(double, double, const std::vector<double>&) {}
  // How many there will be is not known; half of them are done when 200 are.
  void progress(int more) {
    done += more;
    report_progress(progress_, "diagnose", std::min(0.99, done / (done + 200.0)));
  }

  const CorrectInput& in_;
  std::vector<Part> ensemble_;
  const Progress& progress_;
};

/// The draws of one spot: with the tool as it is, and what each of them counts.
struct Counted {
  std::vector<char> hit;
  std::vector<double> weights;
  bool drawn() const { return !hit.empty(); }
  Chance of(const std::vector<char>& hits) const {
    return conformity::weighted_chance(
        hits, std::vector<double>(weights.begin(), weights.begin() + static_cast<long>(hits.size())));
  }
  /// With the tool as it is, over the first so many draws: to compare with what saw no more.
  double now(std::size_t draws) const {
    return of(std::vector<char>(hit.begin(), hit.begin() + static_cast<long>(std::min(draws, hit.size())))).p;
  }
};

/// What is wrong with the tool or the lay-up comes before settings that would only hide it; then the greatest relief,
/// to a tenth, which is what the draws can tell; then that of the one filling.
void rank(std::vector<Try>& tries) {
  const auto setting = [](const Cause& c) { return c.kind >= CauseKind::vent && c.kind != CauseKind::whole_gap; };
  const auto relief = [](const Cause& c) { return c.chance.draws > 0 ? std::round(10 * c.relief) / 10 : c.relief; };
  std::stable_sort(tries.begin(), tries.end(), [&](const Try& a, const Try& b) {
    const bool ea = a.cause.relief >= kExplains, eb = b.cause.relief >= kExplains;
    if (ea != eb) return ea;
    if (ea && setting(a.cause) != setting(b.cause)) return !setting(a.cause);
    if (relief(a.cause) != relief(b.cause)) return relief(a.cause) > relief(b.cause);
    return a.cause.without < b.cause.without;
  });
}

void find_causes(const CorrectInput& in, const State& now, const DiagnoseOptions& o, const Counted& counted,
                 Fillings& run, SpotDiagnosis& d) {
  std::vector<Try> tries = candidates(in, now, d.spot);
  const auto draw = [&](Try& t, std::size_t draws) {
    const auto hits = run.hits(t.state, d.spot, draws);
    t.cause.chance = counted.of(hits);
    const double is = counted.now(hits.size());
    t.cause.relief = is > 0 ? (is - t.cause.chance.p) / is : 0;
  };
  for (Try& t : tries) {
    t.cause.without = run.trouble(t.state, d.spot);
    if (counted.drawn())
      draw(t, std::size_t(o.screening));
    else
      t.cause.relief = (d.trouble - t.cause.without) / d.trouble;
  }
  rank(tries);
  if (counted.drawn()) {
    for (std::size_t k = 0; k < std::min(kWithChance, tries.size()); ++k) draw(tries[k], counted.hit.size());
    rank(tries);
  }
  const bool single = std::any_of(tries.begin(), tries.end(),
                                  [](const Try& t) { return t.cause.is_gap && t.cause.relief >= kExplains; });
  if (d.gap_explains && !single) {
    Try t{{}, nominal_state(in)};
    t.cause.kind = CauseKind::whole_gap, t.cause.name = "gap", t.cause.is_gap = true;
    t.cause.what = Message("diagnosis.all-deviations");
    t.cause.without = d.nominal_trouble, t.cause.chance = d.nominal;
    t.cause.relief = counted.drawn() ? (d.now.p - d.nominal.p) / d.now.p : (d.trouble - d.nominal_trouble) / d.trouble;
    tries.push_back(t);
    rank(tries);
  }
  for (Try& t : tries) d.causes.push_back(t.cause);
}

void find_suspects(const CorrectInput& in, const State& now, Fillings& run, SpotDiagnosis& d) {
  double all = 0;
  for (const double a : in.sheet.area) all += a;
  for (auto& [suspect, state] : suspects(in, now, d.spot)) {
    const Filling f = run(state);
    suspect.trouble = diagnosis::trouble_at(in.sheet, f, state.flow, d.spot);
    for (std::size_t i = 0; i < in.sheet.size(); ++i)
      if (!std::isfinite(f.arrival[i])) suspect.dry += in.sheet.area[i] / all;
    d.suspects.push_back(suspect);
  }
  // To a tenth of the spot; of two that make it alike the one that makes little else.
  const auto tenths = [](const Suspect& s) { return std::round(10 * s.trouble); };
  std::stable_sort(d.suspects.begin(), d.suspects.end(), [&](const Suspect& a, const Suspect& b) {
    return tenths(a) != tenths(b) ? tenths(a) > tenths(b) : a.dry < b.dry;
  });
}

/// What to press clay on, to make sure that the gap is what the map says.
Text clay(const CorrectInput& in, const std::string& cause) {
  const int i = telling_node(in, cause);
  if (i < 0) return {};
  const NodeGap& n = in.gap.nodes[i];
  return {
      Message("pages.make-sure-press-clay", {arg::place(in.sheet.mesh.points[i], 2), arg::length(n.gap),
                                             arg::length(std::max(n.U, 0.01)), arg::length(in.verdict.nominal[i])})};
}

/// What is said of a spot that the model does not predict with the gap as measured.
void describe_unpredicted(SpotDiagnosis& d) {
  if (d.model.hits > 0 && d.spot.parts > 0)
    d.headline = {Message("diagnosis.not-gap-alone-gap", {arg::place(d.spot.at, 2), arg::fraction(d.model.p, 0),
                                                          arg::fraction(double(d.spot.seen) / d.spot.parts, 0)})};
  else
    d.headline = {Message("pages.not-gap-gap-measured", {arg::place(d.spot.at, 2)})};
  if (d.suspects.empty() || d.suspects[0].trouble < kPredicted)
    d.discriminate = {Message("pages.none-usual-faults-makes")};
  else
    d.discriminate = {Message("pages.would-come-from", {arg::message(d.suspects[0].what)}),
                      Message("pages.tell", {arg::message(d.suspects[0].measure)})};
}

/// "Removing … takes it from 92 % to 0 % of the parts", or of one filling what goes of the spot.
Message removing(const Cause& c, const SpotDiagnosis& d) {
  if (c.chance.draws > 0)
    return Message("diagnosis.removing-takes-from-parts",
                   {arg::message(c.what), arg::probability(d.now.p), arg::probability(c.chance.p)});
  return Message("pages.removing-takes-away", {arg::message(c.what), arg::fraction(c.relief, 0)});
}

void describe_gap(const CorrectInput& in, const Cause* first, SpotDiagnosis& d) {
  const Argument at = arg::place(d.spot.at, 2);
  const bool single = first && first->is_gap && first->kind != CauseKind::whole_gap;
  if (single && first->chance.draws > 0)
    d.headline = {
        Message("diagnosis.gap-explains-dry-spot", {at, arg::message(first->what), arg::name(first->name),
                                                    arg::probability(d.now.p), arg::probability(first->chance.p)})};
  else if (single)
    d.headline = {Message("pages.gap-explains-dry-spot",
                          {at, arg::message(first->what), arg::name(first->name), arg::fraction(first->relief, 0)})};
  else if (d.nominal.draws > 0)
    d.headline = {Message("diagnosis.gap-explains-dry-spot-nominal",
                          {at, arg::probability(d.now.p), arg::probability(d.nominal.p)})};
  else
    d.headline = {Message("pages.gap-explains-dry-spot-nominal", {at})};
  d.discriminate = clay(in, single ? first->name : "");
}

void describe(const CorrectInput& in, SpotDiagnosis& d) {
  const Cause* first = !d.causes.empty() && d.causes[0].relief >= kExplains ? &d.causes[0] : nullptr;
  if (!d.predicted) {
    describe_unpredicted(d);
  } else if (!d.gap_explains) {
    d.headline = {
        Message(d.layout ? "diagnosis.not-gap-but-layout" : "pages.not-gap-dry-spot", {arg::place(d.spot.at, 2)})};
    d.discriminate = {first ? removing(*first, d) : Message("pages.no-single-change-removes")};
  } else {
    describe_gap(in, first, d);
  }
  if (!d.seen_fits && d.predicted)
    d.discriminate.push_back(
        Message("pages.model-expects-parts-but",
                {arg::fraction(d.model.p, 0), arg::fraction(double(d.spot.seen) / d.spot.parts, 0)}));
}

/// Whether the correction works where another that is chosen works already.
bool worked_already(const CorrectionPlan& plan, const Correction& c) {
  return std::any_of(plan.chosen.begin(), plan.chosen.end(), [&](int k) {
    const Correction& other = plan.candidates[k];
    return &other == &c || (!c.region.empty() && other.region == c.region) || (!c.port.empty() && other.port == c.port);
  });
}

/// The report's own plan, if that cures the spot; else the cheapest candidate that does on top of it.
void find_cure(const CorrectInput& in, const CorrectionPlan& plan, const State& now, const DiagnoseOptions& o,
               const Counted& counted, Fillings& run, SpotDiagnosis& d) {
  struct Left {
    double trouble, fill_time;
    Chance chance;
    bool cured;
  };
  const auto left = [&](const State& s, bool surely) {
    const Filling f = run(s);
    Left l{diagnosis::trouble_at(in.sheet, f, s.flow, d.spot), f.fill_time, {}, false};
    l.cured = l.trouble <= kCured;
    // A filling that shows the spot as large as ever needs no draws, unless the plan is asked about.
    if (counted.drawn() && (surely || l.trouble < kPredicted))
      l.chance = counted.of(run.hits(s, d.spot, counted.hit.size())), l.cured = l.chance.p < o.cured_below;
    return l;
  };
  const auto take = [&](CureBy by, const Left& l) {
    d.cure_by = by, d.cure_trouble = l.trouble, d.cure_fill_time = l.fill_time, d.cure_chance = l.chance;
  };
  d.plan_works = !plan.chosen.empty();
  const State after = d.plan_works ? planned_state(in, plan) : now;
  if (d.plan_works) {
    const Left l = left(after, true);
    d.plan_trouble = l.trouble, d.plan_fill_time = l.fill_time, d.plan_chance = l.chance;
    if (d.predicted && l.cured) {
      take(CureBy::plan, l);
      d.cure_text = {Message("diagnosis.corrections-report-has-chosen")};
      for (const int k : plan.chosen) d.cure_steps.push_back(in_sequence(plan.candidates[k].instruction));
      return;
    }
  }
  if (!d.predicted) {
    d.cure_text = {Message("pages.no-correction-tool-proposed")};
    return;
  }
  std::vector<int> order;
  for (std::size_t k = 0; k < plan.candidates.size(); ++k) {
    const Correction& c = plan.candidates[k];
    // Work on the gap is no cure where the gap is not the cause; ports and glass may be.
    if ((d.gap_explains || c.gap_change.empty()) && !worked_already(plan, c)) order.push_back(static_cast<int>(k));
  }
  std::stable_sort(order.begin(), order.end(),
                   [&](int a, int b) { return plan.candidates[a].effort < plan.candidates[b].effort; });
  int drawn = 0;
  for (const int k : order) {
    if (drawn >= kTries) break;
    const Left l = left(with_correction(after, plan.candidates[k]), false);
    drawn += l.chance.draws > 0;
    if (!l.cured) continue;
    take(CureBy::one, l), d.cure = k;
    d.cure_text = {
        Message(d.plan_works ? "diagnosis.corrections-report-has-chosen-do" : "diagnosis.this-correction-cures")};
    d.cure_steps = {in_sequence(plan.candidates[k].instruction)};
    return;
  }
  d.cure_text = {Message(!d.gap_explains ? "pages.no-correction-tool-proposed"
                         : d.plan_works  ? "diagnosis.corrections-report-has-chosen-do-not"
                                         : "diagnosis.no-correction-plan-cures")};
}

/// What the model says of the spot, and whether that accounts for what was seen.
Counted ask(const CorrectInput& in, const State& now, const DiagnoseOptions& o, Fillings& run, SpotDiagnosis& d) {
  Counted counted;
  d.trouble = diagnosis::trouble_at(in.sheet, in.measured, in.flow, d.spot);
  d.nominal_trouble = diagnosis::trouble_at(in.sheet, in.nominal, in.flow, d.spot);
  if (o.draws <= 0) {
    d.predicted = d.trouble >= kPredicted;
    d.gap_explains = d.predicted && d.nominal_trouble <= (1 - kExplains) * d.trouble;
  } else {
    counted.hit = run.hits(now, d.spot, std::size_t(o.draws));
    counted.weights = weighted_by_count(counted.hit, d.spot);
    d.model = conformity::chance_of(static_cast<int>(std::count(counted.hit.begin(), counted.hit.end(), 1)), o.draws);
    d.now = counted.of(counted.hit);
    d.seen_fits = agrees(d.model.p, o.draws, d.spot.seen, d.spot.parts);
    // A model that expects the spot in less than half as many parts as were counted does not account for it.
    const double seen = d.spot.parts > 0 ? double(d.spot.seen) / d.spot.parts : 0;
    d.predicted = d.model.p >= o.cured_below && (d.seen_fits || d.model.p >= kExplains * seen);
    if (d.predicted) {
      d.nominal = counted.of(run.hits(nominal_state(in), d.spot, std::size_t(o.draws)));
      d.gap_explains = d.nominal.p <= (1 - kExplains) * d.now.p;
    }
  }
  d.layout = d.predicted && !d.gap_explains && o.obstacle == Obstacle::layout_traps_air;
  return counted;
}

}  // namespace

const char* to_string(CauseKind k) {
  constexpr const char* names[] = {"gap region", "radius",     "seat of the upper half",
                                   "overlap",    "vent place", "flow schedule",
                                   "vacuum",     "viscosity",  "whole gap"};
  return names[static_cast<int>(k)];
}

double diagnosis::trouble_at(const Sheet& sheet, const Filling& f, const FlowOptions& flow, const DrySpot& spot) {
  std::vector<double> shut(sheet.size(), 0);  // share that shows of the pocket around the node; 0: in none
  for (const Pocket& p : f.pockets) {
    double area = 0;
    for (const int i : p.nodes) area += sheet.area[i];
    if (area > kWide * M_PI / 4 * spot.size * spot.size) continue;
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

Diagnosis diagnosis::diagnose(const CorrectInput& in, const CorrectionPlan& plan, const std::vector<DrySpot>& spots,
                              const DiagnoseOptions& o, const Progress& progress) {
  if (spots.empty())
    throw Error(Fault::input, "diagnose: no spot given; add --spot \"x, y, z mm\" in tool coordinates");
  for (const DrySpot& spot : spots) {  // before minutes are spent on the others
    const double off = (in.sheet.mesh.points[nearest_node(in.sheet, spot.at)] - spot.at).norm();
    if (off > spot.size)
      throw Error(Fault::input,
                  words("diagnose: the spot at x %.0f, y %.0f mm lies %.2f mm from the moulding face; give it in tool "
                        "coordinates, on the lower face",
                        spot.at.x(), spot.at.y(), off));
  }
  Diagnosis out;
  Fillings run(in, o, progress);
  const State now = measured_state(in);
  for (const DrySpot& spot : spots) {
    SpotDiagnosis d;
    d.spot = spot;
    const Counted counted = ask(in, now, o, run, d);
    if (d.predicted) find_causes(in, now, o, counted, run, d);
    const bool found = !d.causes.empty() && d.causes[0].relief >= kExplains;
    if (!d.predicted || !found || !d.seen_fits) find_suspects(in, now, run, d);
    describe(in, d);
    find_cure(in, plan, now, o, counted, run, d);
    out.spots.push_back(std::move(d));
  }
  out.fillings = run.done, out.cured_below = o.cured_below;
  report_progress(progress, "diagnose", 1);
  return out;
}

}  // namespace gapfront
