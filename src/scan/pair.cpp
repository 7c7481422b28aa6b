// Checks on the two scans together, before any work is spent on them.
#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstring>
#include "core/linear.hpp"
#include "core/statistics.hpp"
#include "gapfront/error.hpp"
#include "gapfront/scan.hpp"
#include "units/inch.hpp"
#include "units/words.hpp"

namespace gapfront::scan {
namespace {

// Size and shape of a cloud show in some thousand points.
constexpr std::size_t kPairSample = 20000;

std::vector<Vec3> sample(const std::vector<Vec3>& points) {
  const std::size_t n = std::min(points.size(), kPairSample);
  std::vector<Vec3> out(n);
  for (std::size_t i = 0; i < n; ++i) out[i] = points[i * points.size() / n];
  return out;
}

/// Distance from the middle within which nine tenths of the points lie, mm: far clutter does not change it.
double robust_size(const std::vector<Vec3>& points, Vec3& middle) {
  for (int k = 0; k < 3; ++k) {
    std::vector<double> v;
    for (const auto& p : points) v.push_back(p[k]);
    middle[k] = ranked_value(std::move(v), 0.5);
  }
  std::vector<double> d;
  for (const auto& p : points) d.push_back((p - middle).norm());
  return ranked_value(std::move(d), 0.9);
}

/// Throws when the points have no extent in two directions.
void check_extent(const Scan& scan, const std::vector<Vec3>& points, const Vec3& middle, double size) {
  const auto refuse = [&](const std::string& what) {
    throw Error(Fault::input, scan.path + ": " + what + "; a mold half needs a scan of its surface: check the export");
  };
  // Ten: a fit of a curved patch alone has six unknowns.
  if (points.size() < 10) refuse("only " + std::to_string(points.size()) + " points");
  if (!(size > 0)) refuse("all points lie in one place");
  Eigen::Matrix3d c = Eigen::Matrix3d::Zero();
  Vec3 mean = Vec3::Zero();
  std::size_t n = 0;
  const auto belongs = [&](const Vec3& p) { return (p - middle).norm() <= 3 * size; };  // not far clutter
  for (const auto& p : points)
    if (belongs(p)) mean += p - middle, ++n;
  mean /= double(n);
  for (const auto& p : points)
    if (belongs(p)) c += (p - middle - mean) * (p - middle - mean).transpose();
  const Vec3 e = spectrum_of(Eigen::Matrix3d(c / double(n))).eigenvalues().cwiseMax(0).cwiseSqrt();
  // Points along a line are some length/n apart; a width of a few such steps is scatter, not surface.
  if (e[1] < 1e-3 * e[2] || e[1] < 3 * e[2] / double(scan.cloud.points.size())) refuse("all points lie on a line");
}

bool same_points(const Scan& a, const Scan& b, double size) {
  if (!a.sha256.empty() && a.sha256 == b.sha256) return true;
  const auto &p = a.cloud.points, &q = b.cloud.points;
  if (p.size() != q.size()) return false;
  // Same places in the same order, but for the rounding of text and 32-bit numbers.
  const std::size_t n = std::min(p.size(), kPairSample);
  bool in_order = true;
  for (std::size_t i = 0; i < n && in_order; ++i)
    in_order = (p[i * p.size() / n] - q[i * p.size() / n]).norm() <= 1e-5 * size;
  if (in_order) return true;
  // Same set in another order: compare an order-free sum of hashes of the exact coordinates.
  const auto fingerprint = [](const std::vector<Vec3>& points) {
    std::uint64_t sum = 0;
    for (const auto& v : points) {
      std::uint64_t h = 0;
      for (int k = 0; k < 3; ++k) {
        const double d = v[k] + 0.0;
        std::uint64_t bits;
        std::memcpy(&bits, &d, sizeof bits);
        h = (h ^ bits) * 0x9E3779B97F4A7C15ull;
        h ^= h >> 31;
      }
      sum += h;
    }
    return sum;
  };
  return fingerprint(p) == fingerprint(q);
}

}  // namespace

void check_pair(const Scan& lower, const Scan& upper) {
  const auto a = sample(lower.cloud.points), b = sample(upper.cloud.points);
  for (const auto* s : {&lower, &upper})
    if (s->cloud.points.empty()) throw Error(Fault::input, s->path + ": no points; export the scan again");
  Vec3 middle_a, middle_b;
  const double size_a = robust_size(a, middle_a), size_b = robust_size(b, middle_b);
  check_extent(lower, a, middle_a, size_a);
  check_extent(upper, b, middle_b, size_b);
  if (same_points(lower, upper, size_a))
    throw Error(Fault::input, "the same scan is given for both halves (" + lower.path + " and " + upper.path +
                                  "); name the scan of each half in [lower] and [upper]");
  const bool lower_small = size_a < size_b;
  const double ratio = std::max(size_a, size_b) / std::min(size_a, size_b);
  struct Likely {
    double factor;
    const char *small, *large, *small_name, *large_name;
  };
  static const Likely factors[] = {{inch, "in", "mm", "inches", "millimetres"},
                                   {10, "cm", "mm", "centimetres", "millimetres"},
                                   {1000, "m", "mm", "metres", "millimetres"},
                                   {1000 / inch, "m", "in", "metres", "inches"}};
  for (const Likely& f : factors) {
    // Two halves of one mold differ by the flange and the scanned margin: a fifth covers that.
    if (ratio < 0.8 * f.factor || ratio > 1.2 * f.factor) continue;
    const Scan& small = lower_small ? lower : upper;
    const Scan& large = lower_small ? upper : lower;
    const std::string small_key = lower_small ? "[lower]" : "[upper]", large_key = lower_small ? "[upper]" : "[lower]";
    const std::string differ = words("the halves differ in size by a factor of %.3g, near %.3g", ratio, f.factor);
    // Both declared: which of them is wrong, the sizes do not tell.
    if (small.unit_declared && large.unit_declared)
      throw Error(Fault::input, differ + ", as " + f.small_name + " and " + f.large_name +
                                    " do: one of the declared units is wrong; correct `unit` in " + small_key + " (" +
                                    small.path + ", the small one) or in " + large_key + " (" + large.path + ")");
    std::string remedy;
    if (!small.unit_declared)
      remedy = "set `unit = \"" + std::string(f.small) + "\"` in " + small_key +
               (large.unit_declared ? "" : " and `unit = \"" + std::string(f.large) + "\"` in " + large_key);
    else
      remedy = "set `unit` in " + large_key + " (it was read as mm; is it in a smaller unit?)";
    throw Error(Fault::input, differ + ": " + small.path + " seems to be in " + f.small_name + " and " + large.path +
                                  " in " + f.large_name + "; " + remedy);
  }
}

}  // namespace gapfront::scan
