#include "align/shared_noise.hpp"

#include <catch2/catch.hpp>

#include "../shared_errors.hpp"
#include "support.hpp"

using namespace gapfront;
using namespace support;

namespace {

constexpr double kBallRadius = 10;

/// Upper halves of balls, each fitted as a scan's is.
std::vector<align::BallPoints> balls_with(double white, double sigma, double length, int count, Random& random) {
  std::vector<align::BallPoints> out;
  for (int b = 0; b < count; ++b) {
    const SharedErrors field(sigma, length, random);
    std::vector<Vec3> points, moved;
    add_ball(points, Vec3::Zero(), kBallRadius, -0.1, 600, white, random);
    for (const Vec3& p : points) moved.push_back(p + field.at(p) * p.normalized());
    const SphereFit fit = align::fit_sphere(moved, Vec3::Zero(), {.radius = kBallRadius, .noise = white});
    out.push_back({fit.kept, kBallRadius});
  }
  return out;
}

}  // namespace

TEST_CASE("Errors that a scanner shares between neighbouring points are read off the balls") {
  const double length = GENERATE(1.5, 6.0, 15.0);
  Random random(41);
  double variance = 0, log_length = 0;
  int told = 0;
  const int scans = 12;
  for (int k = 0; k < scans; ++k) {
    const SharedNoise found = align::shared_noise(balls_with(0.005, 0.02, length, 12, random));
    told += found.sigma > 0;
    variance += found.sigma * found.sigma / scans;
    if (found.sigma > 0) log_length += std::log(found.length / length);
  }
  WARN("L " << length << " mm: told in " << told << " of " << scans << ", sigma " << std::sqrt(variance)
            << " mm, L times " << std::exp(log_length / std::max(told, 1)));
  CHECK(told >= scans - 1);
  CHECK(std::sqrt(variance) == Approx(0.02).epsilon(0.25));
  CHECK(std::exp(log_length / told) > 0.6);
  CHECK(std::exp(log_length / told) < 1.6);
}

TEST_CASE("Independent errors are seldom taken for shared ones") {
  Random random(43);
  int told = 0;
  for (int k = 0; k < 60; ++k) told += align::shared_noise(balls_with(0.02, 0, 1, 8, random)).sigma > 0;
  CHECK(told <= 3);
}

TEST_CASE("Fewer than four balls tell nothing of shared errors") {
  Random random(44);
  CHECK(align::shared_noise(balls_with(0.005, 0.02, 3, 3, random)).sigma == 0);
}

// The covariance of a least-squares centre under correlated errors, against its scatter over draws.
TEST_CASE("The centre of a ball is as uncertain as shared errors make it") {
  const double length = GENERATE(1.5, 6.0);
  Random random(45);
  double square = 0, predicted = 0;
  const int draws = 300;
  for (int k = 0; k < draws; ++k) {
    const SharedErrors field(0.02, length, random);
    std::vector<Vec3> points;
    add_ball(points, Vec3::Zero(), kBallRadius, -0.1, 300, 0, random);
    for (Vec3& p : points) p += field.at(p) * p.normalized();
    const SphereFit fit = align::fit_sphere(points, Vec3::Zero(), {.radius = kBallRadius, .noise = 0.02});
    square += fit.centre.z() * fit.centre.z() / draws;
    predicted += align::shared_covariance({fit.kept, kBallRadius}, {0.02, length})(2, 2) / draws;
  }
  // The scatter of 300 draws is known to 4 %.
  CHECK(std::sqrt(square) == Approx(std::sqrt(predicted)).epsilon(0.15));
}
