// Cloth as its net lays it at a node.
#include <cmath>
#include <numbers>

#include "laminate/lay_up.hpp"

namespace gapfront {

double laminate::quarter_rest(double deg) {
  const double rest = std::fmod(std::fmod(deg, 90) + 90, 90);
  return 90 - rest < 1e-6 ? 0 : rest;
}

int laminate::net_of(const Ply& p, const std::vector<DrapedCloth>& nets) {
  if (p.reinforcement.cloth)
    for (std::size_t k = 0; k < nets.size(); ++k)
      if (std::abs(nets[k].direction_deg - quarter_rest(p.direction_deg)) < 1e-6) return static_cast<int>(k);
  return -1;
}

std::vector<int> laminate::drape_key(const LaminateOptions& o, std::size_t node) {
  std::vector<int> key;
  for (const DrapedCloth& net : o.draped) {
    const DrapedNode &at = net.nodes[node], &first = o.draped[0].nodes[node];
    key.push_back(static_cast<int>(std::lround((at.turn - first.turn) / kDrapeStep)));
    key.push_back(static_cast<int>(std::lround(at.threads / kDrapeStep)));
  }
  return key;
}

void laminate::shear_plies(std::vector<Ply>& plies, const LaminateOptions& o, std::size_t node) {
  constexpr double deg = 180 / std::numbers::pi;
  for (Ply& p : plies) {
    const int k = net_of(p, o.draped);
    if (k < 0) continue;
    const DrapedCloth& net = o.draped[k];
    const DrapedNode& at = net.nodes[node];
    const double threads = at.threads * deg, turn = (at.turn - o.draped[0].nodes[node].turn) * deg;
    const bool along_weft = std::lround((p.direction_deg - net.direction_deg) / 90) % 2 != 0;
    if (std::abs(threads - 90) < 1e-9) {
      p.direction_deg += turn;
      continue;
    }
    p.count /= std::sin(at.threads);
    // Seen from the weft, the warp crosses at what is left to a half turn.
    p.direction_deg = net.direction_deg + turn + (along_weft ? threads : 0);
    p.threads_deg = along_weft ? 180 - threads : threads;
  }
}

}  // namespace gapfront
