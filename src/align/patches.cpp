#include "gapfront/patches.hpp"

#include <algorithm>
#include <cmath>

#include "align/free_motion.hpp"
#include "core/point_tree.hpp"
#include "core/rigid_motion.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pose.hpp"

namespace gapfront::align {
namespace {

constexpr double kPlacesAcross = 200;   // of a scan, thinned: some 20,000 places, past which form errors govern
constexpr double kLeastInCommon = 0.1;  // of a patch; less is an edge, and edges do not count as partners
// Of the places' distance. Places that are means of a few points each miss the other scan's by a tenth of it at most on
// faces whose radii a scan resolves; faces that meet by chance miss by half of it.
constexpr double kFits = 0.2;
// Of the places over the other scans' face: what does not lie on it there is another face.
constexpr double kAgree = 0.9;

double diagonal_of(const std::vector<Vec3>& points) {
  // Of the middle 98 %: strays must not decide how coarsely the face is looked at.
  Vec3 size = Vec3::Zero();
  for (int k = 0; k < 3; ++k) {
    std::vector<double> v;
    for (std::size_t i = 0, step = points.size() / 20000 + 1; i < points.size(); i += step) v.push_back(points[i][k]);
    std::sort(v.begin(), v.end());
    size[k] = v[v.size() * 99 / 100] - v[v.size() / 100];
  }
  return size.norm();
}

/// Share of the places near the fixed face that lie on it.
double agreement(const PointTree& tree, const SurfacePoints& fixed, const SurfacePoints& moving, const Refined& fit,
                 double places) {
  const double limit = std::max(5 * fit.rms, 0.1 * places);
  std::size_t near = 0, on = 0;
  for (const Vec3& p : moving.points) {
    const Vec3 x = fit.motion * p;
    const auto [j, square] = tree.nearest(x, 3 * places);
    if (j < 0) continue;
    ++near, on += std::abs(fixed.normals[j].dot(x - fixed.points[j])) < limit;
  }
  return near > 0 ? double(on) / double(near) : 0;
}

/// A patch on the scans before it.
Refined patch_on(const SurfacePoints& fixed, const SurfacePoints& moving, double voxel, const std::string& path) {
  const PoseRefiner refiner(fixed);
  // At the end partners are near: far ones are of surface that only one of the two scans covers.
  const auto settled = [&](const Rigid& start) {
    return refiner.refine(moving, refiner.refine(moving, start).motion, {.reach = 1.5 * voxel});
  };
  const PointTree tree(fixed.points);
  const auto fits = [&](const Refined& f) {
    return f.overlap > kLeastInCommon && f.rms < kFits * voxel && agreement(tree, fixed, moving, f, voxel) > kAgree;
  };
  // No search from any pose: half of a panel that is nearly the same after half a turn lies on the other half with more
  // of its places than where it belongs.
  const Refined fit = settled(Rigid::Identity());
  if (!fits(fit))
    throw Error(Fault::measurement, path +
                                        ": does not lie on the scans before it as exported, or too little of it does; "
                                        "export the scans of a half in one frame, with a fifth or more in common");
  Vec3 low = Vec3::Constant(1e300), high = -low;
  for (const Vec3& p : moving.points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  const double partners = fit.overlap * double(moving.points.size());
  // A direction that the overlap holds worse than ten times its scatter over the patch's size is not held.
  if (const std::string loose = free_motion_of(fit.information, fit.pivot, (high - low).norm() / 2,
                                               100 * std::max(fit.rms, 1e-6) / std::sqrt(partners));
      !loose.empty())
    throw Error(Fault::measurement, path + ": what it has in common with the scans before it leaves it " + loose +
                                        "; scan it again with something in common that stops it");
  return fit;
}

/// Along the normal, where it is greatest: a face that slides in itself changes no gap.
double greatest_u(const SurfacePoints& moving, const Refined& fit) {
  double most = 0;
  for (std::size_t i = 0; i < moving.points.size(); ++i) {
    const Vec3 n = fit.motion.linear() * moving.normals[i];
    const Vector6 j = motion_jacobian(fit.motion * moving.points[i], fit.pivot).transpose() * n;
    most = std::max(most, j.dot(fit.covariance * j));
  }
  return std::sqrt(std::max(0.0, most));
}

void add_points(Scan& to, const Scan& from, const Rigid& motion) {
  const bool normals = !to.cloud.normals.empty() && !from.cloud.normals.empty();
  for (const Vec3& p : from.cloud.points) to.cloud.points.push_back(motion * p);
  if (!normals) to.cloud.normals.clear();
  if (normals)
    for (const Vec3f& n : from.cloud.normals) to.cloud.normals.push_back(motion.linear().cast<float>() * n);
  to.nonfinite_dropped += from.nonfinite_dropped, to.declared_points += from.declared_points;
}

}  // namespace

JoinedScan join_patches(std::vector<Scan> scans, const Progress& progress) {
  if (scans.empty()) throw Error(Fault::input, "a half has no scan; name one");
  JoinedScan out;
  out.scan = std::move(scans.front());
  double before = 0;  // u² of what the next is joined to, at its worst
  for (std::size_t k = 1; k < scans.size(); ++k) {
    report_progress(progress, "join scans", double(k) / double(scans.size()));
    for (const Scan* s : {&out.scan, &scans[k]})
      if (s->cloud.points.size() < 100)
        throw Error(Fault::measurement, s->path + ": too few points to join it to another scan; export it again");
    const double voxel = diagonal_of(scans[k].cloud.points) / kPlacesAcross;
    const SurfacePoints fixed = thin_surface(out.scan.cloud.points, voxel),
                        moving = thin_surface(scans[k].cloud.points, voxel);
    const double places = std::max({voxel, fixed.spacing, moving.spacing});
    const Refined fit = patch_on(fixed, moving, places, scans[k].path);
    before += std::pow(greatest_u(moving, fit), 2);
    out.patches.push_back({scans[k].path, fit.rms, fit.overlap, std::sqrt(before)});
    add_points(out.scan, scans[k], fit.motion);
    scans[k].cloud = {};
  }
  out.u = std::sqrt(before);
  return out;
}

}  // namespace gapfront::align
