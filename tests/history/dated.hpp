// Dates of a tool whose faces and seat move as planted, noise independent from node to node.
#pragma once
#include <algorithm>
#include <cmath>
#include <functional>
#include <random>

#include "../flow/sheets.hpp"
#include "gapfront/recheck.hpp"

namespace gapfront::test {

inline constexpr double kWideNoise = 0.006, kWideTarget = 0.002;

inline const Sheet& trough() {  // 300 × 200 mm, bent to a radius of 600 mm
  static const Sheet s = cavity::make_sheet(grid(24, 16, [](double u, double v) {
                                              const double x = 300 * u - 150;
                                              return Vec3(x, 200 * v - 100, -x * x / 1200);
                                            }).mesh);
  return s;
}

/// How far faces moved out of the cavity along the normal, mm, and the upper half along Z.
struct Planted {
  std::function<double(const Vec3&)> lower = [](const Vec3&) { return 0.0; };
  std::function<double(const Vec3&)> upper = [](const Vec3&) { return 0.0; };
  double seat = 0;
};

inline Record dated_record(const Planted& p, double cycles, unsigned seed) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  Record r;
  r.id = seed, r.cycles = cycles, r.date = date_text(20000 + static_cast<long>(cycles / 5)), r.instrument = "scanner 1";
  r.lower_sha256 = "lower " + std::to_string(seed), r.upper_sha256 = "upper " + std::to_string(seed);
  r.gap.registration.diagonal() << 4e-6, 4e-6, 4e-6, 1e-10, 1e-10, 1e-10;
  for (std::size_t i = 0; i < trough().size(); ++i) {
    const Vec3 at = trough().mesh.points[i], n = trough().normals[i];
    const double lower = kWideNoise * normal(random) - p.lower(at);
    const double upper = 3 + kWideNoise * normal(random) + p.upper(at) + p.seat * n.z();
    NodeGap g;
    g.measured = true, g.gap = upper - lower, g.direction = n, g.mid = at + 0.5 * (upper + lower) * n;
    g.u_lower = g.u_upper = kWideNoise, g.u_registration = 2e-3;
    g.U = 2 * std::sqrt(2 * kWideNoise * kWideNoise + 4e-6);
    r.gap.nodes.push_back(g), r.arrival.push_back(at.x() + 150);
  }
  r.fill_time = 300;
  int k = 0;
  for (const Vec3& at : {Vec3(-170, -120, 0), Vec3(170, -120, 0), Vec3(170, 0, 0), Vec3(170, 120, 0),
                         Vec3(-170, 120, 0), Vec3(-170, 0, 0)}) {
    const auto three = [&] {
      const double x = kWideTarget * normal(random), y = kWideTarget * normal(random);
      return Vec3(x, y, kWideTarget * normal(random));
    };
    r.datums.push_back({"B" + std::to_string(++k), at + three(), at + three(), kWideTarget, kWideTarget});
  }
  return r;
}

inline const FieldNull& trough_null() {
  static const FieldNull n = history::field_null(trough());
  return n;
}
inline Recheck compared(const std::vector<Record>& records, std::size_t then = 0, double limit = 0) {
  RecheckOptions o;
  o.limit = limit;
  return history::recheck(trough(), records, records.size() - 1, then, o, trough_null());
}

/// `depth` but for a rim of 30 mm, over which it fades to nothing.
inline std::function<double(const Vec3&)> all_but_rim(double depth) {
  return [depth](const Vec3& p) {
    const double in = std::min(150 - std::abs(p.x()), 100 - std::abs(p.y()));
    return depth * std::clamp((in - 15) / 15, 0.0, 1.0);
  };
}
inline std::function<double(const Vec3&)> hill(double top, double radius = 50) {
  return [top, radius](const Vec3& p) {
    const double r2 = (p - Vec3(20, 10, -1.0 / 3)).squaredNorm() / (radius * radius);
    return r2 < 1 ? top * (1 - r2) * (1 - r2) : 0;
  };
}

}  // namespace gapfront::test
