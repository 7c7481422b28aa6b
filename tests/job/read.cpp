// What a job says is what is read.
#include "job_text.hpp"

using namespace gapfront;
using namespace gapfront::test;

TEST_CASE("A half may have several scans, each named once") {
  const Job job = read(with(minimum, "\"lower.ply\"", "[\"a.ply\", \"b.ply\", \"c.ply\"]"));
  CHECK(job.lower.file.filename() == "a.ply");
  REQUIRE(job.lower.more.size() == 2);
  CHECK(job.lower.more[1].file.filename() == "c.ply");
  CHECK(job.upper.more.empty());
  refused("\"lower.ply\"", "[\"a.ply\", \"a.ply\"]", "a.toml:2: [lower] file", "name each scan of this half once");
}

TEST_CASE("A further scan of a half may have a pose, and that an uncertainty") {
  const auto patched = [](const std::string& keys) {
    return with(minimum, "\"lower.ply\"", "\"lower.ply\"\n[[lower.patch]]\n" + keys);
  };
  const Job job = read(patched("file = \"b.ply\"\npose = \"b.txt\"\nu = \"20 um\"\n"));
  REQUIRE(job.lower.more.size() == 1);
  CHECK(job.lower.more[0].file.filename() == "b.ply");
  CHECK(job.lower.more[0].pose.filename() == "b.txt");
  CHECK(job.lower.more[0].u == Approx(0.02));
  refused("\"lower.ply\"", "\"lower.ply\"\n[[lower.patch]]\nfile = \"b.ply\"\nu = \"20 um\"\n", "[lower.patch] u",
          "there is none; add pose");
  refused("\"lower.ply\"", "\"lower.ply\"\n[[lower.patch]]\nfile = \"lower.ply\"\n", "[lower.patch] file",
          "name each scan of this half once");
}

TEST_CASE("The least job is read with the documented defaults") {
  const Job job = read(minimum);
  CHECK(job.name == "a");
  CHECK(job.output == fs::path("reports/a"));
  CHECK_FALSE(job.lower.read.unit);
  CHECK(job.upper.read.unit == 25.4);
  CHECK(job.lower.file.is_absolute());
  CHECK(job.lower.file.filename() == "lower.ply");
  CHECK(job.gap.nominal == 3);
  CHECK(job.tolerance.plus == Approx(0.3));
  CHECK(job.flow.viscosity == Approx(0.2));
  CHECK(job.flow.pressure_limit == Approx(120000));
  CHECK(job.flow.vents.at(0).path.size() == 1);
  CHECK(job.laminate.plies.at(0).reinforcement.areal_weight == Approx(450e-6));
  CHECK(job.laminate.plies.at(0).reinforcement.permeability.a == Approx(1e-4));
  CHECK(job.text == minimum);
}

TEST_CASE("A viscosity table is read at the resin's temperature, straight in the logarithm") {
  const std::string table = "viscosity_table = [[\"18 C\", \"0.28 Pa.s\"], [\"25 C\", \"0.2 Pa.s\"]]\n";
  const auto job = [&](const char* temperature) {
    return with(minimum, "viscosity = \"200 cP\"", table + "temperature = \"" + temperature + "\"");
  };
  // An exponential through both entries, four of seven degrees along.
  CHECK(read(job("22 C")).flow.viscosity == Approx(0.28 * std::pow(0.2 / 0.28, 4.0 / 7)));
  CHECK_THROWS_WITH(read(job("30 C")), Catch::Contains("outside viscosity_table"));
}

TEST_CASE("The drawn fillings are a whole number, and can be left out") {
  CHECK(read(minimum).ensemble.runs == 64);
  CHECK(read(with(minimum, "[flow]", "[flow]\nensemble = 0")).ensemble.runs == 0);
  CHECK_THROWS_WITH(read(with(minimum, "[flow]", "[flow]\nensemble = 2.5")), Catch::Contains("ensemble"));
}

TEST_CASE("Clamping that is not given follows from the cavity pressure") {
  const Job job = read(minimum);
  CHECK(job.flow.closing.pressure == 0);
  CHECK(job.laminate.clamping_pressure == Approx(101325 - 50000));
}

TEST_CASE("A vacuum of half an atmosphere leaves half an atmosphere absolute") {
  const Job job = read(with(minimum, "cavity_pressure = \"0.5 bar absolute\"", "vacuum = \"50 % of atmosphere\""));
  CHECK(job.flow.cavity_pressure == Approx(0.5 * 101325));
  CHECK(job.laminate.clamping_pressure == Approx(0.5 * 101325));
}

TEST_CASE("Clamping is a share of atmosphere or a pressure") {
  CHECK(read(with(minimum, "[laminate]", "[laminate]\nclamping = \"40 % of atmosphere\"")).laminate.clamping_pressure ==
        Approx(0.4 * 101325));
  CHECK(read(with(minimum, "[laminate]", "[laminate]\nclamping = \"7 psi\"")).laminate.clamping_pressure ==
        Approx(7 * 6894.757));
}

TEST_CASE("What holds the mold shut is declared with its units") {
  const Job job = read(with(minimum, "[flow]", R"([closing]
force = "4 kN"
pressure = "0.1 bar"
perimeter_vacuum = "90 % of atmosphere"
perimeter_width = "40 mm"
safety = 1.5
rim = "clamped"
[[closing.half]]
modulus = "12 GPa"
thickness = "4 mm"
core = "20 mm"
[[closing.half]]
name = "frame"
at = "0, 0, 0 mm"
radius = "50 mm"
modulus = "12 GPa"
thickness = "4 mm"
bending = "850 N m"
[[closing.support]]
at = "0, 0, 0 mm"
[flow])"));
  const ClosingOptions& c = job.flow.closing;
  CHECK(c.force == Approx(4e9));  // Pa·mm²
  CHECK(c.pressure == Approx(1e4));
  CHECK(c.perimeter_vacuum == Approx(0.9 * 101325));
  CHECK(c.perimeter_width == 40);
  CHECK(c.safety == 1.5);
  CHECK(c.clamped_rim);
  REQUIRE(c.half.size() == 2);
  CHECK(c.half[0].modulus == Approx(12e9));
  CHECK(c.half[1].plate() == Approx(850e9));  // Pa·mm³
  CHECK(c.supports.size() == 1);
  CHECK(job.laminate.clamping_pressure == Approx(101325 - 50000 + 1e4));
}

TEST_CASE("Clamping declared beyond the vacuum presses on resin, too") {
  const Job job = read(with(minimum, "[laminate]", "[laminate]\nclamping = \"0.8 bar\""));
  CHECK(job.flow.closing.pressure == Approx(80000 - (101325 - 50000)));
}

TEST_CASE("Draping and direction of a zone are read") {
  const Job job = read(minimum + R"(
[[laminate.zone]]
name = "corner"
at = "0, 0, 0 mm"
shear = "60 deg"
stretch = 1.25
axis = "0, 1, 0 mm"
)");
  REQUIRE(job.laminate.zones.size() == 1);
  CHECK(job.laminate.zones[0].drape == Approx(2 / 1.25));  // 1/cos 60° = 2
  CHECK(job.laminate.zones[0].axis == Vec3(0, 1, 0));
}

TEST_CASE("The pressure limit says from where it counts") {
  for (const char* s : {"\"0.8 bar above atmosphere\"", "\"1.81325 bar absolute\""})
    CHECK(read(with(minimum, "[flow]", std::string("[flow]\npressure_limit = ") + s)).flow.pressure_limit ==
          Approx(80000));
}

TEST_CASE("Every key of the reference job is known") {
  const Job job = read(R"([job]
name = "Hatch cover, new tool"
tool = "HC-7"
date = 2026-03-02
note = "Invented data: no real tool, no real part."
invented = true
cycles = 120
units = "inch"
output = "../reports/new-tool"
[lower]
file = "a.csv"
unit = "mm"
columns = "x y z"
decimal_comma = true
separator = ";"
[upper]
file = "b.ply"
[clean]
outliers = false
outlier_sigma = 5
[align]
method = ["targets"]
given_u = "0.02 mm"
[[align.target]]
name = "B1"
ball = "20 mm"
lower = "12.1, 3.0, 6.2 mm"
upper = "-310.4, 83.0, 6.2 mm"
tool = "-240, -180, 0 mm"
u = "0.01 mm"
[[align.target]]
name = "D1"
dowel = "12 mm"
lower = "212.1, 3.0, 0.2 mm"
upper = "-110.4, 83.0, 0.2 mm"
[cavity]
nominal = "3 mm"
minus = "0.2 mm"
plus = "0.4 mm"
edge = "6 mm"
min_edge = "1.5 mm"
seal = ["-200, -150 mm", "200, -150, 3 mm", "200, 150 mm", "-200, 150 mm"]
u_instrument = "0.02 mm"
max_gap = "12 mm"
allowed_nonconforming = "1 %"
min_region_area = "2 cm2"
least_area = "3 cm2"
unmeasured_share = "0.5 %"
[[cavity.zone]]
name = "rib"
path = ["0, 0, 0 mm", "50, 0, 0 mm"]
radius = "5 mm"
nominal = "4 mm"
tolerance = "0.5 mm"
[[cavity.island]]
name = "insert"
polygon = ["-20, -20 mm", "20, -20 mm", "20, 20 mm"]
[[cavity.spot]]
name = "clay 1"
at = "10, 20, -30 mm"
thickness = "3.10 mm"
U = "0.05 mm"
[laminate]
resin_density = "1.2 g/cm3"
clamping = "50 % of atmosphere"
weight_fraction = ["20 %", 0.45]
[[laminate.ply]]
glass = "own"
count = 2
direction = "90 deg"
areal_weight = "450 g/m2"
loft = "1.5 mm"
density = "2.55 g/cm3"
permeability = { law = "table", table = [["0.1", "3e-9 m2"], ["0.2", "1e-9 m2"]], ratio = 0.5 }
compaction = { law = "table", table = [["0.1", "10 kPa"], ["0.2", "80 kPa"]] }
[[laminate.zone]]
name = "overlap"
adds = true
at = "5, 6, 7 mm"
radius = "20 mm"
ply = [ { glass = "own 2", areal_weight = "450 g/m2", loft = "1.5 mm", permeability = { law = "exponential", a = "1e-8 m2", b = 3 }, compaction = { a = 0.02, b = 0.2 } } ]
[flow]
viscosity = "0.2 Pa.s"
pressure_limit = "1.1 bar above atmosphere"
cavity_pressure = "0.4 bar absolute"
gel_time = "20 min"
schedule = [ { from = "0 L", rate = "1.5 L/min" }, { from = "0.3 L", rate = "0.5 L/min" } ]
[[flow.inlet]]
name = "bead"
path = ["0, 0, 0 mm", "9, 0, 0 mm"]
radius = "4 mm"
[[flow.vent]]
name = "centre vent"
path = ["0, 0, -40 mm"]
radius = "10 mm"
bleed = "3 s"
[correct]
stock = ["0.05 mm", "4 thou"]
max_pieces = 3
face = "lower"
min_size = "20 mm"
relieve_flange = "0.3 mm"
max_stack = "2 mm"
touch_tool = true
contour_step = "0.2 mm"
waste = 1.3
paper = "letter"
[[correct.station]]
name = "S1"
at = "-230, -180, 0 mm"
present = "1 mm"
[[correct.reference]]
name = "dowel 1"
at = "-240, 0, 0 mm"
[[correct.effort]]
kind = "build-up"
fixed = "90 min"
)");
  CHECK(job.date == "2026-03-02");
  CHECK(job.invented);
  CHECK(job.cycles == 120);
  CHECK(job.units == UnitSystem::inch);
  CHECK(job.output.filename() == "new-tool");
  CHECK(job.lower.read.separator == ';');
  CHECK(job.lower.read.decimal_comma == true);
  CHECK_FALSE(job.clean.outliers);
  CHECK(job.align.methods == std::vector{AlignMethod::targets});
  CHECK(job.align.targets.at(0).ball == 20);
  CHECK_FALSE(job.align.targets.at(0).dowel);
  CHECK(job.align.targets.at(1).dowel == 12);
  CHECK(job.align.targets.at(0).tool == Vec3(-240, -180, 0));
  CHECK(job.tolerance.minus == Approx(0.2));
  CHECK(job.tolerance.plus == Approx(0.4));
  CHECK(job.sheet.seal.size() == 4);
  CHECK(job.sheet.seal[1] == Vec3(200, -150, 3));
  REQUIRE(job.sheet.islands.size() == 1);
  CHECK(job.sheet.islands[0][2] == Vec3(20, 20, 0));
  CHECK(job.tolerance.zones.at(0).where.path.size() == 2);
  CHECK(job.tolerance.zones.at(0).nominal == 4);
  CHECK(job.tolerance.allowed_nonconforming_fraction == Approx(0.01));
  CHECK(job.tolerance.min_region_area == Approx(200));
  CHECK(job.tolerance.min_area == Approx(300));
  CHECK(job.tolerance.unmeasured_fraction == Approx(0.005));
  CHECK(job.spots.at(0).U == Approx(0.05));
  CHECK(job.laminate.weight_fraction_high == Approx(0.45));
  CHECK(job.laminate.plies.at(0).direction_deg == Approx(90));
  CHECK(job.laminate.plies.at(0).reinforcement.permeability.table.at(1) == std::pair{0.2, 1e-9 * 1e6});
  CHECK(job.laminate.zones.at(0).adds);
  CHECK(job.laminate.zones.at(0).where.radius == 20);
  CHECK(job.flow.schedule.at(1).from == Approx(3e5));
  CHECK(job.flow.schedule.at(1).rate == Approx(5e5 / 60));
  CHECK(job.flow.gel_time == 1200);
  CHECK(job.flow.vents.at(0).bleed == 3);
  CHECK(job.correct.stock.at(1) == Approx(0.1016));
  CHECK(job.correct.stations.at(0).present == 1);
  CHECK(job.correct.relieve_flange == Approx(0.3));
  CHECK(job.correct.letter);
  CHECK(job.correct.references.at(0).name == "dowel 1");
  for (const auto& e : job.correct.effort)
    if (e.kind == Kind::build_up) CHECK(e.fixed == Approx(1.5));
}

TEST_CASE("The shims at hand are a set, a list, or what the units suggest") {
  CHECK(read(minimum).correct.stock == correct::stock_set("metric"));
  CHECK(read("[job]\nunits = \"inch\"\n" + minimum).correct.stock == correct::stock_set("inch"));
  CHECK(read(minimum + "[correct]\nstock = \"inch\"\n").correct.stock == correct::stock_set("inch"));
  CHECK(read(minimum + "[correct]\nstock = []\n").correct.stock.empty());
  CHECK_THAT(complaint(minimum + "[correct]\nstock = \"metrik\"\n"), Catch::Contains("must be \"metric\", \"inch\""));
}

TEST_CASE("The effort table takes the user's hours by kind") {
  const Job job = read(minimum + "[[correct.effort]]\nkind = \"shim\"\neach = \"30 min\"\n");
  CHECK(job.correct.effort.at(0).each == Approx(0.5));
  CHECK(job.correct.effort.at(0).fixed == correct::default_effort().at(0).fixed);
  CHECK_THAT(complaint(minimum + "[[correct.effort]]\nkind = \"shims\"\n"),
             Catch::Contains("must be \"shim\", \"build-up\", \"relief\""));
}

TEST_CASE("The report's language is one of five, English by itself") {
  CHECK(read(minimum).language == "en");
  CHECK(read(minimum + "\n[report]\nlanguage = \"de\"\n").language == "de");
  refused("[align]", "[report]\nlanguage = \"xx\"\n[align]", "a.toml:7: [report] language", "\"pt\"");
}

TEST_CASE("A built-in glass is found by name and the user's numbers win") {
  const auto& known = laminate::reinforcements().front();
  const auto from = minimum.find("glass = \"own\""), to = minimum.find("[flow]");
  std::string text = minimum;
  text.replace(from, to - from, "glass = \"" + known.name + "\"\nloft = \"1.23 mm\"\n");
  const Job job = read(text);
  CHECK(job.laminate.plies.at(0).reinforcement.areal_weight == known.areal_weight);
  CHECK(job.laminate.plies.at(0).reinforcement.loft == Approx(1.23));
  const Messages& source = job.laminate.plies.at(0).reinforcement.source;
  CHECK(source.size() == 2);  // the rest is built in
  CHECK(source.at(0) == Message("clamping.job-file"));
}

TEST_CASE("Nominal thickness, painted zones and the sheet's mesh are read with their files and units") {
  const Job job = read(with(minimum, "[laminate]", R"([cavity.sheet]
file = "face.stl"
unit = "in"
[cavity.surfaces]
lower = "low.stl"
upper = "up.obj"
unit = "mm"
[cavity.paint]
file = "zones.ply"
unit = "cm"
[[cavity.zone]]
name = "rib"
colour = "#Ff8000"
nominal = "4 mm"
[laminate])"));
  CHECK(job.sheet_mesh->file.filename() == "face.stl");
  CHECK(job.sheet_mesh->unit == 25.4);
  CHECK(job.surface_upper->file.filename() == "up.obj");
  CHECK(job.painted->unit == 10);
  CHECK(job.tolerance.zones.at(0).paint == Rgb{255, 128, 0});
  const Job field =
      read(with(minimum, "[laminate]", "[cavity.thickness]\nfile = \"t.csv\"\nunit = \"thou\"\n[laminate]"));
  CHECK(field.thickness->unit == Approx(0.0254));
}
