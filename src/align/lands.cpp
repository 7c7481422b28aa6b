#include "align/lands.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <map>

#include "align/plane.hpp"
#include "core/parallel.hpp"
#include "core/point_tree.hpp"
#include "core/statistics.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pose.hpp"

namespace gapfront::align {
namespace {

constexpr int kPoints = 25;       // per cell and half: the mean is then five times better than a point, and robust
constexpr int kFewest = 10;       // a plane of fewer points cannot tell an outlier from a tilt
constexpr int kMostCells = 2500;  // more places than this sharpen nothing that systematic errors do not cover
constexpr double kFloor = 1e-5;   // mm; exact data still need a weight

using Cells = std::map<std::pair<int, int>, std::vector<int>>;

struct Flat {  // z = height + slope·(x − middle) over the plane of the lands
  double height = 0, var = 0, scatter = 0;
  Eigen::Vector2d slope = Eigen::Vector2d::Zero();
  int used = 0;
};

Cells gather(const std::vector<Vec3>& local, double cell) {
  Cells cells;
  for (std::size_t i = 0; i < local.size(); ++i)
    cells[{static_cast<int>(std::floor(local[i].x() / cell)), static_cast<int>(std::floor(local[i].y() / cell))}]
        .push_back(static_cast<int>(i));
  return cells;
}

/// Least-squares height and slope at `middle`; points beyond 4 robust sigmas of the last fit are left out.
Flat fit_flat(const std::vector<Vec3>& local, const std::vector<int>& members, const Eigen::Vector2d& middle) {
  Flat fit;
  std::vector<char> in(members.size(), 1);
  for (int round = 0; round < 4; ++round) {
    Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
    Vec3 rhs = Vec3::Zero();
    int used = 0;
    for (std::size_t i = 0; i < members.size(); ++i) {
      if (!in[i]) continue;
      const Vec3& p = local[members[i]];
      const Vec3 row(1, p.x() - middle.x(), p.y() - middle.y());
      normal += row * row.transpose();
      rhs += row * p.z();
      ++used;
    }
    const Eigen::FullPivLU<Eigen::Matrix3d> lu(normal);
    if (used < kFewest || !lu.isInvertible()) return {};
    const Vec3 x = lu.solve(rhs);
    std::vector<double> away(members.size());
    double sum = 0;
    for (std::size_t i = 0; i < members.size(); ++i) {
      const Vec3& p = local[members[i]];
      const double r = p.z() - x(0) - x(1) * (p.x() - middle.x()) - x(2) * (p.y() - middle.y());
      away[i] = std::abs(r);
      if (in[i]) sum += r * r;
    }
    fit = {x(0), lu.inverse()(0, 0), std::sqrt(sum / (used - 3)), {x(1), x(2)}, used};
    const double reach = std::max(4 * robust_sigma(away), 1e-9);
    std::vector<char> next(members.size());
    for (std::size_t i = 0; i < members.size(); ++i) next[i] = away[i] <= reach;
    if (next == in) break;
    in = std::move(next);
  }
  return fit;
}

/// +1 when the upper half lies on the + side of the axis over the whole plan, −1 when on the other, 0 when unclear.
int upper_side(const std::vector<Vec3>& lower, const std::vector<Vec3>& upper, const LandFrame& f) {
  constexpr int kGrid = 48;  // cells across: a dish or rib is then some cells wide, and each holds many points
  const double cell = 6 * f.size / kGrid;
  std::vector<double> sum[2]{std::vector<double>(kGrid * kGrid), std::vector<double>(kGrid * kGrid)};
  std::vector<int> count[2]{std::vector<int>(kGrid * kGrid), std::vector<int>(kGrid * kGrid)};
  for (int half = 0; half < 2; ++half)
    for (const Vec3& p : half ? upper : lower) {
      const int i = static_cast<int>(std::floor((p - f.centre).dot(f.e1) / cell)) + kGrid / 2;
      const int j = static_cast<int>(std::floor((p - f.centre).dot(f.e2) / cell)) + kGrid / 2;
      if (i < 0 || j < 0 || i >= kGrid || j >= kGrid) continue;
      sum[half][i * kGrid + j] += (p - f.centre).dot(f.axis);
      ++count[half][i * kGrid + j];
    }
  // The cavity is the widest part of the closed mold, so the cells where the halves are farthest apart tell.
  double farthest = 0;
  std::vector<double> apart;
  for (int k = 0; k < kGrid * kGrid; ++k)
    if (count[0][k] && count[1][k]) apart.push_back(sum[1][k] / count[1][k] - sum[0][k] / count[0][k]);
  std::sort(apart.begin(), apart.end());
  if (apart.empty()) return 0;
  const double low = apart[apart.size() / 10], high = apart[apart.size() - 1 - apart.size() / 10];
  farthest = std::abs(low) > std::abs(high) ? low : high;
  // Closer than a fifth of a millimetre is two lands and no cavity; noise or a bad first pose could turn the sign.
  return std::abs(farthest) < 0.2 ? 0 : farthest > 0 ? 1 : -1;
}

LandFrame land_frame(const std::vector<Vec3>& land, const std::vector<Vec3>& lower, const std::vector<Vec3>& upper) {
  LandFrame f;
  std::vector<Vec3> some;  // 20000 points give the mean normal far better than it is needed
  for (std::size_t i = 0, step = land.size() / 20000 + 1; i < land.size(); i += step) some.push_back(land[i]);
  const auto plane = fit_plane(some);
  if (!plane)
    throw Error(Fault::measurement,
                "align: the lower half's points in the flange region lie on one line; widen flange");
  f.centre = plane->point;
  f.axis = plane->normal;
  // Along X as nearly as may be, so that words about e1 and e2 are words about X and Y.
  const Vec3 along = std::abs(f.axis.x()) < 0.9 ? Vec3::UnitX() : Vec3::UnitY();
  f.e1 = (along - f.axis * f.axis.dot(along)).normalized();
  f.e2 = f.axis.cross(f.e1);
  double square = 0;
  for (const Vec3& p : some) square += (p - f.centre).squaredNorm() / some.size();
  f.size = std::sqrt(square);
  if (upper_side(lower, upper, f) < 0) f.axis = -f.axis, f.e2 = -f.e2;
  return f;
}

std::vector<Vec3> picked(const std::vector<Vec3>& points, const OnLands& on_lands) {
  std::vector<char> in(points.size());
  parallel_for(
      points.size(), [&](std::size_t i) { in[i] = on_lands(points[i]); }, 1024);
  std::vector<Vec3> out;
  for (std::size_t i = 0; i < points.size(); ++i)
    if (in[i]) out.push_back(points[i]);
  return out;
}

double cell_side(const std::vector<Vec3>& lower, const std::vector<Vec3>& upper, double size) {
  // The area that the sparser half's cells would cover; seen coarsely it is too large, so start below.
  const double coarse = size / 20;
  double cell = size / 200;
  for (const auto* half : {&lower, &upper})
    cell = std::max(cell, 0.6 * coarse * std::sqrt(gather(*half, coarse).size() * kPoints / double(half->size())));
  for (; cell < size; cell *= 1.25) {
    bool enough = true;
    for (const auto* half : {&lower, &upper}) {
      const Cells cells = gather(*half, cell);
      std::vector<double> count;
      for (const auto& [key, members] : cells) count.push_back(static_cast<double>(members.size()));
      enough = enough && median(count) >= kPoints && cells.size() <= kMostCells;
    }
    if (enough) break;
  }
  return cell;
}

}  // namespace

std::vector<Vec3> close_places(const std::vector<Vec3>& lower, const std::vector<Vec3>& upper, double stand_off,
                               double within, double voxel) {
  const SurfacePoints a = thin_surface(lower, voxel), b = thin_surface(upper, voxel);
  const PointTree tree(b.points);
  std::vector<Vec3> out;
  for (std::size_t i = 0; i < a.points.size(); ++i) {
    const auto [j, square] = tree.nearest(a.points[i], std::abs(stand_off) + within + 2 * voxel);
    if (j < 0) continue;
    const double across = std::abs(a.normals[i].dot(b.points[j] - a.points[i]));
    // Nearly parallel faces only: where a wall ends on the other half's land the distance says nothing.
    if (std::abs(across - std::abs(stand_off)) < within && std::abs(a.normals[i].dot(b.normals[j])) > 0.9)
      out.push_back(a.points[i]);
  }
  return out;
}

Lands find_lands(const std::vector<Vec3>& lower, const std::vector<Vec3>& upper, const OnLands& on_lands) {
  Lands out;
  std::vector<Vec3> land[2] = {picked(lower, on_lands), picked(upper, on_lands)};
  for (int half = 0; half < 2; ++half)
    if (land[half].size() < 3 * kPoints)
      throw Error(Fault::measurement, "align: only " + std::to_string(land[half].size()) + " points of the " +
                                          (half ? "upper" : "lower") +
                                          " half are on the flange lands; check flange, the first pose and the scan");
  out.frame = land_frame(land[0], lower, upper);
  const LandFrame& f = out.frame;
  for (auto& half : land)
    for (Vec3& p : half) p = Vec3((p - f.centre).dot(f.e1), (p - f.centre).dot(f.e2), (p - f.centre).dot(f.axis));
  out.cell = cell_side(land[0], land[1], f.size);
  const Cells cells[2] = {gather(land[0], out.cell), gather(land[1], out.cell)};

  std::vector<std::pair<const std::vector<int>*, const std::vector<int>*>> both;
  for (const auto& [key, members] : cells[0]) {
    const auto other = cells[1].find(key);
    if (other != cells[1].end()) both.push_back({&members, &other->second});
  }
  out.one_sided = static_cast<int>(cells[0].size() + cells[1].size() - 2 * both.size());
  std::vector<Flat> flat[2]{std::vector<Flat>(both.size()), std::vector<Flat>(both.size())};
  std::vector<Eigen::Vector2d> middle(both.size(), Eigen::Vector2d::Zero());
  parallel_for(both.size(), [&](std::size_t i) {
    for (int k : *both[i].first) middle[i] += land[0][k].head<2>() / both[i].first->size();
    flat[0][i] = fit_flat(land[0], *both[i].first, middle[i]);
    flat[1][i] = fit_flat(land[1], *both[i].second, middle[i]);
  });

  // The scatter of all places together is known far better than that of one; a place takes its own when it is clearly
  // rougher (half as much again is beyond chance for 25 points).
  double typical[2];
  for (int half = 0; half < 2; ++half) {
    std::vector<double> scatter;
    for (const Flat& p : flat[half])
      if (p.used) scatter.push_back(p.scatter);
    typical[half] = median(scatter);
  }
  for (std::size_t i = 0; i < both.size(); ++i) {
    const Flat &a = flat[0][i], &b = flat[1][i];
    // A place outside the bulk of either half's points would be extrapolated: four times the variance of a mean.
    if (!a.used || !b.used || a.var > 4.0 / a.used || b.var > 4.0 / b.used) continue;
    const auto own = [&](const Flat& p, double usual) { return p.scatter > 1.5 * usual ? p.scatter : usual; };
    const Eigen::Vector2d slope = (a.slope + b.slope) / 2;
    const Vec3 n = Vec3(-slope.x(), -slope.y(), 1).normalized();
    LandPlace place;
    place.at = f.centre + f.e1 * middle[i].x() + f.e2 * middle[i].y() + f.axis * b.height;
    place.normal = f.e1 * n.x() + f.e2 * n.y() + f.axis * n.z();
    place.gap = n.z() * (b.height - a.height);
    const double ua = own(a, typical[0]), ub = own(b, typical[1]);
    place.rough = ua > typical[0] || ub > typical[1];
    place.u = n.z() * std::sqrt(ua * ua * a.var + ub * ub * b.var + kFloor * kFloor);
    out.places.push_back(place);
  }
  if (out.places.size() < 3)
    throw Error(Fault::measurement, "align: the two halves share only " + std::to_string(out.places.size()) +
                                        " places on the flange lands, 3 are needed; check flange and the first pose");
  return out;
}

}  // namespace gapfront::align
