// What an inspection notes of a job that is likely a slip, or beyond what was tested.
#include "pipeline/notes.hpp"

#include <catch2/catch.hpp>

#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/text.hpp"

using namespace gapfront;

namespace {

bool notes(const Messages& all, const char* id) {
  for (const Message& m : all)
    if (m.id == id) return true;
  return false;
}

/// One triangle of 5000 mm² with a gap of 3 mm.
Predicted one_triangle() {
  Predicted r;
  Mesh mesh;
  mesh.points = {Vec3(0, 0, 0), Vec3(100, 0, 0), Vec3(0, 100, 0)};
  mesh.triangles = {{0, 1, 2}};
  r.sheet = cavity::make_sheet(std::move(mesh));
  r.flow_gap.assign(3, 3);
  return r;
}

}  // namespace

TEST_CASE("A channel at a weaker vacuum than the cavity that it goes around is noted, a deeper one is not") {
  Predicted r = one_triangle();
  r.job.flow.cavity_pressure = 0.5 * atmosphere_pa;
  r.job.flow.closing.perimeter_width = 40;
  for (const double share : {0.0, 0.2, 0.495, 0.9}) {
    r.job.flow.closing.perimeter_vacuum = share * atmosphere_pa;
    CHECK(notes(pipeline::unlikely_values(r), "warnings.channel-weaker") == (share == 0.2));
  }
}

TEST_CASE("A half that moves by more than a third of the gap is noted with its place and what it does to the fill") {
  Predicted r = one_triangle();
  Breathing& b = r.breathing;
  b.dry.move = {0, -0.2, 0}, b.filling.move = {0, 0, 0}, b.worst.move = {0, 0, 2.4};
  r.filling.fill_time = 600, b.at_dry.fill_time = 820, b.at_worst.fill_time = 170;
  CHECK(pipeline::half_notes(r).empty());  // rigid
  b.computed = true;
  const Messages lifts = pipeline::half_notes(r);
  REQUIRE(notes(lifts, "warnings.half-lifts-far"));
  const std::string said = say(lifts[0], {UnitSystem::mm});
  CHECK_THAT(said, Catch::Contains("2.40 mm") && Catch::Contains("y 100") && Catch::Contains("13 min 40 s"));
  b.worst.move[2] = -2.4;
  CHECK(notes(pipeline::half_notes(r), "warnings.half-bends-in-far"));
  b.worst.move[2] = 0.9;
  CHECK(pipeline::half_notes(r).empty());
}

TEST_CASE("Glass that lets more resin through than the empty gap would is refused") {
  Predicted r = one_triangle();
  const std::vector<double> nominal(3, 3.0);
  r.nominal_laminate.nodes.resize(3);
  // The cubic law: an empty gap conducts h³/12 = 2.25 mm³.
  for (auto& n : r.nominal_laminate.nodes) n.conductance = 2.2;
  pipeline::check_permeability(r, nominal);
  for (auto& n : r.nominal_laminate.nodes) n.conductance = 2.3;
  CHECK_THROWS_WITH(pipeline::check_permeability(r, nominal), Catch::Contains("7.5e-07 m2"));
  // A channel above the glass, and one along a radius, are no glass.
  for (auto& n : r.nominal_laminate.nodes) n.beside = 1;
  pipeline::check_permeability(r, nominal);
}
