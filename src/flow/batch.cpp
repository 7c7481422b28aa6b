// What a whole batch of glass has in common, drawn, and how its places scatter.
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <random>

#include "gapfront/draws.hpp"
#include "gapfront/units.hpp"

namespace gapfront {
namespace {

// How differently the same corner is laid from part to part, of the height of its bridge (own choice: pushed in by
// hand, up to nothing and up to double; laid over, less).
constexpr double kTucked = 0.5, kLaid = 0.3;

using Random = std::mt19937_64;

/// Whether its bridge differs from part to part.
bool by_hand(const InsideRadius& r) { return r.packing == Packing::tucked || r.packing == Packing::loose; }

/// The same name is drawn alike in every state that is compared, whatever lies beside it (FNV-1a).
Random of_name(const std::string& name, unsigned seed, unsigned number) {
  std::uint32_t hash = 2166136261U;
  for (const char c : name) hash = (hash ^ static_cast<unsigned char>(c)) * 16777619U;
  std::seed_seq all{seed, number, hash};
  return Random(all);
}

void draw_glass(Reinforcement& r, unsigned seed, unsigned number) {
  const GlassSpread& s = r.spread;
  if (!s.batch()) return;
  Random random = of_name(r.name, seed, number);
  std::normal_distribution<double> normal;
  const double weight = std::exp(s.areal_weight * normal(random)), loft = std::exp(s.loft * normal(random));
  const double vf = std::exp(s.vf * normal(random)), k = std::exp(s.permeability * normal(random));
  r.areal_weight *= weight;
  // The loft is known by itself; glass of another weight in it is packed the other way.
  r.loft *= loft;
  if (r.compaction.kind == CompactionLaw::Kind::power) r.compaction.a *= vf;
  for (auto& row : r.compaction.table) row.first *= vf;
  r.permeability.a *= k;
  for (auto& row : r.permeability.table) row.second *= k;
}

}  // namespace

LaminateOptions flow::drawn_batch(const LaminateOptions& laminate, unsigned seed, unsigned number) {
  LaminateOptions out = laminate;
  for (Ply& p : out.plies) draw_glass(p.reinforcement, seed, number);
  for (LaminateZone& z : out.zones)
    for (Ply& p : z.plies) draw_glass(p.reinforcement, seed, number);
  for (InsideRadius& r : out.radii) {
    if (!by_hand(r)) continue;
    Random random = of_name(r.name, seed, number);
    std::normal_distribution<double> normal;
    r.factor *= std::exp((r.packing == Packing::tucked ? kTucked : kLaid) * normal(random));
  }
  return out;
}

bool flow::batch_is_drawn(const LaminateOptions& laminate) {
  const auto plies = laminate::all_plies(laminate);
  return std::any_of(plies.begin(), plies.end(), [](const Ply* p) { return p->reinforcement.spread.batch(); }) ||
         std::any_of(laminate.radii.begin(), laminate.radii.end(), by_hand);
}

ScatterModel flow::scatter_model(const Sheet& sheet, const LaminateOptions& laminate, ScatterModel otherwise) {
  const auto at = laminate::spread_at(sheet, laminate);
  if (std::any_of(at.begin(), at.end(), [](double s) { return s > 0; })) {
    otherwise.spread_at = at;
    for (double& s : otherwise.spread_at)
      if (!(s > 0)) s = otherwise.spread;
  }
  // A field for the whole stack: of its plies the one that differs most from place to place.
  for (const Ply* p : laminate::all_plies(laminate))
    otherwise.weight = std::max(otherwise.weight, p->reinforcement.spread.pieces);
  return otherwise;
}

double flow::drawn_viscosity(double spread, unsigned seed, unsigned number) {
  if (!(spread > 0)) return 1;
  Random random = of_name("resin", seed, number);
  return std::exp(spread * std::normal_distribution<double>()(random));
}

}  // namespace gapfront
