// The local surface behind fit_local and measure_gap: a graph over its own tangent plane.
#pragma once
#include "cavity/neighbourhood.hpp"
#include "cavity/pattern.hpp"
#include "gapfront/cavity.hpp"

namespace gapfront::cavity {

/// What the fit of an inner neighbourhood says of the part that the quadric leaves out, squared.
struct Truncation {
  double seen2 = 0;     ///< as the difference shows it, noise and all
  double noise2 = -1;   ///< variance of that by noise; negative: too few points for an inner fit
  double counted2 = 0;  ///< what is in the patch's u² for it
};

/// Height over the tangent plane at `origin`: z(x) = c0 + c1 u + c2 v + ½ xᵀCx + quartic(x; H), where the quartic
/// part is what a surface of constant principal curvatures H adds to its own quadric.
struct Patch {
  bool ok = false;
  Vec3 origin = Vec3::Zero();
  Eigen::Matrix3d axes = Eigen::Matrix3d::Identity();  ///< columns: two tangents, normal (hint side)
  double c0 = 0;
  Eigen::Vector2d slope = Eigen::Vector2d::Zero();
  Eigen::Matrix2d C = Eigen::Matrix2d::Zero();
  Eigen::Matrix2d H = Eigen::Matrix2d::Zero();
  double radius = 0;      ///< of the neighbourhood, mm
  double u = 0;           ///< standard uncertainty of c0 (noise and truncation), mm
  double u_slope = 0;     ///< standard uncertainty of the slope by noise (the larger of two), 1
  double scatter = 0;     ///< robust standard deviation of the residuals, mm
  Truncation truncation;  ///< of c0, mm²
  Eigen::Vector2d slope_shown = Eigen::Vector2d::Zero();  ///< truncation of the slopes, as the inner fit shows it
  double slope_shown_noise2 = -1;  ///< variance by noise of either component of that; negative: no inner fit
  Pattern pattern;          ///< of the residuals where they exceed the noise; where it is shown, it is in the rest
  bool unresolved = false;  ///< not even with that do the points fit within their noise
  double fit_area = 0;      ///< over which the noise is averaged, mm²
  int used = 0;
  double height(const Eigen::Vector2d& x, Eigen::Vector2d& gradient) const;
  double height(const Eigen::Vector2d& x) const;
  /// Truncation of the slope in a direction (a unit vector): smoothing takes slope off where it is steepest, and there
  /// the two slopes' mean would halve it.
  Truncation slope_truncation(const Vec3& direction) const;
};

/// What the surface of constant curvatures z = q/(1+√(1−|Hx|²)), q = xᵀHx, has over its quadric q/2. Exact for
/// planes, cylinders and spheres (the biconic of optics, from memory), so that their fits carry no truncation.
double quartic(const Eigen::Matrix2d& H, const Eigen::Vector2d& x, Eigen::Vector2d* gradient = nullptr);
Pack quartic(const Eigen::Matrix2d& H, const Pack& u, const Pack& v);

struct Foot {
  Vec3 point, normal;
  double distance;  ///< signed, positive on the normal's side
  double offset;    ///< of the foot from the patch's origin in its tangent plane, mm
};
/// Nearest point of the patch to p (Newton on the graph).
Foot foot_on(const Patch&, const Vec3& p);

/// Radius of the neighbourhood that is first tried, mm; `radius` 0: by the spacing.
double fit_radius(double radius, const Surface&);
/// Points are gathered so much further than a neighbourhood's radius, so that the foot may move without a new search.
constexpr double kSlack = 1.1;
/// Is a neighbourhood that a fit shows to be too wide made narrower?
enum class Width { judged, kept };
/// The patch centred at the foot of `at`. `start`: a point of the wanted wall, to begin from. Of the surface the
/// scratch may hold points already.
Patch fit_patch(const Surface&, const Vec3& at, const Vec3& start, const Vec3& hint, double radius, Scratch&,
                Width = Width::judged);

/// Principal curvatures at the patch's origin, 1/mm, larger magnitude first; positive: centre on the normal side.
std::pair<double, double> curvatures(const Patch&);

}  // namespace gapfront::cavity
