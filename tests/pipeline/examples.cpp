// The example programs under tools/examples, against what is known of their cavities.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "../cli/run_program.hpp"
#include "gapfront/laminate.hpp"
#include "gapfront/units.hpp"

using namespace gapfront;
using namespace gapfront::test;

TEST_CASE("The example that measures says what the program's result.json says") {
  const Bench bench;
  bench.plates();
  const auto job = bench.job({{"nominal = \"2 mm\"", "nominal = \"2.2 mm\""}});
  const auto whole = nlohmann::json::parse(bench.run({"inspect", job, "--json"}).out);
  const auto said = bench.run_as(EXAMPLE_VERDICT, {job});
  INFO(said.err);
  REQUIRE(said.code == 0);
  std::string headline;
  for (const auto& m : whole["verdict"]["headline"])
    headline += (headline.empty() ? "" : " ") + m["text"].get<std::string>();
  CHECK(said.out.starts_with(headline + "\n"));

  double gap = 0, U = 0, x = 0, y = 0, z = 0;
  REQUIRE(std::sscanf(said.out.c_str() + headline.size() + 1, "gap %lf mm, U %lf mm at %lf %lf %lf", &gap, &U, &x, &y,
                      &z) == 5);
  // The plates are 2 mm apart everywhere.
  CHECK(gap == Approx(2).margin(0.002));
  // The same node as in the result: no gap there is farther from the nominal one.
  const auto& fields = whole["sheet"]["fields"];
  double most = 0;
  std::size_t worst = 0;
  for (std::size_t i = 0; i < fields["deviation_mm"].size(); ++i) {
    const auto& d = fields["deviation_mm"][i];
    if (d.is_number() && std::abs(d.get<double>()) > most) most = std::abs(d.get<double>()), worst = i;
  }
  CHECK(gap == Approx(fields["gap_mm"][worst].get<double>()).margin(6e-5));  // four decimals are printed
  CHECK(U == Approx(fields["U_mm"][worst].get<double>()).margin(6e-5));
}

TEST_CASE("The example that measures tells a job that cannot be read from one in order") {
  const Bench bench;
  const auto said = bench.run_as(EXAMPLE_VERDICT, {"nowhere.toml"});
  CHECK(said.code == 1);
  CHECK_THAT(said.err, Catch::Contains("nowhere.toml"));
}

// One-dimensional Darcy flow under constant pressure (Darcy 1856, integrated over a front that moves with the resin):
// t = µ · φh · L² / (2 · Kh · Δp), with φh the resin per area and Kh the conductance of the section.
TEST_CASE("The example without a job file measures 3.2 mm and fills as the closed form says") {
  const Bench bench;
  const auto said = bench.run_as(EXAMPLE_MOVE_VENT, {});
  INFO(said.out << said.err);
  REQUIRE(said.code == 0);
  const auto number = [&](const std::string& before) {
    const auto at = said.out.find(before);
    REQUIRE(at != std::string::npos);
    return std::atof(said.out.c_str() + at + before.size());
  };
  CHECK(number("mean gap ") == Approx(3.2).margin(0.001));

  LaminateOptions glass;
  glass.plies = {{.reinforcement = laminate::find_reinforcement("chopped strand mat 450"), .count = 2}};
  const NodeLaminate section = laminate::evaluate_stack(glass.plies, 3.2, glass);
  const double length = 199, pressure = 120000 + atmosphere_pa - 50662.5;  // resin starts over the inlet's first mm
  const double time = 0.2 * section.fluid_thickness * length * length / (2 * section.conductance * pressure);
  CHECK(number("far end: filled in ") == Approx(time).epsilon(0.02));
  CHECK(number("s, ") == 0);  // nothing is shut in

  // Behind the vent in the middle lie 100 mm × 60 mm; the air in them is pressed from 0.5 bar to no more than the
  // limit, 2.21 bar, which leaves 0.5 / 2.21 of them dry: 1376 mm². The front bends around the vent, which is why the
  // air that is shut in is less than that of the whole half.
  const double dry = std::atof(said.out.c_str() + said.out.rfind(", ") + 2);
  CHECK(dry > 0.5 * 1376);
  CHECK(dry < 1376);
}
