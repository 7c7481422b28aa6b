#include "core/cell_grid.hpp"

#include <catch2/catch.hpp>
#include <random>

using namespace gapfront;

TEST_CASE("A grid from which points are dropped is the grid of those left") {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> place(0, 100);
  std::vector<Vec3> points{{0, 0, 0}, {100, 100, 100}};  // so that cells stay where they are
  for (int i = 0; i < 5000; ++i) points.emplace_back(place(random), place(random), place(random));
  const cells::Grid unordered(points, 9);
  std::vector<Vec3> sorted;
  for (const auto* i = unordered.begin(0); i != unordered.end(unordered.cells() - 1); ++i) sorted.push_back(points[*i]);
  cells::Grid grid(sorted, 9);
  grid.points_in_order();
  std::vector<std::uint8_t> gone(sorted.size(), 0);
  std::vector<Vec3> left;
  for (std::size_t i = 0; i < sorted.size(); ++i) {
    gone[i] = i > 0 && i + 1 < sorted.size() && place(random) < 70;
    if (!gone[i]) left.push_back(sorted[i]);
  }
  grid.drop(gone);
  const cells::Grid anew(left, 9);
  REQUIRE(grid.cells() == anew.cells());
  REQUIRE(grid.cells() < unordered.cells());  // some have become empty
  for (std::size_t c = 0; c < grid.cells(); ++c) {
    REQUIRE(grid.key(c) == anew.key(c));
    REQUIRE(std::vector<std::uint32_t>(grid.begin(c), grid.end(c)) ==
            std::vector<std::uint32_t>(anew.begin(c), anew.end(c)));
  }
}
