// Nominal thickness from files, painted zones, a sheet on a nominal mesh, and spot readings, through the real program.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "run_program.hpp"

using namespace gapfront::test;

namespace {

/// Corner of a nominal plate of radius r about the Bench's axis, 4 mm from corner to corner.
std::array<double, 3> corner(double r, int i, int j) {
  const double angle = 4 * i / 500.0;
  return {r * std::sin(angle), 4.0 * j, 500 - r * std::cos(angle)};
}

/// Calls f with the three corners of each of its triangles.
template <class F>
void each_triangle(double r, const F& f) {
  for (int i = -14; i < 14; ++i)
    for (int j = -12; j < 12; ++j) {
      const auto a = corner(r, i, j), b = corner(r, i + 1, j), c = corner(r, i + 1, j + 1), d = corner(r, i, j + 1);
      f(a, b, c), f(a, c, d);
    }
}

std::string stl(double r) {
  std::string out = "solid nominal\n";
  each_triangle(r, [&](const auto&... p) {
    out += "facet normal 0 0 1\nouter loop\n";
    for (const auto& q : {p...})
      out += "vertex " + std::to_string(q[0]) + " " + std::to_string(q[1]) + " " + std::to_string(q[2]) + "\n";
    out += "endloop\nendfacet\n";
  });
  return out + "endsolid nominal\n";
}

/// Red where x < 0, else grey.
std::string painted(double r) {
  std::string vertices, faces;
  int n = 0;
  each_triangle(r, [&](const auto&... p) {
    double x = 0;
    for (const auto& q : {p...}) {
      vertices += std::to_string(q[0]) + " " + std::to_string(q[1]) + " " + std::to_string(q[2]) + "\n";
      x += q[0];
    }
    faces += "3 " + std::to_string(n) + " " + std::to_string(n + 1) + " " + std::to_string(n + 2) +
             (x < 0 ? " 200 0 0\n" : " 128 128 128\n");
    n += 3;
  });
  return "ply\nformat ascii 1.0\nelement vertex " + std::to_string(n) +
         "\nproperty float x\nproperty float y\nproperty float z\nelement face " + std::to_string(n / 3) +
         "\nproperty list uchar int vertex_indices\nproperty uchar red\nproperty uchar green\nproperty uchar blue\n"
         "end_header\n" +
         vertices + faces;
}

nlohmann::json result(const Bench& bench) { return nlohmann::json::parse(bench.read("report/result.json")); }

std::string spots(double thickness, bool remove) {
  std::string out = std::string("tolerance = \"0.3 mm\"\nremove_spot_shift = ") + (remove ? "true" : "false");
  const char* places[] = {"-40, -30", "40, -30", "40, 30", "-40, 30", "0, 0", "0, 25"};
  for (const char* p : places)
    out += std::string("\n[[cavity.spot]]\nat = \"") + p + ", " + (p[0] == '0' ? "0" : "1.6") +
           " mm\"\nthickness = \"" + std::to_string(thickness) + " mm\"\nU = \"0.02 mm\"";
  return out;
}

}  // namespace

TEST_CASE("With nominal surfaces, a painted zone and a nominal sheet the job runs on all three") {
  const Bench bench;
  bench.plates();  // 2 mm apart: radii 500 and 498
  bench.write("low.stl", stl(500));
  bench.write("up.stl", stl(497.5));
  bench.write("zones.ply", painted(500));
  // Nominal surfaces 2.5 mm apart, so the gap is 0.5 mm too tight: allowed in the red half only.
  const auto r =
      bench.run({"inspect",
                 bench.job({{"[laminate]",
                             "[cavity.sheet]\nfile = \"low.stl\"\nunit = \"mm\"\n[cavity.surfaces]\nlower = "
                             "\"low.stl\"\nupper = \"up.stl\"\nunit = \"mm\"\n[cavity.paint]\nfile = \"zones.ply\"\n"
                             "unit = \"mm\"\n[[cavity.zone]]\nname = \"red half\"\ncolour = \"#c80000\"\n"
                             "tolerance = \"0.8 mm\"\n[laminate]"}}),
                 "--quiet"});
  INFO(r.err);
  REQUIRE(r.code == 0);
  const auto j = result(bench);
  const auto& fields = j["sheet"]["fields"];
  for (std::size_t i = 0; i < fields["nominal_mm"].size(); ++i) {
    // Facets of 4 mm on a radius of 500 mm: 4 µm of sagitta.
    CHECK(fields["nominal_mm"][i].get<double>() == Approx(2.5).margin(0.005));
    const double x = j["sheet"]["nodes_mm"][i][0];
    if (std::abs(x) > 4) CHECK(fields["limit_low_mm"][i].get<double>() == Approx(x < 0 ? 1.7 : 2.2).margin(0.005));
  }
  REQUIRE(j["verdict"]["zones"].size() == 2);
  CHECK(j["verdict"]["zones"][0]["name"] == "red half");
  CHECK(j["verdict"]["zones"][0]["overall"] != "nonconforming");
  CHECK(j["verdict"]["zones"][1]["overall"] == "nonconforming");
  CHECK(j["extra_inputs"].size() == 4);
  const std::string page = bench.read("report/report.html");
  CHECK_THAT(page, Catch::Contains("red half") && Catch::Contains("zones.ply"));
  // All of it is read back from result.json.
  bench.remove("report/report.html");
  REQUIRE(bench.run({"report", "report"}).code == 0);
  CHECK(bench.read("report/report.html") == page);
}

TEST_CASE("A thickness at places is the nominal between them, and what it does not reach is said") {
  const Bench bench;
  bench.plates();
  std::string text = "x,y,z,thickness\n";
  for (int x = -50; x <= 0; x += 10)
    for (int y = -40; y <= 40; y += 10)
      text += std::to_string(x) + "," + std::to_string(y) + "," + std::to_string(500 - std::sqrt(500.0 * 500 - x * x)) +
              "," + std::to_string(2 + 0.004 * x) + "\n";
  bench.write("t.csv", text);
  const std::string job =
      bench.job({{"[laminate]", "[cavity.thickness]\nfile = \"t.csv\"\nunit = \"mm\"\n[laminate]"}});
  const auto r = bench.run({"inspect", job});
  INFO(r.err);
  REQUIRE(r.code == 0);
  CHECK_THAT(r.out, Catch::Contains("no nominal thickness is given near"));
  const auto j = result(bench);
  for (std::size_t i = 0; i < j["sheet"]["nodes_mm"].size(); ++i) {
    const double x = j["sheet"]["nodes_mm"][i][0], nominal = j["sheet"]["fields"]["nominal_mm"][i];
    if (x < 0) CHECK(nominal == Approx(2 + 0.004 * x).margin(1e-4));
    if (x > 35) CHECK(nominal == 2);  // three distances of 10 mm and more from the last place
  }
}

TEST_CASE("A thickness, paint or mesh that does not fit is refused in one line") {
  const Bench bench;
  bench.plates();
  bench.write("t.csv", "0,0,900,2\n1,0,900,2\n0,1,900,2\n");
  bench.refused(bench.job({{"[laminate]", "[cavity.thickness]\nfile = \"t.csv\"\nunit = \"mm\"\n[laminate]"}}), 1,
                "t.csv: no place lies near the sheet");
  bench.write("zones.ply", painted(500));
  bench.refused(bench.job({{"[laminate]",
                            "[cavity.paint]\nfile = \"zones.ply\"\nunit = \"mm\"\n[[cavity.zone]]\nname = \"rib\"\n"
                            "colour = \"#00ff00\"\n[laminate]"}}),
                1, "\"rib\" colour: no face is painted #00ff00; the mesh has #808080, #c80000");
  bench.refused(bench.job({{"[laminate]", "[cavity.sheet]\nfile = \"none.stl\"\nunit = \"mm\"\n[laminate]"}}), 1,
                "none.stl");
}

TEST_CASE("A shift that all spot readings prove is taken out where the job asks; else there is no verdict") {
  const Bench bench;
  bench.plates();  // 2 mm in the map; every reading 1.9 ± 0.02 mm
  for (const bool remove : {false, true}) {
    const auto r = bench.run({"inspect", bench.job({{"tolerance = \"0.3 mm\"", spots(1.9, remove)}})});
    INFO(r.err);
    REQUIRE(r.code == (remove ? 0 : 2));
    CHECK_THAT(r.out + r.err,
               Catch::Contains(remove ? "were taken out of the gap" : "The 6 readings of the clamped mold"));
    const auto j = result(bench);
    CHECK(j["spot_shift"]["removed_from_the_gap"] == remove);
    CHECK(j["spot_shift"]["offset"]["mm"].get<double>() == Approx(0.1).margin(0.002));
    if (remove) CHECK(j["verdict"]["deviation_mm"]["mean"].get<double>() == Approx(-0.1).margin(0.003));
    if (!remove) CHECK(j["verdict"]["overall"] == "not judged");
    for (const auto& s : j["spot_readings"]) CHECK(s["En"].get<double>() > 1);
    const std::string page = bench.read("report/report.html");
    CHECK_THAT(page, Catch::Contains("Spot readings against the map"));
    CHECK((page.find("It was taken out of the gap") != page.npos) == remove);
  }
}

TEST_CASE("Probed halves without directions lose their tip radius on the way") {
  const Bench bench;
  bench.plates();  // 2 mm between the tip centres of two probes of 0.25 mm radius: 2.5 mm between the faces
  REQUIRE(bench
              .run({"inspect",
                    bench.job({{"file = \"lower.xyz\"", "file = \"lower.xyz\"\ntip_radius = \"0.25 mm\""},
                               {"file = \"upper.xyz\"", "file = \"upper.xyz\"\ntip_radius = \"0.25 mm\""},
                               {"nominal = \"2 mm\"", "nominal = \"2.5 mm\""}}),
                    "--quiet"})
              .code == 0);
  CHECK(result(bench)["verdict"]["deviation_mm"]["mean"].get<double>() == Approx(0).margin(0.003));
}

TEST_CASE("Tips as thick as the gap need the approach: without it nobody knows on which side of them the face is") {
  const Bench bench;
  bench.plates();
  bench.refused(bench.job({{"file = \"lower.xyz\"", "file = \"lower.xyz\"\ntip_radius = \"1 mm\""},
                           {"file = \"upper.xyz\"", "file = \"upper.xyz\"\ntip_radius = \"1 mm\""}}),
                1, "give the approach");
}

TEST_CASE(
    "Halves that run through each other are not judged, and said to, with the place and a negative gap in the map") {
  const Bench bench;
  std::string lower, upper;
  for (int x = -50; x <= 50; ++x)
    for (int y = -40; y <= 40; ++y) {
      lower += std::to_string(x) + " " + std::to_string(y) + " 0\n";
      upper += std::to_string(x) + " " + std::to_string(y) + " " + std::to_string(0.5 + 0.02 * x) + "\n";
    }
  bench.write("lower.xyz", lower);
  bench.write("upper.xyz", upper);
  const auto r = bench.run({"inspect", bench.job()});
  INFO(r.err);
  REQUIRE(r.code == 2);
  CHECK_THAT(r.out, Catch::Contains("Not judged") && Catch::Contains("The halves run through each other over"));
  const auto j = result(bench);
  CHECK(j["verdict"]["overall"] == "not judged");
  CHECK(j["corrections"]["chosen"].empty());
  for (std::size_t i = 0; i < j["sheet"]["nodes_mm"].size(); ++i) {
    const double x = j["sheet"]["nodes_mm"][i][0];
    const auto& gap = j["sheet"]["fields"]["gap_mm"][i];
    if (std::abs(x) < 45 && !gap.is_null()) CHECK((gap.get<double>() < 0) == (x < -25));
  }
}
