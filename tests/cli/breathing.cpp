// A light upper half through the whole program, against plate theory.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "run_program.hpp"

using namespace gapfront::test;

namespace {

std::string flat(double z) {
  std::string text;
  for (int i = -50; i <= 50; ++i)
    for (int j = -40; j <= 40; ++j)
      text += std::to_string(i) + " " + std::to_string(j) + " " + std::to_string(z) + "\n";
  return text;
}

/// Middle of a rectangle a × b held along its edges, where it can turn, under q. Navier's series (Timoshenko &
/// Woinowsky-Krieger, Theory of Plates and Shells, the simply supported rectangular plate):
/// w = 16 q/(π⁶ D) Σ (−1)^((m+n)/2 − 1)/(m n (m²/a² + n²/b²)²), m and n odd.
double navier(double q, double D, double a, double b) {
  double sum = 0;
  for (int m = 1; m < 40; m += 2)
    for (int n = 1; n < 40; n += 2)
      sum += ((m + n) / 2 % 2 ? 1 : -1) / (m * n * std::pow(m * m / (a * a) + n * n / (b * b), 2));
  return 16 * q / (std::pow(M_PI, 6) * D) * sum;
}

}  // namespace

TEST_CASE("A light half bends as a plate under its vacuum, and a true mold with one leads nowhere") {
  // One ply of 1.2 mm loft in 2 mm: the glass carries nothing, so the dry half is a bare plate 90 × 70 mm under half an
  // atmosphere. D = E t³/(12 (1 − ν²)) = 12 GPa · 125 mm³/10.92.
  const Bench bench;
  bench.write("lower.xyz", flat(0));
  bench.write("upper.xyz", flat(2));
  const auto job = bench.job({{"tolerance",
                               "seal = [\"-45, -35 mm\", \"45, -35 mm\", \"45, 35 mm\", \"-45, 35 mm\"]\n"
                               "edge = \"4 mm\"\ntolerance"},
                              {"count = 2", "count = 1"},
                              {"[flow]",
                               "[closing]\n[[closing.half]]\nmodulus = \"12 GPa\"\nthickness = \"5 mm\"\n"
                               "[flow]\nensemble = 2\npressure_limit = \"0.3 bar above atmosphere\""}});
  const auto r = bench.run({"inspect", job, "--quiet"});
  INFO(r.err);
  REQUIRE(r.code == 0);
  const auto j = nlohmann::json::parse(bench.read("report/result.json"));
  const auto& front = j["front"];
  const auto& breathing = front["breathing"];
  REQUIRE(breathing["computed"] == true);
  CHECK(breathing["converged"] == true);
  const double w = navier(0.5 * 101325, 12e9 * 125 / 10.92, 90, 70);
  CHECK(breathing["vacuum_on"]["least_mm"].get<double>() == Approx(-w).epsilon(0.01));
  CHECK(breathing["vacuum_on"]["greatest_mm"].get<double>() == Approx(0).margin(1e-6));
  // The resin lets it come back, beyond the shape as scanned where it stands above atmosphere.
  CHECK(breathing["mean_of_the_fill"]["least_mm"].get<double>() > -w);
  CHECK(breathing["at_the_least_margin"]["greatest_mm"].get<double>() > 0);
  // Nominal 2 mm and measured 2 mm breathe alike: whatever that does to the front, it is no lead.
  CHECK(front["gap"] == "under vacuum and resin");
  const double time = front["measured"]["fill_time_s"],
               rigid = breathing["filled_in_one_shape"]["as_scanned"]["fill_time_s"];
  CHECK(std::abs(rigid / time - 1) > 0.02);
  CHECK(front["lead"]["regions"].empty());
  CHECK(front["lead"]["rms_s"].get<double>() < 0.005 * time);  // both settle to 1 µm; measured 0.0012
  CHECK(j["verdict"]["overall"] == "conforming");
  const std::string page = bench.read("report/report.html");
  char shown[32];
  std::snprintf(shown, sizeof shown, "−%.3f", -breathing["vacuum_on"]["least_mm"].get<double>());
  CHECK_THAT(page, Catch::Contains("How the upper half breathes") && Catch::Contains(shown));
  CHECK_THAT(page, Catch::Contains("The verdict is about the gap as scanned"));
  bench.remove("report/report.html");
  REQUIRE(bench.run({"report", "report"}).code == 0);
  CHECK(bench.read("report/report.html") == page);
}
