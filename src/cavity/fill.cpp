#include "cavity/fill.hpp"
#include <Eigen/IterativeLinearSolvers>
#include <Eigen/SparseCore>
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include "cavity/sheet_mesh.hpp"
#include "core/linear.hpp"
#include "core/parallel.hpp"
#include "core/statistics.hpp"
#include "gapfront/error.hpp"

namespace gapfront::cavity {
namespace {

constexpr double kNoHeight = std::numeric_limits<double>::quiet_NaN();

/// Solves "each unknown is the mean of its neighbours" on a graph; `value` holds NaN where unknown. What no known value
/// reaches stays unknown.
void relax(std::vector<double>& value, const std::vector<std::vector<int>>& links) {
  // Only what is joined to a known value: elsewhere there is no solution.
  std::vector<int> index(value.size(), -1), order;
  for (int i = 0; i < int(value.size()); ++i)
    if (!std::isnan(value[i])) order.push_back(i);
  int count = 0;
  for (std::size_t k = 0; k < order.size(); ++k)
    for (int j : links[order[k]])
      if (std::isnan(value[j]) && index[j] < 0) index[j] = count++, order.push_back(j);
  if (count == 0) return;
  std::vector<Eigen::Triplet<double>> entries;
  Eigen::VectorXd right = Eigen::VectorXd::Zero(count), start = Eigen::VectorXd::Zero(count);
  double mean = 0, known = 0;
  for (double v : value)
    if (!std::isnan(v)) mean += v, known += 1;
  start.setConstant(mean / known);
  for (int i = 0; i < int(value.size()); ++i) {
    if (index[i] < 0) continue;
    double weight = 0;
    for (int j : links[i]) {
      if (index[j] < 0 && std::isnan(value[j])) continue;
      weight += 1;
      if (index[j] >= 0)
        entries.push_back({index[i], index[j], -1});
      else
        right[index[i]] += value[j];
    }
    entries.push_back({index[i], index[i], weight});
  }
  Eigen::SparseMatrix<double> a(count, count);
  a.setFromTriplets(entries.begin(), entries.end());
  Eigen::ConjugateGradient<Eigen::SparseMatrix<double>, Eigen::Lower | Eigen::Upper> solver(a);
  // A hundred-thousandth of the heights is below a micrometre, for what is a guess.
  solver.setTolerance(1e-5), solver.setMaxIterations(3000);
  const Eigen::VectorXd x = solver.solveWithGuess(right, start);
  for (std::size_t i = 0; i < value.size(); ++i)
    if (index[i] >= 0) value[i] = x[index[i]];
}

/// A plan of the face in cells: which hold samples, at which mean height, and what is to be filled.
struct Plan {
  double x0 = 0, y0 = 0, cell = 1;
  int nx = 0, ny = 0;
  std::vector<double> height, count;
  std::vector<char> wanted;
  int at(const Vec3& p) const {
    const int i = int(std::floor((p.x() - x0) / cell)), j = int(std::floor((p.y() - y0) / cell));
    return i < 0 || j < 0 || i >= nx || j >= ny ? -1 : j * nx + i;
  }
  Vec3 middle(int c) const {
    const int column = c % nx, row = c / nx;
    return {x0 + (column + 0.5) * cell, y0 + (row + 0.5) * cell, 0};
  }
  bool known(int c) const { return count[c] > 0; }
  void add(const std::vector<Vec3>& points) {
    for (const Vec3& p : points)
      if (const int c = at(p); c >= 0) {
        height[c] = count[c] > 0 ? (height[c] * count[c] + p.z()) / (count[c] + 1) : p.z();
        count[c] += 1;
      }
  }
};

/// Beyond the seal line by so many cells, so that the clip there sees a surface and not its ragged end.
constexpr double kBeyond = 4;

Plan plan_of(const std::vector<Vec3>& points, const std::vector<Vec3>& seal, double pitch) {
  Plan plan;
  Vec3 low = points[0], high = points[0];
  for (const auto* list : {&points, &seal})
    for (const Vec3& p : *list) low = low.cwiseMin(p), high = high.cwiseMax(p);
  // One and a half samples a side: an even scan leaves no cell empty. Four million cells are the most that is kept.
  plan.cell = std::max(1.5 * pitch, std::sqrt((high - low).x() * (high - low).y() / 4e6));
  plan.x0 = low.x() - (kBeyond + 1) * plan.cell, plan.y0 = low.y() - (kBeyond + 1) * plan.cell;
  plan.nx = int((high.x() - plan.x0) / plan.cell + kBeyond) + 2;
  plan.ny = int((high.y() - plan.y0) / plan.cell + kBeyond) + 2;
  const std::size_t n = std::size_t(plan.nx) * std::size_t(plan.ny);
  plan.height.assign(n, kNoHeight), plan.count.assign(n, 0), plan.wanted.assign(n, 0);
  plan.add(points);
  return plan;
}

/// Without a seal line: what the samples enclose, and what lies between two pieces of the scan (in two directions that
/// are nearly opposite there are different ones).
void want_enclosed(Plan& plan, const std::vector<std::pair<Vec3, int>>& pieces) {
  const int nx = plan.nx, ny = plan.ny;
  std::vector<int> piece(plan.height.size(), -1);
  for (const auto& [p, k] : pieces)
    if (const int c = plan.at(p); c >= 0) piece[c] = k;
  std::vector<char> outside(plan.height.size(), 0);
  std::vector<int> stack;
  const auto reach = [&](int i, int j) {
    if (i < 0 || j < 0 || i >= nx || j >= ny) return;
    const int c = j * nx + i;
    if (!outside[c] && !plan.known(c)) outside[c] = 1, stack.push_back(c);
  };
  for (int i = 0; i < nx; ++i) reach(i, 0), reach(i, ny - 1);
  for (int j = 0; j < ny; ++j) reach(0, j), reach(nx - 1, j);
  while (!stack.empty()) {
    const int c = stack.back(), i = c % nx, j = c / nx;
    stack.pop_back();
    reach(i - 1, j), reach(i + 1, j), reach(i, j - 1), reach(i, j + 1);
  }
  bool several = false;
  for (const auto& [p, k] : pieces) several |= k != pieces[0].second;
  parallel_for(plan.height.size(), [&](std::size_t c) {
    if (!outside[c]) {
      plan.wanted[c] = !plan.known(int(c));
      return;
    }
    if (!several) return;
    constexpr int directions = 16;
    int met[directions];
    const Vec3 from = plan.middle(int(c));
    for (int d = 0; d < directions; ++d) {
      met[d] = -1;
      const double angle = 2 * 3.14159265358979 * d / directions;
      const Vec3 step(plan.cell * std::cos(angle), plan.cell * std::sin(angle), 0);
      Vec3 p = from;
      for (int cell = plan.at(p); cell >= 0 && met[d] < 0; cell = plan.at(p += step)) met[d] = piece[cell];
    }
    for (int d = 0; d < directions; ++d)
      for (int turn : {7, 8}) {  // 157° and 180° apart
        const int a = met[d], b = met[(d + turn) % directions];
        if (a >= 0 && b >= 0 && a != b) plan.wanted[c] = 1;
      }
  });
}

struct Guesses {
  std::vector<Vec3> points, normals;
  std::vector<double> size, bend;
  void add(const Vec3& p, const Vec3& n, double s, double b) {
    points.push_back(p), normals.push_back(n), size.push_back(s), bend.push_back(b);
  }
};

/// Points of the upper half that see no lower face, carried down by the gap of those that do.
void carry_down(const Samples& s, const Samples& up, const SealLine& seal, const Plan& plan, const Rigid& level,
                double edge, Guesses& out) {
  const auto& p = up.tree.points();
  const auto& lower = s.tree.points();
  std::vector<double> gap(p.size(), kNoHeight);
  parallel_for(p.size(), [&](std::size_t i) {
    const Vec3& m = up.normals[i];
    Vec3 from = p[i];
    for (int round = 0; round < 4; ++round) {
      const auto near = s.tree.nearest(from);
      const Vec3 d = lower[near.index] - p[i];
      const double along = d.dot(m), aside = (d - along * m).norm();
      if (aside <= s.pitch + 0.2 * std::abs(along)) {
        if (s.normals[near.index].dot(m) < -0.3) gap[i] = along;
        return;
      }
      from = p[i] + along * m;
    }
  });
  std::vector<double> seen;
  for (double g : gap)
    if (!std::isnan(g)) seen.push_back(g);
  // A gap known for less than a fifth of the upper face is no guide to the rest.
  if (seen.size() < 50 || seen.size() * 5 < p.size()) return;
  const double usual = std::abs(median(std::move(seen)));
  std::vector<char> carried(p.size());
  for (std::size_t i = 0; i < p.size(); ++i) {
    carried[i] = std::isnan(gap[i]);
    if (!carried[i] && std::abs(gap[i]) > 4 * usual) gap[i] = kNoHeight;  // another wall
  }
  std::vector<std::vector<int>> links(p.size());
  parallel_for(p.size(), [&](std::size_t i) {
    if (!std::isnan(gap[i])) return;
    for (int j : up.tree.within(p[i], 2.2 * up.pitch))
      if (j != int(i) && up.normals[j].dot(up.normals[i]) > 0) links[i].push_back(j);
  });
  auto both = links;  // the equations want every link from both ends
  for (int i = 0; i < int(p.size()); ++i)
    for (int j : links[i])
      if (!std::isnan(gap[j])) both[j].push_back(i);
  relax(gap, both);
  for (std::size_t i = 0; i < p.size(); ++i) {
    if (!carried[i] || std::isnan(gap[i])) continue;
    const Vec3 q = p[i] + gap[i] * up.normals[i];
    if (s.tree.nearest(q, 0.9 * s.pitch).index >= 0) continue;
    const int c = plan.at(level * q);
    if (c < 0 || (seal.closed() ? seal.signed_distance(q) > kBeyond * plan.cell : !plan.wanted[c])) continue;
    // A guess needs no finer mesh than half of the usual: its bends are partly those of the carrying.
    out.add(q, -up.normals[i], std::max(up.size[i], 0.5 * edge), up.bend[i]);
  }
}

/// Points of the membrane over the cells that are wanted and those around them, no nearer to samples than these are to
/// each other.
void emit(const Plan& plan, const Surface& taken, double pitch, double edge, const Rigid& level, Guesses& out) {
  const int nx = plan.nx, ny = plan.ny;
  const auto z = [&](int i, int j) {
    return i < 0 || j < 0 || i >= nx || j >= ny ? kNoHeight : plan.height[j * nx + i];
  };
  const auto open = [&](int i, int j) {
    return i >= 0 && j >= 0 && i < nx && j < ny && plan.wanted[j * nx + i] && !plan.known(j * nx + i);
  };
  std::vector<Guesses> rows(ny);
  parallel_for(
      std::size_t(ny),
      [&](std::size_t row) {
        const int j = int(row);
        for (int i = 0; i < nx; ++i) {
          bool near = false;
          for (int a = -1; a <= 1; ++a)
            for (int b = -1; b <= 1; ++b) near |= open(i + a, j + b);
          if (!near || std::isnan(z(i, j))) continue;
          const auto slope = [&](double before, double here, double after) {
            if (std::isnan(before)) before = here;
            if (std::isnan(after)) after = here;
            return (after - before) / (2 * plan.cell);
          };
          const double here = z(i, j), gx = slope(z(i - 1, j), here, z(i + 1, j)),
                       gy = slope(z(i, j - 1), here, z(i, j + 1));
          const Vec3 n = Vec3(-gx, -gy, 1).normalized();
          // As dense on a slope as on the flat, up to a slope of about 80°.
          const int parts = std::clamp(int(std::ceil(plan.cell / pitch / n.z())), 1, 9);
          for (int a = 0; a < parts; ++a)
            for (int b = 0; b < parts; ++b) {
              const double u = (a + 0.5) / parts - 0.5, v = (b + 0.5) / parts - 0.5;
              // Between the middles of four cells.
              const int si = u < 0 ? -1 : 1, sj = v < 0 ? -1 : 1;
              const double fu = std::abs(u), fv = std::abs(v);
              const auto value = [&](int ci, int cj) { return std::isnan(z(ci, cj)) ? here : z(ci, cj); };
              const double height = (1 - fu) * (1 - fv) * here + fu * (1 - fv) * value(i + si, j) +
                                    (1 - fu) * fv * value(i, j + sj) + fu * fv * value(i + si, j + sj);
              const Vec3 q = level.inverse() *
                             Vec3(plan.x0 + (i + 0.5 + u) * plan.cell, plan.y0 + (j + 0.5 + v) * plan.cell, height);
              if (taken.nearest(q, 0.9 * pitch).index < 0) rows[row].add(q, level.linear().transpose() * n, edge, 0);
            }
        }
      },
      4);
  for (const Guesses& r : rows)
    for (std::size_t i = 0; i < r.points.size(); ++i) out.add(r.points[i], r.normals[i], r.size[i], r.bend[i]);
}

}  // namespace

void stretch_membrane(std::vector<double>& height, const std::vector<char>& wanted, int nx, int ny) {
  std::vector<std::vector<int>> links(height.size());
  const auto open = [&](int c) { return wanted[c] && std::isnan(height[c]); };
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) {
      const int c = j * nx + i;
      for (const auto& [a, b] : {std::pair{i + 1, j}, std::pair{i, j + 1}}) {
        if (a >= nx || b >= ny) continue;
        const int d = b * nx + a;
        const bool usable = (open(c) || !std::isnan(height[c])) && (open(d) || !std::isnan(height[d]));
        if (usable && (open(c) || open(d))) links[c].push_back(d), links[d].push_back(c);
      }
    }
  relax(height, links);
}

Samples with_guesses(const Samples& s, const Mesh& covered, const std::vector<Vec3>& clutter, const Surface& lower,
                     const Surface& upper, const SheetOptions& o, const SealLine& seal) {
  const auto& points = s.tree.points();
  // The seal line is a prism along Z; without one the face itself says which way is up.
  Rigid level = Rigid::Identity();
  if (!seal.closed()) {
    Vec3 up = Vec3::Zero();
    for (const Vec3& n : s.normals) up += n;
    if (up.norm() > 0.1 * double(points.size())) level.linear() = rotation_between(up.normalized(), Vec3::UnitZ());
  }
  std::optional<Surface> dirt;
  if (!clutter.empty()) dirt = Surface(clutter, {.spacing = s.cell, .noise = 0});
  std::vector<Vec3> flat;
  for (const Vec3& p : points)
    if (!dirt || dirt->nearest(p, 1.5 * std::max(s.cell, s.pitch)).index < 0) flat.push_back(level * p);
  Plan plan = plan_of(flat, o.seal, s.pitch);
  if (seal.closed()) {
    parallel_for(plan.wanted.size(), [&](std::size_t c) {
      plan.wanted[c] = seal.signed_distance(plan.middle(int(c))) < kBeyond * plan.cell;
    });
  } else {
    std::vector<std::pair<Vec3, int>> pieces;
    const auto part = parts_of(covered);
    for (std::size_t t = 0; t < covered.triangles.size(); ++t)
      for (int v : covered.triangles[t]) pieces.push_back({level * covered.points[v], part[t]});
    want_enclosed(plan, pieces);
  }
  Guesses guesses;
  try {
    carry_down(s, sample_face(upper, lower, o, seal), seal, plan, level, o.edge, guesses);
  } catch (const Error&) {
    // Too little of the upper half for a face: nothing to carry down.
  }
  std::vector<Vec3> taken = points;
  std::vector<Vec3> carried;
  for (const Vec3& q : guesses.points) taken.push_back(q), carried.push_back(level * q);
  plan.add(carried);
  stretch_membrane(plan.height, plan.wanted, plan.nx, plan.ny);
  emit(plan, Surface(std::move(taken), {.spacing = s.pitch, .noise = 0}), s.pitch, o.edge, level, guesses);
  if (guesses.points.empty()) return s;
  return joined(s, guesses.points, guesses.normals, guesses.size, guesses.bend, o.edge);
}

}  // namespace gapfront::cavity
