// What lets the air out that a layout traps: vents, glass under them, packed radii, a deeper vacuum.
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "core/parallel.hpp"
#include "core/places.hpp"
#include "core/sheet_parts.hpp"
#include "correct/effort.hpp"
#include "correct/free_name.hpp"
#include "correct/port_places.hpp"
#include "correct/state.hpp"
#include "gapfront/radii.hpp"

namespace gapfront::correct {
namespace {

// Draws used while a place is searched; the plan re-computes what is found with all. Up to kTrapping of them are draws
// in which the state traps air: they tell where it lies, the others what a cure does elsewhere. Where one part in four
// traps air, the first six draws show none in one search of six.
constexpr std::size_t kSearchDraws = 6, kTrapping = 3;
// Moves of one vent: the pocket's centre comes near to where the front ends in two or three.
constexpr int kMoves = 4;
// Mouths that are tried, times the radius that is there, and the widest that is bored into a face, mm (own choice).
constexpr double kMouths[] = {1.5, 2, 3};
constexpr double kWidest = 40;
// A patch under a vent: four times as wide as the vent, and wider than a hand can miss, mm (own choice).
constexpr double kPatchFraction = 4, kPatchLeast = 30;
// Sizes of it that are tried, times that: a larger one holds back a front that comes from afar.
constexpr double kPatchSizes[] = {1, 1.6};
// A search that leaves more than this share of the dry area is no answer.
constexpr double kWorthTrying = 0.9;
// Corners of the outline of a round patch.
constexpr int kCorners = 24;

struct Tried {
  double dry = 0;  ///< mean over the fillings, mm²
  bool traps = false;
  Vec3 at = Vec3::Zero();    ///< where air is trapped most often
  std::vector<Vec3> places;  ///< where it is, filling by filling
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

/// Their numbers, of `all`; first the state as it is.
std::vector<int> draws_to_search(const std::vector<DrawnFill>& known, int all) {
  std::vector<int> out, others;
  for (int k = 0; k < all; ++k) {
    const bool traps = static_cast<std::size_t>(k) < known.size() && known[static_cast<std::size_t>(k)].pocket;
    (traps && out.size() < kTrapping ? out : others).push_back(k);
  }
  others.resize(std::min(others.size(), kSearchDraws - out.size()));
  out.insert(out.end(), others.begin(), others.end());
  if (!out.empty()) out.insert(out.begin(), flow::kUndrawn);
  return out;
}

class Search {
 public:
  Search(const Bench& bench, const State& state, bool true_mold, const std::vector<DrawnFill>& known)
      : bench_(bench),
        state_(state),
        true_mold_(true_mold),
        draws_(draws_to_search(known, bench.all_draws())),
        gap_(bench.gap(state)) {
    const CorrectInput& in = bench.in();
    const Breathing* b = true_mold ? in.nominal_breathing : in.breathing;
    if (true_mold) gap_ = in.verdict.nominal;
    if (b) gap_ = flow::under_filling(gap_, *b);
  }
  /// What the state comes to with the correction, by a few draws; by the filling, where none are made. What surely
  /// leaves `most` or more dry is not drawn to the end; then `dry` is what was found by then, spread over all, and no
  /// less than `most`.
  Tried operator()(const Correction& c, double most = std::numeric_limits<double>::infinity()) const {
    const CorrectInput& in = bench_.in();
    std::vector<double> none(gap_.size(), 0);  // no change of the gap lets out air that a layout traps
    LaminateOptions laminate = this->laminate();
    FlowOptions flow = state_.flow;
    apply(c, none, laminate, flow);
    Tried out;
    const auto count = [&](double dry, bool pocket, const Vec3& centre) {
      if (pocket) out.places.push_back(centre), out.traps = true;
      out.dry += dry / double(std::max<std::size_t>(1, draws_.size()));
    };
    if (draws_.empty()) {
      const Filling f = flow::fill(in.sheet, laminate::evaluate_laminate(in.sheet, gap_, laminate), flow);
      const double dry = flow::dry_area(f);
      count(dry, dry > (in.ensemble ? in.ensemble->min_dry : 0),
            f.pockets.empty() ? Vec3::Zero() : f.pockets.front().centre);
    }
    for (auto from = draws_.begin(); from != draws_.end() && !(out.traps && out.dry >= most);) {
      const auto to = from + std::min<std::ptrdiff_t>(kTrapping, draws_.end() - from);
      for (const auto& d : flow::draw_air(in.sheet, in.gap, gap_, laminate, flow, *in.ensemble, {from, to}, true_mold_,
                                          nullptr, bench_.kept()))
        count(d.dry_area, d.pocket, d.centre);
      from = to;
    }
    if (!out.places.empty()) out.at = in.sheet.mesh.points[nearest_node(in.sheet, medoid(out.places))];
    return out;
  }
  const LaminateOptions& laminate() const { return true_mold_ ? state_.design : state_.laminate; }

 private:
  const Bench& bench_;
  const State& state_;
  bool true_mold_;
  std::vector<int> draws_;
  std::vector<double> gap_;
};

std::size_t nearest_vent(const FlowOptions& flow, const Vec3& p) {
  std::size_t best = 0;
  for (std::size_t k = 1; k < flow.vents.size(); ++k)
    if (distance_to_path(p, flow.vents[k].path) < distance_to_path(p, flow.vents[best].path)) best = k;
  return best;
}

/// The best of one kind; with an endless dry area if there is none.
struct Found {
  Tried tried{.dry = std::numeric_limits<double>::infinity()};
  Correction c;
  Vec3 air = Vec3::Zero();  ///< that a port is put where it is for
};

/// A vent, moved or added, put where the last air is, again and again.
Found place_vent(const Search& search, const PortPlaces& places, Correction c, const Vec3& first, double radius) {
  Found best;
  std::vector<Vec3> tried;
  Vec3 air = first, at = places.nearest(air, radius);
  for (int move = 0; move < kMoves; ++move) {
    c.port_to = {at}, tried.push_back(at);
    const Tried t = search(c, best.tried.dry);
    if (!(t.dry < best.tried.dry)) break;
    best = {t, c, air};
    const Vec3 next = places.nearest(t.at, radius);
    if (!t.traps || (next - at).norm() < radius) break;
    // Of the places before only the very same is left out: what lies near one may be better.
    if (std::find(tried.begin(), tried.end(), next) != tried.end()) break;  // it goes round in circles
    air = t.at, at = next;
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

/// The air that the layout traps, and the vent nearest to it.
struct TrappedAir {
  const Bench& bench;
  const CorrectOptions& o;
  const State& state;
  const Search& search;
  const PortPlaces& places;
  Vec3 at;
  std::size_t near;  ///< of state.flow.vents
  const char* seen;  ///< id of what is said of a place of trapped air
  const Vent& vent() const { return state.flow.vents[near]; }
  Message said(const Vec3& where) const { return Message(seen, {arg::place(where)}); }
};

Found move_of_vent(const TrappedAir& t) {
  Correction c;
  c.kind = Kind::vent_move, c.port = t.vent().name;
  Found f = place_vent(t.search, t.places, std::move(c), t.at, t.vent().radius);
  f.c.instruction = {t.said(f.air),
                     Message("advice.move-vent", {arg::name(f.c.port), arg::place(f.c.port_to.front())})};
  return f;
}

Found vent_more(const TrappedAir& t) {
  Correction c;
  c.kind = Kind::vent_add, c.port = free_name(t.state.flow.vents, "vent "), c.port_radius = t.vent().radius;
  Found f = place_vent(t.search, t.places, std::move(c), t.at, t.vent().radius);
  f.c.instruction = {t.said(f.air),
                     Message("advice.add-vent-mouth", {arg::name(f.c.port), arg::place(f.c.port_to.front()),
                                                       arg::length(2 * f.c.port_radius, 0)})};
  return f;
}

Found wider_vent(const TrappedAir& t) {
  Found best;
  const Vent& vent = t.vent();
  Correction c;
  c.kind = Kind::vent_enlarge, c.port = vent.name, c.port_to = vent.path;
  for (const double times : kMouths) {
    c.port_radius = std::min(kWidest, times * vent.radius);
    if (c.port_radius <= vent.radius) break;
    if (vent.path.size() == 1 && !t.places.holds(vent.path.front(), c.port_radius)) break;
    const Tried tried = t.search(c, best.tried.dry);
    if (tried.dry < best.tried.dry) best = {tried, c};
    if (!tried.traps) break;
  }
  best.c.instruction = {t.said(t.at),
                        Message("advice.open-mouth-vent-from", {arg::name(vent.name), arg::length(2 * vent.radius, 0),
                                                                arg::length(2 * best.c.port_radius, 0)})};
  return best;
}

LaminateOptions with_zone(LaminateOptions o, const LaminateZone& zone) {
  o.zones.push_back(zone);
  return o;
}

/// Whether more glass holds the mold open nowhere else, and puts nothing more outside its window by weight.
bool suits(const TrappedAir& t, const LaminateMap& before, const LaminateOptions& with) {
  const LaminateMap after = laminate::evaluate_laminate(t.bench.in().sheet, t.bench.gap(t.state), with);
  return after.over_packed_area <= before.over_packed_area &&
         after.weight_out_area <= before.weight_out_area + t.bench.in().tolerance.min_region_area;
}

/// One ply more, which lets the resin pass the vent more slowly: of every kind at hand, in two sizes, the one that
/// leaves the least dry.
Found patch_at_vent(const TrappedAir& t) {
  Found best;
  const Vent& vent = t.vent();
  const LaminateOptions& laid = t.state.laminate;
  if (vent.path.size() != 1 || laid.plies.empty()) return best;
  std::vector<Ply> plies = laid.plies;
  if (t.o.patch.count > 0 && t.o.patch.reinforcement.areal_weight > 0) plies = {t.o.patch};
  const Sheet& sheet = t.bench.in().sheet;
  const LaminateMap before = laminate::evaluate_laminate(sheet, t.bench.gap(t.state), laid);
  for (Ply& ply : plies)
    for (const double wider : kPatchSizes) {
      const double radius = wider * std::max(kPatchLeast, kPatchFraction * vent.radius);
      ply.count = 1;
      LaminateZone zone;
      zone.name = "patch at " + vent.name, zone.adds = true, zone.plies = {ply};
      zone.where.polygon = circle(vent.path.front(), radius);
      if (!suits(t, before, with_zone(laid, zone))) continue;
      Correction c;
      c.kind = Kind::reinforcement_patch, c.port = vent.name, c.added = {zone};
      const Tried tried = t.search(c, best.tried.dry);
      if (!(tried.dry < best.tried.dry)) continue;
      c.outline = zone.where.polygon;
      c.mean = c.peak = ply.count * ply.reinforcement.loft;
      c.area = M_PI * radius * radius, c.mass = ply.count * ply.reinforcement.areal_weight * c.area;
      for (const Vec3& p : sheet.mesh.points) c.inside.push_back(radius - (p - vent.path.front()).norm());
      c.instruction = {t.said(t.at),
                       Message("advice.lay-extra-ply-over",
                               {arg::name(ply.reinforcement.name), arg::name(vent.name), arg::length(2 * radius, 0)})};
      best = {tried, std::move(c)};
      if (!tried.traps) break;
    }
  return best;
}

/// Of the inside radii that the glass bridges the one, or all of them, packed with roving: no front runs ahead there.
Found packed_radius(const TrappedAir& t) {
  Found best;
  const Sheet& sheet = t.bench.in().sheet;
  const LaminateOptions& laid = t.search.laminate();
  const std::vector<Bridge> bridges = laminate::bridges(sheet, t.bench.gap(t.state), laid);
  std::vector<std::size_t> open;
  for (std::size_t k = 0; k < bridges.size(); ++k)
    if (bridges[k].conductance > 0) open.push_back(k);
  std::vector<std::vector<std::size_t>> sets;
  for (const std::size_t k : open) sets.push_back({k});
  if (open.size() > 1) sets.push_back(open);
  for (const auto& set : sets) {
    Correction c;
    c.kind = Kind::radius_packing;
    for (const std::size_t k : set) c.packed.push_back(laid.radii[k].name);
    const Tried tried = t.search(c, best.tried.dry);
    if (!(tried.dry < best.tried.dry)) continue;
    Messages names;
    for (const std::size_t k : set) {
      const InsideRadius& r = laid.radii[k];
      const double length = laminate::length_of(r);
      names.push_back(Message("list.plain", {arg::name(r.name)}));
      c.area += length * r.width(), c.volume += length * bridges[k].area;
      c.mass += laminate::roving_mass(r, bridges[k]);
      c.peak = std::max(c.peak, bridges[k].height);
      if (set.size() == 1) c.centre = r.path[r.path.size() / 2];
    }
    c.mean = c.peak;
    c.instruction = {t.said(t.at), Message("optimiser.pack-radii", {names, arg::mass(c.mass)})};
    best = {tried, std::move(c)};
    if (!tried.traps) break;
  }
  return best;
}

/// The cavity evacuated as deep as the job allows: less gas is shut in.
Found deeper_vacuum(const TrappedAir& t) {
  Found best;
  if (!(t.o.least_cavity_pressure > 0) || t.o.least_cavity_pressure >= t.state.flow.cavity_pressure) return best;
  Correction& c = best.c;
  c.kind = Kind::vacuum_level, c.setting = t.o.least_cavity_pressure;
  c.instruction = {t.said(t.at), Message("optimiser.set-vacuum", {arg::pressure(c.setting)})};
  best.tried = t.search(c);
  return best;
}

/// With what all of its kind have in common.
Correction finished(Correction c, const TrappedAir& t) {
  c.redesign = true;
  if (c.kind == Kind::vacuum_level) {
    c.face = "settings", c.centre = t.at;
  } else if (c.kind == Kind::radius_packing) {
    c.face = "laminate";
    if (c.packed.size() > 1) c.centre = t.at;
  } else if (c.kind != Kind::reinforcement_patch) {
    c.face = "port", c.centre = mean_place(c.port_to);
  } else {
    c.face = "laminate", c.centre = t.vent().path.front();
    c.gap_change.assign(t.bench.in().sheet.size(), 0);
  }
  c.effort = effort_hours(t.o, c.kind, 0, c.area);
  return c;
}

}  // namespace

std::vector<Correction> layout_candidates(const Bench& bench, const CorrectOptions& o, const State& state,
                                          bool true_mold, const std::vector<DrawnFill>& known) {
  if (bench.in().flow.vents.empty()) return {};
  const Search search(bench, state, true_mold, known);
  const Tried before = search(Correction{});
  if (!before.traps) return {};
  const PortPlaces places(bench.in().sheet);
  const TrappedAir air{bench,
                       o,
                       state,
                       search,
                       places,
                       before.at,
                       nearest_vent(state.flow, before.at),
                       true_mold ? "advice.true-mold-traps-air" : "advice.air-trapped-around"};
  constexpr std::array ways{move_of_vent, vent_more, wider_vent, patch_at_vent, packed_radius, deeper_vacuum};
  std::array<Found, ways.size()> found;
  parallel_for(
      ways.size(), [&](std::size_t k) { found[k] = ways[k](air); }, 1);
  std::vector<Correction> out;
  for (Found& f : found) {
    if (!(f.tried.dry < kWorthTrying * before.dry)) continue;
    const bool on_tool = f.c.kind == Kind::vent_move || f.c.kind == Kind::vent_add || f.c.kind == Kind::vent_enlarge;
    if (!o.touch_tool && on_tool) continue;
    out.push_back(finished(std::move(f.c), air));
  }
  return out;
}

}  // namespace gapfront::correct
