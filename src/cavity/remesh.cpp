#include "cavity/remesh.hpp"
#include <algorithm>
#include <cmath>
#include "cavity/sheet_mesh.hpp"
#include "core/parallel.hpp"

namespace gapfront::cavity {
namespace {

// Triangles around a vertex while the fine mesh is thinned: a vertex that swallowed all that it may would have thirty,
// and each further try would look at all of them. Six is what most have; with a limit of seven, many passes each do
// little.
constexpr std::size_t kMostAround = 8;

/// Tangent of the smallest angle, which is at most 60°: grows with it, and spares the arc tangent.
double sharpest(const Vec3& a, const Vec3& b, const Vec3& c) {
  // It lies opposite the shortest side.
  const Vec3 ab = b - a, bc = c - b, ca = a - c;
  const double lab = ab.squaredNorm(), lbc = bc.squaredNorm(), lca = ca.squaredNorm();
  const double beside = lab <= lbc && lab <= lca ? -bc.dot(ca) : lbc <= lca ? -ca.dot(ab) : -ab.dot(bc);
  return beside > 0 ? ab.cross(bc).norm() / beside : 0;
}

/// Triangles on a side: two inside, one on a boundary, none.
struct Across {
  int triangle[2] = {-1, -1};
  std::size_t count = 0;
  std::size_t size() const { return count; }
  bool empty() const { return count == 0; }
  int operator[](std::size_t i) const { return triangle[i]; }
  const int* begin() const { return triangle; }
  const int* end() const { return triangle + count; }
};

/// The mesh while it changes: dead triangles have a negative first vertex, rings list the triangles at a vertex.
struct Remesher {
  using Triangle = std::array<int, 3>;
  Mesh& mesh;
  std::vector<char>& mark;
  const Samples& samples;
  const SealLine& seal;
  std::vector<Vec3>& p = mesh.points;
  std::vector<Triangle>& tri = mesh.triangles;
  std::vector<Vec3> n = quick_normals(mesh);
  std::vector<double> size = {};
  std::vector<std::vector<int>> ring = {};
  bool thinned = false;           ///< the first, fine mesh is down to about the wanted size
  std::vector<int> changed = {};  ///< the pass of collapse_short that last changed something at or next to a vertex
  int pass = 0;
  std::vector<int> na = {}, nb = {};  ///< neighbours of the two ends of a side, re-used

  void prepare() {
    ring.assign(p.size(), {});
    for (int t = 0; t < int(tri.size()); ++t)
      for (int v : tri[t]) ring[v].push_back(t);
    measure_sizes();
  }
  void measure_sizes() {
    size.resize(p.size());
    parallel_for(p.size(), [&](std::size_t i) {
      if (!ring[i].empty()) size[i] = samples.size[samples.tree.nearest(p[i]).index];
    });
  }

  // ---- questions -------------------------------------------------------------------------------------------
  bool has(int t, int v) const { return tri[t][0] == v || tri[t][1] == v || tri[t][2] == v; }
  Across across(int a, int b) const {
    Across out;
    for (int t : ring[a])
      if (out.count < 2 && has(t, b)) out.triangle[out.count++] = t;
    return out;
  }
  int third(int t, int a, int b) const {
    for (int v : tri[t])
      if (v != a && v != b) return v;
    return -1;
  }
  void around(int v, std::vector<int>& out) const {
    out.clear();
    for (int t : ring[v])
      for (int w : tri[t])
        if (w != v && std::find(out.begin(), out.end(), w) == out.end()) out.push_back(w);
  }
  double length(int a, int b) const { return (p[a] - p[b]).norm(); }
  double wanted(int a, int b) const { return 0.5 * (size[a] + size[b]); }
  /// Cosine between a triangle's normal and the surface's there; −1 without area.
  double upright(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& up) const {
    const Vec3 m = (b - a).cross(c - a);
    const double l = std::sqrt(m.squaredNorm() * up.squaredNorm());
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
    if (!thinned && ring[a].size() + ring[b].size() > kMostAround + 2 * sides.size()) return false;
    if (mark[a] != on_face && mark[b] != on_face) {
      if (sides.size() != 1) return false;  // would pinch the surface between two boundaries
      if (mark[b] == fixed) std::swap(a, b);
      if (mark[b] == fixed) return false;
    } else if (mark[b] != on_face) {
      std::swap(a, b);
    }
    // Left-overs of clipping: their triangles are slivers already, so only a turned-over triangle stands against it.
    const bool tiny = thinned && length(a, b) < 0.25 * wanted(a, b);
    const bool middle = mark[a] == on_face && mark[b] == on_face;
    const Vec3 x = middle ? Vec3(0.5 * (p[a] + p[b])) : p[a];
    // Early, because it is cheap and stops most: the sides that would come out too long.
    if (!tiny)
      for (int end : {a, b})
        for (int t : ring[end])
          for (int v : tri[t]) {
            const double most = 4.0 / 3.0 * 0.5 * (size[a] + size[v]);
            if (v != a && v != b && (x - p[v]).squaredNorm() > most * most) return false;
          }
    around(a, na), around(b, nb);
    const auto common =
        std::count_if(nb.begin(), nb.end(), [&](int v) { return std::find(na.begin(), na.end(), v) != na.end(); });
    if (std::size_t(common) != sides.size()) return false;  // link condition
    const Vec3 up = middle ? Vec3((n[a] + n[b]).normalized()) : n[a];
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
        if (tiny) continue;
        const double angle = sharpest(q[0], q[1], q[2]);
        if (angle < 0.1 && angle < sharpest(o[0], o[1], o[2])) return false;  // 6°: no new slivers
      }
      return true;
    };
    if (!stands(b, a) || (middle && !stands(a, b))) return false;
    for (const auto* list : {&na, &nb})
      for (int v : *list) changed[v] = pass;
    changed[a] = pass;
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
  /// `again`: nothing but this function has touched the mesh since the last call, so a side that could not go then
  /// and has seen no change around either end cannot go now.
  int collapse_short(bool again = false) {
    int count = 0;
    ++pass;
    changed.resize(p.size(), pass - 1);
    for (int t = 0; t < int(tri.size()); ++t)
      for (int k = 0; k < 3 && tri[t][0] >= 0; ++k) {
        const int a = tri[t][k], b = tri[t][(k + 1) % 3];
        if (again && changed[a] < pass - 1 && changed[b] < pass - 1) continue;
        // An inner side comes up twice, once from either triangle; one try is enough while thinning.
        if (!thinned && b < a && mark[a] == on_face && mark[b] == on_face) continue;
        if (length(a, b) < 0.8 * wanted(a, b) && collapse(a, b)) ++count;
      }
    return count;
  }

  bool flip(int a, int b, const Across& sides, int c, int d) {
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
        if (sides[0] != t) std::swap(sides.triangle[0], sides.triangle[1]);
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
          const double old = std::min(sharpest(p[a], p[b], p[c]), sharpest(p[b], p[a], p[d]));
          const double now = std::min(sharpest(p[a], p[d], p[c]), sharpest(p[b], p[c], p[d]));
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
      const double now = upright(q[0], q[1], q[2], sum);
      if (now < 0.6 && now < upright(o[0], o[1], o[2], sum)) return false;
      const double angle = sharpest(q[0], q[1], q[2]);
      if (angle < 0.2 && angle < sharpest(o[0], o[1], o[2])) return false;
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
        thread_local std::vector<int> near;
        around(v, near);
        std::sort(near.begin(), near.end());
        for (int w : near)
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

  void drop_dead() {
    tri.erase(std::remove_if(tri.begin(), tri.end(), [](const Triangle& t) { return t[0] < 0; }), tri.end());
  }
  /// Nine in ten triangles are gone after thinning; what is left closes up, in its order.
  void compact() {
    drop_dead();
    std::size_t kept = 0;
    for (std::size_t v = 0; v < n.size(); ++v)
      if (!ring[v].empty()) n[kept++] = n[v];
    n.resize(kept);
    drop_unused(mesh, mark);
    changed.clear();
    prepare();
  }
  void finish() {
    drop_dead();
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
  // The first mesh is far too fine: thin it before anything else, until little changes.
  for (int pass = 0; pass < 10; ++pass)
    if (r.collapse_short(pass > 0) * 100 < int(r.tri.size())) break;
  r.compact();
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

}  // namespace gapfront::cavity
