// A net of threads, beside one that SciPy weaves on the surface's formula.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <map>

#include "../flow/sheets.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/drape.hpp"
#include "test_paths.hpp"

using namespace gapfront;
using namespace gapfront::test;

TEST_CASE("A net on a sheet shears as one woven on the formula of its face") {
  const auto z = [](double x, double y) { return x * x / 240 - y * y / 400 + x * y / 900; };
  const Sheet s = cavity::make_sheet(grid(70, 70, [&](double u, double v) {
                                       const double x = 280 * u - 130, y = 280 * v - 155;
                                       return Vec3(x, y, z(x, y));
                                     }).mesh);
  std::map<std::pair<int, int>, double> own;
  for (const NetCell& c : laminate::weave_net(s, {10, -15, z(10, -15)}, {1, 0.4, 0}, 4)) own[{c.i, c.j}] = c.threads();
  FILE* script = popen("/usr/bin/python3 " SOURCE_DIR "/tests/external/drape_net.py 10 -15 1 0.4 4 15", "r");
  REQUIRE(script);
  int i = 0, j = 0, cells = 0;
  double angle = 0, worst = 0, most = 0, sum = 0;
  for (; std::fscanf(script, "%d %d %lf", &i, &j, &angle) == 3; ++cells) {
    const auto found = own.find({i, j});
    REQUIRE(found != own.end());
    worst = std::max(worst, std::abs(found->second - angle)), most = std::max(most, std::abs(M_PI / 2 - angle));
    sum += std::pow(found->second - angle, 2);
  }
  CHECK(pclose(script) == 0);
  CHECK(cells == 900);
  WARN("shear up to " << most << " rad; off SciPy's by " << std::sqrt(sum / cells) << " rad RMS, " << worst
                      << " at worst");
  CHECK(most > 0.1);
  CHECK(std::sqrt(sum / cells) < 0.004);
  CHECK(worst < 0.015);
}
