// Six balls on flats in two poses, and what a registration of them says.
#pragma once
#include "gapfront/error.hpp"
#include "support.hpp"

namespace balls {

using namespace gapfront;
using namespace support;

inline const std::vector<Vec3> kBalls{{-240, -180, 5}, {240, -180, 5}, {240, 180, 5},
                                      {-240, 180, 5},  {0, -200, 25},  {30, 210, -5}};

inline std::string name(std::size_t i) { return "B" + std::to_string(i + 1); }

/// Two scans of six balls on flats, each in its own pose, with rough places up to 6 mm off.
struct Setup {
  Scan lower, upper;
  AlignOptions options;
  Rigid lower_pose, upper_pose;  // tool → scan
};

inline Setup make_setup(double noise, unsigned seed) {
  Setup s;
  Random random(seed);
  s.lower_pose = pose(120, -35, 60, 0.4, Vec3(0.1, 0.3, 1));
  s.upper_pose = pose(-900, 350, 20, 2.7, Vec3(1, 0.2, 0.1));
  for (int half = 0; half < 2; ++half) {
    const Rigid& to_scan = half ? s.upper_pose : s.lower_pose;
    std::vector<Vec3>& points = (half ? s.upper : s.lower).cloud.points;
    for (const Vec3& c : kBalls) {
      std::vector<Vec3> local;
      add_ball(local, Vec3::Zero(), 10, -0.1, 500, noise, random);
      add_flat(local, Vec3(0, 0, -1), 25, 1.5, 10.5, noise, random);
      for (const Vec3& p : local) points.push_back(to_scan * (c + (half ? Vec3(p.x(), -p.y(), -p.z()) : p)));
    }
  }
  for (std::size_t i = 0; i < kBalls.size(); ++i)
    s.options.targets.push_back(ball_target(name(i), 20, s.lower_pose * kBalls[i] + 3 * random.vector().normalized(),
                                            s.upper_pose * kBalls[i] + 6 * random.vector().normalized()));
  return s;
}

inline const Rigid kUpperPose = pose(-900, 350, 20, 2.7, Vec3(1, 0.2, 0.1));

/// Point targets on the ball places, both shifted by Gaussian errors.
inline AlignOptions point_options(double sigma, Random& random, double u) {
  AlignOptions o;
  for (std::size_t i = 0; i < kBalls.size(); ++i) {
    o.targets.push_back(
        point_target(name(i), kBalls[i] + sigma * random.vector(), kUpperPose * kBalls[i] + sigma * random.vector()));
    o.targets.back().u = u;
  }
  return o;
}

inline std::string fault_of(const AlignOptions& o, Fault& fault, const Scan& lower = {}, const Scan& upper = {}) {
  try {
    align::register_halves(lower, upper, o, {.lower = 0.02, .upper = 0.02});
  } catch (const Error& e) {
    fault = e.fault;
    return e.what();
  }
  return "no error";
}

}  // namespace balls
