// Steps between the passes of a scan: seen where they are, and nowhere else. GAPFRONT_LONG_ERRORS=10 counts over more
// scans.
#include "gapfront/steps.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <functional>

#include "../random.hpp"
#include "../shared_errors.hpp"

using namespace gapfront;

namespace {

using Face = std::function<double(double, double)>;

int faces_drawn() {
  const char* n = std::getenv("GAPFRONT_LONG_ERRORS");
  return n ? std::atoi(n) : 1;
}

double bowl(double x, double y) { return (x * x + y * y) / 1200; }
double flat(double, double) { return 0; }

struct Stepped {
  Vec3 across = Vec3::UnitX();
  std::vector<double> at, jump;  // mm along `across`, and what the face rises by there
  double of(const Vec3& p) const {
    double out = 0;
    for (std::size_t k = 0; k < at.size(); ++k) out += across.dot(p) > at[k] ? jump[k] : 0;
    return out;
  }
};

/// 300 mm by 200 mm, the points strewn by a sixth of the spacing.
std::vector<Vec3> scan_of(const Face& face, const Stepped& steps, double spacing, double noise, support::Random& random,
                          const support::SharedErrors* shared = nullptr) {
  std::vector<Vec3> out;
  for (double x = -150; x <= 150; x += spacing)
    for (double y = -100; y <= 100; y += spacing) {
      Vec3 p(x + spacing / 6 * random.gauss(), y + spacing / 6 * random.gauss(), 0);
      p.z() = face(p.x(), p.y()) + noise * random.gauss() + steps.of(p) + (shared ? shared->at(p) : 0);
      out.push_back(p);
    }
  return out;
}

}  // namespace

TEST_CASE("A step across a bowl is told, with its size and its place") {
  support::Random random(31);
  for (int k = 0; k < faces_drawn(); ++k) {
    const double angle = random.uniform(0, M_PI), at = random.uniform(-40, 40);
    const Stepped step{Vec3(std::cos(angle), std::sin(angle), 0), {at}, {0.025}};
    const StepsSeen seen = scan::find_steps(scan_of(bowl, step, 2, 0.01, random), 2);
    CAPTURE(k, angle, at);
    REQUIRE(seen.lines == 1);
    CHECK(seen.rms == Approx(0.025).epsilon(0.2));
    CHECK(seen.largest == Approx(seen.rms).epsilon(0.05));
    CHECK(std::abs(step.across.dot(seen.at.at) - at) < 6);
    CHECK(seen.length > 150);
  }
}

TEST_CASE("Steps are told beside a fillet, which is none") {
  support::Random random(32);
  const Face fillet = [](double x, double) {
    const double t = std::abs(x) - 80;
    return t < 0 ? 0.0 : t < 15 ? 30 - std::sqrt(900 - t * t) : 30 - std::sqrt(675.0) + (t - 15) / std::sqrt(3.0);
  };
  CHECK(scan::find_steps(scan_of(fillet, {}, 2, 0.01, random), 2).lines == 0);
  const Stepped steps{Vec3(0.5, std::sqrt(0.75), 0), {-30, 45}, {0.02, -0.03}};
  const StepsSeen seen = scan::find_steps(scan_of(fillet, steps, 2, 0.01, random), 2);
  CHECK(seen.lines >= 1);
  CHECK(seen.rms == Approx(0.025).margin(0.008));
}

TEST_CASE("No step is seen where none is") {
  support::Random random(33);
  const Face faces[] = {flat, bowl, [](double x, double y) { return 8 * std::sin(x / 40) * std::cos(y / 55); },
                        [](double x, double) { return x < 10 ? 0.0 : 300 - std::sqrt(90000 - (x - 10) * (x - 10)); },
                        [](double x, double y) { return 0.004 * std::abs(x + 0.2 * y - 20); }};
  int alarms = 0;
  for (int k = 0; k < faces_drawn(); ++k)
    for (const Face& face : faces) {
      const support::SharedErrors shared(0.01, 6, random);
      const double noise = random.uniform(0.005, 0.02);
      alarms += scan::find_steps(scan_of(face, {}, 3, noise, random), 3).lines > 0;
      alarms += scan::find_steps(scan_of(face, {}, 3, 0.005, random, &shared), 3).lines > 0;
    }
  CHECK(alarms == 0);
}

TEST_CASE("Too few points show no step") {
  CHECK(scan::find_steps({}, 1).lines == 0);
  CHECK(scan::find_steps({Vec3::Zero(), Vec3::UnitX(), Vec3::UnitY()}, 1).lines == 0);
  CHECK(scan::find_steps(std::vector<Vec3>(50, Vec3::UnitX()), 1).lines == 0);
  std::vector<Vec3> line;
  for (int k = 0; k < 500; ++k) line.push_back(Vec3(0.5 * k, 0, 0));
  CHECK(scan::find_steps(line, 1).lines == 0);
}

TEST_CASE("Steps that are seen count where they are more than what is declared") {
  StepsSeen seen;
  seen.lines = 2, seen.rms = 0.02, seen.length = 400, seen.area = 60000;
  // As the bound of a rectangular distribution with that mean square; the width by what two lines leave of the area.
  const InstrumentModel m = scan::with_steps({}, seen, 600);
  CHECK(m.step == Approx(0.02 * std::sqrt(3.0)));
  CHECK(m.width == Approx(150));
  CHECK(scan::with_steps({}, seen, 300).width == Approx(100));  // a third of the scan at most
  InstrumentModel declared;
  declared.step = 0.05, declared.width = 90;
  CHECK(scan::with_steps(declared, seen, 600).step == 0.05);
  CHECK(scan::with_steps(declared, seen, 600).width == 90);
  // Mean square 3.7 times that of the bound: with two lines chance (chi-square, 1 in 740: 6.6), with six not (3.6).
  declared.step = 0.018;
  CHECK(scan::with_steps(declared, seen, 600).step == 0.018);
  seen.lines = 6;
  CHECK(scan::with_steps(declared, seen, 600).step == Approx(0.02 * std::sqrt(3.0)));
  CHECK(scan::with_steps({}, StepsSeen(), 600).step == 0);
  seen.rms = 0.001;  // rounded coordinates
  CHECK(scan::with_steps({}, seen, 600).step == 0);
}
