#include "align/find_balls.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <map>

#include "gapfront/error.hpp"
#include "gapfront/pose.hpp"

namespace gapfront::align {
namespace {

// Places per radius: a hemisphere then has some 150 of them, and their normals err by a few degrees.
constexpr double kVoxels = 5;
constexpr int kTries = 80;  // peaks looked at: ten times the balls a tool carries

using Cell = std::array<int, 3>;
Cell cell_of(const Vec3& p, double side) {
  return {int(std::floor(p.x() / side)), int(std::floor(p.y() / side)), int(std::floor(p.z() / side))};
}

struct Matcher {
  const std::vector<Vec3>&a, &b;
  double tolerance;
  std::vector<std::pair<int, int>> now;
  BallMatch best{};

  bool fits(int i, int j) const {
    return std::all_of(now.begin(), now.end(), [&](const auto& p) {
      return p.second != j && std::abs((a[i] - a[p.first]).norm() - (b[j] - b[p.second]).norm()) <= tolerance;
    });
  }
  /// Distances alone do not tell a pattern from its mirror image; the motion does.
  bool rigid() const {
    std::vector<Vec3> from, to;
    for (const auto& [i, j] : now) from.push_back(b[j]), to.push_back(a[i]);
    const Rigid m = fit_rigid(from, to);
    for (std::size_t k = 0; k < from.size(); ++k)
      if ((m * from[k] - to[k]).norm() > tolerance) return false;
    return true;
  }
  void go(int i) {
    if (now.size() + (a.size() - i) < std::max<std::size_t>(3, best.pairs.size())) return;
    if (i == static_cast<int>(a.size())) {
      if (now.size() < 3 || !rigid()) return;
      if (now.size() > best.pairs.size()) best = {now, 0};
      ++best.ways;
      return;
    }
    for (int j = 0; j < static_cast<int>(b.size()); ++j)
      if (fits(i, j)) {
        now.emplace_back(i, j);
        go(i + 1);
        now.pop_back();
      }
    go(i + 1);
  }
};

}  // namespace

std::vector<SphereFit> find_balls(const std::vector<Vec3>& points, double diameter, double noise) {
  const double radius = diameter / 2, side = radius / kVoxels, bin = radius / 3;
  const SurfacePoints s = thin_surface(points, side);
  std::map<Cell, std::vector<Vec3>> votes;
  for (std::size_t i = 0; i < s.points.size(); ++i)
    for (double sign : {-1.0, 1.0}) {
      const Vec3 c = s.points[i] + sign * radius * s.normals[i];
      votes[cell_of(c, bin)].push_back(c);
    }
  std::vector<std::pair<int, Cell>> peaks;
  for (const auto& [cell, centres] : votes) peaks.push_back({-static_cast<int>(centres.size()), cell});
  std::sort(peaks.begin(), peaks.end());

  std::map<Cell, std::vector<int>> near;  // points by cells of a diameter, so that a fit sees only its surroundings
  for (std::size_t i = 0; i < points.size(); ++i) near[cell_of(points[i], diameter)].push_back(static_cast<int>(i));
  std::vector<SphereFit> found;
  std::vector<Vec3> tried;
  for (const auto& [negative, cell] : peaks) {
    if (static_cast<int>(tried.size()) >= kTries) break;
    const auto& centres = votes[cell];
    Vec3 rough = Vec3::Zero();
    for (const Vec3& c : centres) rough += c / centres.size();
    const auto close = [&](const Vec3& p) { return (p - rough).norm() < 0.7 * radius; };
    if (std::any_of(tried.begin(), tried.end(), close)) continue;
    tried.push_back(rough);
    std::vector<Vec3> around;
    const Cell middle = cell_of(rough, diameter);
    for (int x = -2; x <= 2; ++x)
      for (int y = -2; y <= 2; ++y)
        for (int z = -2; z <= 2; ++z)
          if (const auto at = near.find({middle[0] + x, middle[1] + y, middle[2] + z}); at != near.end())
            for (int i : at->second) around.push_back(points[i]);
    SphereFit fit = fit_sphere(around, rough, {.radius = radius, .noise = noise});
    if (fit.used == 0) continue;
    // Area shown, by the places that lie on it: half of a hemisphere is π r².
    int shown = 0;
    const double band = std::max(4 * noise, 0.02 * radius);
    for (const Vec3& p : s.points) shown += std::abs((p - fit.centre).norm() - radius) < band;
    if (shown * side * side < M_PI * radius * radius) continue;
    const bool known = std::any_of(found.begin(), found.end(),
                                   [&](const SphereFit& f) { return (f.centre - fit.centre).norm() < radius; });
    if (!known) found.push_back(fit);
  }
  std::stable_sort(found.begin(), found.end(), [](const auto& x, const auto& y) { return x.used > y.used; });
  return found;
}

BallMatch match_balls(const std::vector<Vec3>& a, const std::vector<Vec3>& b, double tolerance) {
  Matcher m{a, b, tolerance, {}};
  m.go(0);
  return m.best;
}

std::vector<Vec3> spare_balls(const std::vector<Vec3>& points, double noise, double diameter,
                              const std::vector<Vec3>& targets) {
  // A million points show a ball as well as ten: at a ball's usual share of a scan, some hundreds are left on it.
  constexpr std::size_t kEnough = 1000000;
  std::vector<Vec3> some;
  const std::size_t step = points.size() / kEnough + 1;
  if (step > 1)
    for (std::size_t i = 0; i < points.size(); i += step) some.push_back(points[i]);
  std::vector<Vec3> out;
  for (const SphereFit& f : find_balls(step > 1 ? some : points, diameter, noise))
    if (std::none_of(targets.begin(), targets.end(),
                     [&](const Vec3& t) { return (t - f.centre).norm() < diameter / 2; }))
      out.push_back(f.centre);
  return out;
}

FoundBalls find_targets(const std::vector<Vec3>& lower, const std::vector<Vec3>& upper, double diameter,
                        const PointNoise& noise) {
  FoundBalls found;
  std::vector<Vec3> places[2];
  for (int half = 0; half < 2; ++half)
    for (const SphereFit& f : find_balls(half ? upper : lower, diameter, half ? noise.upper : noise.lower))
      (places[half].size() < kMostMatched ? places[half] : found.spare[half]).push_back(f.centre);
  char text[300];
  const BallMatch match = match_balls(places[0], places[1], kPatternPlay);
  if (match.pairs.size() < 3) {
    std::snprintf(
        text, sizeof text,
        "align: %zu balls of %.4g mm found in the lower half and %zu in the upper, and no three of them match; "
        "check the diameter, or name the targets with their rough places",
        places[0].size(), diameter, places[1].size());
    throw Error(Fault::measurement, text);
  }
  if (match.ways > 1) {
    std::snprintf(
        text, sizeof text,
        "align: the balls match in %d ways, because their distances repeat; name the targets with their rough "
        "places, or set one ball elsewhere",
        match.ways);
    throw Error(Fault::measurement, text);
  }
  std::vector<char> used[2]{std::vector<char>(places[0].size()), std::vector<char>(places[1].size())};
  for (const auto& [i, j] : match.pairs) {
    Target t;
    t.name = "ball " + std::to_string(found.targets.size() + 1);
    t.ball = diameter;
    t.lower = {places[0][i]};
    t.upper = {places[1][j]};
    used[0][i] = used[1][j] = 1;
    found.targets.push_back(std::move(t));
  }
  for (int half = 0; half < 2; ++half)
    for (std::size_t k = 0; k < places[half].size(); ++k)
      if (!used[half][k]) found.spare[half].push_back(places[half][k]);
  return found;
}

}  // namespace gapfront::align
