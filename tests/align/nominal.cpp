// Halves registered on their nominal surfaces.
#include <catch2/catch.hpp>

#include "dish.hpp"
#include "gapfront/error.hpp"

using namespace gapfront;
using namespace support;

namespace {

/// Two halves in poses of their own, 3 mm apart when closed, the upper one with a bulge of 0.3 mm over its middle.
struct Tool {
  Scan lower, upper;
  AlignOptions options;
  Rigid lower_pose, upper_pose;
};

double bulge(double x, double y) {
  const double r2 = std::pow(x / 70, 2) + std::pow(y / 45, 2);
  return r2 < 1 ? 0.3 * (1 - r2) * (1 - r2) : 0;
}

Tool made(Shape shape, unsigned seed) {
  Tool t;
  Random random(seed);
  t.lower_pose = any_pose(random), t.upper_pose = any_pose(random);
  t.lower.cloud.points = moved(scanned(shape, 1.5, 0.02, 120, random), t.lower_pose);
  auto upper = scanned(shape, 1.5, 0.02, 120, random);
  for (Vec3& p : upper) p.z() += 3 + bulge(p.x(), p.y());
  t.upper.cloud.points = moved(upper, t.upper_pose);
  Mesh mesh = meshed(shape, 1);
  t.options.nominal_lower = mesh;
  for (Vec3& p : mesh.points) p.z() += 3;
  t.options.nominal_upper = mesh;
  t.options.methods = {AlignMethod::nominal};
  // The rim: four strips around the bulge.
  for (double s : {-1.0, 1.0}) {
    t.options.datum.push_back(Region{
        .polygon = {{s * 75, -81, 0}, {s * 121, -81, 0}, {s * 121, 81, 0}, {s * 75, 81, 0}}, .box = {}, .path = {}});
    t.options.datum.push_back(Region{
        .polygon = {{-75, s * 50, 0}, {75, s * 50, 0}, {75, s * 81, 0}, {-75, s * 81, 0}}, .box = {}, .path = {}});
  }
  return t;
}

/// Where the registered upper half puts its true point over (x, y), less where it belongs.
Vec3 shift_at(const Tool& t, const Alignment& a, Shape shape, double x, double y) {
  const Vec3 truth(x, y, shape(x, y) + 3);
  return a.upper_to_tool.motion * (t.upper_pose * truth) - truth;
}

std::string fault_of(const Tool& t) {
  try {
    align::register_halves(t.lower, t.upper, t.options, {.lower = 0.02, .upper = 0.02});
  } catch (const Error& e) {
    return e.what();
  }
  return "no error";
}

}  // namespace

TEST_CASE("Registered on nominal datum faces from any pose, a bulge between them stays in the gap") {
  const Tool t = made(dish, 31);
  const Alignment a = align::register_halves(t.lower, t.upper, t.options, {.lower = 0.02, .upper = 0.02});
  for (double x : {-100, 0, 100})
    for (double y : {-60, 0, 60}) {
      const Vec3 shift = shift_at(t, a, dish, x, y);
      INFO("at " << x << ", " << y << ": " << shift.transpose() << ", u " << a.u_at(Vec3(x, y, 0), Vec3::UnitZ()));
      CHECK(std::abs(shift.z()) < 0.01);
      CHECK(std::abs(shift.z()) < 4 * a.u_at(Vec3(x, y, 0), Vec3::UnitZ()) + 0.002);
    }
  REQUIRE(a.nominal.size() == 2);
  CHECK(a.nominal[0].second_score < 0.7 * a.nominal[0].score);
}

TEST_CASE("The closed position answers to bent scans as its supports say") {
  Tool t = made(dish, 38);
  t.options.lower_errors.fields = {{0.02, 150}}, t.options.upper_errors.fields = {{0.02, 150}};
  const auto found = [&] {
    return align::register_halves(t.lower, t.upper, t.options, {.lower = 0.02, .upper = 0.02});
  };
  const Alignment straight = found();
  const auto bend = [](const Vec3& p) -> Vec3 {
    return 0.02 * Vec3(std::sin(p.y() / 60), std::cos(p.x() / 50), std::sin(p.x() / 70 + p.y() / 90));
  };
  for (Vec3& p : t.upper.cloud.points)
    p = t.upper_pose * (t.upper_pose.inverse() * p + bend(t.upper_pose.inverse() * p));
  for (Vec3& p : t.lower.cloud.points)
    p = t.lower_pose * (t.lower_pose.inverse() * p - bend(t.lower_pose.inverse() * p));
  const Alignment bent = found();

  Vector6 told = Vector6::Zero();
  for (const Support& s : straight.supports) told += s.response * 2 * bend(s.at);
  const auto middle_of = [&](const Alignment& a, const Vec3& at) {  // of the upper half against the lower one
    return Vec3(a.upper_to_tool.motion * (t.upper_pose * at) - a.lower_to_tool.motion * (t.lower_pose * at));
  };
  double most = 0, off = 0;
  for (double x : {-100, 0, 100})
    for (double y : {-60, 0, 60}) {
      const Vec3 at(x, y, dish(x, y)), moved = middle_of(bent, at) - middle_of(straight, at);
      const Vec3 expected = told.head<3>() + told.tail<3>().cross(at - straight.pivot);
      most = std::max(most, moved.norm()), off = std::max(off, (moved - expected).norm());
    }
  INFO("moved by up to " << most << " mm, off by up to " << off << " mm, " << straight.supports.size() << " supports");
  CHECK(most > 0.02);
  CHECK(off < 0.1 * most);
}

TEST_CASE("Fitted on the whole cavity instead, the bulge moves the half and a warning says so") {
  Tool t = made(dish, 32);
  t.options.fit_on_cavity = true;
  t.options.datum.clear();
  // A bulge over everything cannot be told from a closer half at all.
  for (Vec3& p : t.upper.cloud.points) {
    const Vec3 q = t.upper_pose.inverse() * p;
    p = t.upper_pose * (q + Vec3(0, 0, 0.3 - bulge(q.x(), q.y())));
  }
  const Alignment a = align::register_halves(t.lower, t.upper, t.options, {.lower = 0.02, .upper = 0.02});
  CHECK(shift_at(t, a, dish, 0, 0).z() == Approx(-0.3).margin(0.02));
  CHECK(says(a.warnings, "fitted on the cavity face itself"));
}

TEST_CASE("A tool that looks the same after half a turn is refused, and a target resolves it") {
  Tool t = made(twofold, 33);
  CHECK(says(fault_of(t), "poses alike"));
  Target mark;
  mark.name = "mark";
  const Vec3 at(110, 10, 5);
  mark.lower = {t.lower_pose * at}, mark.upper = {t.upper_pose * at}, mark.tool = at;
  t.options.targets = {mark};
  const Alignment a = align::register_halves(t.lower, t.upper, t.options, {.lower = 0.02, .upper = 0.02});
  CHECK(shift_at(t, a, twofold, 0, 0).norm() < 0.05);
}

TEST_CASE("Datum faces that are one plane leave motions free, which are named") {
  Tool t = made(
      [](double x, double y) {  // two bumps that find the pose, beside a datum that is plane
        return 6 * std::exp(-(x * x + (y - 20) * (y - 20)) / 300) +
               5 * std::exp(-((x + 70) * (x + 70) + (y + 40) * (y + 40)) / 400);
      },
      34);
  t.options.datum = {
      Region{.polygon = {{60, -81, 0}, {121, -81, 0}, {121, 81, 0}, {60, 81, 0}}, .box = {}, .path = {}}};
  Target mark;
  mark.name = "mark";
  const Vec3 at(110, 10, 5);
  mark.lower = {t.lower_pose * at}, mark.upper = {t.upper_pose * at}, mark.tool = at;
  t.options.targets = {mark};
  const std::string fault = fault_of(t);
  INFO(fault);
  // Any two directions across the normal: which two is chance, as the plane holds none of them.
  const auto slide = fault.find("to slide along");
  REQUIRE(slide != fault.npos);
  CHECK(fault.find("to slide along", slide + 1) != fault.npos);
}

TEST_CASE("Nominal surfaces without datum faces, and scans that fit nowhere, are refused") {
  Tool t = made(dish, 35);
  t.options.datum.clear();
  CHECK(says(fault_of(t), "needs the datum faces"));
  Tool other = made(dish, 36);
  Random random(37);
  other.lower.cloud.points =
      scanned([](double x, double y) { return 15 * std::sin(x / 9) * std::sin(y / 11); }, 1.5, 0.02, 120, random);
  CHECK(says(fault_of(other), "does not fit its nominal surface"));
}
