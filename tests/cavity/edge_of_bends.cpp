// What is measured at the edge of a place that both scans cover and no gap could be measured at.
#include <catch2/catch.hpp>
#include "cavity/coverage.hpp"

#include <functional>

using namespace gapfront;

namespace {

using OnSheet = std::function<bool(int x, int y)>;

/// A grid of 16 by 12 nodes, of which some could not be measured, and of these some because a scan has a hole there.
struct EdgeCase {
  Sheet sheet;
  GapMap map;
  bool any = false;
  bool measured(int x, int y) const { return map.nodes[std::size_t(16 * y + x)].measured; }
  int count() const {
    int out = 0;
    for (const NodeGap& g : map.nodes) out += g.measured;
    return out;
  }
};

EdgeCase edge_case(const OnSheet& failed, const OnSheet& hole, bool too_wide = false) {
  Mesh m;
  for (int y = 0; y < 12; ++y)
    for (int x = 0; x < 16; ++x) m.points.push_back(Vec3(5.0 * x, 5.0 * y, 0));
  for (int y = 0; y + 1 < 12; ++y)
    for (int x = 0; x + 1 < 16; ++x) {
      const int a = 16 * y + x;
      m.triangles.push_back({a, a + 1, a + 17});
      m.triangles.push_back({a, a + 17, a + 16});
    }
  EdgeCase c;
  c.sheet = cavity::make_sheet(m);
  c.map.nodes.resize(c.sheet.size());
  c.map.unseen_lower.assign(c.sheet.size(), 0), c.map.unseen_upper = c.map.unseen_lower;
  for (int y = 0; y < 12; ++y)
    for (int x = 0; x < 16; ++x) {
      const auto i = std::size_t(16 * y + x);
      c.map.nodes[i].measured = !failed(x, y);
      if (hole(x, y)) c.map.unseen_upper[i] = c.sheet.area[i];
    }
  std::vector<char> unresolved(c.sheet.size(), 0);
  for (std::size_t i = 0; i < unresolved.size(); ++i) unresolved[i] = !c.map.nodes[i].measured && !too_wide;
  c.any = cavity::drop_edge_of_bends(c.sheet, unresolved, c.map);
  return c;
}

const OnSheet none = [](int, int) { return false; };
const OnSheet row = [](int, int y) { return y == 5; };

}  // namespace

TEST_CASE("Nodes beside a bend that neither scan resolves are not measured, those farther off are") {
  const EdgeCase c = edge_case(row, none);
  CHECK(c.any);
  for (int x = 1; x < 15; ++x) {
    CHECK(!c.measured(x, 4));
    CHECK(!c.measured(x, 6));
    CHECK(c.measured(x, 3));
    CHECK(c.measured(x, 7));
  }
}

TEST_CASE("Beside a place whose gap is wider than what is looked for nothing is dropped") {
  CHECK(!edge_case(row, none, true).any);
}

TEST_CASE("A node that was measured within such a bend is not believed") {
  const EdgeCase c = edge_case([](int x, int y) { return y >= 4 && y <= 6 && !(x == 7 && y == 5); }, none);
  CHECK(!c.measured(7, 5));
}

// Four and three nodes on the two sides of one that was measured: by themselves the three would count as chance.
TEST_CASE("A bend that a measured node parts in two is one bend, and that node is not believed") {
  const OnSheet parted = [](int x, int y) {
    return (x <= 7 && x >= 4 && y == 4) || (y == 6 && x >= 7 && x <= 8) || (x == 9 && y == 5);
  };
  const EdgeCase c = edge_case(parted, none);
  CHECK(!c.measured(8, 5));  // of its six neighbours only those of the three failed, and one of the four
  CHECK(edge_case([&](int x, int y) { return parted(x, y) && y > 4; }, none).any == false);
}

TEST_CASE("Beside a hole in a scan, beside single nodes and where all is measured nothing is dropped") {
  const EdgeCase hole = edge_case(row, row);
  CHECK(!hole.any);
  CHECK(hole.count() == 16 * 11);
  const EdgeCase single = edge_case([](int x, int y) { return x % 5 == 2 && y % 4 == 2; }, none);
  CHECK(!single.any);
  CHECK(!edge_case(none, none).any);
}
