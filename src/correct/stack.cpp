// Glass that fills the section and lets the mold close.
#include <algorithm>
#include <cmath>
#include <optional>

#include "correct/effort.hpp"
#include "correct/state.hpp"

namespace gapfront::correct {
namespace {

// Plies of a kind more than there are now that are tried for another stack; more would be another part.
constexpr int kMorePlies = 2;
// Kinds of ply that are combined anew: with more the job should say what is wanted.
constexpr std::size_t kPlyKinds = 4;

struct Fit {
  double bad = 0;     ///< over-packed and not filled, mm²
  double weight = 0;  ///< outside the window by weight, mm²
  bool closes = true;
  bool operator<(const Fit& b) const {
    if (closes != b.closes) return closes;
    return bad != b.bad ? bad < b.bad : weight < b.weight;
  }
};

/// How glass suits a true mold.
Fit fit_of(const CorrectInput& in, const LaminateOptions& l, const FlowOptions& flow) {
  const LaminateMap m = laminate::evaluate_laminate(in.sheet, in.verdict.nominal, l);
  return {m.over_packed_area + m.under_filled_area, m.weight_out_area,
          flow::close_mold(in.sheet, in.verdict.nominal, l, flow).closes()};
}

Correction reinforcement_of_every_part(const CorrectInput& in, const CorrectOptions& o, Kind kind) {
  Correction c;
  c.kind = kind, c.face = "laminate", c.redesign = true;
  double area = 0;
  for (std::size_t i = 0; i < in.sheet.size(); ++i)
    c.centre += in.sheet.area[i] * in.sheet.mesh.points[i], area += in.sheet.area[i];
  if (area > 0) c.centre /= area;
  c.effort = effort_hours(o, kind, 0, 0);
  return c;
}

Messages plies_of(const std::vector<Ply>& plies) {
  Messages out;
  for (const Ply& p : plies)
    out.push_back(Message("list.times", {arg::number(p.count), arg::name(p.reinforcement.name)}));
  return out;
}

/// The glass as it should be (in a true mold) and as it lies now, and what suits how well.
struct StackCase {
  const Bench& bench;
  const CorrectOptions& o;
  const State& state;
  Fit now;
  double minimum;  ///< area that counts, mm²
  LaminateMap true_mold, as_it_is;
};

/// Overlaps that are packed too tight are butted instead.
void cut_overlaps(const StackCase& s, std::vector<Correction>& out) {
  const CorrectInput& in = s.bench.in();
  const LaminateOptions& design = s.state.design;
  for (std::size_t z = 0; z < design.zones.size(); ++z) {
    const LaminateZone& zone = design.zones[z];
    if (!zone.adds || zone.plies.empty()) continue;
    if (s.as_it_is.zones[z + 1].over_packed <= s.minimum && s.true_mold.zones[z + 1].over_packed <= s.minimum &&
        s.now.closes)
      continue;
    LaminateOptions without = design;
    without.zones.erase(without.zones.begin() + static_cast<long>(z));
    if (!(fit_of(in, without, s.state.flow) < s.now)) continue;  // cut, the place would not be filled
    Correction c = reinforcement_of_every_part(in, s.o, Kind::overlap_cut);
    c.cut = {zone.name};
    c.instruction = {Message("advice.butt-plies-zone-every", {arg::name(zone.name)})};
    out.push_back(std::move(c));
  }
}

/// A ply more, everywhere or in one zone, where the glass does not fill the section: the one that suits best.
void add_filling_ply(const StackCase& s, std::vector<Correction>& out) {
  const CorrectInput& in = s.bench.in();
  const LaminateOptions& design = s.state.design;
  std::vector<std::pair<std::string, Region>> sites{{"", Region{}}};
  for (std::size_t z = 0; z < design.zones.size(); ++z)
    if (s.true_mold.zones[z + 1].under_filled > s.minimum)
      sites.push_back({design.zones[z].name, design.zones[z].where});
  Fit best = s.now;
  std::optional<Correction> ply;
  for (const auto& [name, where] : sites)
    for (const Ply& p : s.state.laminate.plies) {
      LaminateZone zone;
      zone.name = "filling ply", zone.where = where, zone.adds = true, zone.plies = {p};
      zone.plies.front().count = 1;
      LaminateOptions with = design;
      with.zones.push_back(zone);
      const Fit fit = fit_of(in, with, s.state.flow);
      if (!(fit < best)) continue;
      best = fit;
      ply = reinforcement_of_every_part(in, s.o, Kind::filling_ply);
      ply->added = {zone};
      ply->mean = ply->peak = p.reinforcement.loft;
      ply->instruction = {
          name.empty() ? Message("advice.lay-ply-more-over", {arg::name(p.reinforcement.name)})
                       : Message("advice.lay-ply-more-over-zone", {arg::name(p.reinforcement.name), arg::name(name)})};
    }
  if (ply) out.push_back(std::move(*ply));
}

/// Numbers of each ply, as a counter that runs through all of them.
struct PlyCounter {
  std::vector<int> most, count;
  explicit PlyCounter(const std::vector<Ply>& plies) : count(plies.size(), 0) {
    for (const Ply& p : plies) most.push_back(static_cast<int>(std::ceil(p.count)) + kMorePlies);
  }
  /// False: it has been through.
  bool next() {
    std::size_t k = 0;
    for (; k < count.size() && ++count[k] > most[k]; ++k) count[k] = 0;
    return k < count.size();
  }
};

/// Other numbers of the plies at hand: the stack that suits best, and of equals the one that changes least.
void add_other_stack(const StackCase& s, std::vector<Correction>& out) {
  const CorrectInput& in = s.bench.in();
  const auto& plies = s.state.design.plies;
  if (plies.size() > kPlyKinds) return;
  Fit best = s.now;
  double min_change = 1e9;
  std::vector<Ply> taken;
  PlyCounter n(plies);
  do {
    std::vector<Ply> stack;
    double change = 0;
    for (std::size_t k = 0; k < plies.size(); ++k) {
      change += std::abs(n.count[k] - plies[k].count);
      if (n.count[k] == 0) continue;
      stack.push_back(plies[k]);
      stack.back().count = n.count[k];
    }
    if (!(change > 0) || stack.empty()) continue;
    LaminateOptions with = s.state.design;
    with.plies = stack;
    const Fit fit = fit_of(in, with, s.state.flow);
    if (fit < best || (!(best < fit) && change < min_change && !taken.empty()))
      best = fit, min_change = change, taken = stack;
  } while (n.next());
  if (taken.empty()) return;
  Correction c = reinforcement_of_every_part(in, s.o, Kind::other_stack);
  c.stack = taken;
  c.instruction = {Message("advice.lay-another-stack-every", {plies_of(taken), plies_of(plies)})};
  out.push_back(std::move(c));
}

}  // namespace

std::vector<Correction> stack_candidates(const Bench& bench, const CorrectOptions& o, const State& state) {
  const CorrectInput& in = bench.in();
  const StackCase s{bench,
                    o,
                    state,
                    fit_of(in, state.design, state.flow),
                    in.tolerance.min_region_area,
                    laminate::evaluate_laminate(in.sheet, in.verdict.nominal, state.design),
                    laminate::evaluate_laminate(in.sheet, bench.gap(state), state.laminate)};
  const bool too_thin = s.true_mold.under_filled_area > s.minimum;
  const bool too_thick = s.true_mold.over_packed_area > s.minimum || !s.now.closes;
  std::vector<Correction> out;
  cut_overlaps(s, out);
  if (too_thin) add_filling_ply(s, out);
  if (too_thin || too_thick) add_other_stack(s, out);
  for (auto& c : out) c.gap_change.assign(in.sheet.size(), 0);
  return out;
}

}  // namespace gapfront::correct
