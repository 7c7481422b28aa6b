#include <catch2/catch.hpp>

#include "gapfront/cavity.hpp"

using namespace gapfront;

namespace {

Sheet masked_square() {
  Mesh m;
  for (int j = 0; j < 11; ++j)
    for (int i = 0; i < 11; ++i) m.points.push_back(Vec3(10 * i, 10 * j, 0));
  for (int j = 0; j < 10; ++j)
    for (int i = 0; i < 10; ++i) {
      const int a = 11 * j + i;
      m.triangles.push_back({a, a + 1, a + 12});
      m.triangles.push_back({a, a + 12, a + 11});
    }
  return cavity::make_sheet(std::move(m));
}

}  // namespace

TEST_CASE("A ball is masked by one and a half diameters, a plain point by 15 mm, and the job may say otherwise") {
  Alignment a;
  a.marks = {{"B1", Vec3(1, 2, 3), 20.0, {}},
             {"P1", Vec3(50, 0, 0), {}, {}},
             {"P2", Vec3(90, 0, 0), {}, 8.0},
             {"P3", Vec3(95, 0, 0), {}, 0.0}};
  const auto masks = cavity::masks_of(a);
  REQUIRE(masks.size() == 3);  // P3 asks for none
  CHECK(masks[0].radius == 30);
  CHECK(masks[1].radius == 15);
  CHECK(masks[2].radius == 8);
}

TEST_CASE("Both halves' views of a ball make one mask, unless they lie apart") {
  Alignment a;
  a.marks = {{"B1", Vec3(0, 0, 0), 20.0, {}}, {"B1", Vec3(0, 0, 0.02), 20.0, {}}, {"B1", Vec3(0, 0, 4), 20.0, {}}};
  CHECK(cavity::masks_of(a).size() == 2);
}

TEST_CASE("On a sheet that was given, the nodes inside a mask are marked and their area is counted") {
  Sheet s = masked_square();
  cavity::mask_nodes(s, {{"B1", Vec3(50, 50, 0), 15}});
  int inside = 0;
  for (const char c : s.masked) inside += c;
  CHECK(inside == 9);  // a node and its eight neighbours on a 10 mm grid
  CHECK(s.masked_area == Approx(900));
}

TEST_CASE("Only masks that reach the sheet are kept") {
  const Sheet s = masked_square();
  const auto kept = cavity::masks_on_sheet(s, {{"in", Vec3(50, 50, 0), 15}, {"out", Vec3(50, 50, 200), 15}});
  REQUIRE(kept.size() == 1);
  CHECK(kept[0].name == "in");
}
