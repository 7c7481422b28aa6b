// Glass that was measured at a bench.
#include <catch2/catch.hpp>

#include "gapfront/error.hpp"
#include "gapfront/kit.hpp"

using namespace gapfront;

namespace {

BenchGlass of_mat() {
  BenchGlass b;
  b.glass = "chopped strand mat 450";
  return b;
}

Reinforcement mat() { return laminate::find_reinforcement("chopped strand mat 450"); }

}  // namespace

// One mean of n values of known sigma on a Gaussian prior: weights by 1/σ² (the conjugate case, any textbook).
TEST_CASE("Weighed pieces alone give the conjugate mean, and leave the other numbers as they were") {
  BenchGlass b = of_mat();
  for (int k = 0; k < 4; ++k) b.pieces.push_back({1e5, 47.25});  // 5 % above, all alike
  const BenchResult r = laminate::update(mat(), b);
  const BenchOptions o;
  const double scatter = o.piece * std::sqrt(4.0 / 7);  // worth four, and three degrees of freedom without any spread
  CHECK(r.piece_scatter == Approx(scatter));
  const double prior = 1 / (o.areal_weight * o.areal_weight), data = 4 / (scatter * scatter);
  CHECK(std::log(r.areal_weight.after / r.areal_weight.before) == Approx(std::log(1.05) * data / (prior + data)));
  CHECK(r.areal_weight.u_after == Approx(1 / std::sqrt(prior + data)));
  CHECK(r.glass.loft == Approx(mat().loft));
  CHECK(r.permeability.u_after == Approx(o.permeability));
}

TEST_CASE("A strip that fills by the library's own law leaves the permeability, and makes it surer") {
  const Reinforcement g = mat();
  BenchGlass b = of_mat();
  const double vf = 3 * g.areal_weight / g.density / 3.0, k = g.permeability.at(vf);
  b.strips = {{300, (1 - vf) * 0.2 * 300 * 300 / (2 * k * 8e4), 8e4, 0.2, 3.0, 3}};
  const BenchResult r = laminate::update(g, b);
  CHECK(r.permeability.after == Approx(r.permeability.before).epsilon(1e-6));
  CHECK(r.permeability.u_after < 0.12);
  b.strips[0].time /= 2;  // twice as permeable, as far as one strip is believed
  CHECK(laminate::update(g, b).permeability.after == Approx(2 * r.permeability.after).epsilon(0.05));
}

TEST_CASE("Values that no bench gives are refused with the remedy") {
  using Catch::Contains;
  const auto refused = [](const BenchGlass& b) {
    try {
      laminate::update(mat(), b);
    } catch (const Error& e) {
      return std::string(e.what());
    }
    return std::string("taken");
  };
  BenchGlass b = of_mat();
  CHECK_THAT(refused(b), Contains("nothing was measured; give"));
  b.pieces = {{1e5, 100}};
  CHECK_THAT(refused(b), Contains("1000 g/m2") && Contains("check area"));
  b = of_mat(), b.presses = {{50, 4, 4}};
  CHECK_THAT(refused(b), Contains("between 5 mbar and 20 bar"));
  b = of_mat(), b.presses = {{5e4, 0.7, 4}};
  CHECK_THAT(refused(b), Contains("thinner than its solid glass"));
  b = of_mat(), b.strips = {{300, 95, 8e4, 0.2, 6, 3}};
  CHECK_THAT(refused(b), Contains("resin runs beside it"));
}
