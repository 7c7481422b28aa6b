#include "correct/find_place.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <tuple>

#include "correct/tape_measures.hpp"

namespace gapfront::correct {
namespace {

// Two tapes that meet at less than 30° find a place badly: an error of one is doubled across them.
constexpr double kLeastCrossing = 0.5;
// Places where the lengths meet that are this near count as one, mm.
constexpr double kOneMeeting = 15;
// A pair that finds the place to that, mm, by error_of, is good enough for its kind to be preferred; own choice.
constexpr double kGood = 2;
// What finds a place worse than that, mm, is no instruction; own choice.
constexpr double kUseful = 4;
// How well a hand squares a tape to an edge: a degree.
constexpr double kSquaring = 0.0175;

/// How far a reading may be off, mm, to rank pairs by what they find; own choice: half a division, and of the length a
/// thousandth straight, three thousandths along an edge or squarely in from one. A tape that runs aslant over radii
/// wanders: a hundredth, which is what carrying it out on the generator's dishes shows.
double error_of(const TapeLine& t) {
  return 0.5 + (t.way == Way::straight ? 0.001 : t.way == Way::over_surface ? 0.01 : 0.003) * t.distance;
}

/// Where both lengths are right, by linear course in the triangles; places nearer than kOneMeeting are one.
std::vector<Vec3> meetings(const Mesh& m, const TapeMeasure& a, double la, const TapeMeasure& b, double lb) {
  std::vector<Vec3> out;
  for (const auto& t : m.triangles) {
    Eigen::Matrix2d j;
    j << a.length[t[1]] - a.length[t[0]], a.length[t[2]] - a.length[t[0]], b.length[t[1]] - b.length[t[0]],
        b.length[t[2]] - b.length[t[0]];
    if (!j.allFinite() || std::abs(j.determinant()) < 1e-9) continue;
    const Eigen::Vector2d s = j.inverse() * Eigen::Vector2d(la - a.length[t[0]], lb - b.length[t[0]]);
    // A little outside as well: the lengths at the nodes are not the taut ones.
    if (s.x() < -0.2 || s.y() < -0.2 || s.sum() > 1.2) continue;
    const Vec3 p =
        m.points[t[0]] + s.x() * (m.points[t[1]] - m.points[t[0]]) + s.y() * (m.points[t[2]] - m.points[t[0]]);
    if (std::none_of(out.begin(), out.end(), [&](const Vec3& q) { return (q - p).norm() < kOneMeeting; }))
      out.push_back(p);
  }
  return out;
}

/// The axis along which `p` lies farther out than every other place, by the most; nothing if there is none.
std::optional<std::string> farthest(const Vec3& p, const std::vector<Vec3>& others) {
  const std::pair<const char*, Vec3> sides[] = {
      {"+x", Vec3::UnitX()}, {"−x", -Vec3::UnitX()}, {"+y", Vec3::UnitY()}, {"−y", -Vec3::UnitY()}};
  std::optional<std::string> out;
  double most = kOneMeeting / 2;
  for (const auto& [name, way] : sides) {
    double minimum = 1e9;
    for (const Vec3& q : others) minimum = std::min(minimum, (p - q).dot(way));
    if (minimum > most) most = minimum, out = name;
  }
  return out;
}

/// The best pair of lengths that finds the node to within `most`, mm; none: there is no such pair.
Finding best_pair(const BenchHalf& half, const std::vector<TapeMeasure>& all, int node, double most) {
  const Vec3 place = half.face.points[node], normal = half.normals[node];
  std::vector<std::array<std::size_t, 2>> pairs;
  for (std::size_t i = 0; i < all.size(); ++i)
    for (std::size_t j = i + 1; j < all.size(); ++j)
      if (std::abs(normal.dot(all[i].grows.cross(all[j].grows))) > kLeastCrossing &&
          !(all[i].axis >= 0 && all[i].axis == all[j].axis))  // opposite edges meet twice, if at all
        pairs.push_back({i, j});
  const auto key = [&](const std::array<std::size_t, 2>& p) {
    const TapeMeasure &a = all[p[0]], &b = all[p[1]];
    const double error = std::hypot(error_of(a.tape), error_of(b.tape)) / std::abs(normal.dot(a.grows.cross(b.grows)));
    return std::tuple(error > kGood, a.cost + b.cost, error);
  };
  std::stable_sort(pairs.begin(), pairs.end(), [&](const auto& a, const auto& b) { return key(a) < key(b); });
  for (const auto& p : pairs) {
    const TapeMeasure &a = all[p[0]], &b = all[p[1]];
    if (std::get<2>(key(p)) > most) continue;
    auto others = meetings(half.face, a, a.tape.distance, b, b.tape.distance);
    others.erase(
        std::remove_if(others.begin(), others.end(), [&](const Vec3& q) { return (q - place).norm() < kOneMeeting; }),
        others.end());
    if (others.empty()) return {{a.tape, b.tape}, ""};
    if (const auto side = farthest(place, others)) return {{a.tape, b.tape}, *side};
  }
  return {};
}

}  // namespace

Finding find_place(const BenchHalf& half, const Surroundings& around, const std::vector<Reference>& known, int node) {
  const OverFace face(half.face);
  std::vector<TapeMeasure> all = straight_measures(half, around, known, node);
  if (Finding f = best_pair(half, all, node, kGood); !f.tape.empty()) return f;
  for (auto& m : surface_measures(half, face, known, node)) all.push_back(std::move(m));
  for (auto& m : edge_measures(half, face, node)) all.push_back(std::move(m));
  if (Finding f = best_pair(half, all, node, kGood); !f.tape.empty()) return f;
  // Along the edge from beside the nearest known place, then squarely in; or what finds the place less well.
  const auto by_edge = along_edge_and_in(half, face, known, node);
  if (!by_edge) return best_pair(half, all, node, kUseful);
  const auto& [along, in, off] = *by_edge;
  const double error = std::hypot(error_of(along), error_of(in), kSquaring * std::hypot(in.distance, off));
  if (Finding f = best_pair(half, all, node, std::min(error, kUseful)); !f.tape.empty()) return f;
  return {{along, in}, ""};
}

}  // namespace gapfront::correct
