#include "cavity/remesh.hpp"
#include <algorithm>
#include <cmath>
#include "cavity/sheet_mesh.hpp"
#include "geometry/parallel.hpp"

namespace gapfront {
namespace {

double smallest_angle(const Vec3& a, const Vec3& b, const Vec3& c) {
  auto at = [](const Vec3& o, const Vec3& p, const Vec3& q) {
    return std::atan2((p - o).cross(q - o).norm(), (p - o).dot(q - o));
  };
  return std::min({at(a, b, c), at(b, c, a), at(c, a, b)});
}

/// The mesh while it changes: dead triangles have a negative first vertex, rings list the triangles at a vertex.
struct Remesher {
  using Triangle = std::array<int, 3>;
  Mesh& mesh;
  std::vector<char>& mark;
  const Samples& samples;
  const SealLine& seal;
  std::vector<Vec3>& p = mesh.points;
  std::vector<Triangle>& tri = mesh.triangles;
  std::vector<Vec3> n = vertex_normals(mesh);
  std::vector<double> size = {};
  std::vector<std::vector<int>> ring = {};
  bool thinned = false;  ///< the first, fine mesh is down to about the wanted size

  void prepare() {
    ring.assign(p.size(), {});
    for (int t = 0; t < int(tri.size()); ++t)
      for (int v : tri[t]) ring[v].push_back(t);
    measure_sizes();
  }
  void measure_sizes() {
    size.resize(p.size());
    parallel_for(p.size(), [&](std::size_t i) {
      if (!ring[i].empty()) size[i] = samples.size[samples.tree.nearest(p[i]).first];
    });
  }

  // ---- questions -------------------------------------------------------------------------------------------
  bool has(int t, int v) const { return tri[t][0] == v || tri[t][1] == v || tri[t][2] == v; }
  std::vector<int> across(int a, int b) const {
    std::vector<int> out;
    for (int t : ring[a])
      if (has(t, b)) out.push_back(t);
    return out;
  }
  int third(int t, int a, int b) const {
    for (int v : tri[t])
      if (v != a && v != b) return v;
    return -1;
  }
  std::vector<int> around(int v) const {
    std::vector<int> out;
    for (int t : ring[v])
      for (int w : tri[t])
        if (w != v && std::find(out.begin(), out.end(), w) == out.end()) out.push_back(w);
    std::sort(out.begin(), out.end());
    return out;
  }
  double length(int a, int b) const { return (p[a] - p[b]).norm(); }
  double wanted(int a, int b) const { return 0.5 * (size[a] + size[b]); }
  /// Cosine between a triangle's normal and the surface's there; −1 without area.
  double upright(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& up) const {
    const Vec3 m = (b - a).cross(c - a);
    const double l = m.norm() * up.norm();
    return l > 0 ? m.dot(up) / l : -1;
  }

  // ---- changes ---------------------------------------------------------------------------------------------
  void replace(int t, int from, int to) {
    for (int& v : tri[t])
      if (v == from) v = to;
  }
  void forget(int v, int t) { ring[v].erase(std::find(ring[v].begin(), ring[v].end(), t)); }

  void split(int a, int b) {
    const auto sides = across(a, b);
    const int m = int(p.size());
    const bool edge = sides.size() == 1;
    Vec3 x = 0.5 * (p[a] + p[b]), up = (n[a] + n[b]).normalized();
    char set = on_face;
    if (edge) {
      set = on_edge;
      // Between two fixed ends (corners of the line, or ends of a bite) the ends' places tell which it is.
      const double slack = 1e-6 * std::max(1.0, size[a]);
      auto on_line = [&](int v) { return !seal.empty() && std::abs(seal.signed_distance(p[v])) < slack; };
      if (mark[a] != on_edge && mark[b] != on_edge && on_line(a) && on_line(b) &&
          (mark[a] == on_seal || mark[b] == on_seal || std::abs(seal.signed_distance(x)) < slack))
        set = on_seal;
    }
    if (set == on_seal) settle_on_seal(samples, seal, x, up);
    p.push_back(x), n.push_back(up), size.push_back(wanted(a, b)), mark.push_back(set), ring.emplace_back();
    for (int t : sides) {
      const int c = third(t, a, b), fresh = int(tri.size());
      tri.push_back(tri[t]);
      replace(t, b, m), replace(fresh, a, m);
      forget(b, t);
      ring[b].push_back(fresh), ring[c].push_back(fresh);
      ring[m].push_back(t), ring[m].push_back(fresh);
    }
  }
  int split_long() {
    int count = 0;
    for (int t = 0, end = int(tri.size()); t < end; ++t)
      for (int k = 0; k < 3; ++k) {
        if (tri[t][0] < 0) break;
        const int a = tri[t][k], b = tri[t][(k + 1) % 3];
        if (length(a, b) > 4.0 / 3.0 * wanted(a, b)) split(a, b), ++count;
      }
    return count;
  }

  /// Merges b into a where that keeps the surface a manifold, upright and within the size limits.
  bool collapse(int a, int b) {
    const auto sides = across(a, b);
    if (sides.empty()) return false;
    if (mark[a] != on_face && mark[b] != on_face) {
      if (sides.size() != 1) return false;  // would pinch the surface between two boundaries
      if (mark[b] == fixed) std::swap(a, b);
      if (mark[b] == fixed) return false;
    } else if (mark[b] != on_face) {
      std::swap(a, b);
    }
    const auto na = around(a), nb = around(b);
    std::vector<int> common;
    std::set_intersection(na.begin(), na.end(), nb.begin(), nb.end(), std::back_inserter(common));
    if (common.size() != sides.size()) return false;  // link condition
    // Left-overs of clipping: their triangles are slivers already, so only a turned-over triangle stands against it.
    const bool tiny = thinned && length(a, b) < 0.25 * wanted(a, b);
    const bool middle = mark[a] == on_face && mark[b] == on_face;
    const Vec3 x = middle ? Vec3(0.5 * (p[a] + p[b])) : p[a];
    const Vec3 up = middle ? Vec3((n[a] + n[b]).normalized()) : n[a];
    if (!tiny)
      for (const auto* list : {&na, &nb})
        for (int v : *list)
          if (v != a && v != b && (x - p[v]).norm() > 4.0 / 3.0 * 0.5 * (size[a] + size[v])) return false;
    auto stands = [&](int gone, int other) {
      for (int t : ring[gone]) {
        if (has(t, other)) continue;
        Vec3 q[3], o[3], sum = Vec3::Zero();
        for (int k = 0; k < 3; ++k) {
          o[k] = p[tri[t][k]];
          q[k] = tri[t][k] == gone ? x : o[k];
          sum += tri[t][k] == gone ? up : n[tri[t][k]];
        }
        const double now = upright(q[0], q[1], q[2], sum);
        // Within about 55° of the surface's own normal; what was worse may stay as it was.
        if (now < (tiny ? 0.3 : 0.57) && now <= upright(o[0], o[1], o[2], sum)) return false;
        const double angle = smallest_angle(q[0], q[1], q[2]);
        if (!tiny && angle < 0.1 && angle < smallest_angle(o[0], o[1], o[2])) return false;  // 6°: no new slivers
      }
      return true;
    };
    if (!stands(b, a) || (middle && !stands(a, b))) return false;
    for (int t : sides) {
      for (int v : tri[t]) forget(v, t);
      tri[t][0] = -1;
    }
    for (int t : ring[b]) replace(t, b, a), ring[a].push_back(t);
    std::sort(ring[a].begin(), ring[a].end());
    ring[b].clear();
    p[a] = x, n[a] = up;
    size[a] = std::min(size[a], size[b]);
    return true;
  }
  int collapse_short() {
    int count = 0;
    for (int t = 0; t < int(tri.size()); ++t)
      for (int k = 0; k < 3 && tri[t][0] >= 0; ++k) {
        const int a = tri[t][k], b = tri[t][(k + 1) % 3];
        if (length(a, b) < 0.8 * wanted(a, b) && collapse(a, b)) ++count;
      }
    return count;
  }

  bool flip(int a, int b, const std::vector<int>& sides, int c, int d) {
    // sides[0] = (a, b, c) in its sense, sides[1] = (b, a, d).
    if (!across(c, d).empty()) return false;
    const Vec3 up = n[a] + n[b] + n[c] + n[d];
    // Both new triangles within about 45° of the surface: an edge along a bend must not be turned across it.
    if (upright(p[a], p[d], p[c], up) < 0.7 || upright(p[b], p[c], p[d], up) < 0.7) return false;
    tri[sides[0]] = {a, d, c}, tri[sides[1]] = {b, c, d};
    forget(b, sides[0]), forget(a, sides[1]);
    ring[c].push_back(sides[1]), ring[d].push_back(sides[0]);
    return true;
  }
  int flips(bool by_valence) {
    int count = 0;
    for (int t = 0; t < int(tri.size()); ++t)
      for (int k = 0; k < 3; ++k) {
        if (tri[t][0] < 0) break;
        const int a = tri[t][k], b = tri[t][(k + 1) % 3], c = tri[t][(k + 2) % 3];
        auto sides = across(a, b);
        if (sides.size() != 2) continue;
        if (sides[0] != t) std::swap(sides[0], sides[1]);
        const int d = third(sides[1], a, b);
        if (d == c) continue;
        bool better;
        if (by_valence) {
          auto off = [&](int v, int change) {
            const int e = int(ring[v].size()) + (mark[v] != on_face) + change - (mark[v] != on_face ? 4 : 6);
            return e * e;
          };
          better = off(a, -1) + off(b, -1) + off(c, 1) + off(d, 1) < off(a, 0) + off(b, 0) + off(c, 0) + off(d, 0);
        } else {
          const double old = std::min(smallest_angle(p[a], p[b], p[c]), smallest_angle(p[b], p[a], p[d]));
          const double now = std::min(smallest_angle(p[a], p[d], p[c]), smallest_angle(p[b], p[c], p[d]));
          better = now > old + 1e-9;
        }
        if (better && flip(a, b, sides, c, d)) ++count;
      }
    return count;
  }

  /// A vertex moves when its triangles stay upright, or at least get no worse.
  bool try_move(int v, const Vec3& x, const Vec3& up) {
    for (int t : ring[v]) {
      Vec3 q[3], o[3], sum = Vec3::Zero();
      for (int k = 0; k < 3; ++k) {
        const int w = tri[t][k];
        o[k] = p[w], q[k] = w == v ? x : p[w];
        sum += w == v ? up : n[w];
      }
      const double now = upright(q[0], q[1], q[2], sum), was = upright(o[0], o[1], o[2], sum);
      if (now < 0.6 && now < was) return false;
      const double angle = smallest_angle(q[0], q[1], q[2]);
      if (angle < 0.2 && angle < smallest_angle(o[0], o[1], o[2])) return false;
    }
    p[v] = x, n[v] = up;
    return true;
  }
  void smooth() {
    std::vector<Vec3> aim(p.size()), up = n;
    parallel_for(p.size(), [&](std::size_t i) {
      const int v = int(i);
      aim[v] = p[v];
      if (ring[v].empty() || mark[v] == fixed) return;
      if (mark[v] == on_face) {
        Vec3 sum = Vec3::Zero();
        double weights = 0;
        for (int t : ring[v]) {
          const auto& c = tri[t];
          // Areas count in units of the size wanted there, so that the grading holds its place.
          const double s = (size[c[0]] + size[c[1]] + size[c[2]]) / 3;
          const double w = (p[c[1]] - p[c[0]]).cross(p[c[2]] - p[c[0]]).norm() / (s * s);
          sum += w * (p[c[0]] + p[c[1]] + p[c[2]]) / 3, weights += w;
        }
        if (weights == 0) return;
        Vec3 move = sum / weights - p[v];
        move -= move.dot(n[v]) * n[v];
        aim[v] += move;
        settle(samples, aim[v], up[v]);
      } else {
        std::vector<int> ends;
        for (int w : around(v))
          if (across(v, w).size() == 1) ends.push_back(w);
        if (ends.size() != 2) return;
        const Vec3 chord = (p[ends[1]] - p[ends[0]]).normalized();
        const double slide = 0.5 * ((p[ends[0]] + p[ends[1]]) / 2 - p[v]).dot(chord);
        aim[v] += slide * chord;
        if (mark[v] == on_seal)
          settle_on_seal(samples, seal, aim[v], up[v]);
        else
          settle(samples, aim[v], up[v]);
      }
    });
    for (int v = 0; v < int(p.size()); ++v)
      if (!ring[v].empty() && mark[v] != fixed && !try_move(v, aim[v], up[v])) {
        const Vec3 half = 0.5 * (aim[v] + p[v]);
        if (mark[v] == on_face) try_move(v, half, up[v]);
      }
  }

  void finish() {
    std::vector<Triangle> alive;
    for (const Triangle& t : tri)
      if (t[0] >= 0) alive.push_back(t);
    tri = std::move(alive);
    drop_unused(mesh, mark);
  }
};

}  // namespace

void settle_on_seal(const Samples& s, const SealLine& seal, Vec3& x, Vec3& n) {
  x = seal.snap(x);
  // Moving along the normal leaves the wall and snapping leaves the face; both shrink by the cosine of the
  // angle between them, so a few rounds meet unless the face runs along the wall.
  for (int round = 0; round < 4; ++round) {
    Vec3 y = x;
    if (!settle(s, y, n)) return;
    // Straight along Z to the tangent plane where it is not steep: one step instead of many.
    if (std::abs(n.z()) > 0.3) y = x + Vec3(0, 0, (y - x).dot(n) / n.z());
    x = seal.snap(y);
  }
}

void remesh(Mesh& mesh, std::vector<char>& mark, const Samples& samples, const SealLine& seal,
            const Progress& progress) {
  Remesher r{mesh, mark, samples, seal};
  r.prepare();
  // The marching-tetrahedra mesh is far too fine: thin it before anything else, until little changes.
  for (int pass = 0; pass < 10; ++pass)
    if (r.collapse_short() * 100 < int(r.tri.size())) break;
  r.thinned = true;
  // Ten rounds: sizes and valences settle in about five, angles in as many more.
  constexpr int rounds = 10;
  for (int round = 0; round < rounds; ++round) {
    report_progress(progress, "sheet", 0.5 + 0.4 * round / rounds);
    r.measure_sizes();
    r.split_long();
    r.collapse_short();
    r.flips(round < rounds / 2);
    if (round >= rounds / 2) r.flips(false);
    r.smooth();
  }
  for (int pass = 0; pass < 3 && r.flips(false) > 0; ++pass) r.smooth();
  r.flips(false);
  r.finish();
}

}  // namespace gapfront
