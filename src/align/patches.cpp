#include "gapfront/patches.hpp"

#include <algorithm>
#include <cmath>

#include "align/free_motion.hpp"
#include "core/point_tree.hpp"
#include "core/rigid_motion.hpp"
#include "gapfront/balls.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pose.hpp"
#include "units/words.hpp"

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

/// Both faces, thinned alike.
struct Faces {
  SurfacePoints fixed, moving;
  double places = 0;  // mm, from one to the next
};

Faces faces_of(const Scan& fixed, const Scan& moving) {
  for (const Scan* s : {&fixed, &moving})
    if (s->cloud.points.size() < 100)
      throw Error(Fault::measurement, s->path + ": too few points to join it to another scan; export it again");
  const double voxel = diagonal_of(moving.cloud.points) / kPlacesAcross;
  Faces f{thin_surface(fixed.cloud.points, voxel), thin_surface(moving.cloud.points, voxel), 0};
  f.places = std::max({voxel, f.fixed.spacing, f.moving.spacing});
  return f;
}

/// A patch on the scans before it, from a start that is near; nothing where it does not fit.
std::optional<Refined> settled(const Faces& f, const PointTree& tree, const Rigid& start) {
  const PoseRefiner refiner(f.fixed);
  // At the end partners are near: far ones are of surface that only one of the two scans covers.
  const Refined fit = refiner.refine(f.moving, refiner.refine(f.moving, start).motion, {.reach = 1.5 * f.places});
  const bool fits = fit.overlap > kLeastInCommon && fit.rms < kFits * f.places &&
                    agreement(tree, f.fixed, f.moving, fit, f.places) > kAgree;
  return fits ? std::optional(fit) : std::nullopt;
}

void refuse_loose(const Faces& f, const Refined& fit, const std::string& path) {
  Vec3 low = Vec3::Constant(1e300), high = -low;
  for (const Vec3& p : f.moving.points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  const double partners = fit.overlap * double(f.moving.points.size());
  // As of datum faces (nominal.cpp): a hundred times the u of the partners' mean.
  if (const std::string loose = free_motion_of(fit.information, fit.pivot, (high - low).norm() / 2,
                                               100 * std::max(fit.rms, 1e-6) / std::sqrt(partners));
      !loose.empty())
    throw Error(Fault::measurement, path + ": what it has in common with the scans before it leaves it " + loose +
                                        "; scan it again with something in common that stops it");
}

/// From balls that both show; nothing where they match in no way, or in several.
std::optional<Rigid> by_balls(const Scan& fixed, const Scan& moving) {
  const auto balls = [](Scan scan) {
    const CleanReport c = scan::clean(scan);
    return search_balls(scan.cloud.points, {.spacing = c.spacing, .noise = c.noise});
  };
  const std::vector<Target> pairs = pair_balls(balls(fixed), balls(moving)).targets;
  if (pairs.empty()) return std::nullopt;
  std::vector<Pair> places;
  for (const Target& t : pairs)
    places.push_back({t.upper->at, t.lower->at, Eigen::Matrix3d::Identity(), Eigen::Matrix3d::Identity()});
  return fit_pairs(places).motion;
}

/// How far a motion shifts the moving face along its normal where most, mm.
double greatest_shift(const SurfacePoints& moving, const Rigid& from, const Rigid& to) {
  double most = 0;
  for (std::size_t i = 0; i < moving.points.size(); ++i)
    most = std::max(most,
                    std::abs((from.linear() * moving.normals[i]).dot(to * moving.points[i] - from * moving.points[i])));
  return most;
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

/// Where a patch goes, and how it came there.
struct Placed {
  Rigid motion;
  PatchFit fit;
};

/// By the given pose alone, which what overlaps must not contradict.
Placed as_given(const Faces& f, const PatchScan& p) {
  Placed out{*p.pose, {p.scan.path, PatchPlace::given, 0, 0, p.u}};
  const PointTree tree(f.fixed.points);
  if (const auto fit = settled(f, tree, *p.pose)) {
    out.fit.rms = fit->rms, out.fit.overlap = fit->overlap;
    const double shift = greatest_shift(f.moving, *p.pose, fit->motion);
    if (shift > 3 * std::hypot(p.u, greatest_u(f.moving, *fit)))
      throw Error(Fault::measurement, p.scan.path + words(": what it has in common with the scans before it lies up to "
                                                          "%.3f mm from where its pose puts it, more than 3 u; leave u "
                                                          "out, so that the overlap refines the pose, or correct it",
                                                          shift));
    return out;
  }
  std::size_t on = 0;
  for (const Vec3& x : f.moving.points) on += tree.nearest(*p.pose * x, f.places).first >= 0;
  if (double(on) > kLeastInCommon * double(f.moving.points.size()))
    throw Error(Fault::measurement, p.scan.path +
                                        ": its pose lays it over the scans before it, but not onto their "
                                        "face; check the pose's file and its unit");
  return out;
}

Placed placed(const Scan& before, const PatchScan& p) {
  const Faces f = faces_of(before, p.scan);
  if (p.pose && p.u > 0) return as_given(f, p);
  const PointTree tree(f.fixed.points);
  PatchPlace place = p.pose ? PatchPlace::from_pose : PatchPlace::as_exported;
  auto fit = settled(f, tree, p.pose.value_or(Rigid::Identity()));
  if (!fit && !p.pose)
    if (const auto start = by_balls(before, p.scan)) fit = settled(f, tree, *start), place = PatchPlace::from_balls;
  if (!fit)
    throw Error(
        Fault::measurement,
        p.scan.path + (p.pose ? ": does not lie on the scans before it near its pose, or too little of it does; "
                                "check the pose's file and its unit, and scan with a fifth or more in common"
                              : ": does not lie on the scans before it as exported, or too little of it does; "
                                "export the scans of a half in one frame, with a fifth or more in common; or have "
                                "three balls or more in both; or give its pose, [[lower.patch]] or [[upper.patch]]"));
  refuse_loose(f, *fit, p.scan.path);
  return {fit->motion, {p.scan.path, place, fit->rms, fit->overlap, greatest_u(f.moving, *fit)}};
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

JoinedScan join_patches(Scan first, std::vector<PatchScan> further, const Progress& progress) {
  JoinedScan out;
  out.scan = std::move(first);
  double before = 0;  // u² of what the next is joined to, at its worst
  for (std::size_t k = 0; k < further.size(); ++k) {
    report_progress(progress, "join scans", double(k + 1) / double(further.size() + 1));
    Placed p = placed(out.scan, further[k]);
    // A given pose leads to the first scan's frame, whatever lies between.
    const double own = p.fit.u * p.fit.u, chain = p.fit.place == PatchPlace::given ? own : before + own;
    p.fit.u = std::sqrt(chain), before = std::max(before, chain);
    out.patches.push_back(p.fit);
    add_points(out.scan, further[k].scan, p.motion);
    further[k].scan.cloud = {};
  }
  out.u = std::sqrt(before);
  return out;
}

}  // namespace gapfront::align
