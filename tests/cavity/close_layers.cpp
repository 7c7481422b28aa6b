// find_close_layers on plates whose points are drawn: what is there twice is known by construction, and what only
// looks so is not taken for it.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <functional>

#include "../flow/sheets.hpp"
#include "../random.hpp"
#include "gapfront/cavity.hpp"

using namespace gapfront;
using support::Random;

namespace {

constexpr double kClosePitch = 1.5, kCloseNoise = 0.019;
using Height = std::function<double(double, double, Random&)>;

/// A plate of 100 mm by 80 mm, a point per 1.5 mm by 1.5 mm at a random place of its cell.
void add_plate(std::vector<Vec3>& points, const Height& height, Random& random,
               const std::function<bool(double, double)>& there = {}) {
  for (double x = -10; x < 90; x += kClosePitch)
    for (double y = -10; y < 70; y += kClosePitch) {
      const double u = x + random.uniform(0, kClosePitch), v = y + random.uniform(0, kClosePitch);
      if (!there || there(u, v)) points.push_back({u, v, height(u, v, random)});
    }
}

Height noisy(double z, double noise = kCloseNoise) {
  return [=](double, double, Random& r) { return z + noise * r.gauss(); };
}

Sheet close_sheet() {
  return test::grid(15, 11, [](double u, double v) { return Vec3(2.5 + 75 * u, 2.5 + 55 * v, 0); });
}

std::vector<SecondLayer> all_close_layers(std::vector<Vec3> low, std::vector<Vec3> high, double noise = kCloseNoise) {
  const Sheet sheet = close_sheet();
  const Surface lower(std::move(low), {.spacing = kClosePitch, .noise = noise}),
      upper(std::move(high), {.spacing = kClosePitch, .noise = kCloseNoise});
  Alignment a;
  const GapMap map = cavity::measure_gap(sheet, lower, upper, a, {});
  return cavity::find_close_layers(sheet, map, lower, upper, 0.75);
}

/// The first, or one that covers nothing.
SecondLayer close_layers(std::vector<Vec3> low, std::vector<Vec3> high, double noise = kCloseNoise) {
  const auto all = all_close_layers(std::move(low), std::move(high), noise);
  return all.empty() ? SecondLayer{} : all.front();
}

/// The lower plate as `height` says, and once more where `twice` says, `apart` higher; the upper one is honest.
SecondLayer doubled(double apart, int passes, const std::function<bool(double, double)>& twice, unsigned seed) {
  Random random(seed);
  std::vector<Vec3> low, high;
  add_plate(low, noisy(0), random), add_plate(high, noisy(3), random);
  for (int k = 0; k < passes; ++k) add_plate(low, noisy(apart), random, twice);
  return close_layers(std::move(low), std::move(high));
}

SecondLayer as_is(const Height& low, unsigned seed, double noise = kCloseNoise) {
  Random random(seed);
  std::vector<Vec3> points, high;
  add_plate(points, low, random), add_plate(high, noisy(3), random);
  return close_layers(std::move(points), std::move(high), noise);
}

int close_draws(int usual) {
  const char* given = std::getenv("GAPFRONT_DRAWS");
  return given ? std::atoi(given) : usual;
}

}  // namespace

TEST_CASE("A second pass 0.1 to 0.3 mm beside a face is found where it is, with its distance") {
  const auto disc = [](double x, double y) { return std::hypot(x - 40, y - 30) < 25; };
  for (const double apart : {0.1, 0.2, 0.3, -0.15})
    for (unsigned seed = 1; seed <= 3; ++seed) {
      const SecondLayer l = doubled(apart, 1, disc, seed);
      INFO(apart << " " << seed << " " << l.fraction << " " << l.distance);
      CHECK(l.half == SecondLayer::Half::lower);
      CHECK(l.fraction > 0.15);
      CHECK(l.fraction < 0.55);
      CHECK(l.distance == Approx(std::abs(apart)).margin(0.03));
      CHECK(disc(l.at.x(), l.at.y()));
    }
}

TEST_CASE("Three passes over one, and a face that is there twice all over, are found as well") {
  for (unsigned seed = 1; seed <= 3; ++seed) {
    CHECK(doubled(
              0.2, 3, [](double x, double) { return x < 40; }, seed)
              .fraction > 0.2);
    CHECK(doubled(
              0.12, 1, [](double, double) { return true; }, seed)
              .fraction > 0.5);
  }
}

TEST_CASE("An honest plate, a noisy place, a wave, a step between passes and spikes are no second layer") {
  const int draws = close_draws(4);
  const Height shapes[] = {
      noisy(0),
      // Six times as noisy on one half of the plate, as on a glossy or a dull face.
      [](double x, double, Random& r) { return (x < 40 ? 0.12 : kCloseNoise) * r.gauss(); },
      // Waves and steps of the size that layers have.
      [](double x, double, Random& r) { return 0.1 * std::sin(2 * M_PI * x / 12) + kCloseNoise * r.gauss(); },
      [](double x, double y, Random& r) { return 0.08 * std::sin(2 * M_PI * (x + y) / 7) + kCloseNoise * r.gauss(); },
      [](double x, double, Random& r) { return (x < 40 ? 0 : 0.15) + kCloseNoise * r.gauss(); },
      [](double x, double, Random& r) { return (std::fmod(x + 100, 16) < 8 ? 0 : 0.12) + kCloseNoise * r.gauss(); },
      // Errors that are even, not normal, and one point in ten that is far off.
      [](double, double, Random& r) { return r.uniform(-0.06, 0.06); },
      [](double, double, Random& r) { return (r.uniform() < 0.1 ? 0.2 : kCloseNoise) * r.gauss(); },
  };
  int k = 0;
  for (const Height& shape : shapes) {
    ++k;
    for (int seed = 1; seed <= draws; ++seed) {
      INFO(k << " " << seed);
      CHECK(as_is(shape, unsigned(seed)).fraction == 0);
    }
  }
}

TEST_CASE("Layers nearer than U are left to U") {
  CHECK(doubled(
            0.02, 1, [](double, double) { return true; }, 1)
            .fraction == 0);
}

TEST_CASE("Where both faces are there twice, each half has its own distance, the larger part first") {
  for (unsigned seed = 1; seed <= 3; ++seed) {
    Random random(seed);
    std::vector<Vec3> low, high;
    add_plate(low, noisy(0), random), add_plate(high, noisy(3), random);
    add_plate(low, noisy(0.13), random);
    add_plate(high, noisy(3.18), random, [](double x, double) { return x < 40; });
    const auto layers = all_close_layers(std::move(low), std::move(high));
    REQUIRE(layers.size() == 2);
    CHECK(layers[0].half == SecondLayer::Half::lower);
    CHECK(layers[0].distance == Approx(0.13).margin(0.03));
    CHECK(layers[1].half == SecondLayer::Half::upper);
    CHECK(layers[1].distance == Approx(0.18).margin(0.03));
    CHECK(layers[1].fraction < layers[0].fraction);
  }
}
