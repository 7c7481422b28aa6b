// Where the sheet has radii.
#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <queue>

#include "core/joined_sets.hpp"
#include "core/neighbours.hpp"
#include "gapfront/radii.hpp"

namespace gapfront::laminate {
namespace {

// Shorter than this many edges, nothing is called a radius (own choice: a dent has bends as well).
constexpr double kShortest = 8;
// A band is cut into pieces so many edges long, whose middles are its path.
constexpr double kPiece = 2.5;
// Normals at nodes are means over the triangles around, and their change is fitted over the neighbours: together they
// smear a bend by this standard deviation, in edges: 0.61 to 0.69 on roundings of 5 to 20 mm in edges of 2 to 6 mm that
// turn by 60° and 90° (own measurement; tests/laminate/find_radii.cpp).
constexpr double kSmear = 0.65;
// Standard uncertainty of that.
constexpr double kSmearU = 0.04;
// What an even rounding is found off by beside it, as a share of its radius. With it, of 512 on sheets made of drawn
// scans (4 to 20 mm, turning by 60° and 85°, points 1 to 3 mm apart, edges of 5 to 10 mm) 98 % are within two u, and
// their mean square is 0.6 u².
constexpr double kEvenU = 0.03;
// A rounding narrower than this, in edges, hides in that smear.
constexpr double kResolved = 1.7;
// So many rings of nodes beside a band are looked at with it.
constexpr int kRings = 2;
// Narrower than this, in edges, no bend is seen to be.
constexpr double kLeast = 0.15;
// A path of the job within so many radii of a found one names it.
constexpr double kSame = 1.5;

/// How the normal changes over the sheet at a node, as a symmetric tensor in its plane; positive where the face bends
/// to the cavity. Least squares over the neighbours.
Eigen::Matrix3d bend_at(const Sheet& s, const std::vector<int>& around, int i) {
  const Vec3 n = s.normals[i], e1 = n.unitOrthogonal(), e2 = n.cross(e1);
  Eigen::Matrix3d a = Eigen::Matrix3d::Zero();
  Vec3 b = Vec3::Zero();
  for (const int j : around) {
    const Vec3 d = s.mesh.points[j] - s.mesh.points[i], c = s.normals[j] - n;
    const double u = d.dot(e1), v = d.dot(e2);
    Eigen::Matrix<double, 2, 3> m;
    m << u, v, 0, 0, u, v;
    a += m.transpose() * m, b += m.transpose() * Eigen::Vector2d(c.dot(e1), c.dot(e2));
  }
  if (around.size() < 3) return Eigen::Matrix3d::Zero();
  const Vec3 x = a.ldlt().solve(b);
  return -(x[0] * e1 * e1.transpose() + x[1] * (e1 * e2.transpose() + e2 * e1.transpose()) +
           x[2] * e2 * e2.transpose());
}

/// Its greatest value towards the cavity (`sign` 1) or away from it (−1). The third one, along the normal, is 0.
double most_bent(const Eigen::Matrix3d& bend, double sign) {
  const auto own = Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(bend, Eigen::EigenvaluesOnly).eigenvalues();
  return sign > 0 ? own[2] : -own[0];
}

/// Nodes of a band by their way along it from one of its ends.
std::map<int, double> ways_from(const Sheet& s, const std::vector<std::vector<int>>& near, const std::vector<int>& part,
                                int start) {
  std::map<int, double> way;
  std::priority_queue<std::pair<double, int>> next;
  next.push({0, start});
  while (!next.empty()) {
    const auto [d, i] = next.top();
    next.pop();
    if (!way.try_emplace(i, -d).second) continue;
    for (const int j : near[i])
      if (part[j] == part[start] && !way.count(j)) next.push({d - (s.mesh.points[j] - s.mesh.points[i]).norm(), j});
  }
  return way;
}

struct Piece {
  std::vector<int> nodes, next;
  Vec3 middle = Vec3::Zero(), normal = Vec3::Zero();
};

/// The band of node `of` cut across, and which pieces touch.
std::vector<Piece> pieces_of(const Sheet& s, const std::vector<std::vector<int>>& near, const std::vector<double>& bent,
                             const std::vector<int>& part, int of) {
  auto way = ways_from(s, near, part, of);
  int end = of;
  for (const auto& [i, d] : way)
    if (d > way[end]) end = i;
  way = ways_from(s, near, part, end);
  const auto step = [&](int i) { return static_cast<int>(way[i] / (kPiece * s.edge_p50)); };
  std::map<int, int> index;
  std::vector<int> nodes, set;
  for (const auto& [i, d] : way) index[i] = static_cast<int>(nodes.size()), nodes.push_back(i);
  set.resize(nodes.size());
  std::iota(set.begin(), set.end(), 0);
  for (const int i : nodes)
    for (const int j : near[i])
      if (index.count(j) && step(i) == step(j)) join(set, index[i], index[j]);
  std::vector<Piece> out;
  std::map<int, int> piece;
  for (std::size_t k = 0; k < nodes.size(); ++k) {
    const auto [it, fresh] = piece.try_emplace(root(set, static_cast<int>(k)), static_cast<int>(out.size()));
    if (fresh) out.emplace_back();
    out[it->second].nodes.push_back(nodes[k]);
  }
  for (Piece& p : out) {
    double sum = 0;
    for (const int i : p.nodes) {
      const double weight = s.area[i] * bent[i];
      p.middle += weight * s.mesh.points[i], p.normal += weight * s.normals[i], sum += weight;
    }
    p.middle /= sum, p.normal.normalize();
  }
  for (const int i : nodes)
    for (const int j : near[i]) {
      if (!index.count(j) || step(i) == step(j)) continue;
      auto& list = out[piece[root(set, index[i])]].next;
      const int other = piece[root(set, index[j])];
      if (std::find(list.begin(), list.end(), other) == list.end()) list.push_back(other);
    }
  // Where the two ways round a closed band meet, one may reach a step farther: a stub that leads nowhere.
  for (std::size_t k = 0; k < out.size(); ++k) {
    if (out[k].next.size() != 1) continue;
    auto& there = out[out[k].next[0]].next;
    if (there.size() > 2) std::erase(there, static_cast<int>(k)), out[k].next.clear(), out[k].nodes.clear();
  }
  return out;
}

/// Pieces in a row, from a free end or a branch to the next; what has no end is closed.
std::vector<std::pair<std::vector<int>, bool>> rows_of(const std::vector<Piece>& pieces) {
  std::vector<std::pair<std::vector<int>, bool>> out;
  std::vector<char> used(pieces.size(), 0);
  const auto run = [&](int from) {
    std::vector<int> row{from};
    used[from] = 1;
    for (int at = from; at >= 0;) {
      int next = -1;
      for (const int n : pieces[at].next)
        if (!used[n] && pieces[n].next.size() <= 2) next = n;
      if (next >= 0) row.push_back(next), used[next] = 1;
      at = next;
    }
    return row;
  };
  for (int k = 0; k < static_cast<int>(pieces.size()); ++k) {
    if (used[k] || pieces[k].next.empty() || pieces[k].next.size() > 2) continue;
    bool end = pieces[k].next.size() < 2;
    for (const int n : pieces[k].next) end = end || pieces[n].next.size() > 2;
    if (end) out.emplace_back(run(k), false);
  }
  for (int k = 0; k < static_cast<int>(pieces.size()); ++k)
    if (!used[k] && pieces[k].next.size() == 2) {
      auto row = run(k);
      const auto& next = pieces[row.back()].next;
      const bool closed = row.size() > 2 && std::find(next.begin(), next.end(), row.front()) != next.end();
      out.emplace_back(std::move(row), closed);
    }
  return out;
}

double along(const std::vector<Vec3>& path) {
  double out = 0;
  for (std::size_t k = 1; k < path.size(); ++k) out += (path[k] - path[k - 1]).norm();
  return out;
}

/// The nodes of each piece and of the sheet beside it, as far as bends are smeared, with the piece that they belong to:
/// what is left out there would make bands narrower and turns less.
std::vector<int> spread_out(const std::vector<std::vector<int>>& near, const std::vector<Piece>& pieces,
                            const std::vector<int>& row, const std::vector<int>& other, std::size_t nodes) {
  std::vector<int> of(nodes, -1), front, next;
  for (int k = 0; k < static_cast<int>(row.size()); ++k)
    for (const int i : pieces[row[k]].nodes) of[i] = k, front.push_back(i);
  for (int ring = 0; ring < kRings; ++ring, front = std::move(next), next.clear())
    for (const int i : front)
      for (const int j : near[i])
        if (of[j] < 0 && other[j] < 0) of[j] = of[i], next.push_back(j);
  return of;
}

/// Mean square of a node's edges, mm².
double edges2_at(const Sheet& s, const std::vector<int>& around, std::size_t i) {
  double sum = 0;
  for (const int j : around) sum += (s.mesh.points[std::size_t(j)] - s.mesh.points[i]).squaredNorm();
  return around.empty() ? s.edge_p50 * s.edge_p50 : sum / double(around.size());
}

/// What a row of pieces is: turn from the sum of the bends across it, radius from how wide they lie. A sheet is finer
/// in tight radii than beside them: what smears is the edges where it bends, weighted as the bends are.
FoundRadius radius_of(const Sheet& s, const std::vector<Piece>& pieces, const std::vector<int>& row, bool closed,
                      const std::vector<int>& of, const std::vector<Eigen::Matrix3d>& bends,
                      const std::vector<std::vector<int>>& near, double sign) {
  FoundRadius out;
  out.closed = closed;
  for (const int k : row) out.path.push_back(pieces[k].middle);
  if (closed) out.path.push_back(out.path.front());
  out.length = along(out.path);
  // The middles of the last pieces lie half a piece inside.
  if (!closed && out.path.size() > 1) out.length += kPiece * s.edge_p50;
  double turn = 0, square = 0, edges2 = 0;
  std::vector<std::pair<double, double>> of_piece(row.size(), {0, 0});
  const int last = static_cast<int>(row.size()) - 1;
  for (std::size_t i = 0; i < s.size(); ++i) {
    if (of[i] < 0 || last < 1) continue;
    const int k = of[i], before = k > 0 ? k - 1 : closed ? last : 0, after = k < last ? k + 1 : closed ? 0 : last;
    const Piece& p = pieces[row[k]];
    const Vec3 way = pieces[row[after]].middle - pieces[row[before]].middle;
    const Vec3 across = s.normals[i].cross(way).normalized(), beside = p.normal.cross(way).normalized();
    const double weight = sign * s.area[i] * across.dot(bends[i] * across);
    const double far = (s.mesh.points[i] - p.middle).dot(beside);
    turn += weight, square += weight * far * far, edges2 += weight * edges2_at(s, near[i], i);
    of_piece[std::size_t(k)].first += weight, of_piece[std::size_t(k)].second += weight * far * far;
  }
  square = turn > 0 ? square / turn : 0;
  const double edge = turn > 0 && edges2 > 0 ? std::sqrt(edges2 / turn) : s.edge_p50;
  double scatter2 = 0;  // of the ratio of two sums over the pieces
  for (const auto& [t, s2] : of_piece) scatter2 += std::pow(s2 - square * t, 2);
  out.turn = std::min(std::max(0.0, turn) / std::max(out.length, 1e-9), 0.95 * M_PI);
  // Of an even bend over the turn θ the places lie r sin φ beside the middle: r² (1/2 − sin θ/(2 θ)) in the mean
  // square.
  const double smear = std::pow(kSmear * edge, 2), shape = 0.5 - std::sin(out.turn) / (2 * out.turn + 1e-300);
  out.radius = std::sqrt(std::max(square - smear, std::pow(kLeast * edge, 2)) / std::max(shape, 1e-12));
  const double u_square = std::hypot(turn > 0 ? std::sqrt(scatter2) / turn : 0, 2 * kSmear * kSmearU * edge * edge);
  out.u = std::hypot(u_square / (2 * out.radius * std::max(shape, 1e-12)), kEvenU * out.radius);
  out.resolved = out.radius * out.turn >= kResolved * edge;
  return out;
}

}  // namespace

std::vector<FoundRadius> find_radii(const Sheet& s, const std::vector<double>& gap, const RadiiSearch& search) {
  std::vector<FoundRadius> out;
  const auto near = neighbours(s.mesh);
  const std::size_t n = s.size();
  std::vector<Eigen::Matrix3d> bends(n, Eigen::Matrix3d::Zero());
  for (std::size_t i = 0; i < n; ++i)  // a rim's node lacks half of its neighbours
    if (!s.rim[i] && !is_masked(s, i)) bends[i] = bend_at(s, near[i], static_cast<int>(i));
  std::vector<double> bent[2];
  std::vector<int> part[2];
  for (const int side : {0, 1}) {
    bent[side].resize(n), part[side].assign(n, -1);
    std::vector<int> set(n);
    std::iota(set.begin(), set.end(), 0);
    for (std::size_t i = 0; i < n; ++i) bent[side][i] = most_bent(bends[i], side ? -1 : 1);
    // Of the upper half's radius the gap is to be taken off: the lower face lies on the inside of it.
    const auto in = [&](int i) { return bent[side][i] > 1 / std::max(search.largest - (side ? gap[i] : 0), 1.0); };
    for (int i = 0; i < static_cast<int>(n); ++i)
      for (const int j : near[i])
        if (in(i) && in(j)) join(set, i, j);
    for (int i = 0; i < static_cast<int>(n); ++i)
      if (in(i)) part[side][i] = root(set, i);
  }
  for (const int side : {0, 1}) {
    std::map<int, int> count;
    for (const int p : part[side])
      if (p >= 0) ++count[p];
    for (const auto& [first, nodes] : count) {
      if (nodes < kShortest) continue;
      const auto pieces = pieces_of(s, near, bent[side], part[side], first);
      for (const auto& [row, closed] : rows_of(pieces)) {
        const auto of = spread_out(near, pieces, row, part[1 - side], n);
        FoundRadius r = radius_of(s, pieces, row, closed, of, bends, near, side ? -1 : 1);
        if (r.path.size() < 2 || r.length < kShortest * s.edge_p50 || r.turn < search.least_turn) continue;
        r.lower = side == 0;
        double mean = 0, area = 0;
        for (const int k : row)
          for (const int i : pieces[k].nodes) mean += s.area[i] * gap[i], area += s.area[i];
        if (side) r.radius += mean / area;
        if (r.radius <= search.largest) out.push_back(std::move(r));
      }
    }
  }
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.length > b.length; });
  return out;
}

bool is_named(const FoundRadius& found, const LaminateOptions& o) {
  const Vec3& middle = found.path[found.path.size() / 2];
  return std::any_of(o.radii.begin(), o.radii.end(), [&](const InsideRadius& r) {
    return distance_to_path(middle, r.path) < kSame * std::max(found.radius, 0.5 * r.radius + 1);
  });
}

}  // namespace gapfront::laminate
