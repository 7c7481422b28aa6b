#include "correct/flatten.hpp"

#include <Eigen/Dense>
#include <Eigen/SparseCholesky>
#include <algorithm>
#include <cmath>
#include <map>

#include "core/linear.hpp"

namespace gapfront::correct {
namespace {

using Vec2 = Eigen::Vector2d;
using Sparse = Eigen::SparseMatrix<double>;
using Entries = std::vector<Eigen::Triplet<double>>;

// The rigid passes gain a digit in ten or so; a hundred are far past what paper shows, and cheap.
constexpr int kPasses = 100;
// Normals that turn by more along one edge are a crease of the mesh, not an arc.
constexpr double kCrease = 1.2;
// Radius of what paper has to follow as one, mm: a finger's breadth across.
constexpr double kFinger = 6;

double arc(const Mesh& m, const std::vector<Vec3>& normals, int i, int j) {
  const Vec3 d = m.points[j] - m.points[i];
  const double chord = d.norm();
  if (chord == 0) return 0;
  const Vec3 across = d.cross(normals[i] + normals[j]).normalized();
  const Vec3 a = normals[i] - normals[i].dot(across) * across, b = normals[j] - normals[j].dot(across) * across;
  const double turn = std::atan2(a.cross(b).norm(), a.dot(b));
  return turn > 1e-6 && turn < kCrease ? chord * 0.5 * turn / std::sin(0.5 * turn) : chord;
}

/// The triangle with its true lengths in a plane of its own: corners at 0, (x, 0), (u, v).
struct Shape {
  std::array<Vec2, 3> at;
  double area = 0;
};
Shape shape_of(double c, double a, double b) {  // sides 01, 12, 20
  const double u = c > 0 ? (c * c + b * b - a * a) / (2 * c) : 0;
  const double v = std::sqrt(std::max(1e-12, b * b - u * u));
  return {{Vec2(0, 0), Vec2(c, 0), Vec2(u, v)}, 0.5 * c * v};
}

/// Least-squares conformal map with two pins, as complex numbers: Σ over corners of W·(x + iy) = 0 in every triangle.
std::vector<Vec2> conformal(const Mesh& m, const std::vector<Shape>& shapes) {
  const int n = static_cast<int>(m.points.size());
  const auto farthest = [&](int from) {
    int best = from;
    for (int i = 0; i < n; ++i)
      if ((m.points[i] - m.points[from]).squaredNorm() > (m.points[best] - m.points[from]).squaredNorm()) best = i;
    return best;
  };
  const int p = farthest(0), q = farthest(p);
  std::vector<Vec2> at(n, Vec2::Zero());
  at[q] = {(m.points[q] - m.points[p]).norm(), 0};
  std::vector<int> unknown(n, -1);
  int count = 0;
  for (int i = 0; i < n; ++i)
    if (i != p && i != q) unknown[i] = 2 * count++;
  if (count == 0) return at;
  Entries entries;
  Eigen::VectorXd b = Eigen::VectorXd::Zero(2 * static_cast<long>(m.triangles.size()));
  for (std::size_t t = 0; t < m.triangles.size(); ++t) {
    const double scale = 1 / std::sqrt(2 * shapes[t].area);
    for (int k = 0; k < 3; ++k) {
      const Vec2 w = scale * (shapes[t].at[(k + 2) % 3] - shapes[t].at[(k + 1) % 3]);
      const int i = m.triangles[t][k], row = 2 * static_cast<int>(t);
      // (w.x + i w.y)(x + i y): real part w.x x − w.y y, imaginary part w.y x + w.x y.
      if (unknown[i] >= 0) {
        entries.emplace_back(row, unknown[i], w.x()), entries.emplace_back(row, unknown[i] + 1, -w.y());
        entries.emplace_back(row + 1, unknown[i], w.y()), entries.emplace_back(row + 1, unknown[i] + 1, w.x());
      } else {
        b[row] -= w.x() * at[i].x() - w.y() * at[i].y();
        b[row + 1] -= w.y() * at[i].x() + w.x() * at[i].y();
      }
    }
  }
  Sparse a(b.size(), 2 * count);
  a.setFromTriplets(entries.begin(), entries.end());
  const Eigen::VectorXd x = Eigen::SimplicialLDLT<Sparse>(a.transpose() * a).solve(a.transpose() * b);
  for (int i = 0; i < n; ++i)
    if (unknown[i] >= 0) at[i] = {x[unknown[i]], x[unknown[i] + 1]};
  return at;
}

/// Greatest change of a length by strains that are averaged over discs, by area: each as F·Fᵀ, in the paper's own axes.
double stretch_over_discs(const std::vector<Vec2>& middle, const std::vector<double>& area,
                          const std::vector<Eigen::Matrix2d>& change) {
  std::map<std::pair<long, long>, std::vector<std::size_t>> cells;  // as wide as a disc's radius
  const auto cell = [](const Vec2& p) { return std::pair(std::lround(p.x() / kFinger), std::lround(p.y() / kFinger)); };
  for (std::size_t t = 0; t < middle.size(); ++t) cells[cell(middle[t])].push_back(t);
  double most = 0;
  for (const Vec2& m : middle) {
    Eigen::Matrix2d sum = Eigen::Matrix2d::Zero();
    double all = 0;
    const auto [x, y] = cell(m);
    for (const auto& [dx, dy] : {std::pair{-1, -1}, {-1, 0}, {-1, 1}, {0, -1}, {0, 0}, {0, 1}, {1, -1}, {1, 0}, {1, 1}})
      if (const auto at = cells.find({x + dx, y + dy}); at != cells.end())
        for (const std::size_t t : at->second)
          if ((middle[t] - m).squaredNorm() <= kFinger * kFinger) sum += area[t] * change[t], all += area[t];
    const Eigen::Vector2d square = spectrum_of(Eigen::Matrix2d(sum / all)).eigenvalues();
    for (const double s : {square[0], square[1]}) most = std::max(most, std::abs(std::sqrt(std::max(0.0, s)) - 1));
  }
  return most;
}

double cot(const Vec2& a, const Vec2& b) { return a.dot(b) / std::max(1e-12, std::abs(a.x() * b.y() - a.y() * b.x())); }

/// The rotation that turns the shape's sides best onto the flat ones, each weighted by its opposite cotangent.
Eigen::Matrix2d turn(const Shape& s, const std::array<double, 3>& w, const std::array<int, 3>& t,
                     const std::vector<Vec2>& at) {
  double c = 0, d = 0;
  for (int k = 0; k < 3; ++k) {  // side from corner k+1 to corner k+2
    const Vec2 r = s.at[(k + 2) % 3] - s.at[(k + 1) % 3], f = at[t[(k + 2) % 3]] - at[t[(k + 1) % 3]];
    c += w[k] * r.dot(f), d += w[k] * (r.x() * f.y() - r.y() * f.x());
  }
  const double n = std::hypot(c, d);
  if (n > 0) c /= n, d /= n;
  Eigen::Matrix2d out;
  out << c, -d, d, c;
  return n > 0 ? out : Eigen::Matrix2d(Eigen::Matrix2d::Identity());
}

}  // namespace

Flat lay_flat(const Mesh& m, const std::vector<Vec3>& normals) {
  const int n = static_cast<int>(m.points.size());
  std::vector<Shape> shapes;
  std::vector<std::array<double, 3>> weights;
  double mean_weight = 0;
  for (const auto& t : m.triangles) {
    shapes.push_back(shape_of(arc(m, normals, t[0], t[1]), arc(m, normals, t[1], t[2]), arc(m, normals, t[2], t[0])));
    std::array<double, 3> w;
    for (int k = 0; k < 3; ++k) {
      const auto& s = shapes.back().at;
      w[k] = cot(s[(k + 1) % 3] - s[k], s[(k + 2) % 3] - s[k]);
      mean_weight += std::abs(w[k]);
    }
    weights.push_back(w);
  }
  std::vector<Vec2> at = conformal(m, shapes);
  double true_length = 0, flat_length = 0;
  for (std::size_t t = 0; t < shapes.size(); ++t)
    for (int k = 0; k < 3; ++k) {
      true_length += (shapes[t].at[(k + 1) % 3] - shapes[t].at[k]).norm();
      flat_length += (at[m.triangles[t][(k + 1) % 3]] - at[m.triangles[t][k]]).norm();
    }
  if (flat_length > 0)
    for (auto& p : at) p *= true_length / flat_length;

  Entries entries;
  for (std::size_t t = 0; t < shapes.size(); ++t)
    for (int k = 0; k < 3; ++k) {
      const int i = m.triangles[t][(k + 1) % 3], j = m.triangles[t][(k + 2) % 3];
      const double w = weights[t][k];
      entries.emplace_back(i, i, w), entries.emplace_back(j, j, w);
      entries.emplace_back(i, j, -w), entries.emplace_back(j, i, -w);
    }
  // Where it lies does not matter: one node is held, as weakly as keeps the matrix definite.
  entries.emplace_back(0, 0, mean_weight / std::max<std::size_t>(1, 3 * m.triangles.size()));
  Sparse laplace(n, n);
  laplace.setFromTriplets(entries.begin(), entries.end());
  const Eigen::SimplicialLDLT<Sparse> solver(laplace);
  const Vec2 held = at[0];
  for (int pass = 0; pass < kPasses && solver.info() == Eigen::Success; ++pass) {
    Eigen::MatrixX2d b = Eigen::MatrixX2d::Zero(n, 2);
    b.row(0) = held.transpose() * mean_weight / std::max<std::size_t>(1, 3 * m.triangles.size());
    for (std::size_t t = 0; t < shapes.size(); ++t) {
      const Eigen::Matrix2d r = turn(shapes[t], weights[t], m.triangles[t], at);
      for (int k = 0; k < 3; ++k) {
        const Vec2 side = weights[t][k] * (r * (shapes[t].at[(k + 2) % 3] - shapes[t].at[(k + 1) % 3]));
        b.row(m.triangles[t][(k + 2) % 3]) += side.transpose();
        b.row(m.triangles[t][(k + 1) % 3]) -= side.transpose();
      }
    }
    const Eigen::MatrixX2d x = solver.solve(b);
    double moved = 0;
    for (int i = 0; i < n; ++i) {
      moved = std::max(moved, (x.row(i).transpose() - at[i]).norm());
      at[i] = x.row(i).transpose();
    }
    if (moved < 1e-4) break;  // a tenth of a micrometre: nothing to see on paper
  }

  Flat out;
  for (const auto& p : at) out.at.emplace_back(p.x(), p.y(), 0);
  std::vector<Vec2> middle;
  std::vector<double> area;
  std::vector<Eigen::Matrix2d> change;
  for (std::size_t t = 0; t < shapes.size(); ++t) {
    Eigen::Matrix2d from, to;
    from << shapes[t].at[1] - shapes[t].at[0], shapes[t].at[2] - shapes[t].at[0];
    const auto& c = m.triangles[t];
    to << at[c[1]] - at[c[0]], at[c[2]] - at[c[0]];
    const Eigen::Matrix2d j = to * from.inverse();
    const Eigen::Vector2d s = j.jacobiSvd().singularValues();
    // A triangle turned over is no map at all.
    out.strain.push_back(j.determinant() > 0 ? std::max(std::abs(s[0] - 1), std::abs(s[1] - 1)) : 1);
    middle.emplace_back((at[c[0]] + at[c[1]] + at[c[2]]) / 3), area.push_back(shapes[t].area);
    change.emplace_back(j * j.transpose());
    if (j.determinant() <= 0) out.stretch = 1;
  }
  out.stretch = std::max(out.stretch, stretch_over_discs(middle, area, change));
  return out;
}

std::vector<std::vector<Vec3>> level_lines(const Mesh& m, const std::vector<double>& f, double level) {
  using Edge = std::pair<int, int>;
  std::multimap<Edge, Edge> next;
  const auto above = [&](int i) { return f[i] > level; };
  for (const auto& t : m.triangles) {
    std::vector<Edge> ends;
    for (int k = 0; k < 3; ++k) {
      const int a = t[k], b = t[(k + 1) % 3];
      if (above(a) != above(b)) ends.push_back({std::min(a, b), std::max(a, b)});
    }
    if (ends.size() == 2) next.insert({ends[0], ends[1]}), next.insert({ends[1], ends[0]});
  }
  const auto place = [&](const Edge& e) -> Vec3 {
    const double s = (level - f[e.first]) / (f[e.second] - f[e.first]);
    return m.points[e.first] + s * (m.points[e.second] - m.points[e.first]);
  };
  const auto cut = [&](const Edge& a, const Edge& b) {
    for (auto [it, end] = next.equal_range(a); it != end; ++it)
      if (it->second == b) {
        next.erase(it);
        return;
      }
  };
  std::vector<std::vector<Vec3>> out;
  while (!next.empty()) {
    // An open line is begun at one of its ends, which have one neighbour only.
    auto start = std::find_if(next.begin(), next.end(), [&](const auto& e) { return next.count(e.first) == 1; });
    if (start == next.end()) start = next.begin();
    Edge at = start->first;
    std::vector<Vec3> line{place(at)};
    for (auto it = next.find(at); it != next.end(); it = next.find(at)) {
      const Edge to = it->second;
      cut(at, to), cut(to, at);
      line.push_back(place(to));
      at = to;
    }
    out.push_back(std::move(line));
  }
  return out;
}

}  // namespace gapfront::correct
