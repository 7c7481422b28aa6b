// [laminate.drape] and the resin's surface tension.
#include <cmath>

#include "job_text.hpp"

using namespace gapfront;
using namespace gapfront::test;

TEST_CASE("How cloth is draped is read, and is off otherwise") {
  CHECK_FALSE(read(minimum).laminate.drape.on);
  const std::string cloth = minimum + "[[laminate.ply]]\nglass = \"woven roving 600\"\n";
  const Job job = read(cloth + R"([laminate.drape]
start = "10, 20, -45 mm"
direction = "0, 1, 0 mm"
shear_limit = "45 deg"
)");
  CHECK(job.laminate.drape.on);
  CHECK(job.laminate.drape.start == Vec3(10, 20, -45));
  CHECK(job.laminate.drape.direction == Vec3(0, 1, 0));
  CHECK(job.laminate.drape.lock == Approx(M_PI / 4));
  CHECK(job.laminate.plies.back().reinforcement.cloth);
  const auto refused = [&](const std::string& text, const char* says) {
    CHECK_THROWS_WITH(read(text), Catch::Contains(says));
  };
  refused(cloth + "[laminate.drape]\ndirection = \"1, 0, 0 mm\"\n", "\"start\" is missing");
  refused(cloth + "[laminate.drape]\nstart = \"0, 0, 0 mm\"\ndirection = \"0, 0, 0 mm\"\n", "has no length");
  refused(cloth + "[laminate.drape]\nstart = \"0, 0, 0 mm\"\nshear_limit = \"80 deg\"\n", "must be below 75 deg");
  refused(minimum + "[laminate.drape]\nstart = \"0, 0, 0 mm\"\n", "no ply is a cloth");
}

TEST_CASE("Surface tension and contact angle are read with their units") {
  CHECK(read(minimum).flow.surface_tension == 0);
  const auto with_flow = [](const std::string& lines) { return read(with(minimum, "[flow]", "[flow]\n" + lines)); };
  const Job job = with_flow("surface_tension = \"35 mN/m\"\ncontact_angle = \"30 deg\"");
  CHECK(job.flow.surface_tension == Approx(35e-6));
  CHECK(job.flow.contact_angle == Approx(M_PI / 6));
  CHECK(with_flow("surface_tension = \"0.035 N/m\"").flow.surface_tension == Approx(35e-6));
  CHECK_THROWS_WITH(with_flow("surface_tension = \"35\""), Catch::Contains("needs a number and a unit"));
  CHECK_THROWS_WITH(with_flow("surface_tension = \"-3 mN/m\""), Catch::Contains("needs a number and a unit"));
  CHECK_THROWS_WITH(with_flow("contact_angle = \"30 deg\""), Catch::Contains("counts with surface_tension only"));
  CHECK_THROWS_WITH(with_flow("surface_tension = \"35 mN/m\"\ncontact_angle = \"95 deg\""),
                    Catch::Contains("below 87 deg"));
}

TEST_CASE("Residual air is asked for beside a surface tension, with a mobility below that of resin") {
  CHECK_FALSE(read(minimum).air.on);
  const auto with_flow = [](const std::string& lines) { return read(with(minimum, "[flow]", "[flow]\n" + lines)); };
  const std::string asked = "surface_tension = \"35 mN/m\"\nresidual_air = true\n";
  CHECK(with_flow(asked).air.on);
  CHECK(with_flow(asked).air.mobility == 0.5);
  CHECK(with_flow(asked + "bubble_mobility = 0").air.mobility == 0);
  CHECK_THROWS_WITH(with_flow("residual_air = true"), Catch::Contains("follows from surface_tension"));
  CHECK_THROWS_WITH(with_flow(asked + "bubble_mobility = 1"), Catch::Contains("must be below 1"));
  CHECK_THROWS_WITH(with_flow("bubble_mobility = 0.5"), Catch::Contains("counts with residual_air"));
}
