#include "align/nominal.hpp"

#include <algorithm>
#include <cmath>

#include "align/free_motion.hpp"
#include "core/linear.hpp"
#include "core/rigid_motion.hpp"
#include "gapfront/error.hpp"
#include "units/words.hpp"

namespace gapfront::align {
namespace {

// A pose on which less than a third of the scan meets the nominal surface is chance, not a fit.
constexpr double kLeastScore = 0.3;
// The second best pose comes within a tenth of the best only when the surface repeats itself: on shapes without
// symmetry it stays below 0.7 (measured on the test surfaces).
constexpr double kAlike = 0.9;
constexpr std::size_t kFinePoints = 40000;  // past this, form errors that neighbours share govern, not the noise

double area_of(const Mesh& m) {
  double area = 0;
  for (const auto& t : m.triangles)
    area += (m.points[t[1]] - m.points[t[0]]).cross(m.points[t[2]] - m.points[t[0]]).norm() / 2;
  return area;
}

std::string turn_words(const Rigid& from, const Rigid& to) {
  const Eigen::AngleAxisd turn(Eigen::Matrix3d(to.linear() * from.linear().transpose()));
  const Vec3& a = turn.axis();
  return words("turned by %.0f degrees about (%.2f, %.2f, %.2f)", turn.angle() * 180 / M_PI, a.x(), a.y(), a.z());
}

/// Keeps the points that `to_tool` carries into a datum region.
SurfacePoints inside(const SurfacePoints& s, const std::vector<Region>& regions,
                     const Rigid& to_tool = Rigid::Identity()) {
  SurfacePoints out;
  out.spacing = s.spacing, out.curve = s.curve;
  for (std::size_t i = 0; i < s.points.size(); ++i)
    if (std::any_of(regions.begin(), regions.end(),
                    [&](const Region& r) { return r.contains(to_tool * s.points[i]); })) {
      out.points.push_back(s.points[i]);
      out.normals.push_back(s.normals[i]);
      out.weights.push_back(s.weights[i]);
    }
  return out;
}

double miss_of(const Rigid& pose, const std::vector<KnownPlace>& known) {
  double sum = 0;
  for (const KnownPlace& k : known) sum += (pose * k.scan - k.tool).squaredNorm() / known.size();
  return std::sqrt(sum);
}

Rigid searched(const SurfacePoints& nominal, const SurfacePoints& scan, const char* half,
               const std::vector<KnownPlace>& known, NominalFit& fit, const Progress& progress) {
  auto poses = find_poses(nominal, scan, {}, progress);
  if (poses.empty() || poses.front().score < kLeastScore)
    throw Error(Fault::measurement, std::string("align: the ") + half +
                                        " half does not fit its nominal surface in any pose; check the files, their "
                                        "units, and whether the halves are swapped");
  fit.score = poses.front().score;
  fit.second_score = poses.size() > 1 ? poses[1].score : 0;
  if (fit.second_score < kAlike * fit.score) return poses.front().motion;
  std::vector<PoseCandidate> alike;
  for (const PoseCandidate& p : poses)
    if (p.score >= kAlike * fit.score) alike.push_back(p);
  if (known.empty())
    throw Error(Fault::measurement, std::string("align: the ") + half + " half fits its nominal surface in " +
                                        std::to_string(alike.size()) + " poses alike (the second " +
                                        turn_words(alike[0].motion, alike[1].motion) +
                                        "); add a target with its tool place off the axis, which tells them apart");
  std::sort(alike.begin(), alike.end(),
            [&](const auto& a, const auto& b) { return miss_of(a.motion, known) < miss_of(b.motion, known); });
  const double first = miss_of(alike[0].motion, known), second = miss_of(alike[1].motion, known);
  if (first > 0.5 * second)
    throw Error(Fault::measurement,
                words("align: the targets do not tell the %s half's poses apart: %.1f mm off in one, "
                      "%.1f mm in another; add a target off the axis of symmetry",
                      half, first, second));
  return alike[0].motion;
}

}  // namespace

PoseEstimate upper_against_lower(const NominalPose& lower, const NominalPose& upper) {
  PoseEstimate out = upper.estimate;
  const Matrix6 both = inverse_of(upper.estimate.information) +
                       move_pivot(inverse_of(lower.estimate.information), lower.estimate.pivot, out.pivot);
  out.information = inverse_of(both);
  return out;
}

NominalPose fit_nominal(const std::vector<Vec3>& scan, const Mesh& nominal, bool upper, const Rigid* start,
                        const AlignOptions& options, const std::vector<KnownPlace>& known, double noise,
                        const Progress& progress) {
  const char* const half = upper ? "upper" : "lower";
  NominalPose out;
  out.fit.half = half;
  out.estimate.name = "nominal";
  const double area = area_of(nominal);
  const double spacing = std::sqrt(area / kFinePoints);
  const SurfacePoints face = sample_mesh(nominal, 0.7 * spacing);
  const SurfacePoints thin = thin_surface(scan, spacing);
  const Rigid first = start ? *start : searched(face, thin, half, known, out.fit, progress);

  const std::vector<Region>& regions = options.datum.empty() ? options.flange : options.datum;
  if (regions.empty() && !options.fit_on_cavity)
    throw Error(Fault::input,
                "align: method \"nominal\" needs the datum faces to fit on: give datum = [corners] (or flange), or "
                "fit_on_cavity = true, which fits on everything and so hides part of the gap's error");
  // The first fit is on everything, to come near; the second on the datum alone, and that one counts.
  const Refined near = PoseRefiner(face).refine(thin, first);
  SurfacePoints datum = options.fit_on_cavity ? face : inside(face, regions);
  if (datum.points.size() < 50)
    throw Error(Fault::measurement, std::string("align: the datum regions hold next to nothing of the nominal ") +
                                        half + " surface; they are in tool coordinates, check them");
  SurfacePoints moving = thin;
  if (!options.fit_on_cavity) {
    moving = inside(thin, regions, near.motion);
    if (moving.points.size() < 50)
      throw Error(Fault::measurement, std::string("align: the datum regions hold next to nothing of the scan of the ") +
                                          half + " half; scan the datum faces, or widen datum");
  }
  const Refined fit = PoseRefiner(datum).refine(
      moving, near.motion, {.fields = (upper ? options.upper_errors : options.lower_errors).fields});
  Vec3 low = Vec3::Constant(1e300), high = -low;
  for (const Vec3& p : nominal.points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  const double size = (high - low).norm() / 2;
  // Not held: a direction whose u over the tool's size is more than a hundred times that of the points' mean.
  const double scatter = std::max(fit.rms, noise);
  if (const std::string loose = free_motion_of(fit.information, fit.pivot, size,
                                               100 * std::max(scatter, 1e-6) / std::sqrt(double(moving.points.size())));
      !loose.empty())
    throw Error(Fault::measurement, std::string("align: the datum faces leave the ") + half + " half " + loose +
                                        "; add datum faces that stop it, or targets");
  out.converged = fit.converged;
  out.fit.rms = fit.rms;
  out.fit.overlap = fit.overlap;
  out.estimate.upper_to_tool = fit.motion;
  out.estimate.pivot = fit.pivot;
  out.supports = fit.supports;
  out.estimate.information = inverse_of(Matrix6(fit.covariance + fit.by_fields));
  if (options.fit_on_cavity)
    out.warnings.push_back(upper ? Message("warnings.align-upper-half-fitted")
                                 : Message("warnings.align-lower-half-fitted"));
  return out;
}

}  // namespace gapfront::align
