#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstdint>

#include "align/find_balls.hpp"
#include "align/voxel_key.hpp"
#include "core/linear.hpp"
#include "core/parallel.hpp"
#include "core/scan_tree.hpp"
#include "gapfront/balls.hpp"
#include "gapfront/pose.hpp"
#include "units/inch.hpp"

namespace gapfront::align {
namespace {

constexpr double kStep = 1.25;    // from radius to radius: votes then fall within an eighth of a radius of the centre
constexpr double kAcross = 4;     // thinned places per radius: a hemisphere then has some 100 of them
constexpr int kLeastVotes = 22;   // half of what half a hemisphere gives; a plane gives 16, a fillet about 20
constexpr int kMostTried = 60;    // peaks of one radius: several times the balls a tool carries
constexpr double kRadial = 0.92;  // cosine of 23°: normals of thinned places err by some degrees

struct TriedBall {
  Vec3 centre = Vec3::Zero();
  double radius = 0;
};

/// Linear least squares on |p|² = 2 c·p + (r² − c²).
TriedBall sphere_of(const std::vector<Vec3>& points, const Vec3& near) {
  Eigen::Matrix4d a = Eigen::Matrix4d::Zero();
  Eigen::Vector4d rhs = Eigen::Vector4d::Zero();
  for (const Vec3& q : points) {
    const Vec3 p = q - near;
    Eigen::Vector4d row;
    row << 2 * p, 1;
    a += row * row.transpose(), rhs += p.squaredNorm() * row;
  }
  const Eigen::Vector4d x = a.fullPivLu().solve(rhs);
  return {near + x.head<3>(), std::sqrt(std::max(0.0, x(3) + x.head<3>().squaredNorm()))};
}

struct Vote {
  std::uint64_t bin;
  std::uint32_t index;  ///< of the place, and the side of it, in the last bit
  bool operator<(const Vote& o) const { return bin != o.bin ? bin < o.bin : index < o.index; }
};

/// Places of the thinned surface on a ball near (centre, radius), with a free radius; radius 0 when there is none.
TriedBall settled(const SurfacePoints& s, const std::vector<std::uint32_t>& near, TriedBall ball, double& shown) {
  const double start = ball.radius;
  for (int round = 0; round < 4; ++round) {
    const double width = (round ? 0.12 : 0.3) * ball.radius;
    std::vector<Vec3> on;
    for (auto i : near) {
      const Vec3 d = s.points[i] - ball.centre;
      const double length = d.norm();
      if (std::abs(length - ball.radius) < width && std::abs(d.dot(s.normals[i])) > kRadial * length)
        on.push_back(s.points[i]);
    }
    if (on.size() < 12) return {};
    ball = sphere_of(on, ball.centre);
    if (!(ball.radius > 0.7 * start && ball.radius < 1.4 * start)) return {};
    shown = double(on.size());
  }
  return ball;
}

/// The free fit to the points themselves. What lies low on the ball mixes with seat, glue and shadow, and stays out.
FoundBall measured(const std::vector<Vec3>& points, const ScanTree& tree, const TriedBall& rough, double noise) {
  FoundBall out;
  std::vector<Vec3> on;
  Vec3 pole = Vec3::Zero();
  const double width = std::max(6 * noise, 0.06 * rough.radius);
  const double outer = rough.radius + width, inner = rough.radius - width;
  tree.within(rough.centre, outer * outer, [&](std::uint32_t i, double square) {
    if (std::sqrt(square) <= inner) return;
    on.push_back(points[i]);
    pole += (on.back() - rough.centre).normalized();
  });
  if (on.size() < 20) return out;
  pole.normalize();
  std::vector<Vec3> high;
  for (const Vec3& p : on)
    if ((p - rough.centre).normalized().dot(pole) > 0.2) high.push_back(p);
  if (high.size() < 20) return out;
  const SphereFit fit = fit_sphere(high, rough.centre, {.radius = 0, .noise = noise});
  // A ball is round to a few hundredths; what is only nearly a sphere (the corner of a dish) is not.
  if (fit.used < 20 || fit.used < 0.6 * high.size() || fit.rms > std::max(3 * noise, 0.004 * fit.radius)) return out;
  out.centre = {fit.centre}, out.measured = 2 * fit.radius, out.points = fit.used;
  // Of a cap, radius and height go together: the worst direction of the centre stands for the radius.
  out.u = 2 * std::sqrt(std::max(0.0, fit.covariance.diagonal().maxCoeff()));
  out.diameter = usual_diameter(out);
  return out;
}

/// Where a centre would lie for one radius: on either side of each thinned place, sorted into bins.
class Votes {
 public:
  Votes(const SurfacePoints& s, double radius) : s_(s), radius_(radius), side_(radius / 3) {
    votes_.reserve(2 * s.points.size());
    for (std::uint32_t i = 0; i < 2 * s.points.size(); ++i) votes_.push_back({voxel_key(centre_of(i), side_), i});
    std::sort(votes_.begin(), votes_.end());
    for (std::size_t k = 0; k < votes_.size();) {
      std::size_t e = k;
      while (e < votes_.size() && votes_[e].bin == votes_[k].bin) ++e;
      bins_.push_back({votes_[k].bin, k, e});
      k = e;
    }
  }

  struct Peak {
    int votes = 0;
    Vec3 centre = Vec3::Zero();
  };
  /// Bins in which, with those around, enough places agree; the most votes first.
  std::vector<Peak> peaks() const {
    std::vector<Peak> around(bins_.size()), out;
    parallel_for(bins_.size(), [&](std::size_t k) { around[k] = peak_at(bins_[k]); });
    for (const Peak& p : around)
      if (p.votes) out.push_back(p);
    std::stable_sort(out.begin(), out.end(), [](const Peak& a, const Peak& b) { return a.votes > b.votes; });
    return out;
  }

 private:
  struct Bin {
    std::uint64_t key;
    std::size_t from, to;
  };
  Vec3 centre_of(std::uint32_t index) const {
    return s_.points[index / 2] + (index % 2 ? radius_ : -radius_) * s_.normals[index / 2];
  }
  const Bin* bin_at(std::uint64_t key) const {
    const auto at =
        std::lower_bound(bins_.begin(), bins_.end(), key, [](const Bin& b, std::uint64_t k) { return b.key < k; });
    return at != bins_.end() && at->key == key ? &*at : nullptr;
  }
  Peak peak_at(const Bin& b) const {
    // A centre between eight bins leaves an eighth of its fifty votes in each; a plane leaves two in every bin.
    if (b.to - b.from < 4) return {};
    const Vec3 at = centre_of(votes_[b.from].index);
    int all = 0;
    Vec3 sum = Vec3::Zero();
    for (int i = -1; i <= 1; ++i)
      for (int j = -1; j <= 1; ++j)
        for (int k = -1; k <= 1; ++k)
          if (const Bin* n = bin_at(voxel_key(at, side_, {i, j, k})))
            for (std::size_t v = n->from; v < n->to; ++v) sum += centre_of(votes_[v].index), ++all;
    return all >= kLeastVotes ? Peak{all, sum / all} : Peak{};
  }

  const SurfacePoints& s_;
  double radius_, side_;
  std::vector<Vote> votes_;
  std::vector<Bin> bins_;
};

/// What balls are looked for in.
struct SearchedScan {
  const std::vector<Vec3>& points;
  const ScanTree& tree;
  double noise;  ///< mm
  const DiameterRange& range;
};

/// Adds the balls of about that radius that are not found yet.
void add_balls_of_radius(const SearchedScan& scan, double radius, std::vector<FoundBall>& found) {
  const double side = radius / kAcross;
  const SurfacePoints s = thin_surface(scan.points, side);
  const ScanTree thin(s.points);
  std::vector<std::uint32_t> near;
  std::vector<Vec3> tried;
  for (const auto& peak : Votes(s, radius).peaks()) {
    if (int(tried.size()) >= kMostTried) break;
    const auto close = [&](const Vec3& p) { return (p - peak.centre).norm() < 0.5 * radius; };
    if (std::any_of(tried.begin(), tried.end(), close)) continue;
    tried.push_back(peak.centre);
    const auto inside = [&](const FoundBall& f) { return (f.centre.at - peak.centre).norm() < 0.6 * f.measured / 2; };
    if (std::any_of(found.begin(), found.end(), inside)) continue;
    near.clear();
    thin.within(peak.centre, 2.56 * radius * radius, [&](std::uint32_t i, double) { near.push_back(i); });
    double shown = 0;
    const TriedBall ball = settled(s, near, {peak.centre, radius}, shown);
    // Half of a hemisphere is π r².
    if (!(ball.radius > 0) || shown * side * side < M_PI * ball.radius * ball.radius) continue;
    const FoundBall f = measured(scan.points, scan.tree, ball, scan.noise);
    if (f.points == 0 || f.measured < scan.range.min || f.measured > scan.range.max) continue;
    const auto known = [&](const FoundBall& o) { return (o.centre.at - f.centre.at).norm() < o.measured / 2; };
    if (std::none_of(found.begin(), found.end(), known)) found.push_back(f);
  }
}

}  // namespace

double usual_diameter(const FoundBall& ball) {
  const auto [measured, u] = std::pair{ball.measured, ball.u};
  double best = std::round(measured);
  for (const double eighths : {2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 14.0, 16.0})
    if (const double d = eighths / 8 * inch; std::abs(d - measured) < std::abs(best - measured)) best = d;
  return std::abs(best - measured) <= std::max(3 * u, 0.05) ? best : measured;
}

std::vector<FoundBall> search_balls(const std::vector<Vec3>& points, const Sampling& sampling,
                                    const DiameterRange& range) {
  std::vector<FoundBall> found;
  if (points.size() < 100) return found;
  const ScanTree tree(points);
  for (double r = std::max(range.min / 2, 2 * sampling.spacing); r < kStep * range.max / 2; r *= kStep)
    add_balls_of_radius({points, tree, sampling.noise, range}, r, found);
  std::stable_sort(found.begin(), found.end(), [](const auto& a, const auto& b) { return a.points > b.points; });
  return found;
}

BallPairs pair_balls(const std::vector<FoundBall>& lower, const std::vector<FoundBall>& upper) {
  std::vector<double> sizes;
  for (const FoundBall& b : lower) sizes.push_back(b.diameter);
  std::sort(sizes.begin(), sizes.end());
  BallPairs best;
  std::vector<std::pair<int, int>> pairs;
  std::vector<int> low, up;
  for (std::size_t k = 0; k < sizes.size(); ++k) {
    if (k > 0 && sizes[k] - sizes[k - 1] < 0.3) continue;  // the same size, measured twice
    std::vector<int> of[2];
    std::vector<Vec3> at[2];
    for (int half = 0; half < 2; ++half) {
      const auto& list = half ? upper : lower;
      for (int i = 0; i < int(list.size()); ++i)
        if (std::abs(list[i].diameter - sizes[k]) < 0.6 && of[half].size() < kMostMatched)
          of[half].push_back(i), at[half].push_back(list[i].centre.at);
    }
    const BallMatch m = match_balls(at[0], at[1], kPatternPlay);
    if (m.pairs.size() < 3 || m.pairs.size() <= pairs.size()) continue;
    pairs = m.pairs, low = of[0], up = of[1], best.ways = m.ways;
  }
  if (best.ways != 1) return best;
  // In the order round their middle, seen from a side that the lower scan's frame fixes: look and new count alike.
  Vec3 middle = Vec3::Zero();
  for (const auto& p : pairs) middle += lower[low[p.first]].centre.at / double(pairs.size());
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const auto& p : pairs) {
    const Vec3 d = lower[low[p.first]].centre.at - middle;
    scatter += d * d.transpose();
  }
  Vec3 axis = spectrum_of(scatter).eigenvectors().col(0);
  int largest = 0;
  axis.cwiseAbs().maxCoeff(&largest);
  if (axis[largest] < 0) axis = -axis;
  const Vec3 along = std::abs(axis.x()) < 0.9 ? Vec3::UnitX() : Vec3::UnitY();
  const Vec3 e1 = (along - axis * axis.dot(along)).normalized(), e2 = axis.cross(e1);
  const auto angle = [&](const std::pair<int, int>& p) {
    const Vec3 d = lower[low[p.first]].centre.at - middle;
    return std::atan2(d.dot(e2), d.dot(e1));
  };
  std::sort(pairs.begin(), pairs.end(), [&](const auto& a, const auto& b) { return angle(a) < angle(b); });
  for (const auto& [i, j] : pairs) {
    Target t;
    t.name = "B" + std::to_string(best.targets.size() + 1);
    t.ball = lower[low[i]].diameter;
    t.lower = lower[low[i]].centre;
    t.upper = upper[up[j]].centre;
    best.targets.push_back(std::move(t));
  }
  return best;
}

}  // namespace gapfront::align
