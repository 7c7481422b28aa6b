// Balls of unknown diameter on an invented plate.
#include <catch2/catch.hpp>
#include <cmath>

#include "gapfront/balls.hpp"
#include "support.hpp"

using namespace gapfront;

namespace {

struct Placed {
  double x, y, diameter;
};

double usual(double measured, double u) {
  FoundBall ball;
  ball.measured = measured, ball.u = u;
  return align::usual_diameter(ball);
}

/// A plate with a dish of 12 mm fillets and balls that stand 1.5 mm deep in it, scanned at `spacing`.
std::vector<Vec3> plate_with(const std::vector<Placed>& balls, double spacing, double noise, unsigned seed) {
  support::Random random(seed);
  std::vector<Vec3> out;
  const auto clear = [&](double x, double y) {
    for (const Placed& b : balls)
      if (std::hypot(x - b.x, y - b.y) < b.diameter / 2) return false;
    return true;
  };
  for (double x = -150; x <= 150; x += spacing)
    for (double y = -100; y <= 100; y += spacing) {
      const double px = x + 0.3 * spacing * (random.uniform() - 0.5), py = y + 0.3 * spacing * (random.uniform() - 0.5);
      const double s = std::min(12.0, std::max(0.0, 60 - std::hypot(px, py)));  // a round fillet, then flat
      if (clear(px, py)) out.emplace_back(px, py, -(12 - std::sqrt(144 - s * s)) + noise * random.gauss());
    }
  for (const Placed& b : balls) {
    const double r = b.diameter / 2, step = 0.6 * spacing / r;
    for (double t = 0; t < M_PI / 2; t += step)
      for (double a = 0; a < 2 * M_PI; a += step / std::max(std::sin(t), step)) {
        const Vec3 n(std::sin(t) * std::cos(a), std::sin(t) * std::sin(a), std::cos(t));
        out.push_back(Vec3(b.x, b.y, r - 1.5) + (r + noise * random.gauss()) * n);
      }
  }
  return out;
}

const std::vector<Placed> kPlateBalls{{-120, -80, 20}, {90, -85, 20}, {130, 40, 20}, {-60, 85, 20}, {40, 80, 12.7}};

}  // namespace

TEST_CASE("Balls are found without a diameter, each with its own, and nothing else is") {
  const auto found = align::search_balls(plate_with(kPlateBalls, 1.2, 0.015, 3), {.spacing = 1.2, .noise = 0.015});
  REQUIRE(found.size() == kPlateBalls.size());
  for (const Placed& b : kPlateBalls) {
    const Vec3 centre(b.x, b.y, b.diameter / 2 - 1.5);
    double nearest = 1e9, diameter = 0;
    for (const FoundBall& f : found)
      if ((f.centre.at - centre).norm() < nearest) nearest = (f.centre.at - centre).norm(), diameter = f.diameter;
    CHECK(nearest < 0.02);
    CHECK(diameter == b.diameter);  // rounded to a usual size: 20 mm and half an inch
  }
}

TEST_CASE("A plate without balls has none") {
  CHECK(align::search_balls(plate_with({}, 1.2, 0.015, 4), {.spacing = 1.2, .noise = 0.015}).empty());
}

TEST_CASE("A diameter is rounded only within its uncertainty") {
  CHECK(usual(20.004, 0.006) == 20);
  CHECK(usual(25.39, 0.006) == 25.4);
  CHECK(usual(19.06, 0.006) == Approx(19.05));
  CHECK(usual(20.3, 0.006) == 20.3);
}

TEST_CASE("Balls of two scans are matched by size and pattern and named, and a pattern that repeats names none") {
  support::Random random(8);
  const Rigid pose = support::pose(200, -30, 90, 1.0, random.vector());
  std::vector<FoundBall> lower, upper;
  for (const Placed& b : kPlateBalls) {
    FoundBall f;
    f.centre = {Vec3(b.x, b.y, b.diameter / 2)}, f.measured = f.diameter = b.diameter, f.points = 500;
    lower.push_back(f);
    f.centre = {pose * f.centre.at};
    upper.insert(upper.begin(), f);
  }
  const BallPairs pairs = align::pair_balls(lower, upper);
  REQUIRE(pairs.targets.size() == 4);  // the single half-inch ball has no two others of its size
  CHECK(pairs.ways == 1);
  for (std::size_t k = 0; k < 4; ++k) {
    CHECK(pairs.targets[k].name == "B" + std::to_string(k + 1));
    CHECK((pose * pairs.targets[k].lower->at - pairs.targets[k].upper->at).norm() < 1e-9);
  }
  std::vector<FoundBall> square;
  for (const auto& [x, y] : {std::pair{0.0, 0.0}, {100.0, 0.0}, {100.0, 100.0}, {0.0, 100.0}}) {
    FoundBall f;
    f.centre = {Vec3(x, y, 0)}, f.measured = f.diameter = 20, f.points = 500;
    square.push_back(f);
  }
  const BallPairs repeats = align::pair_balls(square, square);
  CHECK(repeats.targets.empty());
  CHECK(repeats.ways > 1);
}
