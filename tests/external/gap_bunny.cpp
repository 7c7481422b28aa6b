// The gap on a real surface: the npm package `bunny` (made from a range scan), and a twin of it a known distance off.
// The twin stands on a smooth face through the bunny's corners, made here and nowhere in the program: the zero level of
// a weighted mean of the corners' tangent planes (R. Kolluri, "Provably good moving least squares", SODA 2005). Every
// derivative of that face exists, and faces a constant distance apart along its normals are parallel: the ball that
// touches both has that diameter wherever the outer one does not fold over itself.
#include <catch2/catch.hpp>
#include <cmath>

#include "../align/support.hpp"
#include "bunny.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/pose.hpp"
#include "gapfront/scan.hpp"

using namespace gapfront;
using namespace support;

namespace {

constexpr double kApart = 3;  // mm

/// The smooth face.
class SmoothFace {
 public:
  explicit SmoothFace(const Mesh& mesh)
      : corners_(mesh.points, {.spacing = 3, .noise = 0}), normals_(mesh.points.size(), Vec3::Zero()) {
    for (const auto& t : mesh.triangles) {
      const Vec3 n = (mesh.points[t[1]] - mesh.points[t[0]]).cross(mesh.points[t[2]] - mesh.points[t[0]]);  // by area
      for (int k : t) normals_[k] += n;
    }
  }
  /// The foot on the face, by Newton's steps along its slope; and the normal there.
  std::pair<Vec3, Vec3> foot(Vec3 x) const {
    Vec3 slope = Vec3::UnitZ();
    for (int k = 0; k < 6; ++k) {
      const double f = level(x, slope);
      x -= f / slope.squaredNorm() * slope;
      if (std::abs(f) < 1e-9) break;
    }
    return {x, slope.normalized()};
  }

 private:
  double level(const Vec3& x, Vec3& slope) const {
    corners_.within(x, 3.5 * kWidth, found_);
    double sum = 0, weights = 0;
    Vec3 d_sum = Vec3::Zero(), d_weights = Vec3::Zero();
    for (const int i : found_) {
      const Vec3 d = x - corners_.points()[i];
      const double area = normals_[i].norm(), w = area * std::exp(-d.squaredNorm() / (kWidth * kWidth));
      const Vec3 n = normals_[i] / area, dw = -2 * w / (kWidth * kWidth) * d;
      sum += w * n.dot(d), weights += w;
      d_sum += n.dot(d) * dw + w * n, d_weights += dw;
    }
    slope = (d_sum - sum / weights * d_weights) / weights;
    return sum / weights;
  }
  static constexpr double kWidth = 5;  // mm; about the corners' distance, else their triangles show
  Surface corners_;
  std::vector<Vec3> normals_;
  mutable std::vector<int> found_;
};

/// A scan of the face, or of its twin: evenly spread, cleaned as a program would, which tells spacing and noise.
Surface scanned(const SmoothFace& face, const Mesh& mesh, double off, double spacing, double noise, unsigned seed) {
  Random random(seed);
  Scan scan;
  for (const Vec3& p : align::sample_mesh(mesh, spacing).points) {
    const auto [foot, n] = face.foot(p + 0.2 * spacing * random.vector());
    scan.cloud.points.push_back(foot + (off + noise * random.gauss()) * n);
  }
  const CleanReport c = scan::clean(scan);
  return Surface(std::move(scan.cloud.points), {.spacing = c.spacing, .noise = c.noise});
}

}  // namespace

TEST_CASE("On a real surface with a twin 3 mm off, the gap is the distance, and U holds for 93 to 98 % of the places") {
  const Mesh mesh = bunny();
  const SmoothFace face(mesh);
  const double noise = 0.02;
  const Surface lower = scanned(face, mesh, 0, 0.8, noise, 1), upper = scanned(face, mesh, kApart, 0.8, noise, 2);
  GapOptions options;
  options.u_instrument = 0;  // nothing but the fits
  double places = 0, sum = 0, squares = 0, within = 0, missed = 0, folded = 0;
  for (const Vec3& corner : mesh.points) {
    const auto [p, n] = face.foot(corner);
    // The twin folds where another part of the face is nearer to it than its own foot.
    if (lower.nearest(p + kApart * n).distance < kApart - 0.05) {
      ++folded;
      continue;
    }
    const NodeGap g = cavity::measure_gap_at(lower, upper, p, n, options);
    if (!g.measured) {
      ++missed;
      continue;
    }
    const double e = g.gap - kApart;
    ++places, sum += e, squares += e * e, within += std::abs(e) <= g.U;
  }
  WARN(places << " places, " << missed << " not measured, " << folded << " folded; bias " << 1e3 * sum / places
              << " um, RMS " << 1e3 * std::sqrt(squares / places) << " um, within U at " << 100 * within / places
              << " %");
  CHECK(folded + missed < 0.01 * mesh.points.size());
  // The bar for radii of 15 spacings and more, 2 um + 0.05 %, over a face that has tighter ones too; and what a scan
  // with this noise leaves (8 um by the design) beside what those radii do.
  CHECK(std::abs(sum / places) < 0.0035);
  CHECK(std::sqrt(squares / places) < 0.020);
  CHECK(within >= 0.93 * places);
  CHECK(within <= 0.98 * places);
}
