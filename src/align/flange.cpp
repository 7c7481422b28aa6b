#include "align/flange.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <memory>

#include "align/contact.hpp"
#include "align/free_motion.hpp"
#include "core/linear.hpp"
#include "core/point_tree.hpp"
#include "core/rigid_motion.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pose.hpp"
#include "units/words.hpp"

namespace gapfront::align {
namespace {

constexpr double kAtRest = 1e-5;  // mm: nothing, beside any noise of a scan

std::string at_words(const Vec3& p) { return words("(%.0f, %.0f, %.0f) mm", p.x(), p.y(), p.z()); }

/// Small motions in the lands' frame (slides along e1, e2, turn about the axis; sinking, turns about e1, e2; turns in
/// mm at the lands' size) as (t, r) about the frame's centre.
Matrix6 land_motions(const LandFrame& f) {
  Matrix6 b = Matrix6::Zero();
  b.col(0).head<3>() = f.e1;
  b.col(1).head<3>() = f.e2;
  b.col(2).tail<3>() = f.axis / f.size;
  b.col(3).head<3>() = f.axis;
  b.col(4).tail<3>() = f.e1 / f.size;
  b.col(5).tail<3>() = f.e2 / f.size;
  return b;
}

Vec3 row_of(const LandPlace& p, const LandFrame& f) {
  const Vec3 lever = (p.at - f.centre).cross(p.normal) / f.size;  // n·(r × x) = r·(x × n)
  return {p.normal.dot(f.axis), lever.dot(f.e1), lever.dot(f.e2)};
}

/// Information about some of the six land motions as a pose estimate's matrix.
Matrix6 spread_out(const Eigen::Matrix3d& information, int first, const LandFrame& f) {
  Matrix6 local = Matrix6::Zero();
  local.block<3, 3>(first, first) = information;
  const Matrix6 back = inverse_of(land_motions(f));
  return back.transpose() * local * back;
}

OnLands lands_of(const std::vector<Vec3>& lower, const std::vector<Vec3>& upper, const AlignOptions& options,
                 const std::vector<Vec3>& balls, const std::vector<double>& keep_off) {
  const auto clear = [&balls, &keep_off](const Vec3& p) {
    for (std::size_t b = 0; b < balls.size(); ++b)
      if ((p - balls[b]).norm() <= keep_off[b]) return false;
    return true;
  };
  if (!options.flange.empty())
    return [&options, clear](const Vec3& p) {
      for (const Region& r : options.flange)
        if (r.contains(p)) return clear(p);
      return false;
    };
  Vec3 low = Vec3::Constant(1e300), high = -low;
  for (const Vec3& p : lower) low = low.cwiseMin(p), high = high.cwiseMax(p);
  const double voxel = (high - low).norm() / 150;  // a rim a hundredth of the tool wide is still met
  auto places =
      std::make_shared<std::vector<Vec3>>(close_places(lower, upper, options.stand_off, options.flange_within, voxel));
  if (places->size() < 20)
    throw Error(
        Fault::measurement,
        words("align: the halves come within %.2f mm of the stand-off at %zu places only, so no flange is found; "
              "give flange = [corners], or check the first pose, stand_off and flange_within",
              options.flange_within, places->size()));
  auto tree = std::make_shared<PointTree>(*places);
  return [places, tree, voxel, clear](const Vec3& p) { return tree->nearest(p, voxel).first >= 0 && clear(p); };
}

/// Throws when the lands as a whole lie on a line or a spot, so that a turn about it has nothing to stop it.
void refuse_narrow(const Lands& lands) {
  Eigen::Matrix3d all = Eigen::Matrix3d::Zero();
  std::vector<NamedPlace> ends;
  for (const LandPlace& p : lands.places) {
    const Vec3 row = row_of(p, lands.frame);
    all += row * row.transpose() / lands.places.size();
    ends.push_back({at_words(p.at), p.at});
  }
  // Spread across the line below a tenth of that along it: noise would be magnified tenfold at the far edge.
  if (spectrum_of(all).eigenvalues()(0) > 0.01) return;
  Vec3 far = lands.frame.centre, other = far;
  for (const NamedPlace& e : ends)
    if ((e.at - lands.frame.centre).norm() > (far - lands.frame.centre).norm()) far = e.at;
  for (const NamedPlace& e : ends)
    if ((e.at - far).norm() > (other - far).norm()) other = e.at;
  throw Error(Fault::measurement, "align: the flange lands leave the upper half free to turn about the line through " +
                                      at_words(other) + " and " + at_words(far) +
                                      "; widen flange to lands off it, or use method \"targets\"");
}

}  // namespace

bool steep(const std::vector<Vec3>& lower, const LandFrame& frame) {
  const SurfacePoints s = thin_surface(lower, frame.size / 40);
  std::size_t count = 0;
  for (const Vec3& n : s.normals) count += n.cross(frame.axis).norm() > 0.01 + 3 * s.curve / std::max(s.spacing, 1e-9);
  return count > s.normals.size() / 50;  // outliers and edges are fewer than one place in fifty
}

FlangeFit fit_flange(const std::vector<Vec3>& lower, const std::vector<Vec3>& upper, const Rigid& first,
                     const AlignOptions& options, const std::vector<Vec3>& balls, const std::vector<double>& keep_off) {
  FlangeFit fit;
  fit.estimate.name = "flange";
  fit.stand_off = options.stand_off;
  fit.estimate.upper_to_tool = first;
  ContactFit rest;
  OnLands on_lands;
  // Turning shifts the lands along themselves, so places are met anew; the second round moves by nanometres.
  for (int round = 0; round < 5 && !fit.settled; ++round) {
    std::vector<Vec3> moved;
    moved.reserve(upper.size());
    for (const Vec3& p : upper) moved.push_back(fit.estimate.upper_to_tool * p);
    if (round == 0) on_lands = lands_of(lower, moved, options, balls, keep_off);
    fit.lands = find_lands(lower, moved, on_lands);
    refuse_narrow(fit.lands);
    std::vector<ContactPlace> places;
    for (const LandPlace& p : fit.lands.places)
      places.push_back({row_of(p, fit.lands.frame), p.gap - options.stand_off, p.u, p.rough});
    rest = set_down(places, options.load_play);
    if (rest.tips)
      throw Error(Fault::measurement,
                  "align: the clamping pulls beside the lands that both scans cover, so the upper half would tip over "
                  "their edge; scan the flange all around, or widen flange");
    Vector6 local = Vector6::Zero();
    local.tail<3>() = rest.motion;
    const LandFrame& f = fit.lands.frame;
    fit.estimate.upper_to_tool = small_motion(land_motions(f) * local, f.centre) * fit.estimate.upper_to_tool;
    for (LandPlace& p : fit.lands.places) p.gap += row_of(p, f).dot(rest.motion);
    fit.settled = rest.settled && rest.motion.norm() < kAtRest;
  }
  fit.estimate.pivot = fit.lands.frame.centre;
  fit.estimate.information = spread_out(rest.covariance.inverse(), 3, fit.lands.frame);
  FlangeContact& c = fit.contact;
  c.places = static_cast<int>(fit.lands.places.size());
  c.carrying = static_cast<int>(rest.carrying.size());
  fit.carrying = rest.carrying;
  c.one_sided = fit.lands.one_sided;
  c.cell = fit.lands.cell;
  c.rock = rest.rock;
  if (rest.rock_place >= 0) {
    c.rock_at = fit.lands.places[rest.rock_place].at;
    Message rocks("warnings.align-upper-half-rocks", {arg::place(c.rock_at), arg::length(c.rock, 3)});
    std::vector<Vec3> high;  // where it pivots: carrying under every load alike, the two farthest apart
    for (int i : rest.carrying) high.push_back(fit.lands.places[i].at);
    if (!high.empty()) {
      const auto farthest = [&](const Vec3& from) {
        return *std::max_element(high.begin(), high.end(),
                                 [&](const Vec3& a, const Vec3& b) { return (a - from).norm() < (b - from).norm(); });
      };
      const Vec3 a = farthest(c.rock_at), b = farthest(a);
      rocks.id = "warnings.align-upper-half-rocks-about";
      rocks.arguments.push_back(arg::place(a)), rocks.arguments.push_back(arg::place(b));
    }
    fit.warnings.push_back(std::move(rocks));
  }
  return fit;
}

PoseEstimate in_plane_only(const PoseEstimate& other, const LandFrame& f) {
  PoseEstimate out = other;
  out.pivot = f.centre;
  const Matrix6 back = inverse_of(land_motions(f));
  const Matrix6 local =
      back * inverse_of(move_information(other.information, other.pivot, f.centre)) * back.transpose();
  out.information = spread_out(local.topLeftCorner<3, 3>().inverse(), 0, f);
  return out;
}

PoseEstimate in_plane_known(const Rigid& pose, const LandFrame& f, double u) {
  PoseEstimate out{kDeclaredInPlane, pose, Matrix6::Zero(), f.centre};
  out.information = spread_out(Eigen::Matrix3d::Identity() / (u * u), 0, f);
  return out;
}

void look_again(FlangeFit& fit, const Rigid& upper_to_tool, const Matrix6& covariance, const Vec3& pivot) {
  const Rigid moved = upper_to_tool * fit.estimate.upper_to_tool.inverse();
  double deepest = 0;
  Vec3 where = Vec3::Zero();
  fit.contact.mean_open = fit.contact.max_open = 0;
  for (const LandPlace& p : fit.lands.places) {
    const double left = p.gap - fit.stand_off + p.normal.dot(moved * p.at - p.at);
    fit.contact.mean_open += left / fit.lands.places.size();
    if (left > fit.contact.max_open) fit.contact.max_open = left, fit.contact.max_open_at = p.at;
    const Eigen::Matrix<double, 1, 6> j = p.normal.transpose() * motion_jacobian(p.at, pivot);
    const double u = std::sqrt(p.u * p.u + (j * covariance * j.transpose()).value());
    // Thousands of places are looked at, so six sigma: one false alarm in a million closures.
    if (left < -6 * u && left < deepest) deepest = left, where = p.at;
  }
  fit.contact.deepest = -deepest, fit.contact.deepest_at = where;
  if (deepest < 0)
    fit.warnings.push_back(
        Message("warnings.align-registered-lands-enter", {arg::length(-deepest, 3), arg::place(where)}));
}

}  // namespace gapfront::align
