// Glass measured at a bench, in the job.
#include "job_text.hpp"

using namespace gapfront;
using namespace gapfront::test;

TEST_CASE("What was measured of a glass goes into its plies, and of a glass that no ply has it is refused") {
  const Folder folder;
  const std::string ply = "[[laminate.ply]]\nglass = \"chopped strand mat 450\"\n";
  const auto with = [&](const std::string& more) {
    std::string text = minimum;
    const auto at = text.find("[flow]");
    REQUIRE(at != std::string::npos);
    return job::read_job(folder.write("job.toml", text.insert(at, ply + more)));
  };
  const auto own = [](const Job& j) {
    for (const Ply& p : j.laminate.plies)
      if (p.reinforcement.name == "chopped strand mat 450") return p.reinforcement;
    return Reinforcement{};
  };
  const Reinforcement before = own(with("")), after = own(with(R"([[laminate.measured]]
glass = "chopped strand mat 450"
piece = [{ area = "1000 cm2", weight = "48 g" }, { area = "1000 cm2", weight = "48 g" }]
press = [{ thickness = "5.4 mm", plies = 4 }, { mass = "5.0986 kg", area = "100 cm2", thickness = "4.1 mm", plies = 4 }]
)"));
  CHECK(after.areal_weight > 1.01 * before.areal_weight);
  CHECK(after.loft < before.loft);
  CHECK(after.source[0].id == "clamping.measured-bench");
  // 5.0986 kg on 100 cm² are 5 kPa.
  CHECK(after.loft == Approx(own(with(R"([[laminate.measured]]
glass = "chopped strand mat 450"
piece = [{ area = "1000 cm2", weight = "48 g" }, { area = "1000 cm2", weight = "48 g" }]
press = [{ thickness = "5.4 mm", plies = 4 }, { pressure = "5 kPa", thickness = "4.1 mm", plies = 4 }]
)"))
                                 .loft));
  using Catch::Contains;
  CHECK_THROWS_WITH(
      with("[[laminate.measured]]\nglass = \"woven roving 600\"\npiece = [{ area = \"1 m2\", weight = \"600 g\" }]\n"),
      Contains("no ply is of \"woven roving 600\""));
  CHECK_THROWS_WITH(with("[[laminate.measured]]\nglass = \"chopped strand mat 450\"\npress = [{ mass = \"5 kg\", "
                         "thickness = \"4 mm\" }]\n"),
                    Contains("mass and area belong together"));
}
