// Balls and datum features that were touched by name with a probe.
#include <catch2/catch.hpp>
#include <numeric>

#include "gapfront/error.hpp"
#include "gapfront/pose.hpp"
#include "support.hpp"

using namespace gapfront;
using namespace support;

namespace {

/// A ball touched on top and at `n` − 1 places round it, half way down, with errors along the normal.
std::vector<Vec3> touched(const Vec3& centre, double radius, int n, double noise, Random& random) {
  std::vector<Vec3> out{centre + Vec3(0, 0, radius + noise * random.gauss())};
  for (int k = 1; k < n; ++k) {
    const double a = 2 * M_PI * k / (n - 1), down = k % 2 ? 0.1 : 0.5;
    const Vec3 d(std::sqrt(1 - down * down) * std::cos(a), std::sqrt(1 - down * down) * std::sin(a), down);
    out.push_back(centre + (radius + noise * random.gauss()) * d);
  }
  return out;
}

/// A dish of 400 mm by 300 mm, touched every 20 mm, `rise` above z = 0; closed, the halves are 3 mm apart.
void add_face(Scan& scan, double rise) {
  for (double x = 10; x <= 390; x += 20)
    for (double y = 10; y <= 290; y += 20)
      scan.cloud.points.push_back({x, y, rise - 10 * std::exp(-(std::pow(x - 150, 2) + std::pow(y - 150, 2)) / 5000)});
}

void carry(Scan& scan, const Rigid& motion) {
  for (Vec3& p : scan.cloud.points) p = motion * p;
  for (ScanFeature& f : scan.features)
    for (Vec3& p : f.points) p = motion * p;
}

struct Halves {
  Scan lower, upper;
  Rigid closing = Rigid::Identity();  ///< the truth: upper scan → lower scan
};

/// Plane A at z = 0, line B along the flank y = 0 at heights as the hand has them, point C on the end x = 0; each half
/// in a pose of its own.
Halves datum_halves(double noise, Random& random, int plane = 5, int line = 4, int point = 2) {
  Halves h;
  const auto features = [&](double side) {
    ScanFeature a{"A", {}, {}}, b{"B", {}, {}}, c{"C", {}, {}};
    const Vec3 corners[] = {{20, 15, 0}, {380, 20, 0}, {370, 280, 0}, {30, 270, 0}, {200, 290, 0}};
    for (int k = 0; k < plane; ++k) a.points.push_back(corners[k] + Vec3(0, 0, noise * random.gauss()));
    for (int k = 0; k < line; ++k)
      b.points.push_back({30 + 340.0 * k / (line - 1), noise * random.gauss(), side * (5 + 10 * random.uniform())});
    for (int k = 0; k < point; ++k)
      c.points.push_back({noise * random.gauss(), 60 + 8.0 * k, side * (5 + 10 * random.uniform())});
    return std::vector{a, b, c};
  };
  add_face(h.lower, -5), add_face(h.upper, -2);
  h.lower.features = features(-1), h.upper.features = features(1);
  // Turned over, as it lies on the bench.
  const Rigid low = pose(120, -40, 300, 0.3, Vec3(0.1, 0.2, 1)), up = pose(900, 100, -50, M_PI, Vec3(1, 0.1, 0.05));
  carry(h.lower, low), carry(h.upper, up);
  h.closing = low * up.inverse();
  return h;
}

AlignOptions datum_options() {
  AlignOptions o;
  o.methods = {AlignMethod::datum};
  o.features = {{"A", DatumKind::plane}, {"B", DatumKind::line}, {"C", DatumKind::point}};
  o.touch_u = 0.01;
  return o;
}

/// Error of the closed position at a place of the lower half (its own frame), in the tool frame.
Vec3 error_at(const Alignment& a, const Halves& h, const Vec3& tool) {
  const Vec3 at = a.lower_to_tool.motion.inverse() * tool;
  return a.upper_to_tool.motion * (h.closing.inverse() * at) - tool;
}

}  // namespace

TEST_CASE("A touched ball's centre is that of the least-squares sphere, with the covariance that its points leave") {
  Random random(7);
  // 400 draws: the scatter of a centre is known to 1/√(2·400) = 3.5 %.
  const Vec3 centre(12, -30, 55);
  double square = 0, said = 0;
  for (int k = 0; k < 400; ++k) {
    const SphereFit fit = align::fit_touched_ball(touched(centre, 10, 7, 0.01, random), 10);
    REQUIRE(fit.used == 7);
    square += (fit.centre - centre).squaredNorm(), said += 1e-4 * fit.covariance.trace();
  }
  CHECK(std::sqrt(square / said) == Approx(1).margin(0.1));
  // Exact points give the exact centre, also with a free radius.
  const SphereFit free = align::fit_touched_ball(touched(centre, 10, 7, 0, random), 0);
  CHECK((free.centre - centre).norm() < 1e-9);
  CHECK(free.radius == Approx(10));
}

TEST_CASE("Points on one circle of a ball leave its centre open, and so do three") {
  Random random(8);
  std::vector<Vec3> ring;
  for (int k = 0; k < 8; ++k)
    ring.push_back({8 * std::cos(k * M_PI / 4), 8 * std::sin(k * M_PI / 4), 6 + 0.01 * random.gauss()});
  CHECK(align::fit_touched_ball(ring, 10).used == 0);
  CHECK(align::fit_touched_ball({ring[0], ring[2], ring[4]}, 10).used == 0);
}

TEST_CASE("What a feature's points lie on is seen from them") {
  Random random(9);
  using enum align::FeatureShape;
  CHECK(align::shape_of({{1, 2, 3}}) == point);
  CHECK(align::shape_of({{1, 2, 3}, {1.1, 2, 3}}) == point);
  CHECK(align::shape_of({{0, 0, 0}, {100, 0, 4}, {200, 0.02, -3}, {300, 0, 5}}) == line);
  CHECK(align::shape_of({{0, 0, 0}, {300, 0, 0.02}, {300, 200, 0}, {0, 200, -0.01}, {150, 90, 0}}) == plane);
  CHECK(align::shape_of(touched({5, 5, 5}, 10, 6, 0.01, random)) == ball);
}

TEST_CASE("Halves close on three balls that were touched by name, as well as their uncertainty says") {
  Random random(10);
  const Vec3 balls[] = {{-20, -20, 8}, {420, 0, 8}, {200, 320, 8}};
  const Rigid low = pose(50, 60, -20, 0.4, Vec3(0, 0.1, 1)), up = pose(700, 0, 90, 3, Vec3(1, 0.2, 0));
  double square = 0;
  const int draws = 120;
  for (int k = 0; k < draws; ++k) {
    Halves h;
    add_face(h.lower, -5), add_face(h.upper, -2);
    AlignOptions o;
    for (int b = 0; b < 3; ++b) {
      Target t;
      t.name = "S" + std::to_string(b), t.ball = 20, t.touched = true;
      o.targets.push_back(t);
      h.lower.features.push_back({t.name, touched(balls[b], 10, 8, 0.01, random), {}});
      h.upper.features.push_back({t.name, touched(balls[b], 10, 8, 0.01, random), {}});
    }
    carry(h.lower, low), carry(h.upper, up);
    h.closing = low * up.inverse();
    const Alignment a = align::register_halves(h.lower, h.upper, o, {});
    const Vec3 tool = low * Vec3(150, 150, -5), n = (low.linear() * Vec3::UnitZ());
    square += std::pow(error_at(a, h, tool).dot(n) / a.u_at(tool, n), 2) / draws;
    if (k == 0) CHECK(a.residuals[0].upper_points == 8);
  }
  // Mean square 1 if u is the standard deviation of what is drawn; its scatter over 120 draws is √(2/120) = 0.13. The u
  // from the scatter of 15 degrees of freedom carries ν/(ν − 2) = 1.15 on purpose: 0.87 on average.
  CHECK(square == Approx(0.87).margin(0.3));
}

TEST_CASE("A datum system of plane, line and point closes the halves, and its uncertainty is what draws scatter by") {
  Random random(11);
  // Far from the features' middles, along each axis: what is drawn over what is said. Mean square 1, scatter √(2/100) =
  // 0.14.
  Vec3 square = Vec3::Zero();
  const int draws = 100;
  for (int k = 0; k < draws; ++k) {
    const Halves h = datum_halves(0.01, random);
    const Alignment a = align::register_halves(h.lower, h.upper, datum_options(), {});
    const Vec3 tool(300, 200, -5), e = error_at(a, h, tool);
    for (int d = 0; d < 3; ++d) square[d] += std::pow(e[d] / a.u_at(tool, Vec3::Unit(d)), 2) / draws;
  }
  for (int d = 0; d < 3; ++d) CHECK(square[d] == Approx(1).margin(0.35));
}

TEST_CASE(
    "The tool frame of a datum system: Z towards the upper half, X from the end along the line; and a stand-off") {
  Random random(12);
  const Halves h = datum_halves(0, random);
  AlignOptions o = datum_options();
  const Alignment a = align::register_halves(h.lower, h.upper, o, {});
  for (int k = 0; k < 20; ++k) CHECK(error_at(a, h, {20.0 * k, 100, -3}).norm() < 1e-9);
  // The line leaves the end towards +X, the face lies at +Y, and the upper half above the lower: as they were made.
  const auto in_tool = [&](const std::string& name, std::size_t i) {
    for (const auto& f : h.lower.features)
      if (f.name == name) return Vec3(a.lower_to_tool.motion * f.points[i]);
    return Vec3(Vec3::Zero());
  };
  CHECK(std::abs(in_tool("A", 2).z()) < 1e-9);
  CHECK(std::abs(in_tool("B", 1).y()) < 1e-9);
  CHECK(std::abs(in_tool("C", 0).x()) < 1e-9);
  CHECK((in_tool("A", 2) - Vec3(370, 280, 0)).norm() < 1e-9);
  o.stand_off = 2;
  const Alignment apart = align::register_halves(h.lower, h.upper, o, {});
  CHECK((error_at(apart, h, {100, 100, 0}) - Vec3(0, 0, 2)).norm() < 1e-9);
}

TEST_CASE("What touched features leave open is refused with its name and what to touch") {
  Random random(13);
  const auto said = [&](const Halves& h, const AlignOptions& o) {
    try {
      align::register_halves(h.lower, h.upper, o, {});
    } catch (const Error& e) {
      return std::string(e.what());
    }
    return std::string("nothing");
  };
  Halves h = datum_halves(0.01, random);
  AlignOptions o = datum_options();
  o.features[1].name = "D";
  CHECK(says(said(h, o), "no point of the lower half is named \"D\" in a column feature (there are: A, B, C)"));
  o = datum_options();
  o.features.pop_back();
  CHECK(says(said(h, o), "takes one feature of each kind"));
  // Three, two and one are enough where it is declared how well a point is touched, and not where it is not.
  h = datum_halves(0.01, random, 3, 2, 1);
  o = datum_options();
  CHECK(said(h, o) == "nothing");
  o.touch_u.reset();
  CHECK(says(said(h, o), "give touch_u"));
  h = datum_halves(0.01, random);
  h.upper.features[2].points = {h.upper.features[1].points[0] * 0.5 + h.upper.features[1].points[3] * 0.5};
  CHECK(says(said(h, datum_options()), "feature C of the upper half: it lies by the middle of line B"));
  // Ten times worse than declared: counted as it is, and said.
  h = datum_halves(0.1, random);
  const Alignment a = align::register_halves(h.lower, h.upper, datum_options(), {});
  CHECK(says(a.warnings, "more than touch_u"));
  CHECK(a.u_at({200, 150, 0}, Vec3::UnitZ()) > 0.03);
}
