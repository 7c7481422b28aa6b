// The flange as a method: lands with high spots, stand-off, tilt, agreement with targets, and what it claims.
#include <Eigen/LU>
#include <catch2/catch.hpp>
#include <functional>

#include "align/contact.hpp"
#include "core/rigid_motion.hpp"
#include "gapfront/error.hpp"
#include "support.hpp"

using namespace gapfront;
using namespace support;

namespace {

using Height = std::function<double(double x, double y)>;
double flat(double, double) { return 0; }

/// A frame of lands 30 mm wide about a hole of 340 × 240 mm, and in it a face `deep` apart from the other half's.
std::vector<Vec3> land_points(const Height& height, double spacing, double noise, Random& random, double face) {
  std::vector<Vec3> out;
  for (double x = -200; x <= 200; x += spacing)
    for (double y = -150; y <= 150; y += spacing) {
      const double px = x + 0.3 * spacing * (random.uniform() - 0.5), py = y + 0.3 * spacing * (random.uniform() - 0.5);
      const bool land = std::abs(px) > 170 || std::abs(py) > 120;
      if (!land && random.uniform() > 0.1) continue;  // the face only says on which side the cavity is
      out.emplace_back(px, py, (land ? height(px, py) : face) + noise * random.gauss());
    }
  return out;
}

/// The frame as one polygon, cut open at the left.
Region frame_region() {
  Region r;
  r.polygon = {{-201, -151, 0}, {201, -151, 0}, {201, 151, 0},  {-201, 151, 0},  {-201, 0.001, 0}, {-172, 0.001, 0},
               {-172, 122, 0},  {172, 122, 0},  {172, -122, 0}, {-172, -122, 0}, {-172, 0, 0},     {-201, 0, 0}};
  return r;
}

/// Both halves in the tool frame; the upper one carried off its rest by `off`.
struct Pair2 {
  Scan lower, upper;
  AlignOptions options;
};

Pair2 made(const Height& lower, const Height& upper, double noise, unsigned seed, const Rigid& off,
           double spacing = 2) {
  Pair2 p;
  Random random(seed);
  p.lower.cloud.points = land_points(lower, spacing, noise, random, -20);
  for (const Vec3& x : land_points(upper, spacing, noise, random, -17)) p.upper.cloud.points.push_back(off * x);
  p.options.methods = {AlignMethod::given, AlignMethod::flange};
  p.options.flange = {frame_region()};
  return p;
}

Alignment run(const Pair2& p) {
  return align::register_halves(p.lower, p.upper, p.options, {.lower = 0.02, .upper = 0.02});
}

/// Height of the upper half's plane z = 0 over places, as registered.
double height_at(const Alignment& a, const Rigid& off, double x, double y) {
  return (a.upper_to_tool.motion * off * Vec3(x, y, 0)).z();
}

/// Targets that know the upper half's pose `off`, lifted by `wrong` mm along Z.
void add_targets(AlignOptions& o, const Rigid& off, double sigma, double wrong, Random& random) {
  const std::vector<Vec3> at{{-185, -135, 0}, {185, -135, 5}, {185, 135, 0}, {-185, 135, 8}, {0, 140, 30}};
  for (std::size_t i = 0; i < at.size(); ++i) {
    o.targets.push_back(point_target("B" + std::to_string(i + 1), at[i] + sigma * random.vector(),
                                     off * (at[i] - Vec3(0, 0, wrong)) + sigma * random.vector()));
    o.targets.back().u = sigma;
  }
}

const Rigid kOff = small_motion((Vector6() << 0, 0, 0.7, 2e-3, -1e-3, 0).finished(), Vec3::Zero());

/// Raised by h over 60 mm along X and the land's whole width, about (x, y).
double pad(double px, double py, double x, double y, double h) {
  return std::abs(px - x) < 30 && std::abs(py - y) < 35 ? h : 0;
}

}  // namespace

TEST_CASE("A table set down on three uneven stones rests on the plane through them") {
  // Rows (1, y, −x) of sinking and turns about X and Y at size 1; stones at clearance −h. Closed form: the plane
  // through the three highest, checked by what is left at each.
  std::vector<align::ContactPlace> places;
  for (int i = -10; i <= 10; ++i)
    for (int j = -10; j <= 10; ++j) {
      const double x = i / 10.0, y = j / 10.0;
      const bool stone = (i == -8 && j == -8) || (i == 8 && j == -8) || (i == 0 && j == 9);
      places.push_back({Vec3(1, y, -x), stone ? -0.5 - 0.1 * i / 8.0 : 0.0, 1e-6});
    }
  const align::ContactFit fit = align::set_down(places, 0.1);
  CHECK(fit.carrying.size() == 3);
  CHECK(fit.rock == 0);
  for (const align::ContactPlace& p : places) CHECK(p.clearance + p.row.dot(fit.motion) > -1e-5);
  for (int i : fit.carrying) CHECK(std::abs(places[i].clearance + places[i].row.dot(fit.motion)) < 1e-5);
}

TEST_CASE("Even lands are brought into contact from a tilted and lifted pose") {
  // About 9600 land points of 20 um in each half: the mean is known to 0.02·√2/√9600 = 0.29 um, a corner to √3 of it or
  // somewhat more, as cells at the edge with few points go unused. Four sigma of what is claimed.
  const Alignment a = run(made(flat, flat, 0.02, 1, kOff));
  for (double x : {-190, 190})
    for (double y : {-140, 140}) {
      CHECK(a.u_at(Vec3(x, y, 0), Vec3::UnitZ()) < 0.001);
      CHECK(std::abs(height_at(a, kOff, x, y)) < 4 * a.u_at(Vec3(x, y, 0), Vec3::UnitZ()));
    }
  REQUIRE(a.flange);
  CHECK(a.flange->carrying > 0.95 * a.flange->places);
  CHECK(says(a.method, "given + flange"));
}

TEST_CASE("The declared stand-off is kept between the lands") {
  Pair2 p = made(flat, flat, 0.02, 2, kOff);
  p.options.stand_off = 3;
  const Alignment a = run(p);
  for (double x : {-190, 190})
    for (double y : {-140, 140}) CHECK(height_at(a, kOff, x, y) == Approx(3).margin(0.002));
}

TEST_CASE("The high spots carry, and the lands between them stay open") {
  // Three pads of 0.1 mm: the upper land lies in the plane z = 0.1, 0.1 mm clear of everything else. A pad holds
  // at least 400 points: 0.02·√(2/400) = 1.4 um for its mean; a mean over all lands would
  // say 0.015. The pads cover 2·(45·30 + 30·20) + 60·30 = 5700 of 38400 mm², so the lands are open by 0.0852 on
  // average.
  const Height pads = [](double x, double y) {
    return pad(x, y, -185, -135, 0.1) + pad(x, y, 185, -135, 0.1) + pad(x, y, 0, 135, 0.1);
  };
  const Alignment a = run(made(pads, flat, 0.02, 3, kOff));
  CHECK(height_at(a, kOff, -185, -135) == Approx(0.1).margin(0.006));
  CHECK(height_at(a, kOff, 185, -135) == Approx(0.1).margin(0.006));
  CHECK(height_at(a, kOff, 0, 135) == Approx(0.1).margin(0.006));
  REQUIRE(a.flange);
  CHECK(a.flange->carrying < 0.148 * a.flange->places);
  CHECK(a.flange->mean_open == Approx(0.0852).margin(0.003));
  CHECK(a.flange->rock == 0);
}

TEST_CASE("A high corner tilts the upper half as the plane over its carrying places says") {
  // Three pads whose tops lie in one plane, 0.5 mm high at (−185, −135), 0.2 at (185, −135) and (0, 135); closed form:
  // the upper land takes that plane. Level tops would carry on their edges.
  const Height pads = [](double x, double y) {
    const double plane = 0.275 - 0.3 * x / 370 - 0.15 * y / 270;
    return (pad(x, y, -185, -135, 1) + pad(x, y, 185, -135, 1) + pad(x, y, 0, 135, 1)) * plane;
  };
  const Alignment a = run(made(pads, flat, 0.02, 4, kOff, 1.5));
  CHECK(height_at(a, kOff, -185, -135) == Approx(0.5).margin(0.006));
  CHECK(height_at(a, kOff, 185, -135) == Approx(0.2).margin(0.006));
  CHECK(height_at(a, kOff, 0, 135) == Approx(0.2).margin(0.006));
}

TEST_CASE("Single stray points under the upper land do not lift it") {
  Pair2 p = made(flat, flat, 0.02, 6, kOff);
  Random random(66);
  for (std::size_t i = 0; i < p.lower.cloud.points.size(); i += 97)
    p.lower.cloud.points[i].z() += 0.3 + 0.5 * random.uniform();
  const Alignment a = run(p);
  for (double x : {-190, 190})
    for (double y : {-140, 140}) CHECK(std::abs(height_at(a, kOff, x, y)) < 0.003);
}

TEST_CASE("Targets and flange that agree are combined, and both make the result better") {
  Random random(7);
  Pair2 p = made(flat, flat, 0.02, 7, kOff);
  add_targets(p.options, kOff, 0.01, 0, random);
  p.options.methods = {AlignMethod::targets};
  const Alignment alone = run(p);
  p.options.methods = {AlignMethod::targets, AlignMethod::flange};
  const Alignment both = run(p);
  CHECK_FALSE(says(both.warnings, "disagree"));
  for (double x : {-190, 190}) {
    CHECK(std::abs(height_at(both, kOff, x, 140)) < 0.003);
    CHECK(both.u_at(Vec3(x, 140, 0), Vec3::UnitZ()) < 0.3 * alone.u_at(Vec3(x, 140, 0), Vec3::UnitZ()));
    // Level lands say nothing about the plane they lie in.
    CHECK(both.u_at(Vec3(x, 140, 0), Vec3::UnitX()) ==
          Approx(alone.u_at(Vec3(x, 140, 0), Vec3::UnitX())).epsilon(0.01));
  }
  CHECK(says(both.method, "targets + flange"));
  REQUIRE(both.methods.size() == 2);
  CHECK(both.dof == 3);  // sinking and two tilts are known twice
}

TEST_CASE("A disagreement of 0.2 mm between targets and flange is named and carried in the uncertainty") {
  Random random(8);
  Pair2 p = made(flat, flat, 0.02, 8, kOff);
  add_targets(p.options, kOff, 0.01, 0.2, random);  // the targets put the upper half 0.2 mm high
  p.options.methods = {AlignMethod::targets, AlignMethod::flange};
  const Alignment a = run(p);
  CHECK(says(a.warnings, "disagree by up to 0."));
  // Where each alone would put the upper half: their sum is the planted 0.2 mm, more at a corner by the targets' tilt.
  CHECK(a.methods[0].moved + a.methods[1].moved == Approx(0.2).margin(0.03));
  CHECK(a.u_at(Vec3(0, 0, 0), Vec3::UnitZ()) > 0.08);
}

TEST_CASE("The flange with targets for the plane only takes height and tilt from the lands") {
  Random random(9);
  Pair2 p = made(flat, flat, 0.02, 9, kOff);
  add_targets(p.options, kOff, 0.01, 0.2, random);
  p.options.methods = {AlignMethod::flange};
  const Alignment a = run(p);
  CHECK(std::abs(height_at(a, kOff, 190, 140)) < 0.002);
  CHECK(a.u_at(Vec3(0, 0, 0), Vec3::UnitX()) > 0.004);  // of the targets: 0.01·√2/√5 = 6.3 um
}

TEST_CASE("Over 300 draws sinking and tilts scatter as the flange claims") {
  // NEES with 3 degrees of freedom: the mean of n draws lies within 3 ± 2.576·√(6/n) in 99 % of such tests.
  const Height pads = [](double x, double y) {
    return pad(x, y, -185, -135, 0.3) + pad(x, y, 185, -135, 0.3) + pad(x, y, 0, 135, 0.3);
  };
  const Height shapes[] = {flat, pads};
  for (int kind = 0; kind < 2; ++kind) {
    const int draws = 300;
    double mean = 0;
    for (int k = 0; k < draws; ++k) {
      const Alignment a = run(made(shapes[kind], flat, 0.02, 1000 + k, kOff, kind ? 3 : 4));
      const Rigid truth = Rigid(Eigen::Translation3d(0, 0, kind ? 0.3 : 0)) * kOff.inverse();
      const Vector6 e = motion_about(a.upper_to_tool.motion * truth.inverse(), a.pivot);
      const Vec3 out(e(2), e(3), e(4));
      Eigen::Matrix3d c;
      const int at[] = {2, 3, 4};
      for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j) c(i, j) = a.covariance(at[i], at[j]);
      mean += out.dot(c.inverse() * out) / draws;
    }
    INFO((kind ? "three pads" : "even lands") << ": mean NEES " << mean);
    CHECK(mean > 3 - 2.576 * std::sqrt(6.0 / draws));
    CHECK(mean < 3 + 2.576 * std::sqrt(6.0 / draws));
  }
}

TEST_CASE("The flange without lands, without location in the plane, or along one line is refused in words") {
  const auto fault = [](const Pair2& p) -> std::string {
    try {
      run(p);
    } catch (const Error& e) {
      return e.what();
    }
    return "no error";
  };
  Pair2 p = made(flat, flat, 0.02, 10, kOff);
  p.options.methods = {AlignMethod::flange};
  for (auto* half : {&p.lower, &p.upper})  // a cavity with a slope of 45°: sliding along it changes the gap
    for (Vec3& x : half->cloud.points)
      if (std::abs(x.x()) < 165 && std::abs(x.y()) < 115) x.z() += 0.5 * std::abs(x.x());
  CHECK(fault(p).find("free to slide along its plane") != std::string::npos);
  p.options.methods = {AlignMethod::given, AlignMethod::flange};
  p.options.flange = {
      Region{.polygon = {{-190, 141, 0}, {190, 141, 0}, {190, 147, 0}, {-190, 147, 0}}, .box = {}, .path = {}}};
  CHECK(fault(p).find("free to turn about the line through") != std::string::npos);
}

TEST_CASE("An upper half on one high corner rocks: it is said, with the place, and both rests are within U") {
  // One spot of 26 mm, 0.3 mm high, at A = (−185, −135). Closed form: with the load centred, the body turns about the
  // line from A to the opposite corner C = (200, 150) and ends on B = (200, −150) or on D = (−200, 150). Resting on B
  // it stands at D as high as A + C − B of the plane through A (0.3), B (0), C (0): about 0.3 mm; resting on D, at B
  // the same.
  const Height high = [](double x, double y) { return std::max(std::abs(x + 187), std::abs(y + 137)) < 13 ? 0.3 : 0; };
  const Alignment a = run(made(high, flat, 0.02, 11, kOff, 1.2));
  REQUIRE(a.flange);
  CHECK(a.flange->rock == Approx(0.3).margin(0.06));
  CHECK(std::abs(a.flange->rock_at.x() * a.flange->rock_at.y() + 200 * 150) < 0.4 * 200 * 150);  // at B or D
  CHECK(says(a.warnings, "rocks about the high places"));
  for (const Vec3& corner : {Vec3(190, -140, 0), Vec3(-190, 140, 0)}) {
    const double u = a.u_at(corner, Vec3::UnitZ()), z = height_at(a, kOff, corner.x(), corner.y());
    INFO("at " << corner.transpose() << ": " << z << " ± " << u << ", rock " << a.flange->rock);
    CHECK(z - 2 * u < 0.01);
    CHECK(z + 2 * u > 0.27);
    CHECK(u > 0.05);
    CHECK(u < 0.25);
  }
}

TEST_CASE("Lands that lie beside the load are refused, because the upper half would tip over them") {
  std::vector<align::ContactPlace> places;
  for (int i = 0; i < 30; ++i) places.push_back({Vec3(1, 0.01 * i, -0.3 + 0.02 * (i % 7)), i < 20 ? 0.5 : 0.0, 0.01});
  for (align::ContactPlace& p : places) p.row.y() -= 1;  // every land on one side, and the load is their mean: held
  CHECK_FALSE(align::set_down(places, 0.01).tips);
  CHECK(align::set_down(places, 5).tips);  // five sizes away from all of them
}

TEST_CASE("Without a region the lands are found where the halves come near each other") {
  Random random(12);
  Pair2 p = made(flat, flat, 0.02, 12, kOff);
  add_targets(p.options, kOff, 0.01, 0, random);
  p.options.methods = {AlignMethod::targets, AlignMethod::flange};
  p.options.flange.clear();
  const Alignment a = run(p);
  REQUIRE(a.flange);
  CHECK(a.flange->carrying > 0.9 * a.flange->places);
  for (double x : {-190, 190}) CHECK(std::abs(height_at(a, kOff, x, 140)) < 0.003);
}

TEST_CASE("With a stand-off the lands must be given, for the cavity might be taken for them") {
  Pair2 p = made(flat, flat, 0.02, 12, kOff);
  p.options.flange.clear();
  p.options.stand_off = 3;
  CHECK_THROWS_WITH(run(p), Catch::Contains("cannot be told from the cavity"));
}

TEST_CASE("On a flat cavity the flange alone is enough, with its location in the plane as declared") {
  Pair2 p = made(flat, flat, 0.02, 13, kOff);
  p.options.methods = {AlignMethod::flange};
  p.options.in_plane_u = 0.3;
  const Alignment a = run(p);
  CHECK(std::abs(height_at(a, kOff, 190, 140)) < 0.003);
  CHECK(a.u_at(Vec3(0, 0, 0), Vec3::UnitX()) == Approx(0.3).epsilon(0.05));
  CHECK(says(a.method, "location in the plane, as declared + flange"));
  CHECK(says(gapfront::say(a.method, {gapfront::UnitSystem::mm, "de"}), "Lage in der Ebene der Anlageflächen"));
}

TEST_CASE("A bulge of 0.3 mm over the whole cavity survives registration by the flange to 0.01 mm") {
  // The face of the upper half is 0.3 mm farther away everywhere; its lands are true. Registering on the faces would
  // have put the halves 0.3 mm nearer.
  Pair2 p = made(flat, flat, 0.02, 14, kOff);
  const Rigid back = kOff.inverse();
  for (Vec3& x : p.upper.cloud.points) {
    Vec3 y = back * x;
    if (std::abs(y.x()) <= 170 && std::abs(y.y()) <= 120) y.z() += 0.3;
    x = kOff * y;
  }
  const Alignment a = run(p);
  double face = 0, count = 0;
  for (const Vec3& x : p.upper.cloud.points)
    if (const Vec3 y = a.upper_to_tool.motion * x; std::abs(y.x()) < 165 && std::abs(y.y()) < 115)
      face += y.z(), ++count;
  CHECK(face / count == Approx(-17 + 0.3).margin(0.01));
}
