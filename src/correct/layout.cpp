// Places for vents where the layout traps air.
#include <algorithm>
#include <cmath>

#include "core/parallel.hpp"
#include "correct/effort.hpp"
#include "correct/state.hpp"

namespace gapfront::correct {
namespace {

// Drawn fillings that tell two places apart while one is searched; the plan re-computes what is found with all.
constexpr int kSearchDraws = 6;
// Moves of one vent: the pocket's centre comes near to where the front ends in two or three.
constexpr int kMoves = 4;
// Mouths that are tried, times the radius that is there, and the widest that is bored into a face, mm (own choice).
constexpr double kMouths[] = {1.5, 2, 3};
constexpr double kWidest = 40;
// A patch under a vent: four times as wide as the vent, and wider than a hand can miss, mm (own choice).
constexpr double kPatchFraction = 4, kPatchLeast = 30;
// A search that leaves more than this share of the dry area is no answer.
constexpr double kWorthTrying = 0.9;
// Corners of the outline of a round patch.
constexpr int kCorners = 24;

struct Tried {
  double dry = 0;  ///< mean over the fillings, mm²
  bool traps = false;
  Vec3 at = Vec3::Zero();  ///< where air is trapped most often
};

/// Of the places where single fillings trap air, the one that is nearest to all others: their mean may lie between two
/// corners, where no air is.
Vec3 medoid(const std::vector<Vec3>& places) {
  double best = 1e300;
  Vec3 out = Vec3::Zero();
  for (const Vec3& p : places) {
    double sum = 0;
    for (const Vec3& q : places) sum += (p - q).norm();
    if (sum < best) best = sum, out = p;
  }
  return out;
}

class Search {
 public:
  Search(const Bench& bench, const State& state, bool true_mold)
      : bench_(bench), state_(state), true_mold_(true_mold), gap_(bench.gap(state)) {
    const CorrectInput& in = bench.in();
    const Breathing* b = true_mold ? in.nominal_breathing : in.breathing;
    if (true_mold) gap_ = in.verdict.nominal;
    if (b) gap_ = flow::under_filling(gap_, *b);
  }
  Tried operator()(const FlowOptions& flow, const LaminateOptions& laminate) const {
    const CorrectInput& in = bench_.in();
    const Filling f = flow::fill(in.sheet, laminate::evaluate_laminate(in.sheet, gap_, laminate), flow);
    Tried out;
    std::vector<Vec3> places;
    out.dry = flow::dry_area(f);
    out.traps = out.dry > (in.ensemble ? in.ensemble->min_dry : 0);
    if (out.traps) places.push_back(f.pockets.front().centre);
    if (in.ensemble && in.ensemble->runs > 0) {
      const auto drawn = flow::draw_air(in.sheet, in.gap, gap_, laminate, flow, *in.ensemble, 0,
                                        std::min(kSearchDraws, in.ensemble->runs), true_mold_);
      for (const auto& d : drawn)
        if (d.pocket) places.push_back(d.centre), out.traps = true;
      out.dry = (out.dry + drawn.size() * flow::mean_dry_area(drawn)) / (1.0 + drawn.size());
    }
    if (!places.empty()) out.at = onto(medoid(places));
    return out;
  }
  Vec3 onto(const Vec3& p) const {
    const auto& points = bench_.in().sheet.mesh.points;
    return *std::min_element(points.begin(), points.end(), [&](const Vec3& a, const Vec3& b) {
      return (a - p).squaredNorm() < (b - p).squaredNorm();
    });
  }
  const LaminateOptions& laminate() const { return true_mold_ ? state_.design : state_.laminate; }
  const FlowOptions& flow() const { return state_.flow; }

 private:
  const Bench& bench_;
  const State& state_;
  bool true_mold_;
  std::vector<double> gap_;
};

std::size_t nearest_vent(const FlowOptions& flow, const Vec3& p) {
  std::size_t best = 0;
  for (std::size_t k = 1; k < flow.vents.size(); ++k)
    if (distance_to_path(p, flow.vents[k].path) < distance_to_path(p, flow.vents[best].path)) best = k;
  return best;
}

struct Found {
  Tried tried;
  Correction c;
};

/// One vent put where the last air is, again and again; `k`: which of flow.vents.
Found place_vent(const Search& search, FlowOptions flow, std::size_t k, const Vec3& first) {
  Found best;
  best.tried.dry = 1e300;
  Vec3 at = first;
  for (int move = 0; move < kMoves; ++move) {
    flow.vents[k].path = {at};
    const Tried t = search(flow, search.laminate());
    if (!(t.dry < best.tried.dry)) break;  // it goes round in circles
    best.tried = t, best.c.port_to = {at};
    if (!t.traps || (t.at - at).norm() < flow.vents[k].radius) break;
    at = t.at;
  }
  return best;
}

std::vector<Vec3> circle(const Vec3& at, double radius) {
  std::vector<Vec3> out;
  for (int k = 0; k <= kCorners; ++k) {
    const double a = 2 * M_PI * (k % kCorners) / kCorners;
    out.push_back(at + radius * Vec3(std::cos(a), std::sin(a), 0));
  }
  return out;
}

}  // namespace

std::vector<Correction> layout_candidates(const Bench& bench, const CorrectOptions& o, const State& state,
                                          bool true_mold) {
  const CorrectInput& in = bench.in();
  if (in.flow.vents.empty()) return {};
  const Search search(bench, state, true_mold);
  const Tried before = search(state.flow, search.laminate());
  if (!before.traps) return {};
  const std::size_t near = nearest_vent(state.flow, before.at);
  const Vent& vent = state.flow.vents[near];
  const Message seen(true_mold ? "advice.true-mold-traps-air" : "advice.air-trapped-around", {arg::place(before.at)});

  const auto moved = [&]() -> Found {
    Found f = place_vent(search, state.flow, near, before.at);
    f.c.kind = Kind::vent_move, f.c.port = vent.name;
    f.c.instruction = {seen, Message("advice.move-vent", {arg::name(vent.name), arg::place(f.c.port_to.front())})};
    return f;
  };
  const auto added = [&]() -> Found {
    FlowOptions flow = state.flow;
    Vent more = vent;
    const auto is_taken = [&](const Vent& v) { return v.name == more.name; };
    std::size_t number = flow.vents.size();
    do more.name = "vent " + std::to_string(++number);
    while (std::any_of(flow.vents.begin(), flow.vents.end(), is_taken));
    more.path = {before.at};
    flow.vents.push_back(more);
    Found f = place_vent(search, flow, flow.vents.size() - 1, before.at);
    f.c.kind = Kind::vent_add, f.c.port = more.name, f.c.port_radius = more.radius;
    f.c.instruction = {seen, Message("advice.add-vent-mouth", {arg::name(more.name), arg::place(f.c.port_to.front()),
                                                               arg::length(2 * more.radius, 0)})};
    return f;
  };
  const auto enlarged = [&]() -> Found {
    Found best;
    best.tried.dry = 1e300;
    for (const double times : kMouths) {
      FlowOptions flow = state.flow;
      const double radius = std::min(kWidest, times * vent.radius);
      if (radius <= vent.radius) break;
      flow.vents[near].radius = radius;
      const Tried t = search(flow, search.laminate());
      if (t.dry < best.tried.dry) best.tried = t, best.c.port_radius = radius;
      if (!t.traps) break;
    }
    best.c.kind = Kind::vent_enlarge, best.c.port = vent.name, best.c.port_to = vent.path;
    best.c.instruction = {
        seen, Message("advice.open-mouth-vent-from",
                      {arg::name(vent.name), arg::length(2 * vent.radius, 0), arg::length(2 * best.c.port_radius, 0)})};
    return best;
  };
  const auto patched = [&]() -> Found {
    Found best;
    best.tried.dry = 1e300;
    if (vent.path.size() != 1 || state.laminate.plies.empty()) return best;
    const double radius = std::max(kPatchLeast, kPatchFraction * vent.radius);
    const Ply ply = [&] {
      Ply p = o.patch.count > 0 && o.patch.reinforcement.areal_weight > 0 ? o.patch : state.laminate.plies.front();
      p.count = 1;
      return p;
    }();
    LaminateZone zone;
    zone.name = "patch at " + vent.name, zone.adds = true, zone.plies = {ply};
    zone.where.polygon = circle(vent.path.front(), radius);
    LaminateOptions with = search.laminate();
    with.zones.push_back(zone);
    const auto gap = bench.gap(state);
    LaminateOptions laid = state.laminate;
    laid.zones.push_back(zone);
    if (laminate::evaluate_laminate(in.sheet, gap, laid).over_packed_area >
        laminate::evaluate_laminate(in.sheet, gap, state.laminate).over_packed_area)
      return best;  // would hold the mold open
    best.tried = search(state.flow, with);
    best.c.kind = Kind::reinforcement_patch, best.c.added = {zone}, best.c.outline = zone.where.polygon;
    best.c.port = vent.name;
    best.c.mean = best.c.peak = ply.count * ply.reinforcement.loft;
    best.c.area = M_PI * radius * radius, best.c.mass = ply.count * ply.reinforcement.areal_weight * best.c.area;
    best.c.inside.assign(in.sheet.size(), 0);
    for (std::size_t i = 0; i < in.sheet.size(); ++i)
      best.c.inside[i] = radius - (in.sheet.mesh.points[i] - vent.path.front()).norm();
    best.c.instruction = {
        seen, Message("advice.lay-extra-ply-over",
                      {arg::name(ply.reinforcement.name), arg::name(vent.name), arg::length(2 * radius, 0)})};
    return best;
  };
  std::vector<Found> found(4);
  parallel_for(
      4, [&](std::size_t k) { found[k] = k == 0   ? moved()
                                         : k == 1 ? added()
                                         : k == 2 ? enlarged()
                                                  : patched(); }, 1);
  std::vector<Correction> out;
  for (auto& f : found) {
    if (!(f.tried.dry < kWorthTrying * before.dry)) continue;
    if (!o.touch_tool && f.c.kind != Kind::reinforcement_patch) continue;
    f.c.redesign = true;
    if (f.c.kind != Kind::reinforcement_patch) {
      f.c.face = "port";
      f.c.centre = f.c.port_to.front();
    } else {
      f.c.face = "laminate", f.c.centre = vent.path.front();
      f.c.gap_change.assign(in.sheet.size(), 0);
    }
    f.c.effort = effort_hours(o.effort, f.c.kind, 0, f.c.area);
    out.push_back(std::move(f.c));
  }
  return out;
}

}  // namespace gapfront::correct
