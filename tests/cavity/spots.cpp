#include <catch2/catch.hpp>
#include "gap_cases.hpp"

using namespace gapfront;

namespace {

/// Two triangles of 10 mm with a gap of 3 mm, U = 0.04 mm; node 3 not measured.
std::pair<Sheet, GapMap> square() {
  Sheet sheet;
  sheet.mesh.points = {Vec3(0, 0, 0), Vec3(10, 0, 0), Vec3(10, 10, 0), Vec3(0, 10, 0)};
  sheet.mesh.triangles = {{0, 1, 2}, {0, 2, 3}};
  GapMap map;
  map.nodes.resize(4);
  for (std::size_t i = 0; i < 4; ++i) {
    map.nodes[i].measured = i != 3;
    map.nodes[i].gap = 3 + 0.1 * double(i);
    map.nodes[i].U = 0.04;
    map.nodes[i].mid = sheet.mesh.points[i] + Vec3(0, 0, 1.5);
  }
  return {sheet, map};
}

}  // namespace

TEST_CASE("A spot reading is judged by its En number against the nearest measured node") {
  // Eq. 19 (ISO 13528): |3.1 − 3.15|/√(0.04² + 0.03²) = 0.05/0.05 = 1.
  const auto [sheet, map] = square();
  const auto c = cavity::compare_spots(sheet, map, {{"clay 1", Vec3(9, 0.5, 1.4), 3.15, 0.03}});
  REQUIRE(c.size() == 1);
  CHECK(c[0].found);
  CHECK(c[0].name == "clay 1");
  CHECK(c[0].map == Approx(3.1));
  CHECK(c[0].En == Approx(1).epsilon(1e-9));
}

TEST_CASE("A spot on a node without a gap goes to the nearest node that has one") {
  const auto [sheet, map] = square();
  const auto c = cavity::compare_spots(sheet, map, {{"clay", Vec3(0, 10, 0), 3, 0.03}});
  CHECK(c[0].found);
  CHECK(c[0].map == Approx(3.0).margin(0.21));
}

TEST_CASE("A spot beyond two edges of the sheet is reported as not found") {
  const auto [sheet, map] = square();
  CHECK_FALSE(cavity::compare_spots(sheet, map, {{"far", Vec3(80, 0, 0), 3, 0.03}})[0].found);
}
