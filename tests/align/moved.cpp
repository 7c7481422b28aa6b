// A half that was scanned again lies otherwise than the job has it.
#include <catch2/catch.hpp>

#include "balls.hpp"

using namespace balls;

TEST_CASE("Scans in another pose than the job has are found by the pattern of their balls, and that is said") {
  Setup s = make_setup(0.02, 12);
  for (std::size_t i = 0; i < kBalls.size(); ++i)  // as read in the scans before: to a tenth of a millimetre
    s.options.targets[i].lower->at = (s.lower_pose * kBalls[i] * 10).array().round() / 10,
    s.options.targets[i].upper->at = (s.upper_pose * kBalls[i] * 10).array().round() / 10;
  const Alignment before = align::register_halves(s.lower, s.upper, s.options, {.lower = 0.02, .upper = 0.02});
  CHECK(before.warnings.empty());
  const Rigid turned = pose(300, -80, 900, 1.9, Vec3(0.3, 1, 0.2)), other = pose(40, 700, -200, 2.6, Vec3(1, 1, 0));
  for (Vec3& p : s.lower.cloud.points) p = turned * p;
  for (Vec3& p : s.upper.cloud.points) p = other * p;
  const Alignment a = align::register_halves(s.lower, s.upper, s.options, {.lower = 0.02, .upper = 0.02});
  CHECK(says(a.warnings, "the lower scan lies otherwise than the job has it"));
  CHECK(says(a.warnings, "the upper scan lies otherwise than the job has it"));
  REQUIRE(a.residuals.size() == 6);
  const Rigid error =
      a.upper_to_tool.motion * other * s.upper_pose * (a.lower_to_tool.motion * turned * s.lower_pose).inverse();
  for (const Vec3& p : kBalls) CHECK((error * p - p).norm() < 0.006);
  // Without tool places the frame of the job is the lower scan's that it was written for: kept to the tenth that its
  // places were rounded to.
  for (const Vec3& p : kBalls)
    CHECK((a.lower_to_tool.motion * (turned * (s.lower_pose * p)) - s.lower_pose * p).norm() < 0.1);
}

TEST_CASE("Balls that neither their places nor their distances tell are an error that says where to read the places") {
  Setup s = make_setup(0.02, 12);
  for (Target& t : s.options.targets)
    t.lower->at += Vec3(500, 0, 0) + 30 * Vec3(t.lower->at.y() > 0, t.name[1] - '0', 0);
  Fault fault{};
  const std::string text = fault_of(s.options, fault, s.lower, s.upper);
  CHECK(says(text, "no ball is at its place in the lower half, nor could they be told by their distances"));
  CHECK(says(text, "gapfront look"));
  CHECK(fault == Fault::measurement);
}
