// A half that was exported in a mirror: its balls, all at one height, match it turned over.
#include "pipeline/checks.hpp"

#include <catch2/catch.hpp>
#include <memory>

#include "../flow/sheets.hpp"
#include "gapfront/error.hpp"

using namespace gapfront;

namespace {

/// A bowl 20 mm deep, of which no gap was measured; balls on its rim at z = 0, and the upper scan as given.
Measured bowl_under(std::vector<Vec3> upper, double ball_height = 0) {
  Measured m;
  const auto bowl = [](double u, double v) {
    const double x = 100 * u - 50, y = 100 * v - 50;
    return Vec3(x, y, -20 * (1 - (x * x + y * y) / 5000));
  };
  m.sheet = cavity::make_sheet(test::grid(20, 20, bowl).mesh);
  std::vector<Vec3> lower = m.sheet.mesh.points;
  m.gap.nodes.resize(m.sheet.size());
  m.gap.unseen_lower.assign(m.sheet.size(), 0);
  m.gap.unseen_upper = m.sheet.area;
  for (const Vec3& p : {Vec3(-60, -60, 0), Vec3(60, -60, ball_height), Vec3(55, 60, 0), Vec3(-50, 65, ball_height)}) {
    TargetResidual r;
    r.place = p;
    m.alignment.residuals.push_back(r);
  }
  m.job.tolerance.nominal = 3;
  const Sampling even{.spacing = 5, .noise = 0.01};
  m.halves = std::make_shared<const ClosedHalves>(
      ClosedHalves{Surface(std::move(lower), even), Surface(std::move(upper), even), {}, {}});
  return m;
}

std::string refusal_of(const Measured& m) {
  try {
    pipeline::check_faces(m);
  } catch (const Error& e) {
    return e.what();
  }
  return "";
}

/// The face opposite, as it should be or turned over, as far as x = `to`.
std::vector<Vec3> upper_face(bool turned, double to = 60) {
  std::vector<Vec3> out;
  for (double x = -55; x < to; x += 5)
    for (double y = -55; y < 60; y += 5) {
      const double z = 3 - 20 * (1 - (x * x + y * y) / 5000);
      out.push_back(Vec3(x, y, turned ? -z : z));
    }
  return out;
}

}  // namespace

TEST_CASE("An upper scan that faces the lower one when it is turned over its balls is said to be mirrored") {
  CHECK_THAT(refusal_of(bowl_under(upper_face(true))), Catch::Contains("mirrored"));
}

TEST_CASE("A scan that leaves out most of the face is not said to be mirrored, nor one whose balls tell") {
  CHECK_THAT(refusal_of(bowl_under(upper_face(false, -25))),
             Catch::Contains("the scans cover only") && !Catch::Contains("mirrored"));
  CHECK_THAT(refusal_of(bowl_under(upper_face(true), 60)),
             Catch::Contains("the scans cover only") && !Catch::Contains("mirrored"));
}
