// make_sheet: what a given mesh gets, and which meshes are refused.
#include <catch2/catch.hpp>
#include "gapfront/error.hpp"
#include "sheet_shapes.hpp"

using namespace gapfront;
using namespace sheet_shapes;

namespace {

Mesh unit_squares(int m, int n) {
  Mesh mesh;
  for (int j = 0; j <= n; ++j)
    for (int i = 0; i <= m; ++i) mesh.points.push_back({double(i), double(j), 0});
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < m; ++i) {
      const int a = j * (m + 1) + i, b = a + 1, c = a + m + 1, d = c + 1;
      mesh.triangles.push_back({a, b, d});
      mesh.triangles.push_back({a, d, c});
    }
  return mesh;
}

}  // namespace

TEST_CASE("Node areas sum to the mesh's area and the smallest angle of right triangles is 45 degrees") {
  const Sheet s = cavity::make_sheet(unit_squares(5, 4));
  CHECK(total_area(s) == Approx(20));
  CHECK(s.min_angle_deg == Approx(45));
  for (const Vec3& n : s.normals) CHECK(n.z() == Approx(1));
}

TEST_CASE("The rim is the longest boundary loop only") {
  Mesh m = unit_squares(5, 5);
  m.triangles.erase(m.triangles.begin() + 24, m.triangles.begin() + 26);  // the square in the middle
  const Sheet s = cavity::make_sheet(m);
  int rim = 0;
  for (char r : s.rim) rim += r;
  CHECK(rim == 20);
}

TEST_CASE("An empty mesh, a third triangle on a side and turned neighbours are refused") {
  CHECK_THROWS_AS(cavity::make_sheet({}), Error);
  Mesh m = unit_squares(1, 1);
  m.points.push_back({0, 0, 1});
  m.triangles.push_back({0, 3, 4});
  CHECK_THROWS_AS(cavity::make_sheet(m), Error);
  Mesh turned = unit_squares(1, 1);
  std::swap(turned.triangles[0][0], turned.triangles[0][1]);
  CHECK_THROWS_AS(cavity::make_sheet(turned), Error);
}

TEST_CASE("Parts that meet in one point only are refused, whether they end there or not") {
  Mesh cones;  // two, tip to tip
  cones.points.push_back(Vec3::Zero());
  for (int side = 0; side < 2; ++side)
    for (int k = 0; k < 6; ++k) cones.points.push_back({std::cos(k * pi / 3), std::sin(k * pi / 3), side ? 1.0 : -1.0});
  for (int side = 0; side < 2; ++side)
    for (int k = 0; k < 6; ++k) cones.triangles.push_back({0, 1 + 6 * side + k, 1 + 6 * side + (k + 1) % 6});
  CHECK_THROWS_WITH(cavity::make_sheet(cones), Catch::Contains("two parts meet in point 0 only"));
  Mesh corners = unit_squares(1, 1);  // two squares, corner to corner
  for (const Vec3& p : unit_squares(1, 1).points) corners.points.push_back(p + Vec3(1, 1, 0));
  corners.triangles.insert(corners.triangles.end(), {{3, 5, 7}, {3, 7, 6}});
  CHECK_THROWS_WITH(cavity::make_sheet(corners), Catch::Contains("two parts meet in point 3 only"));
  cones.triangles.resize(6), cones.points.resize(7);  // one cone
  CHECK(cavity::make_sheet(cones).size() == 7);
}
