// Balls that are not as large as the job says: what is said of them, and that nothing is said of honest ones.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>

#include "balls.hpp"

using namespace gapfront;
using namespace support;

namespace {

int size_draws(int usual) {
  const char* given = std::getenv("GAPFRONT_DRAWS");
  return given ? std::atoi(given) : usual;
}

Alignment registered(const balls::Setup& s, double noise = 0.02) {
  return align::register_halves(s.lower, s.upper, s.options, {.lower = noise, .upper = noise});
}

/// Greatest miss of the closed position over the corners of the tool.
double miss_of(const balls::Setup& s, const Alignment& a) {
  double most = 0;
  for (const Vec3& p : balls::kBalls)
    most = std::max(most, (a.upper_to_tool * ScanPlace{s.upper_pose * p} - s.lower_pose * p).norm());
  return most;
}

/// A scan in which a ball's points lie farther out by so much, as a filter puts them.
void resize_balls(std::vector<Vec3>& points, const Rigid& pose, double by, std::size_t only = 99) {
  for (std::size_t b = 0; b < balls::kBalls.size(); ++b) {
    if (only != 99 && b != only) continue;
    const Vec3 centre = pose * balls::kBalls[b];
    for (Vec3& p : points)
      if (const Vec3 d = p - centre; std::abs(d.norm() - 10) < 0.2) p += by * d.normalized();
  }
}

bool speaks_of_size(const Alignment& a) {
  for (const Message& m : a.warnings)
    if (m.id.find("balls-measure") != std::string::npos) return true;
  return !a.wrong_balls.empty();
}

bool speaks_of_neighbours(const Alignment& a) {
  for (const Message& m : a.warnings)
    if (m.id.find("err-alike") != std::string::npos) return true;
  return false;
}

}  // namespace

// Of 20 draws for each noise none was doubted.
TEST_CASE("Balls of the size that the job says are not doubted") {
  const int draws = size_draws(5);
  for (const double noise : {0.005, 0.02, 0.05})
    for (int seed = 1; seed <= draws; ++seed) {
      INFO(noise << " " << seed);
      CHECK(!speaks_of_size(registered(balls::make_setup(noise, unsigned(seed)), noise)));
    }
}

TEST_CASE(
    "A wrong diameter in the job is named, not errors that neighbours share, and the position is not moved by it") {
  for (const double diameter : {19.5, 19.9, 20.2, 20.6})
    for (unsigned seed = 1; seed <= 2; ++seed) {
      balls::Setup s = balls::make_setup(0.02, seed);
      for (Target& t : s.options.targets) t.ball = diameter;
      const Alignment a = registered(s);
      INFO(diameter << " " << seed << " " << say(a.warnings));
      REQUIRE(a.wrong_balls.size() == 1);
      CHECK(a.wrong_balls[0].text.id == "doubt.balls-measure-otherwise");
      CHECK(std::abs(std::get<Quantity>(a.wrong_balls[0].text.arguments[0]).value - 20) < 0.003);
      CHECK(!speaks_of_neighbours(a));
      CHECK(miss_of(s, a) < 0.02);
    }
}

TEST_CASE("Balls that a filter made smaller in one scan are named with that half") {
  for (unsigned seed = 1; seed <= 4; ++seed) {
    balls::Setup s = balls::make_setup(0.02, seed);
    const bool upper = seed % 2 == 0;
    resize_balls((upper ? s.upper : s.lower).cloud.points, upper ? s.upper_pose : s.lower_pose, -0.1);
    const Alignment a = registered(s);
    REQUIRE(a.wrong_balls.size() == 1);
    CHECK(a.wrong_balls[0].text.id ==
          (upper ? "doubt.balls-measure-otherwise-upper" : "doubt.balls-measure-otherwise-lower"));
  }
}

TEST_CASE("One ball of another diameter is named") {
  for (unsigned seed = 1; seed <= 4; ++seed) {
    balls::Setup s = balls::make_setup(0.02, seed);
    s.options.targets[2].ball = 19.7;
    const Alignment a = registered(s);
    REQUIRE(!a.wrong_balls.empty());
    CHECK(says({a.wrong_balls[0].text}, "B3"));
  }
}

TEST_CASE("A ball that differs in one half alone is named with the half") {
  balls::Setup s = balls::make_setup(0.02, 3);
  resize_balls(s.upper.cloud.points, s.upper_pose, -0.1, 4);
  const Alignment a = registered(s);
  REQUIRE(a.wrong_balls.size() == 1);
  CHECK(a.wrong_balls[0].text.id == "doubt.ball-measures-otherwise-upper");
  CHECK(says({a.wrong_balls[0].text}, "B5"));
}

TEST_CASE("A difference within the play of the seats is said, and is in the uncertainty of the closed position") {
  int covered = 0;
  const int draws = size_draws(8);
  for (int seed = 1; seed <= draws; ++seed) {
    balls::Setup s = balls::make_setup(0.01, unsigned(seed));
    for (Target& t : s.options.targets) t.ball = 20.02;
    const Alignment a = registered(s, 0.01);
    CHECK(a.wrong_balls.empty());
    CHECK(says(a.warnings, "the measured diameter is used"));
    const Vec3 z = Vec3::UnitZ();
    const Vec3 at = s.lower_pose * balls::kBalls[0], up = s.lower_pose.linear() * z;
    const double off = (a.upper_to_tool * ScanPlace{s.upper_pose * balls::kBalls[0]} - at).dot(up);
    // With the job's diameter the centres would lie some 0.03 mm apart.
    CHECK(a.u_at(at, up) > 0.008);
    covered += std::abs(off) < 2 * a.u_at(at, up);
  }
  CHECK(covered == draws);
}

TEST_CASE("A ball most of whose points lie on no sphere is named") {
  balls::Setup s = balls::make_setup(0.02, 5);
  const Vec3 centre = s.lower_pose * balls::kBalls[1];
  Random random(9);
  for (Vec3& p : s.lower.cloud.points)
    if (const Vec3 d = p - centre; std::abs(d.norm() - 10) < 0.2 && random.uniform() < 0.65)
      p += random.uniform(0.2, 1.3) * d.normalized();
  const Alignment a = registered(s);
  REQUIRE(!a.wrong_balls.empty());
  CHECK(a.wrong_balls[0].text.id == "doubt.ball-few-points-lower");
  CHECK(says({a.wrong_balls[0].text}, "B2"));
}

TEST_CASE("A ball of a quite different size is named with what it measures, and no target") {
  for (const double declared : {13., 15., 22., 22.22, 23.5, 26., 26.67, 28.5})
    for (unsigned seed = 1; seed <= 2; ++seed) {
      balls::Setup s = balls::make_setup(0.02, seed);
      s.options.targets[2].ball = declared;
      const Alignment a = registered(s);
      INFO(declared << " " << seed << " " << say(a.warnings));
      CHECK(a.wrong_balls.empty());
      const auto note = std::find_if(a.warnings.begin(), a.warnings.end(),
                                     [](const Message& m) { return m.id == "warnings.target-of-other-size"; });
      REQUIRE(note != a.warnings.end());
      CHECK(std::abs(std::get<Quantity>(note->arguments[1]).value - 20) < 0.01);
      CHECK(std::get<Quantity>(note->arguments[2]).value == declared);
      CHECK(!speaks_of_neighbours(a));
      CHECK(miss_of(s, a) < 0.02);
      const auto mark = std::find_if(a.marks.begin(), a.marks.end(), [](const FoundMark& m) { return m.name == "B3"; });
      REQUIRE(mark != a.marks.end());
      CHECK(*mark->ball == Approx(20).margin(0.01));
      CHECK((mark->place - s.lower_pose * balls::kBalls[2]).norm() < 0.05);
    }
}

TEST_CASE("Where all balls are of a quite different size, it is said what they measure") {
  balls::Setup s = balls::make_setup(0.02, 1);
  for (Target& t : s.options.targets) t.ball = 23;
  Fault fault = Fault::input;
  const std::string said = balls::fault_of(s.options, fault, s.lower, s.upper), before = "alike in both halves: B1 ";
  INFO(said);
  REQUIRE(says(said, before));
  CHECK(std::abs(std::stod(said.substr(said.find(before) + before.size())) - 20) < 0.01);
  for (const Target& t : s.options.targets) CHECK(says(said, t.name + " "));
  CHECK(says(said, "(job: 23 mm)"));
  CHECK(says(said, "correct ball in the job"));
  CHECK(fault == Fault::measurement);
}

TEST_CASE("Where all balls of one scan alone are smaller, the scale of that scan is to be mended and not the job") {
  for (const bool upper : {false, true}) {
    balls::Setup s = balls::make_setup(0.02, 2);
    resize_balls(upper ? s.upper.cloud.points : s.lower.cloud.points, upper ? s.upper_pose : s.lower_pose, -1);
    Fault fault = Fault::input;
    const std::string said = balls::fault_of(s.options, fault, s.lower, s.upper), half = upper ? "upper" : "lower";
    INFO(said);
    CHECK(says(said, "balls of another size in the " + half + " half: B1 "));
    CHECK(says(said, "leave ball in the job and export the " + half + " scan again in the right scale"));
    CHECK(!says(said, "correct ball"));
  }
}

TEST_CASE("A ball of a quite different size in one half alone is named with what it measures in each, in no doubt") {
  for (unsigned seed = 1; seed <= 2; ++seed) {
    balls::Setup s = balls::make_setup(0.02, seed);
    resize_balls(s.lower.cloud.points, s.lower_pose, -1, 2);
    const Alignment a = registered(s);
    INFO(seed << " " << say(a.warnings));
    CHECK(a.wrong_balls.empty());
    const auto note = std::find_if(a.warnings.begin(), a.warnings.end(),
                                   [](const Message& m) { return m.id == "warnings.target-of-other-size-each"; });
    REQUIRE(note != a.warnings.end());
    CHECK(std::abs(std::get<Quantity>(note->arguments[1]).value - 18) < 0.02);
    CHECK(std::abs(std::get<Quantity>(note->arguments[2]).value - 20) < 0.02);
    CHECK(miss_of(s, a) < 0.02);
  }
}

TEST_CASE("A doubt about the size of balls names them, both diameters and their places") {
  balls::Setup s = balls::make_setup(0.02, 4);
  s.options.targets[2].ball = 19.7;
  const Alignment a = registered(s);
  REQUIRE(a.wrong_balls.size() == 1);
  REQUIRE(a.wrong_balls[0].balls.size() == 2);
  CHECK(a.wrong_balls[0].moves > s.options.seat_play);
  for (const BallSize& b : a.wrong_balls[0].balls) {
    CHECK(b.name == "B3");
    CHECK(b.declared == 19.7);
    CHECK(std::abs(b.measured - 20) < 4 * b.u + 0.001);
    CHECK((b.place - s.lower_pose * balls::kBalls[2]).norm() < 0.05);
  }
  CHECK(!a.wrong_balls[0].balls[0].upper);
  CHECK(a.wrong_balls[0].balls[1].upper);
}
