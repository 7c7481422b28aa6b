#include "correct/tape_measures.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>

#include "core/segment.hpp"

namespace gapfront::correct {
namespace {

// What a tape is held to: a dowel or a shim station is not wider than that, mm; a ball and its seat are within one and
// a half diameters.
constexpr double kHeld = 15, kSeat = 3;
// A flange that is as high as the station to this, mm, has the tape lie on it.
constexpr double kFlat = 3;
// A tape that looks square to an edge is so to some 10°.
constexpr double kSquare = 0.17;
// Sides of the rim that face a direction to 12°: their straight part.
constexpr double kFaces = 0.978;
// A tape that leaves a side that near to its end, mm, may belong to the corner as well.
constexpr double kFromEnd = 10;

Vec3 on_face(const Vec3& direction, const Vec3& normal) { return direction - direction.dot(normal) * normal; }

/// "target B1", "station S2", "dowel 1".
Message named(const Reference& r) {
  return Message(r.mark == Mark::target    ? "order.target"
                 : r.mark == Mark::station ? "order.station-2"
                                           : "list.plain",
                 {arg::name(r.name)});
}

std::optional<TapeMeasure> over_face(const BenchHalf& half, const OverFace& face, const TapeFrom& from, int node,
                                     const Message& name, Way way, double cost) {
  const auto field = face.spread(from);
  if (!std::isfinite(field.node[node])) return std::nullopt;
  TapeMeasure m{{name, 0, {}, way, face.trace(from, field, node)}, cost, -1, {}, field.node};
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

struct RimPlace {
  int edge = -1;
  Vec3 at = Vec3::Zero();
};
RimPlace nearest_on_rim(const Mesh& mesh, const OverFace& face, const Vec3& p) {
  RimPlace best;
  double off = 1e300;
  for (const int e : face.rim()) {
    const Vec3 q = nearest_on_segment(p, face.edges()[e].at(mesh, 0), face.edges()[e].at(mesh, 1));
    if (const double d = (q - p).norm(); d < off) off = d, best = {e, q};
  }
  return best;
}

/// A way along the rim, and how the other way round sets out.
struct AlongRim {
  std::vector<Vec3> line, other;
};

/// Along the rim from its place nearest to `from` to that nearest to `foot`, the shorter way round. Empty where the two
/// lie on different rims (an island's).
AlongRim along_rim(const Mesh& mesh, const OverFace& face, const Vec3& from, const Vec3& foot) {
  const RimPlace start = nearest_on_rim(mesh, face, from), end = nearest_on_rim(mesh, face, foot);
  if (start.edge < 0) return {};
  if (start.edge == end.edge) return {{start.at, end.at}, {start.at, Vec3(2 * start.at - end.at)}};
  std::map<int, std::vector<int>> at_node;
  for (const int e : face.rim()) at_node[face.edges()[e].a].push_back(e), at_node[face.edges()[e].b].push_back(e);
  AlongRim best;
  for (int node : {face.edges()[start.edge].a, face.edges()[start.edge].b}) {
    bool there = false;
    std::vector<Vec3> line{start.at};
    int edge = start.edge;
    for (std::size_t k = 0; k < face.rim().size(); ++k) {
      line.push_back(mesh.points[node]);
      const auto& both = at_node[node];
      if (both.size() != 2) break;
      edge = both[0] == edge ? both[1] : both[0];
      if (edge == end.edge) {
        line.push_back(end.at);
        there = true;
        break;
      }
      node = face.edges()[edge].a + face.edges()[edge].b - node;
    }
    if (there && (best.line.empty() || length_of(line) < length_of(best.line))) best.line.swap(line);
    if (!line.empty()) best.other.swap(line);
  }
  return best;
}

/// The place so far along a line, or its end.
Vec3 place_along(const std::vector<Vec3>& line, double far) {
  for (std::size_t k = 1; k < line.size(); ++k) {
    const double step = (line[k] - line[k - 1]).norm();
    if (step > far) return line[k - 1] + far / step * (line[k] - line[k - 1]);
    far -= step;
  }
  return line.back();
}

/// The tool axis towards which the way sets out and the other way round does not: what a hand goes by.
const char* sets_out(const AlongRim& way) {
  constexpr double kSeen = 20;  // mm: a step of the mesh may point anywhere, and a corner is not yet turned
  const double far = std::min({kSeen, length_of(way.line), length_of(way.other)});
  const Vec3 d = place_along(way.line, far) - place_along(way.other, far);
  return std::abs(d.x()) > std::abs(d.y()) ? d.x() > 0 ? "+x" : "−x" : d.y() > 0 ? "+y" : "−y";
}

/// The place of the edge where the tape begins, by what stands on the tool: how far from it, and which way to go.
Message edge_start(const Reference& r, double off, const char* towards) {
  return Message(r.radius > 0              ? "bench.edge-from-ball"
                 : r.mark == Mark::target  ? "bench.edge-from-target"
                 : r.mark == Mark::station ? "bench.edge-from-station"
                                           : "bench.edge-from-mark",
                 {arg::name(r.name), arg::tape(off), arg::name(towards)});
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
  in.at = in.line.front() =
      nearest_on_rim(mesh, face, wanted).at;  // the length stays: it is the least, and flat around there
}

}  // namespace

std::vector<TapeMeasure> straight_measures(const BenchHalf& half, const Surroundings& around,
                                           const std::vector<Reference>& known, int node) {
  std::vector<TapeMeasure> out;
  const Vec3 p = half.face.points[node];
  for (const auto& r : known) {
    const double near = r.radius > 0 ? 2 * r.radius + kSeat : kHeld;
    if ((p - r.at).norm() < near || !through_air(half, around, r.at, p, near)) continue;
    TapeMeasure m{{r.radius > 0 ? Message("bench.target-near-side-ball", {arg::name(r.name)}) : named(r),
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
    if (auto m = over_face(half, face, from, node, named(r), Way::over_surface, 1)) out.push_back(std::move(*m));
  }
  return out;
}

std::vector<TapeMeasure> edge_measures(const BenchHalf& half, const OverFace& face, int node) {
  const Mesh& mesh = half.face;
  const std::pair<const char*, Vec3> sides[] = {
      {"−x", -Vec3::UnitX()}, {"+x", Vec3::UnitX()}, {"−y", -Vec3::UnitY()}, {"+y", Vec3::UnitY()}};
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
    auto m = over_face(half, face, from, node, Message("bench.edge-towards", {arg::name(name)}), Way::from_edge, 1.5);
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

std::optional<AlongAndIn> along_edge_and_in(const BenchHalf& half, const OverFace& face,
                                            const std::vector<Reference>& known, int node) {
  TapeFrom rim;
  rim.edges = face.rim();
  auto in = over_face(half, face, rim, node, Message("bench.place-edge-so-found"), Way::from_edge, 2);
  if (!in || known.empty()) return std::nullopt;
  square_up(half.face, face, node, in->tape);
  const auto r = std::min_element(known.begin(), known.end(), [&](const Reference& a, const Reference& b) {
    return (a.at - in->tape.at).squaredNorm() < (b.at - in->tape.at).squaredNorm();
  });
  AlongRim way = along_rim(half.face, face, r->at, in->tape.at);
  if (way.line.size() < 2) return std::nullopt;  // it leaves the rim of an island, or right beside
  // The rim may lie under a ball.
  const double off = std::max(0.0, (way.line.front() - r->at).norm() - r->radius), far = length_of(way.line);
  TapeLine edge{edge_start(*r, off, sets_out(way)), far, way.line.front(), Way::along_edge, std::move(way.line)};
  return AlongAndIn{std::move(edge), std::move(in->tape), off};
}

}  // namespace gapfront::correct
