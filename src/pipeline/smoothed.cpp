#include "pipeline/smoothed.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <tuple>

#include "core/linear.hpp"
#include "core/parallel.hpp"
#include "core/statistics.hpp"
#include "pipeline/by_readings.hpp"

namespace gapfront::pipeline {
namespace {

// Places looked at, and how many must show something. Their fits overlap little on sheets of a thousand nodes.
constexpr std::size_t kLookedAt = 300;
constexpr int kTellAlike = 30;
// Spacings: as wide as the gap's own fits; neighbours are nearer than the second one.
constexpr double kFitted = 5, kNeighbours = 1.2, kSamePoint = 0.3;
constexpr std::size_t kEnoughAround = 40, kMostAround = 300, kFewestPairs = 20;
// Scans whose points err independently show −0.09 to −0.04 (a fit of six terms takes that much from neighbours), those
// averaged over a radius of 1.3 spacings 0.06 and over 2 and more 0.3 to 0.5 (own measurement, on drawn scans).
constexpr double kErrAlike = 0.1, kSureAlike = 3;
// A fit of six terms leaves of a tight bend what neighbours have in common as well, one of fifteen does not: about it
// independent points show −0.15 to −0.11, those averaged over 2 and 3 spacings 0.00 to 0.04, on bends −0.06 (drawn
// scans).
constexpr double kAlikeBeyondBends = -0.07;
// Below this a scan is as good as exact, mm, and shows what the fits leave over.
constexpr double kAsExact = 0.002;

struct Scattered {
  double variance = 0, product = 0;  ///< of the residuals; mean over pairs of neighbours
  double beyond_bends = 0;           ///< product over variance about a polynomial of the fourth order
  bool known = false;
};

/// Terms x^i·y^k up to an order, one row a point; x and y as shares of the reach.
Eigen::MatrixXd terms_of(const std::vector<Vec3>& points, double reach, int order) {
  Eigen::MatrixXd a(Eigen::Index(points.size()), (order + 1) * (order + 2) / 2);
  for (Eigen::Index row = 0; row < a.rows(); ++row) {
    const double x = points[std::size_t(row)].x() / reach, y = points[std::size_t(row)].y() / reach;
    Eigen::Index column = 0;
    for (int i = 0; i <= order; ++i)
      for (int k = 0; i + k <= order; ++k) a(row, column++) = std::pow(x, i) * std::pow(y, k);
  }
  return a;
}

Scattered scatter_about(const Surface& surface, const Vec3& at, const Vec3& normal) {
  thread_local std::vector<int> found;
  const double spacing = surface.spacing(), reach = kFitted * spacing;
  surface.within(at, reach, found);
  std::sort(found.begin(), found.end());
  const Vec3 e1 = normal.unitOrthogonal(), e2 = normal.cross(e1);
  std::vector<Vec3> near;
  for (const int i : found) {
    const Vec3 d = surface.points()[std::size_t(i)] - at;
    // Another wall is steeper than half, seen from the place.
    if (const Vec3 p(d.dot(e1), d.dot(e2), d.dot(normal)); std::abs(p.z()) < 0.25 * reach) near.push_back(p);
  }
  Scattered out;
  if (near.size() < kEnoughAround) return out;
  if (near.size() > kMostAround) {
    for (std::size_t k = 0; k < kMostAround; ++k) near[k] = near[k * near.size() / kMostAround];
    near.resize(kMostAround);
  }
  const auto n = Eigen::Index(near.size());
  Eigen::VectorXd z(n);
  for (Eigen::Index k = 0; k < n; ++k) z[k] = near[std::size_t(k)].z();
  const auto left_by = [&](int order) -> Eigen::VectorXd {
    const Eigen::MatrixXd a = terms_of(near, reach, order);
    return z - a * least_squares(a, z);
  };
  const Eigen::VectorXd left = left_by(2), fine = left_by(4);
  std::size_t pairs = 0;
  double product = 0;
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index k = 0; k < i; ++k) {
      const double apart = (near[std::size_t(i)] - near[std::size_t(k)]).head<2>().norm();
      if (apart < kSamePoint * spacing || apart > kNeighbours * spacing) continue;
      ++pairs, out.product += left[i] * left[k], product += fine[i] * fine[k];
    }
  if (pairs < kFewestPairs) return out;
  out.product /= double(pairs), out.variance = left.squaredNorm() / double(n - 6);
  out.beyond_bends = product / double(pairs) / (fine.squaredNorm() / double(n - 15));
  out.known = out.variance > kAsExact * kAsExact && std::isfinite(out.beyond_bends);
  return out;
}

/// With its standard error.
std::pair<double, double> mean_and_u(const std::vector<double>& values) {
  double mean = 0, square = 0;
  for (const double x : values) mean += x / double(values.size());
  for (const double x : values) square += (x - mean) * (x - mean);
  return {mean, std::sqrt(square / double(values.size() - 1) / double(values.size()))};
}

}  // namespace

AlikeOnFace alike_on_face(const Sheet& sheet, const GapMap& map, const Surface& surface, NarrowPlace::Half half) {
  const double side = half == NarrowPlace::Half::lower ? -0.5 : 0.5;
  std::vector<std::size_t> nodes;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (map.nodes[i].measured && !is_masked(sheet, i)) nodes.push_back(i);
  std::vector<Scattered> seen(std::min(nodes.size(), kLookedAt));
  parallel_for(
      seen.size(),
      [&](std::size_t k) {
        const NodeGap& g = map.nodes[nodes[k * nodes.size() / seen.size()]];
        seen[k] = scatter_about(surface, g.mid + side * g.gap * g.direction, g.direction);
      },
      8);
  std::erase_if(seen, [](const Scattered& s) { return !s.known; });
  AlikeOnFace out;
  if (seen.size() < std::size_t(kTellAlike)) return out;
  // Where a face bends, neighbours have in common what the fits leave over; half of the places are calmer.
  std::vector<double> variances;
  for (const Scattered& s : seen) variances.push_back(s.variance);
  const double usual = median(std::move(variances));
  std::vector<double> shares, beyond;
  for (const Scattered& s : seen)
    if (s.variance <= usual) shares.push_back(s.product / s.variance), beyond.push_back(s.beyond_bends);
  const auto [beyond_bends, u_beyond] = mean_and_u(beyond);
  out.by_bends = beyond_bends + u_beyond <= kAlikeBeyondBends;
  out.places = int(shares.size());
  std::tie(out.share, out.u) = mean_and_u(shares);
  return out;
}

Messages smoothed_face_notes(const Measured& m) {
  // Of rounded coordinates neighbours have the rounding in common.
  if (!m.job.gap.find_made_up || by_readings_alone(m.job)) return {};
  Messages out;
  for (const auto half : {NarrowPlace::Half::lower, NarrowPlace::Half::upper}) {
    const bool low = half == NarrowPlace::Half::lower;
    const Surface& surface = low ? m.halves->lower : m.halves->upper;
    const char* said = low ? "warnings.smoothed-lower" : "warnings.smoothed-upper";
    const bool known = std::any_of(m.warnings.begin(), m.warnings.end(), [&](const auto& w) { return w.id == said; });
    if (known || surface.shared().sigma > 0) continue;  // U counts what the balls show, or what is declared
    const AlikeOnFace seen = alike_on_face(m.sheet, m.gap, surface, half);
    if (seen.places > 0 && !seen.by_bends && seen.share > kErrAlike + kSureAlike * seen.u)
      out.push_back(Message(low ? "warnings.face-errs-alike-lower" : "warnings.face-errs-alike-upper",
                            {arg::fraction(seen.share, 0)}));
  }
  return out;
}

}  // namespace gapfront::pipeline
