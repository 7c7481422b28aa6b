// Gas carried from cell to cell, beside SciPy's bubbles that are followed one by one.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "../flow/sheets.hpp"
#include "gapfront/residual_air.hpp"
#include "test_paths.hpp"

using namespace gapfront;
using namespace gapfront::test;

TEST_CASE("Bubbles behind a front that slows down lie, and are pressed together, as SciPy's are") {
  const double length = 200, width = 40, h = 3, k = 3e-6, phi = 0.83, viscosity = 0.2, vent = 4e4;
  const Sheet s = strip(100, 6, length, width);
  const LaminateMap lam = uniform(s, state(k, h, phi));
  auto o = options({{0, 0, 0}, {0, width, 0}}, {{length, 0, 0}, {length, width, 0}});
  o.cavity_pressure = vent, o.pressure_limit = 1e5, o.surface_tension = 35e-6;
  o.supply.hose_length = 4e6, o.supply.hose_bore = 5.6, o.supply.gauge_at_pump = true;  // as much as 60 mm of the strip
  const Filling f = flow::fill(s, lam, o);
  for (const double mobility : {0.0, 0.5}) {
    const ResidualAir a = flow::residual_air(s, lam, o, f, {true, mobility});
    std::string command = "/usr/bin/python3 " SOURCE_DIR "/tests/external/bubbles.py";
    for (const double value :
         {length, width, h, k, phi, viscosity, 1e5 + atmosphere_pa, vent, o.supply.resistance(), 35e-6, mobility}) {
      char text[40];
      std::snprintf(text, sizeof text, " %.17g", value);
      command += text;
    }
    FILE* script = popen(command.c_str(), "r");
    REQUIRE(script);
    double all = 0, share = 0, bubbles = 0, sum = 0, off = 0, most = 0, own = 0;
    REQUIRE(std::fscanf(script, "%lf", &all) == 1);
    std::vector<double> by_tenth(10, 0);
    for (std::size_t i = 0; i < s.size(); ++i) {
      // A node on a border counts half to either side.
      const double x = s.mesh.points[i].x() / length * 10;
      for (const double side : {-1e-6, 1e-6})
        by_tenth[std::size_t(std::clamp(x + side, 0.0, 9.99))] +=
            0.5 * a.between[i] * s.area[i] * h / (h * width * length / 10);
    }
    int places = 0;
    for (; std::fscanf(script, "%lf %lf", &share, &bubbles) == 2; ++places) {
      sum += bubbles, own += by_tenth[std::size_t(places)];
      off = std::max(off, std::abs(own - sum)), most = std::max(most, bubbles);
      INFO("tenth " << places << ": " << by_tenth[std::size_t(places)] << ", SciPy " << bubbles);
      CHECK(std::isfinite(by_tenth[std::size_t(places)]));
    }
    CHECK(pclose(script) == 0);
    REQUIRE(places == 10);
    WARN("mobility " << mobility << ": gas " << a.formed_between * atmosphere_pa / all
                     << " of SciPy's; bubbles up to x off by " << 100 * off / sum << " % of all of them at most");
    CHECK(a.formed_between * atmosphere_pa == Approx(all).epsilon(0.03));
    CHECK(off < 0.04 * sum);
  }
}
