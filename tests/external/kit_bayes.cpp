// Glass measured at a bench: mode and Laplace's covariance against a Monte Carlo posterior by NumPy.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "gapfront/kit.hpp"
#include "test_paths.hpp"

using namespace gapfront;

TEST_CASE("What a bench makes of the library's numbers agrees with a Monte Carlo posterior") {
  const Reinforcement g = laminate::find_reinforcement("chopped strand mat 450");
  BenchGlass b;
  b.glass = g.name;
  b.pieces = {{0.2e6, 96}, {0.1e6, 46.5}, {0.15e6, 72.9}, {0.2e6, 93}};
  b.presses = {{0, 5.4, 4}, {5e3, 4.1, 4}, {40e3, 2.75, 4}};
  b.strips = {{300, 95, 8e4, 0.2, 3.0, 3}};
  const BenchOptions o;
  const BenchResult r = laminate::update(g, b);

  nlohmann::json j;
  j["glass"] = {{"areal_weight", g.areal_weight},
                {"loft", g.loft},
                {"density", g.density},
                {"compaction_a", g.compaction.a},
                {"compaction_b", g.compaction.b},
                {"permeability_a", g.permeability.a},
                {"permeability_b", g.permeability.b}};
  j["options"] = {{"areal_weight", o.areal_weight}, {"loft", o.loft},   {"vf", o.vf},
                  {"exponent", o.exponent},         {"piece", o.piece}, {"permeability", o.permeability},
                  {"thickness", o.thickness},       {"press", o.press}, {"strip", o.strip}};
  for (const WeighedPiece& p : b.pieces) j["pieces"].push_back({p.area, p.weight});
  for (const PressedStack& p : b.presses) j["presses"].push_back({p.pressure, p.thickness, p.plies});
  for (const FilledStrip& s : b.strips)
    j["strips"].push_back({s.length, s.time, s.pressure, s.viscosity, s.gap, s.plies});
  const auto file = std::filesystem::temp_directory_path() / ("gapfront-kit-" + std::to_string(::getpid()) + ".json");
  std::ofstream(file) << j.dump();
  FILE* script = popen(("/usr/bin/python3 " SOURCE_DIR "/tests/external/kit_bayes.py < " + file.string()).c_str(), "r");
  REQUIRE(script);
  double mean[6], sigma[6];
  for (int k = 0; k < 6; ++k) REQUIRE(std::fscanf(script, "%lf %lf", &mean[k], &sigma[k]) == 2);
  CHECK(pclose(script) == 0);
  std::filesystem::remove(file);
  REQUIRE(mean[5] > 1000);  // draws that count: means to 3 % of a sigma, sigmas to 2 %
  const auto agrees = [&](int k, double offset, double u) {
    CAPTURE(k, offset, mean[k], u, sigma[k]);
    CHECK(std::abs(offset - mean[k]) < 0.12 * sigma[k]);
    CHECK(u == Approx(sigma[k]).epsilon(0.07));
  };
  const auto offset = [](const BenchNumber& n) { return std::log(n.after / n.before); };
  agrees(0, offset(r.areal_weight), r.areal_weight.u_after);
  agrees(1, offset(r.loft), r.loft.u_after);
  agrees(2, offset(r.vf), r.vf.u_after);
  agrees(4, offset(r.permeability), r.permeability.u_after);
  CHECK(r.glass.compaction.b - g.compaction.b == Approx(mean[3]).margin(0.12 * sigma[3]));
  CHECK(r.piece_scatter == Approx(sigma[5]).epsilon(1e-6));
  CHECK(r.p_value > 0.05);
}
