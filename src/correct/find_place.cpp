#include "correct/find_place.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <optional>
#include <set>
#include <tuple>

namespace gapfront::correct {
namespace {

// Two tapes that meet at less than 30° find a place badly: an error of one is doubled across them.
constexpr double kLeastCrossing = 0.5;
// A tape that would be this deep in the half is bent around it without a change of its length that could be read: over
// 200 mm by 8·0.3²/(3·200) = 0.001 mm.
constexpr double kSink = 0.3;
// Of the scan of a flange, with its noise and its chamfers.
constexpr double kSinkFlange = 0.5;
// Cells of the grid, mm: what is smaller in plan is no obstacle to a tape, and a scan has points in each.
constexpr double kCell = 4;
// So many points of a scan are looked at: enough for one in each cell of a square metre.
constexpr std::size_t kPoints = 400000;
// What a tape is held to: a dowel or a shim station is not wider than that, mm; a ball and its seat are within one and
// a half diameters.
constexpr double kHeld = 15, kSeat = 3;
// A flange that is as high as the station to this, mm, has the tape lie on it.
constexpr double kFlat = 3;
// Places where the lengths meet that are this near count as one, mm.
constexpr double kOneMeeting = 15;
// A tape that looks square to an edge is so to some 10°.
constexpr double kSquare = 0.17;
// A pair that finds the place to that, mm, by error_of, is good enough for its kind to be preferred; own choice.
constexpr double kGood = 2;
// What finds a place worse than that, mm, is no instruction; own choice.
constexpr double kUseful = 4;
// Sides of the rim that face a direction to 12°: their straight part.
constexpr double kFaces = 0.978;
// A tape that leaves a side that near to its end, mm, may belong to the corner as well.
constexpr double kFromEnd = 10;

double cross2(const Vec3& a, const Vec3& b) { return a.x() * b.y() - a.y() * b.x(); }

/// Calls use(t0, t1, height − triangle's height at both) for every triangle that the segment passes over in plan.
template <class Use>
bool any_triangle_under(const Mesh& m, const Vec3& a, const Vec3& b, Use use) {
  const Vec3 d = b - a;
  for (const auto& t : m.triangles) {
    const Vec3 &p = m.points[t[0]], &q = m.points[t[1]], &r = m.points[t[2]];
    const double twice = cross2(q - p, r - p);
    if (std::abs(twice) < 1e-6) continue;  // upright: its neighbours stand as high
    double from = 0, to = 1;
    for (int k = 0; k < 3 && from < to; ++k) {
      const Vec3 &u = m.points[t[k]], e = m.points[t[(k + 1) % 3]] - u;
      const double s = twice > 0 ? 1 : -1, start = s * cross2(e, a - u), grow = s * cross2(e, d);
      if (std::abs(grow) < 1e-12) {
        if (start < 0) to = -1;
      } else if (grow > 0) {
        from = std::max(from, -start / grow);
      } else {
        to = std::min(to, -start / grow);
      }
    }
    if (from > to) continue;
    const Vec3 n = (q - p).cross(r - p);
    const auto over = [&](double s) {
      const Vec3 x = a + s * d;
      return x.z() - (p.z() - (n.x() * (x.x() - p.x()) + n.y() * (x.y() - p.y())) / n.z());
    };
    if (use(from, to, over(from), over(to))) return true;
  }
  return false;
}

/// How far a reading may be off, mm, to rank pairs by what they find; own choice: half a division, and of the length a
/// thousandth straight, three thousandths along an edge or squarely in from one. A tape that runs aslant over radii
/// wanders: a hundredth, which is what carrying it out on the generator's dishes shows.
double error_of(const TapeLine& t, bool square) {
  return 0.5 + (t.way == Way::straight ? 0.001 : square || t.way == Way::along_edge ? 0.003 : 0.01) * t.distance;
}
// How well a hand squares a tape to an edge: a degree.
constexpr double kSquaring = 0.0175;

/// A length with what the choice needs of it.
struct TapeMeasure {
  TapeLine tape;
  double cost = 0;
  int axis = -1;               ///< of an edge: 0 towards ±x, 1 towards ±y
  Vec3 grows = Vec3::Zero();   ///< change of the length by a step on the face
  std::vector<double> length;  ///< per node
};

Vec3 on_face(const Vec3& direction, const Vec3& normal) { return direction - direction.dot(normal) * normal; }

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

std::vector<TapeMeasure> straight_measures(const BenchHalf& half, const Surroundings& around,
                                           const std::vector<Reference>& known, int node) {
  std::vector<TapeMeasure> out;
  const Vec3 p = half.face.points[node];
  for (const auto& r : known) {
    const double near = r.radius > 0 ? 2 * r.radius + kSeat : kHeld;
    if ((p - r.at).norm() < near || !through_air(half, around, r.at, p, near)) continue;
    TapeMeasure m{{r.name + (r.radius > 0 ? ", near side of its ball" : ""),
                   (p - r.at).norm() - r.radius,
                   r.at,
                   Way::straight,
                   {r.at, p}},
                  0,
                  -1,
                  {},
                  {}};
    m.grows = on_face((p - r.at).normalized(), half.normals[node]);
    for (const Vec3& q : half.face.points) m.length.push_back((q - r.at).norm() - r.radius);
    out.push_back(std::move(m));
  }
  return out;
}

std::optional<TapeMeasure> over_face(const BenchHalf& half, const OverFace& face, const TapeFrom& from, int node,
                                     const std::string& name, double cost) {
  const auto field = face.spread(from);
  if (!std::isfinite(field.node[node])) return std::nullopt;
  TapeMeasure m{{name, 0, {}, Way::over_surface, face.trace(from, field, node)}, cost, -1, {}, field.node};
  auto& line = m.tape.line;
  if (line.size() < 2) return std::nullopt;
  m.tape.distance = length_of(line), m.tape.at = line.front();
  std::size_t back = line.size() - 2;  // a step back that is long enough to have a direction
  while (back > 0 && (line.back() - line[back]).norm() < 1e-3) --back;
  m.grows = on_face((line.back() - line[back]).normalized(), half.normals[node]);
  // The lengths at the nodes are too long by a share; here by as much as at the place.
  const double fraction = field.node[node] > 0 ? m.tape.distance / field.node[node] : 1;
  for (double& d : m.length) d *= fraction;
  return m;
}

/// Over the surface from what stands flat on the flange beside the face, or on the face.
std::vector<TapeMeasure> surface_measures(const BenchHalf& half, const OverFace& face,
                                          const std::vector<Reference>& known, int node) {
  std::vector<TapeMeasure> out;
  const Mesh& mesh = half.face;
  for (const auto& r : known) {
    if (r.radius > 0) continue;  // a tape cannot be pressed to the flange under a ball
    TapeFrom from;
    double beside = std::numeric_limits<double>::infinity();
    for (int i = 0; i < static_cast<int>(mesh.points.size()); ++i)
      if (const double d = (mesh.points[i] - r.at).norm(); d < beside) beside = d, from.node = i;
    if (beside > kFlat) {
      double rim = 0, nearest = 1e300;
      for (const int e : face.rim()) {
        const Vec3 q = face.edges()[e].at(mesh, 0.5);
        if (const double d = (q - r.at).norm(); d < nearest) nearest = d, rim = q.z();
      }
      if (std::abs(rim - r.at.z()) > kFlat) continue;
      from.node = -1, from.outside = {r.at};
    }
    if (from.node == node) continue;
    if (auto m = over_face(half, face, from, node, r.name, 1)) out.push_back(std::move(*m));
  }
  return out;
}

/// Squarely in from the sides of the rim that face along the tool axes.
std::vector<TapeMeasure> edge_measures(const BenchHalf& half, const OverFace& face, int node) {
  const Mesh& mesh = half.face;
  const std::pair<const char*, Vec3> sides[] = {{"edge of the moulding face towards −x", -Vec3::UnitX()},
                                                {"edge of the moulding face towards +x", Vec3::UnitX()},
                                                {"edge of the moulding face towards −y", -Vec3::UnitY()},
                                                {"edge of the moulding face towards +y", Vec3::UnitY()}};
  std::vector<TapeMeasure> out;
  Vec3 middle = Vec3::Zero();
  for (const Vec3& p : mesh.points) middle += p / static_cast<double>(mesh.points.size());
  for (const auto& [name, way] : sides) {
    TapeFrom from;
    for (const int e : face.rim()) {
      const auto& edge = face.edges()[e];
      const Vec3 along = mesh.points[edge.b] - mesh.points[edge.a];
      const auto& t = mesh.triangles[edge.left];
      const int third = t[0] + t[1] + t[2] - edge.a - edge.b;
      Vec3 outward(along.y(), -along.x(), 0);
      if (outward.dot(mesh.points[third] - mesh.points[edge.a]) > 0) outward = -outward;
      // The outer edge only: an island's rim has sides of the same direction, which nobody would take for it.
      if (outward.normalized().dot(way) > kFaces && (edge.at(mesh, 0.5) - middle).dot(way) > 0) from.edges.push_back(e);
    }
    if (from.edges.empty()) continue;
    auto m = over_face(half, face, from, node, name, 1.5);
    if (!m) continue;
    // Squarely: at the side's end the tape runs askew, and the hand that holds it has nothing to go by.
    const auto& line = m->tape.line;
    const auto foot = std::min_element(from.edges.begin(), from.edges.end(), [&](int a, int b) {
      return (face.edges()[a].at(mesh, 0.5) - line[0]).norm() < (face.edges()[b].at(mesh, 0.5) - line[0]).norm();
    });
    const Vec3 side = (mesh.points[face.edges()[*foot].b] - mesh.points[face.edges()[*foot].a]).normalized();
    if (std::abs(side.dot((line[1] - line[0]).normalized())) > kSquare) continue;
    std::map<int, int> met;
    for (const int e : from.edges) ++met[face.edges()[e].a], ++met[face.edges()[e].b];
    if (std::any_of(met.begin(), met.end(), [&](const auto& end) {
          return end.second == 1 && (mesh.points[end.first] - line[0]).norm() < kFromEnd;
        }))
      continue;
    m->axis = way.x() != 0 ? 0 : 1;
    out.push_back(std::move(*m));
  }
  return out;
}

/// Along the rim from its place nearest to `from` to that nearest to `foot`, the shorter way round. Empty where the two
/// lie on different rims (an island's).
std::vector<Vec3> along_rim(const Mesh& mesh, const OverFace& face, const Vec3& from, const Vec3& foot) {
  struct Place {
    double off = 1e300;
    int edge = -1;
    Vec3 at = Vec3::Zero();
  };
  const auto nearest = [&](const Vec3& p) {
    Place best;
    for (const int e : face.rim()) {
      const Vec3 a = face.edges()[e].at(mesh, 0), d = face.edges()[e].at(mesh, 1) - a;
      const Vec3 q = a + std::clamp((p - a).dot(d) / d.squaredNorm(), 0.0, 1.0) * d;
      if ((q - p).norm() < best.off) best = {(q - p).norm(), e, q};
    }
    return best;
  };
  const Place start = nearest(from), end = nearest(foot);
  if (start.edge < 0) return {};
  if (start.edge == end.edge) return {start.at, end.at};
  std::map<int, std::vector<int>> at_node;
  for (const int e : face.rim()) at_node[face.edges()[e].a].push_back(e), at_node[face.edges()[e].b].push_back(e);
  std::vector<Vec3> best;
  for (int node : {face.edges()[start.edge].a, face.edges()[start.edge].b}) {
    std::vector<Vec3> line{start.at};
    int edge = start.edge;
    for (std::size_t k = 0; k < face.rim().size(); ++k) {
      line.push_back(mesh.points[node]);
      const auto& both = at_node[node];
      if (both.size() != 2) break;
      edge = both[0] == edge ? both[1] : both[0];
      if (edge == end.edge) {
        line.push_back(end.at);
        if (best.empty() || length_of(line) < length_of(best)) best = line;
        break;
      }
      node = face.edges()[edge].a + face.edges()[edge].b - node;
    }
  }
  return best;
}

/// Where a tape squarely to the rim meets it: the shortest of many nearly equal lengths is a matter of the mesh, so the
/// squares of the lengths to the rim's nodes around are fitted by a parabola, which they are on a developable face.
void square_up(const Mesh& mesh, const OverFace& face, int node, TapeLine& in) {
  constexpr double kReach = 30, kMost = 10;  // mm of rim to either side; it is not farther off than that
  TapeFrom from;
  from.node = node;
  const auto field = face.spread(from);
  const Vec3 foot = in.line.front();
  std::set<int> nodes;
  Vec3 along = Vec3::Zero();
  double near = 1e300;
  for (const int e : face.rim()) {
    const auto& edge = face.edges()[e];
    if (const double d = (edge.at(mesh, 0.5) - foot).norm(); d < near)
      near = d, along = (mesh.points[edge.b] - mesh.points[edge.a]).normalized();
    for (const int i : {edge.a, edge.b})
      if ((mesh.points[i] - foot).norm() < kReach) nodes.insert(i);
  }
  if (nodes.size() < 5) return;
  Eigen::MatrixXd a(static_cast<long>(nodes.size()), 3);
  Eigen::VectorXd b(a.rows());
  long r = 0;
  for (const int i : nodes) {
    const Vec3 d = mesh.points[i] - foot;
    const double s = std::copysign(d.norm(), d.dot(along)), l = length_of(face.trace(from, field, i));
    a.row(r) << 1, s, s * s;
    b[r++] = l * l;
  }
  const Eigen::Vector3d c = a.colPivHouseholderQr().solve(b);
  if (!(c[2] > 0)) return;
  const Vec3 wanted = foot + std::clamp(-0.5 * c[1] / c[2], -kMost, kMost) * along;
  double off = 1e300;
  for (const int e : face.rim()) {
    const Vec3 p = face.edges()[e].at(mesh, 0), d = face.edges()[e].at(mesh, 1) - p;
    const Vec3 q = p + std::clamp((wanted - p).dot(d) / d.squaredNorm(), 0.0, 1.0) * d;
    if ((q - wanted).norm() < off) off = (q - wanted).norm(), in.line.front() = q;
  }
  in.at = in.line.front();  // the length stays: it is the least, and flat around there
}

}  // namespace

Surroundings::Surroundings(const BenchHalf& half, const Surface* scan) : up_(half.upper ? -1 : 1) {
  const OverFace face(half.face);
  for (const int e : face.rim()) rim_.push_back(face.edges()[e].at(half.face, 0.5));
  if (!scan || scan->points().empty()) return;
  const auto& points = scan->points();
  const std::size_t stride = std::max<std::size_t>(1, points.size() / kPoints);
  Vec3 low = points[0], high = points[0];
  for (std::size_t i = 0; i < points.size(); i += stride)
    low = low.cwiseMin(points[i]), high = high.cwiseMax(points[i]);
  left_ = low.x(), low_ = low.y();
  columns_ = static_cast<int>((high.x() - low.x()) / kCell) + 1,
  rows_ = static_cast<int>((high.y() - low.y()) / kCell) + 1;
  top_.assign(static_cast<std::size_t>(columns_) * rows_, -std::numeric_limits<float>::infinity());
  for (std::size_t i = 0; i < points.size(); i += stride) {
    const int c = static_cast<int>((points[i].x() - left_) / kCell),
              r = static_cast<int>((points[i].y() - low_) / kCell);
    float& top = top_[static_cast<std::size_t>(r) * columns_ + c];
    top = std::max(top, static_cast<float>(up_ * points[i].z()));
  }
}

double Surroundings::height(const Vec3& p) const {
  const int c = static_cast<int>(std::floor((p.x() - left_) / kCell)),
            r = static_cast<int>(std::floor((p.y() - low_) / kCell));
  if (c >= 0 && r >= 0 && c < columns_ && r < rows_)
    if (const float top = top_[static_cast<std::size_t>(r) * columns_ + c]; std::isfinite(top)) return top;
  double nearest = 1e300, out = -1e300;
  for (const Vec3& q : rim_)
    if (const double d = (q - p).head<2>().squaredNorm(); d < nearest) nearest = d, out = up_ * q.z();
  return out;
}

bool through_air(const BenchHalf& half, const Surroundings& around, const Vec3& from, const Vec3& to, double near) {
  const double length = (to - from).norm(), up = half.upper ? -1 : 1;
  if (length <= near) return true;
  std::vector<std::pair<double, double>> over;
  const bool sunk = any_triangle_under(half.face, from, to, [&](double s, double t, double a, double b) {
    over.emplace_back(s, t);
    return t * length > near && std::min(up * a, up * b) < -kSink;
  });
  if (sunk) return false;
  std::sort(over.begin(), over.end());
  // What is not over the face is over the flange, or beyond it.
  std::size_t k = 0;
  double covered = 0;
  for (double s = near / length; s < 1; s += 1.0 / length) {
    while (k < over.size() && over[k].first <= s) covered = std::max(covered, over[k++].second);
    if (s <= covered) continue;
    const Vec3 p = from + s * (to - from);
    if (up * p.z() < around.height(p) - kSinkFlange) return false;
  }
  return true;
}

Finding find_place(const BenchHalf& half, const Surroundings& around, const std::vector<Reference>& known, int node) {
  const Vec3 place = half.face.points[node], normal = half.normals[node];
  const OverFace face(half.face);
  std::vector<TapeMeasure> all = straight_measures(half, around, known, node);
  const auto choose = [&](double most) -> Finding {
    std::vector<std::array<std::size_t, 2>> pairs;
    for (std::size_t i = 0; i < all.size(); ++i)
      for (std::size_t j = i + 1; j < all.size(); ++j)
        if (std::abs(normal.dot(all[i].grows.cross(all[j].grows))) > kLeastCrossing &&
            !(all[i].axis >= 0 && all[i].axis == all[j].axis))  // opposite edges meet twice, if at all
          pairs.push_back({i, j});
    const auto key = [&](const std::array<std::size_t, 2>& p) {
      const TapeMeasure &a = all[p[0]], &b = all[p[1]];
      const double error = std::hypot(error_of(a.tape, a.axis >= 0), error_of(b.tape, b.axis >= 0)) /
                           std::abs(normal.dot(a.grows.cross(b.grows)));
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
  };
  if (Finding f = choose(kGood); !f.tape.empty()) return f;
  for (auto& m : surface_measures(half, face, known, node)) all.push_back(std::move(m));
  for (auto& m : edge_measures(half, face, node)) all.push_back(std::move(m));
  if (Finding f = choose(kGood); !f.tape.empty()) return f;
  // Along the edge from beside the nearest known place, then squarely in; or what finds the place less well.
  TapeFrom rim;
  rim.edges = face.rim();
  auto in = over_face(half, face, rim, node, "the place of the edge so found", 2);
  if (!in || known.empty()) return choose(kUseful);
  square_up(half.face, face, node, in->tape);
  const auto r = std::min_element(known.begin(), known.end(), [&](const Reference& a, const Reference& b) {
    return (a.at - in->tape.at).squaredNorm() < (b.at - in->tape.at).squaredNorm();
  });
  TapeLine edge{"the place of the edge nearest to " + r->name,
                0,
                {},
                Way::along_edge,
                along_rim(half.face, face, r->at, in->tape.at)};
  if (edge.line.size() < 2) return choose(kUseful);  // it leaves the rim of an island, or right beside
  edge.at = edge.line.front(), edge.distance = length_of(edge.line);
  const double error = std::hypot(error_of(edge, true), error_of(in->tape, true), kSquaring * in->tape.distance);
  if (Finding f = choose(std::min(error, kUseful)); !f.tape.empty()) return f;
  return {{edge, in->tape}, ""};
}

}  // namespace gapfront::correct
