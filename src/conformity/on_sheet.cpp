// What is given in space (thicknesses at places, paint on a mesh), brought to the nodes of the sheet.
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>
#include <set>

#include "core/parallel.hpp"
#include "core/point_tree.hpp"
#include "core/statistics.hpp"
#include "core/triangle_tree.hpp"
#include "gapfront/check.hpp"
#include "gapfront/conformity.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

/// Places looked at around a node and kept of them: two rings of an even raster, when half are of another wall.
constexpr int kLookedAt = 24, kKept = 12;
/// A place belongs to the node's wall when the sheet where it lies is turned by less than 72° (as the gap's fits).
constexpr double kSameWall = 0.3;
/// Beyond three usual distances nothing was given here.
constexpr double kReach = 3;

Vec3 triangle_normal(const Mesh& m, int t) {
  const auto& v = m.triangles[t];
  return (m.points[v[1]] - m.points[v[0]]).cross(m.points[v[2]] - m.points[v[0]]).normalized();
}

struct Around {
  double x, y, value, weight;
};

/// Weighted plane through the values, at the origin. Where the places lie in a row it has no slope across the row.
double plane_at_origin(const std::vector<Around>& around) {
  double sum = 0, mean = 0;
  Eigen::Vector2d centre(0, 0), b(0, 0);
  Eigen::Matrix2d m = Eigen::Matrix2d::Zero();
  for (const Around& a : around)
    sum += a.weight, mean += a.weight * a.value, centre += a.weight * Eigen::Vector2d(a.x, a.y);
  mean /= sum, centre /= sum;
  for (const Around& a : around) {
    const Eigen::Vector2d d = Eigen::Vector2d(a.x, a.y) - centre;
    m += a.weight * d * d.transpose();
    b += a.weight * (a.value - mean) * d;
  }
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> axes;
  axes.computeDirect(m);
  Eigen::Vector2d slope(0, 0);
  for (int k = 0; k < 2; ++k)
    // A thousandth of the spread (squared: a millionth) is a row.
    if (axes.eigenvalues()[k] > 1e-6 * axes.eigenvalues().sum() && axes.eigenvalues()[k] > 0)
      slope += axes.eigenvectors().col(k) * axes.eigenvectors().col(k).dot(b) / axes.eigenvalues()[k];
  return mean - slope.dot(centre);
}

std::string hex(const Rgb& c) {
  char text[8];
  std::snprintf(text, sizeof text, "#%02x%02x%02x", c[0], c[1], c[2]);
  return text;
}

}  // namespace

std::vector<double> conformity::interpolate_on_sheet(const Sheet& sheet, const PlaceValues& given) {
  const std::size_t n = given.places.size();
  if (n < 3 || given.values.size() != n)
    throw Error(Fault::input, "cavity.thickness: fewer than 3 places with a value; give more, or cavity.nominal alone");
  const PointTree tree(given.places);
  const TriangleTree face(sheet.mesh);
  std::vector<Vec3> normal(n);
  std::vector<double> apart(n);
  parallel_for(n, [&](std::size_t i) {
    normal[i] = triangle_normal(sheet.mesh, face.nearest(given.places[i]).triangle);
    std::vector<std::uint32_t> index;
    std::vector<double> square;
    tree.nearest(given.places[i], 2, index, square);
    apart[i] = std::sqrt(square.back());
  });
  const double usual = median(apart);
  if (!(usual > 0)) throw Error(Fault::input, "cavity.thickness: most places are given twice; give each once");
  std::vector<double> out(sheet.size(), std::numeric_limits<double>::quiet_NaN());
  parallel_for(out.size(), [&](std::size_t i) {
    const Vec3 &p = sheet.mesh.points[i], &m = sheet.normals[i];
    const Vec3 e1 = m.unitOrthogonal(), e2 = m.cross(e1);
    std::vector<std::uint32_t> index;
    std::vector<double> square;
    tree.nearest(p, kLookedAt, index, square);
    std::vector<Around> around;
    for (std::size_t k = 0; k < index.size() && around.size() < kKept; ++k) {
      if (normal[index[k]].dot(m) < kSameWall) continue;
      const Vec3 d = given.places[index[k]] - p;
      if (around.empty() && d.norm() > kReach * usual) break;
      const double x = d.dot(e1), y = d.dot(e2);
      // A millionth of the usual distance keeps the weight finite at a place itself.
      around.push_back({x, y, given.values[index[k]], 1 / (x * x + y * y + 1e-12 * usual * usual)});
    }
    if (!around.empty()) out[i] = plane_at_origin(around);
  });
  return out;
}

std::vector<char> conformity::painted_nodes(const Sheet& sheet, const PaintedMesh& painted, const Rgb& paint,
                                            double reach) {
  const TriangleTree tree(painted.mesh);
  std::vector<char> out(sheet.size(), 0);
  parallel_for(out.size(), [&](std::size_t i) {
    const int t = tree.nearest(sheet.mesh.points[i], reach).triangle;
    out[i] = t >= 0 && painted.paint[t] == paint;
  });
  if (std::count(out.begin(), out.end(), 1) > 0) return out;
  check_paint(painted, paint);
  throw Error(Fault::input, "the part painted " + hex(paint) +
                                " is not on the sheet; is the painted mesh in tool coordinates, and its unit right?");
}

void check_paint(const PaintedMesh& painted, const Rgb& paint) {
  const std::set<Rgb> there(painted.paint.begin(), painted.paint.end());
  if (there.count(paint)) return;
  constexpr std::size_t listed = 8;  // so many fit a line; a mesh with more is shaded, not painted
  std::string list;
  std::size_t count = 0;
  for (const Rgb& c : there)
    if (count < listed) list += (count++ > 0 ? ", " : "") + hex(c);
  throw Error(Fault::input,
              "no face is painted " + hex(paint) + "; the mesh has " + list +
                  (there.size() > listed ? " and " + std::to_string(there.size() - listed) + " more" : ""));
}

}  // namespace gapfront
