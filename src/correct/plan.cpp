// Verify every candidate, then combine: each state goes through gap → laminate → flow.
#include <algorithm>
#include <cmath>

#include "correct/candidates.hpp"
#include "correct/words.hpp"
#include "gapfront/correct.hpp"

namespace gapfront {
namespace {

// Gains under half a percent of area or of fill time are within what the flow's mesh resolves (1 % of fill time, the
// bar for closed forms), so a step that gains less is not recommended. The gap's own U is seen to before: regions are
// provably out, and shims are considered only for a rigid part that exceeds its U.
constexpr double kLeastGain = 0.005;
// Below one in twenty, the usual level, air that may be trapped is no reason to draw fillings for every state.
constexpr double kLeastPocket = 0.05;
// Fillings drawn for a state: with the same random numbers for all of them, few tell two states apart; many would take
// longer than everything else in the plan.
constexpr int kDraws = 8;

struct State {
  std::vector<double> change;  ///< of the gap, mm
  LaminateOptions laminate;
  FlowOptions flow;
  bool ports_moved = false;
};

double sheet_area(const Sheet& s) {
  double a = 0;
  for (const double x : s.area) a += x;
  return a;
}

std::vector<double> gap_of(const CorrectInput& in, const State& s) {
  std::vector<double> gap(in.sheet.size());
  for (std::size_t i = 0; i < gap.size(); ++i)  // the front is computed with the nominal gap where nothing is measured
    gap[i] = (in.gap.nodes[i].measured ? in.gap.nodes[i].gap : in.verdict.nominal[i]) + s.change[i];
  return gap;
}

Effect describe(const CorrectInput& in, const std::vector<NodeLimits>& limits, const std::vector<double>& gap,
                const Filling& filling, const Lead& lead) {
  Effect e;
  for (std::size_t i = 0; i < gap.size(); ++i) {
    if (!in.gap.nodes[i].measured) continue;
    const double over = std::max(gap[i] - limits[i].high, limits[i].low - gap[i]);
    if (over > 0) e.out_of_tolerance_area += in.sheet.area[i];
    if (over > in.gap.nodes[i].U) e.nonconforming_area += in.sheet.area[i];
  }
  e.greatest_lead_s = lead.greatest_s, e.rms_lead_s = lead.rms_s;
  for (const auto& p : filling.pockets) e.dry_area += p.area;
  e.fill_time = filling.fill_time, e.last_to_vent = filling.last_to_vent;
  return e;
}

State with(const State& s, const Correction& c) {
  State out = s;
  apply(c, out.change, out.laminate, out.flow);
  out.ports_moved = out.ports_moved || c.kind == Kind::vent_move || c.kind == Kind::inlet_move;
  return out;
}

bool in_tolerance(const Effect& e) { return e.nonconforming_area == 0 && e.out_of_tolerance_area == 0; }
bool cured(const Effect& e) { return in_tolerance(e) && e.dry_area == 0 && !(e.expected_dry_area > 0); }

bool on_glass(const Correction& c) { return c.kind == Kind::glass_patch || c.kind == Kind::radius_packing; }

/// In which order work is considered. Shims seat the half; the regions are cut from what is left after that, so shims
/// go first. Glass comes after work on the tool and only where no such work is chosen: it hides an error in every part
/// instead of curing it once. Ports last: where the last point lies is known when the gap is as good as it gets.
int phase(Kind k) {
  switch (k) {
    case Kind::shim:
      return 0;
    case Kind::build_up:
    case Kind::relief:
      return 1;
    case Kind::glass_patch:
    case Kind::radius_packing:
      return 2;
    case Kind::vent_move:
    case Kind::inlet_move:
      return 3;
  }
  return 3;
}
constexpr int kPhases = 4;

/// Whether `region` is among the regions, joined with " + ", that a correction works on.
bool works_on(const Correction& c, const std::string& region) {
  return (" + " + c.region + " + ").find(" + " + region + " + ") != std::string::npos;
}

/// What drawn fillings say of trapped air; a sentence of its own, with a space before it.
std::string chance(const Effect& e, UnitSystem u) {
  if (!(e.expected_dry_area > 0)) return "";
  return " With gap and glass drawn at random within their uncertainty, " + words(100 * e.pocket, 0) +
         " % of the fillings trap air, and " + spoken_area(e.expected_dry_area, 1, u) + " stay dry on average.";
}

std::string remains(const Effect& e, double area, bool worked, UnitSystem u) {
  if (cured(e) && !worked)
    return "Nothing needs a correction: the whole measured area is within tolerance and no pocket stays dry.";
  if (cured(e))
    return "Nothing is left to cure: the whole measured area is then within tolerance and no pocket stays dry "
           "(re-computed, not "
           "measured).";
  if (in_tolerance(e) && e.dry_area == 0)
    return std::string("The whole measured area is ") + (worked ? "then " : "") +
           "within tolerance and no pocket stays dry as computed, but one may." + chance(e, u);
  std::string out = words(100 * e.out_of_tolerance_area / area, 1) + " % of the area (" +
                    spoken_area(e.out_of_tolerance_area, 1, u) + ") stays out of tolerance, " +
                    words(100 * e.nonconforming_area / area, 1) + " % of it provably";
  if (e.dry_area > 0) out += ", and pockets leave " + spoken_area(e.dry_area, 1, u) + " dry";
  return out + " (re-computed, not measured)." + chance(e, u);
}

}  // namespace

LaminateMap filled(const CorrectInput& in, const std::vector<double>& gap, const LaminateOptions& laminate,
                   const Breathing* b) {
  return evaluate_laminate(in.sheet, b ? under_filling(gap, *b) : gap, laminate);
}

const char* to_string(Way w) {
  switch (w) {
    case Way::straight:
      return "straight";
    case Way::over_surface:
      return "over the surface";
    case Way::along_edge:
      return "along the edge";
  }
  return "";
}

const char* to_string(Kind k) {
  switch (k) {
    case Kind::shim:
      return "shim";
    case Kind::build_up:
      return "build-up";
    case Kind::relief:
      return "relief";
    case Kind::glass_patch:
      return "glass patch";
    case Kind::radius_packing:
      return "radius packing";
    case Kind::vent_move:
      return "vent move";
    case Kind::inlet_move:
      return "inlet move";
  }
  return "";
}

void apply(const Correction& c, std::vector<double>& gap, LaminateOptions& laminate, FlowOptions& flow) {
  for (std::size_t i = 0; i < c.gap_change.size(); ++i) gap[i] += c.gap_change[i];
  laminate.zones.insert(laminate.zones.end(), c.added.begin(), c.added.end());
  if (c.kind == Kind::vent_move)
    for (auto& v : flow.vents)
      if (v.name == c.port) v.path = c.port_to;
  if (c.kind == Kind::inlet_move)
    for (auto& i : flow.inlets)
      if (i.name == c.port) i.path = c.port_to;
}

double loss(const Effect& e, double area, double fill_time) {
  double out = 0;
  const double dry = e.expected_dry_area >= 0 ? e.expected_dry_area : e.dry_area;
  if (area > 0) out += 0.5 * (e.nonconforming_area + e.out_of_tolerance_area) / area + dry / area;
  if (fill_time > 0) out += e.rms_lead_s / fill_time;
  return out;
}

CorrectionPlan plan_corrections(const CorrectInput& in, const CorrectOptions& o, const Progress& progress) {
  CorrectionPlan plan;
  plan.effort = o.effort, plan.letter = o.letter, plan.shop_step = o.shop_step, plan.references = tape_references(o);
  const auto limits = tolerance_limits(in.sheet, in.tolerance);
  const double area = sheet_area(in.sheet), fill_time = in.nominal.fill_time;
  const State now{std::vector<double>(in.sheet.size(), 0), in.laminate, in.flow};
  const bool draw = in.ensemble && in.ensemble->runs > 0 && in.pocket > kLeastPocket;
  const auto describe_all = [&](const State& s, const std::vector<double>& gap, const Filling& filling,
                                const Filling& nominal, const Lead& lead, const Breathing* breathing) {
    Effect e = describe(in, limits, gap, filling, lead);
    if (!draw) return e;
    EnsembleOptions few = *in.ensemble;
    few.runs = std::min(few.runs, kDraws);
    few.cells_per_step = s.flow.cells_per_step;  // coarser steps overlook the pockets that the one filling shows
    const Ensemble drawn = draw_fillings(in.sheet, in.gap, breathing ? under_filling(gap, *breathing) : gap, s.laminate,
                                         s.flow, nominal, lead, few);
    e.pocket = drawn.pocket, e.expected_dry_area = drawn.dry_area;
    return e;
  };
  plan.now = describe_all(now, gap_of(in, now), in.measured, in.nominal, in.lead, in.breathing);

  auto& list = plan.candidates;
  if (auto c = shim_candidate(in, o, plan.warnings)) list.push_back(std::move(*c));
  if (o.touch_tool)
    for (auto& c : port_candidates(in, o)) list.push_back(std::move(c));
  for (const auto& r : merged_regions(in.sheet, in.verdict.regions, o.blend)) {  // ranked by volume, see `most`
    // Less than half a shop step is nothing that hands can do.
    if (Correction c; o.touch_tool && (c = surface_candidate(in, o, r), c.peak > 0)) list.push_back(std::move(c));
    if (auto c = glass_candidate(in, o, r, plan.warnings)) list.push_back(std::move(*c));
  }
  if (static_cast<int>(list.size()) > o.most) {
    plan.warnings.push_back("Only the first " + std::to_string(o.most) + " of " + std::to_string(list.size()) +
                            " candidates were verified; the smallest regions are left out.");
    list.resize(std::max(0, o.most));
  }

  double done = 0;
  const auto nominal_of = [&](const State& s) {
    return fill(in.sheet, filled(in, in.verdict.nominal, in.laminate, in.nominal_breathing), s.flow);
  };
  const auto describe_front = [&](const State& s, const std::vector<double>& gap, const Filling& filling,
                                  const Breathing* breathing) {
    // With a port moved the front of the nominal gap is another one as well.
    const Filling moved = s.ports_moved ? nominal_of(s) : Filling{};
    const Filling& nominal = s.ports_moved ? moved : in.nominal;
    return describe_all(s, gap, filling, nominal, compare_fillings(in.sheet, nominal, filling), breathing);
  };
  const auto verify = [&](const State& s) {
    // Each run is a full filling; the share is a guess of how many there will be: one alone, one combined.
    report_progress(progress, "correct", std::min(0.99, done++ / std::max<double>(1, 2.0 * list.size())));
    const auto gap = gap_of(in, s);
    return describe_front(s, gap, fill(in.sheet, filled(in, gap, s.laminate, in.breathing), s.flow), in.breathing);
  };
  for (auto& c : list) {
    c.before = plan.now;
    c.after = verify(with(now, c));
    c.benefit = (loss(c.before, area, fill_time) - loss(c.after, area, fill_time)) / c.effort;
  }
  std::stable_sort(list.begin(), list.end(), [](const auto& a, const auto& b) { return a.benefit > b.benefit; });
  for (std::size_t k = 0; k < list.size(); ++k) list[k].name = "C" + std::to_string(k + 1);

  // Greedy, with the remaining candidates re-computed on top of what is chosen. Lazily (Minoux 1978): the promising
  // one is re-computed first and taken if it still beats what the others promised.
  State state = now;
  Effect effect = plan.now;
  std::vector<double> promise;
  for (const auto& c : list) promise.push_back(c.benefit);
  for (int p = 0; p < kPhases; ++p) {
    std::vector<int> open;
    for (int k = 0; k < static_cast<int>(list.size()); ++k)
      if (phase(list[k].kind) == p) open.push_back(k);
    std::vector<char> fresh(list.size(), plan.chosen.empty());
    std::vector<Effect> effects(list.size());
    for (const int k : open) effects[k] = list[k].after;
    while (!open.empty() && !cured(effect)) {
      auto top = std::max_element(open.begin(), open.end(), [&](int a, int b) { return promise[a] < promise[b]; });
      const int k = *top;
      const bool worked = on_glass(list[k]) && std::any_of(plan.chosen.begin(), plan.chosen.end(),
                                                           [&](int c) { return list[c].region == list[k].region; });
      if (worked) {
        open.erase(top);
        continue;
      }
      if (!fresh[k]) {
        effects[k] = verify(with(state, list[k]));
        promise[k] = (loss(effect, area, fill_time) - loss(effects[k], area, fill_time)) / list[k].effort;
        fresh[k] = 1;
        continue;
      }
      open.erase(top);
      if (promise[k] * list[k].effort < kLeastGain) continue;
      state = with(state, list[k]);
      effect = effects[k];
      plan.chosen.push_back(k);
      plan.after_each.push_back(effect);
      std::fill(fresh.begin(), fresh.end(), 0);
    }
  }
  plan.gap_after = gap_of(in, state);
  if (in.breathing && in.breathing->computed && !plan.chosen.empty()) {
    plan.breathing_after =
        breathe(in.sheet, plan.gap_after, state.laminate, state.flow, progress, in.breathing->filling.move);
    plan.after_each.back() = effect =
        describe_front(state, plan.gap_after, plan.breathing_after.front, &plan.breathing_after);
  }
  plan.after = effect;
  plan.laminate_after = state.laminate;
  plan.flow_after = state.flow;
  if (state.ports_moved) plan.nominal_arrival_after = nominal_of(state).arrival;
  plan.remains = remains(plan.after, area, !plan.chosen.empty(), in.tolerance.units);
  for (const auto& r : in.verdict.regions) {
    if (std::any_of(plan.chosen.begin(), plan.chosen.end(), [&](int k) { return works_on(list[k], r.name); })) continue;
    plan.left.push_back(r.name + " around " + spoken_place(r.centre, in.tolerance.units) + ", " +
                        spoken_area(r.area, 1, in.tolerance.units) + ", is left as it is: " +
                        (in_tolerance(plan.after) ? "the gap is within tolerance without work there."
                         : !o.touch_tool          ? "the tool is not to be touched, and no glass improves it enough."
                                                  : "what it would gain is less than the computation can tell."));
  }
  for (const int k : plan.chosen) add_details(in, o, list[k]);
  report_progress(progress, "correct", 1);
  return plan;
}

}  // namespace gapfront
