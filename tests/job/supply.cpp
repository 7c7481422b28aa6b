// [flow.supply], [flow.ageing] and their like.
#include <catch2/catch.hpp>
#include <sstream>

#include "gapfront/error.hpp"
#include "gapfront/job.hpp"
#include "job_text.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

Job with_lines(const std::string& flow, const std::string& vent = "", const std::string& tables = "") {
  const Folder folder;
  return job::read_job(folder.write("supply.toml", R"([lower]
file = "lower.ply"
unit = "mm"
[upper]
file = "upper.ply"
unit = "mm"
[align]
method = "given"
[cavity]
nominal = "3 mm"
tolerance = "0.3 mm"
[[laminate.ply]]
glass = "chopped strand mat 450"
[flow]
viscosity = "0.2 Pa.s"
pressure_limit = "0.5 bar above atmosphere"
vacuum = "50 % of atmosphere"
)" + flow + "\n[[flow.inlet]]\nperimeter = true\n[[flow.vent]]\nat = \"0, 0, 0 mm\"\n" +
                                                       vent + "\n" + tables));
}

}  // namespace

TEST_CASE("Hose, gauge, pump and weight of a job arrive in the program's units") {
  const Job j =
      with_lines("down = \"0, -1, 0 mm\"\nliquid_density = \"1.05 g/cm3\"", "closed_at = \"4 min\"", R"([flow.supply]
hose_length = "4 m"
hose_bore = "10 mm"
gauge = "pump"
pump_above = "-0.8 m"
greatest_rate = "3 L/min"
catch_pot = "2 L"
)");
  const Supply& s = j.flow.supply;
  CHECK(s.hose_length == Approx(4000));
  CHECK(s.gauge_at_pump);
  CHECK(s.pump_above == Approx(-800));
  CHECK(s.max_rate == Approx(50000));
  CHECK(s.pot_volume == Approx(2e6));
  CHECK(j.flow.gravity.pull().y() == Approx(-1.05e-3 * 9806.65));
  CHECK(j.flow.vents[0].blocked_from == Approx(240));
  CHECK_FALSE(with_lines("").flow.supply.any());
  CHECK_FALSE(with_lines("").flow.ageing.on());
}

TEST_CASE("Ageing by pot life, or by curves between which the resin's temperature lies") {
  const Job pot = with_lines("gel_time = \"20 min\"", "", "[flow.ageing]\npot_life = \"12 min\"\nage = \"2 min\"\n");
  CHECK(pot.flow.ageing.factor(720) == Approx(2).epsilon(1e-3));
  CHECK(pot.flow.ageing.start == Approx(120));
  CHECK(pot.flow.gel_time == Approx(1080));  // of the fill
  // Half way between 18 and 22 C: the geometric mean, 0.2·√(2·4) = 0.5657 Pa s at 10 min.
  const Job between = with_lines("temperature = \"20 C\"", "", R"([flow.ageing]
curve = [{ temperature = "18 C", viscosity = [["1 min", "0.2 Pa.s"], ["10 min", "0.4 Pa.s"]] },
  { temperature = "22 C", viscosity = [["1 min", "0.2 Pa.s"], ["10 min", "0.8 Pa.s"]] }]
)");
  CHECK(0.2 * between.flow.ageing.factor(600) == Approx(0.2 * std::sqrt(8.0)));
  CHECK(between.flow.ageing.known_to == Approx(600));
}

TEST_CASE("What does not belong together before the inlet is refused with a remedy") {
  using Catch::Contains;
  CHECK_THROWS_WITH(with_lines("", "", "[flow.supply]\nhose_length = \"4 m\"\n"),
                    Contains("hose_length and hose_bore"));
  CHECK_THROWS_WITH(with_lines("", "", "[flow.supply]\ngauge = \"pomp\"\n"), Contains("pump"));
  CHECK_THROWS_WITH(with_lines("", "", "[flow.ageing]\npot_life = \"12 min\"\n"), Contains("needs [flow] gel_time"));
  CHECK_THROWS_WITH(with_lines("gel_time = \"20 min\"", "", "[flow.ageing]\npot_life = \"12 min\"\nage = \"20 min\"\n"),
                    Contains("has gelled before"));
  CHECK_THROWS_WITH(with_lines("down = \"0, 0, 0 mm\""), Contains("has no direction"));
  CHECK_THROWS_WITH(with_lines("temperature = \"30 C\"", "", R"([flow.ageing]
curve = [{ temperature = "18 C", viscosity = [["1 min", "0.2 Pa.s"], ["10 min", "0.4 Pa.s"]] }]
)"),
                    Contains("none is of the resin's temperature"));
}
