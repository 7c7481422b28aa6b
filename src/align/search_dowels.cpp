#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

#include "align/dowel.hpp"
#include "align/plane.hpp"
#include "core/joined_sets.hpp"
#include "gapfront/balls.hpp"

namespace gapfront::align {
namespace {

constexpr RadiusRange kDowelRadii{.min = 2, .max = 16};  // mm
constexpr double kTall = 60;     // mm from the land: what is farther off stands on something else
constexpr double kWarped = 0.5;  // mm; a land with a high corner is still one
constexpr double kMuchOf = 0.5;  // of a patch is the cylinder: a dowel's top and chamfer are less, a ball's belt too
constexpr int kLandsTried = 3;   // the planes of a half that carry dowels are its largest
constexpr std::size_t kSample = 5000;                  // places that tell a large plane
constexpr double kAxesApart = 0.5, kLandsApart = 0.1;  // see pair_dowels

using LandCell = std::pair<int, int>;

std::vector<Vec3> every_nth(const std::vector<Vec3>& points, std::size_t count) {
  std::vector<Vec3> out;
  for (std::size_t i = 0, n = std::min(points.size(), count); i < n; ++i) out.push_back(points[i * points.size() / n]);
  return out;
}

struct OffLand {
  Vec3 centre = Vec3::Zero();  ///< on the land
  double size = 0;             ///< along it, mm
  int points = 0;
};

/// Patches of points that stand off a land on one side: cells along it, joined when they touch.
std::vector<OffLand> patches_off(const std::vector<Vec3>& points, const PlaneFit& land, double side, double from,
                                 double cell) {
  const Vec3 e1 = land.normal.unitOrthogonal(), e2 = land.normal.cross(e1);
  std::map<LandCell, std::vector<std::uint32_t>> cells;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const Vec3 d = points[i] - land.point;
    const double height = side * land.normal.dot(d);
    if (height > from && height < kTall)
      cells[{int(std::floor(e1.dot(d) / cell)), int(std::floor(e2.dot(d) / cell))}].push_back(std::uint32_t(i));
  }
  std::map<LandCell, std::uint32_t> number;
  for (const auto& [key, held] : cells) number.emplace(key, std::uint32_t(number.size()));
  std::vector<std::uint32_t> parent(number.size());
  std::iota(parent.begin(), parent.end(), 0u);
  for (const auto& [key, own] : number)
    for (const LandCell& step : {LandCell{1, 0}, LandCell{0, 1}, LandCell{1, 1}, LandCell{1, -1}})
      if (const auto at = number.find({key.first + step.first, key.second + step.second}); at != number.end())
        join(parent, own, at->second);
  std::map<std::uint32_t, std::vector<std::uint32_t>> groups;
  for (const auto& [key, held] : cells) {
    auto& group = groups[root(parent, number[key])];
    group.insert(group.end(), held.begin(), held.end());
  }
  std::vector<OffLand> out;
  for (const auto& [first, group] : groups) {
    Vec3 low = Vec3::Constant(1e300), high = -low;
    for (auto i : group) {
      const Vec3 d = points[i] - land.point, along(e1.dot(d), e2.dot(d), 0);
      low = low.cwiseMin(along), high = high.cwiseMax(along);
    }
    const Vec3 middle = (low + high) / 2;
    out.push_back(
        {land.point + middle.x() * e1 + middle.y() * e2, (high - low).head<2>().maxCoeff(), int(group.size())});
  }
  return out;
}

}  // namespace

std::vector<FoundDowel> search_dowels(const std::vector<Vec3>& points, const Sampling& sampling) {
  std::vector<FoundDowel> found;
  const double noise = sampling.noise, flat = std::max(6 * noise, kWarped), from = std::max(6 * noise, 2 * kWarped);
  std::vector<Vec3> rest = every_nth(points, kSample);
  for (int k = 0; k < kLandsTried && rest.size() > kSample / 10; ++k) {
    const auto land = find_plane(rest, flat);
    if (!land) break;
    std::erase_if(rest, [&](const Vec3& p) { return std::abs(land->normal.dot(p - land->point)) < from; });
    for (const double side : {-1.0, 1.0})
      for (const OffLand& patch : patches_off(points, *land, side, from, 2.5 * sampling.spacing)) {
        if (patch.points < 30 || patch.size < 2 * kDowelRadii.min || patch.size > 2.5 * kDowelRadii.max) continue;
        std::vector<Vec3> near;
        const double reach = patch.size / 2 + 1.5 * patch.size;
        for (const Vec3& p : points) {
          const Vec3 d = p - patch.centre;
          const double height = land->normal.dot(d);
          if (std::abs(height) < kTall && d.squaredNorm() - height * height < reach * reach) near.push_back(p);
        }
        // The land here: over the whole flange it is less flat.
        const auto here = find_plane(near, std::max(4 * noise, kWarped / 5));
        if (!here || std::abs(here->normal.dot(land->normal)) < 0.99) continue;
        const RadiusRange radii{std::max(kDowelRadii.min, 0.25 * patch.size),
                                std::min(kDowelRadii.max, 0.6 * patch.size)};
        const DowelFit fit = fit_dowel_on(*here, near, radii, noise);
        if (fit.used < kMuchOf * patch.points) continue;
        const auto known = [&](const FoundDowel& f) { return (f.at.at - fit.point).norm() < fit.diameter / 2; };
        if (std::any_of(found.begin(), found.end(), known)) continue;
        FoundBall size;
        size.measured = fit.diameter, size.u = fit.u_diameter;
        found.push_back({{fit.point}, fit.axis, fit.diameter, usual_diameter(size), fit.used});
      }
  }
  std::stable_sort(found.begin(), found.end(), [](const auto& a, const auto& b) { return a.points > b.points; });
  return found;
}

std::vector<Target> pair_dowels(const std::vector<FoundDowel>& lower, const std::vector<FoundDowel>& upper,
                                const Rigid& upper_to_lower) {
  std::vector<Target> out;
  for (const FoundDowel& low : lower)
    for (const FoundDowel& up : upper) {
      const Vec3 apart = upper_to_lower * up.at.at - low.at.at;
      const double along = low.axis.dot(apart);
      if (std::abs(along) > kLandsApart || (apart - along * low.axis).norm() > kAxesApart) continue;
      if (std::abs(up.measured - low.measured) > 0.03 * low.measured) continue;
      Target t;
      t.name = "D" + std::to_string(out.size() + 1);
      t.dowel = low.diameter, t.lower = low.at, t.upper = up.at;
      out.push_back(std::move(t));
    }
  return out;
}

}  // namespace gapfront::align
