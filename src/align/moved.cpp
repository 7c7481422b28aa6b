// A scan of the same half that lies otherwise than when the job was written: its balls are told by their distances.
#include <algorithm>
#include <map>

#include "align/find_balls.hpp"
#include "align/targets.hpp"

namespace gapfront::align {
namespace {

/// The diameter that most targets have; 0: none is a ball.
double usual_ball(const std::vector<Target>& targets) {
  std::map<double, int> count;
  for (const Target& t : targets)
    if (t.ball && !t.touched) ++count[*t.ball];
  const auto most = std::max_element(count.begin(), count.end(), [](auto& a, auto& b) { return a.second < b.second; });
  return most == count.end() ? 0 : most->first;
}

}  // namespace

std::optional<Rigid> motion_of_scan(const Scan& scan, const std::vector<Target>& targets, bool upper, double noise) {
  const double diameter = usual_ball(targets);
  if (!(diameter > 0)) return std::nullopt;
  std::vector<Vec3> there;
  for (const Vec3& p : spare_balls(scan.cloud.points, noise, diameter, {}))
    if (there.size() < kMostMatched) there.push_back(p);
  // As read in the earlier scan; where those were rough, as in the tool frame.
  for (const bool by_tool : {false, true}) {
    std::vector<Vec3> known, earlier;
    for (const Target& t : targets) {
      const auto& at = upper ? t.upper : t.lower;
      if (!t.ball || *t.ball != diameter || !at || (by_tool && !t.tool) || known.size() >= kMostMatched) continue;
      known.push_back(by_tool ? *t.tool : at->at), earlier.push_back(at->at);
    }
    const BallMatch match = match_balls(known, there, kPatternPlay);
    if (match.ways != 1 || match.pairs.size() < 3 || 2 * match.pairs.size() < known.size()) continue;
    std::vector<Vec3> from, to;
    for (const auto& [i, j] : match.pairs) from.push_back(earlier[i]), to.push_back(there[j]);
    return fit_rigid(from, to);
  }
  return std::nullopt;
}

}  // namespace gapfront::align
