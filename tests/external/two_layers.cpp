// One front through channel and glass, beside SciPy's two fronts: how far it is off.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "../flow/sheets.hpp"
#include "test_paths.hpp"

using namespace gapfront;
using namespace gapfront::test;

TEST_CASE("Soaking reckoned from one front errs by little where it is quick, and to the side that is said where not") {
  // 0.5 mm of open channel over 2.5 mm of glass, 500 mm long. Through the thickness a tenth of the permeability along
  // it, as of a mat, and a five-hundredth.
  const Sheet s = strip(100, 6, 500, 60);
  NodeLaminate n = state(1e-3, 2.5, 0.83);
  n.loft = 2.5, n.channel = 0.5;
  n.conductance += std::pow(0.5, 3) / 12, n.conductance2 = n.conductance, n.fluid_thickness += 0.5;
  auto o = options({{0, 0, 0}, {0, 60, 0}}, {{500, 0, 0}, {500, 60, 0}});
  for (const double through : {0.1, 0.002}) {
    o.wet_out.through = through;
    const Filling f = flow::fill(s, uniform(s, n), o);
    const std::string command = "/usr/bin/python3 " SOURCE_DIR "/tests/external/two_layers.py 500 0.5 2.5 1e-3 " +
                                std::to_string(through * 1e-3) + " 0.83 0.2 1e5";
    FILE* script = popen(command.c_str(), "r");
    REQUIRE(script);
    double end = 0, x = 0, dry = 0, most = 0;
    REQUIRE(std::fscanf(script, "%lf", &end) == 1);
    int places = 0;
    for (; std::fscanf(script, "%lf %lf", &x, &dry) == 2; ++places) {
      const double own = f.dry_below[std::size_t(std::lround(x / 5))];
      INFO(through << " at " << x << " mm: " << own << " dry, SciPy " << dry);
      CHECK(own <= dry + 0.02);  // never more than there is
      most = std::max(most, dry - own);
    }
    CHECK(pclose(script) == 0);
    CHECK(places == 9);
    WARN("through/along " << through << ": the channel is full after " << end << " s, by one front " << f.fill_time
                          << " s; up to " << most << " of the thickness more stays dry");
    CHECK(f.fill_time > end);
    CHECK(f.fill_time - end < (through > 0.05 ? 0.04 : 0.2) * end);
    CHECK(most < (through > 0.05 ? 0.02 : 0.35));
  }
}
