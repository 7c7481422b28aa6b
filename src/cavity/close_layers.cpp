// A face that is there twice, the two so near to each other that they look like one that scatters.
#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>

#include "cavity/fit_uncertainty.hpp"
#include "cavity/patch.hpp"
#include "cavity/sheet_mesh.hpp"
#include "core/parallel.hpp"
#include "core/sheet_parts.hpp"
#include "core/statistics.hpp"

namespace gapfront::cavity {
namespace {

using Half = SecondLayer::Half;

// Fewer points fall into two heaps by chance.
constexpr std::size_t kFewestLooked = 24;
// Heaps parted by so many of their own standard deviations. Cut in two at their middle, normal errors look parted by
// 2.7 of them, even ones by 3.5, a sine wave by 4.1.
constexpr double kParted = 4.5;
// Layers nearer than the U of the fits shift the face by half of it at most; and below this, mm, a scan as good as
// exact shows its own rounding.
constexpr double kNearest = 0.02;
// The smaller heap has at least this share: strays and the edge of another face are fewer.
constexpr double kSmallerHeap = 0.15;
// Of a point and its nearest neighbour both are of one heap as chance has it where two layers lie over each other, and
// nearly always where a wave, a step or an edge parts them: halfway.
constexpr double kInOrder = 0.5;
// Such nodes have a larger u than usual, where not the whole face is there twice. That is looked for at some of them.
constexpr double kMoreThanMost = 1.25, kMuchOfSheet = 0.1;
constexpr std::size_t kSampled = 400;

struct Residual {
  double height;
  Eigen::Vector2d beside;
};

/// What parts the residuals best into a lower and an upper heap.
struct Heaps {
  double cut = 0, apart = 0, sigma = 0, smaller = 0;
};

Heaps heaps_of(std::vector<double> x) {
  std::sort(x.begin(), x.end());
  const auto n = double(x.size());
  const double sum = std::accumulate(x.begin(), x.end(), 0.0);
  double squares = 0, below = 0, best = -1;
  Heaps out;
  for (const double v : x) squares += v * v;
  for (std::size_t k = 1; k < x.size(); ++k) {
    below += x[k - 1];
    const double a = double(k), b = n - a, between = below * below / a + (sum - below) * (sum - below) / b;
    if (std::min(a, b) < kSmallerHeap * n || between <= best) continue;
    best = between;
    out.cut = 0.5 * (x[k - 1] + x[k]), out.smaller = std::min(a, b) / n;
    out.apart = (sum - below) / b - below / a;
    out.sigma = std::sqrt(std::max(0.0, squares - between) / (n - 2));
  }
  return out;
}

/// The residuals of all points about a fit, not only of those that it kept.
std::vector<Residual> residuals_of(const Surface& surface, const Patch& patch, double band) {
  thread_local std::vector<int> found;
  surface.within(patch.origin, std::hypot(patch.radius, band), found);
  std::vector<Residual> out;
  for (const int i : found) {
    const Vec3 p = patch.axes.transpose() * (surface.points()[std::size_t(i)] - patch.origin);
    const double height = p.z() - patch.height(p.head<2>());
    if (p.head<2>().norm() <= patch.radius && std::abs(height) <= band) out.push_back({height, p.head<2>()});
  }
  return out;
}

/// Share of points whose nearest neighbour is in the same heap.
double side_by_side(const std::vector<Residual>& all, double cut) {
  std::size_t same = 0;
  for (const Residual& a : all) {
    double nearest = 1e300;
    bool alike = false;
    for (const Residual& b : all)
      if (const double d2 = (a.beside - b.beside).squaredNorm(); &a != &b && d2 < nearest)
        nearest = d2, alike = (a.height > cut) == (b.height > cut);
    same += alike;
  }
  return double(same) / double(all.size());
}

/// Distance of the two layers about a place on the face, if there are two.
std::optional<double> layers_about(const Surface& surface, const Vec3& at, const Vec3& hint, double least,
                                   double most) {
  thread_local Scratch scratch;
  scratch.reach = 0;  // of another surface, it may be
  const Patch patch = fit_patch(surface, at, surface.nearest(at).point, hint, 0, scratch);
  if (!(patch.radius > 0) || patch.used < kEnoughForQuadric) return std::nullopt;
  const auto all = residuals_of(surface, patch, 1.5 * most);
  if (all.size() < kFewestLooked) return std::nullopt;
  std::vector<double> heights;
  for (const Residual& r : all) heights.push_back(r.height);
  const Heaps h = heaps_of(std::move(heights));
  if (h.apart < std::max({kNearest, least, kParted * h.sigma}) || h.apart > most) return std::nullopt;
  const double chance = h.smaller * h.smaller + (1 - h.smaller) * (1 - h.smaller);
  if (side_by_side(all, h.cut) > chance + kInOrder * (1 - chance)) return std::nullopt;
  return h.apart;
}

SecondLayer close_layers_of(const Sheet& sheet, const GapMap& map, const Surface& surface, Half half, double most) {
  const std::size_t n = sheet.size();
  const bool lower = half == Half::lower;
  const auto u_of = [&](std::size_t i) { return lower ? map.nodes[i].u_lower : map.nodes[i].u_upper; };
  std::vector<double> known;
  for (std::size_t i = 0; i < n; ++i)
    if (map.nodes[i].measured) known.push_back(u_of(i));
  SecondLayer out;
  out.half = half;
  if (known.empty()) return out;
  const double usual = median(std::move(known));
  std::vector<double> apart(n, 0);
  std::vector<char> here(n, 0), looked(n, 0);
  const auto look = [&](const auto& wanted) {
    parallel_for(
        n,
        [&](std::size_t i) {
          const NodeGap& g = map.nodes[i];
          if (looked[i] || !g.measured || is_masked(sheet, i) || !wanted(i)) return;
          looked[i] = 1;
          const Vec3 at = g.mid + (lower ? -0.5 : 0.5) * g.gap * g.direction;
          if (const auto d = layers_about(surface, at, lower ? g.direction : Vec3(-g.direction),
                                          map.coverage * std::hypot(g.u_lower, g.u_upper), most))
            here[i] = 1, apart[i] = *d;
        },
        16);
  };
  const std::size_t step = n / kSampled + 1;
  look([&](std::size_t i) { return i % step == 0; });
  const auto sampled = std::count(looked.begin(), looked.end(), 1), seen = std::count(here.begin(), here.end(), 1);
  const bool all = double(seen) > kMuchOfSheet * double(sampled);
  look([&](std::size_t i) { return all || u_of(i) > kMoreThanMost * usual; });
  std::vector<double> distances;
  std::vector<Vec3> largest;
  for (const auto& part : parts_of_sheet(sheet, here)) {
    std::vector<Vec3> places;
    for (const int i : part)
      out.fraction += sheet.area[std::size_t(i)], distances.push_back(apart[std::size_t(i)]),
          places.push_back(sheet.mesh.points[std::size_t(i)]);
    if (places.size() > largest.size()) largest = std::move(places);
  }
  if (distances.empty()) return out;
  out.fraction /= sheet_area(sheet);
  out.distance = median(std::move(distances));
  out.at = middle_one(largest);
  return out;
}

}  // namespace

std::vector<SecondLayer> find_close_layers(const Sheet& sheet, const GapMap& map, const Surface& lower,
                                           const Surface& upper, double most) {
  std::vector<SecondLayer> out{close_layers_of(sheet, map, lower, Half::lower, most),
                               close_layers_of(sheet, map, upper, Half::upper, most)};
  std::erase_if(out, [](const SecondLayer& l) { return !(l.fraction > 0); });
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.fraction > b.fraction; });
  return out;
}

}  // namespace gapfront::cavity
