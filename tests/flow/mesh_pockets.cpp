// A small pocket's area and what the mesh does to it.
#include <catch2/catch.hpp>
#include <cmath>

#include "sheets.hpp"

using namespace gapfront;

namespace {

constexpr double kStripLength = 240, kStripWidth = 40;

struct Enclosed {
  Sheet sheet;
  std::vector<double> gap;
  LaminateOptions laminate;
  FlowOptions flow;
  Filling filling;
};

/// A strip fed at both ends, with a vent across it at a quarter of its length. The left front closes the vent when the
/// right one has come as far, and half of the strip is shut in; it ends as p_vent/p_inlet of that (Boyle).
Enclosed strip_enclosed(int nx) {
  Enclosed s;
  s.sheet = test::strip(nx, 4, kStripLength, kStripWidth);
  s.gap.assign(s.sheet.size(), 3);
  Ply ply;
  ply.reinforcement = laminate::find_reinforcement("stitched core mat 300");
  s.laminate.plies = {ply};
  const auto across = [](double x) { return std::vector<Vec3>{Vec3(x, 0, 0), Vec3(x, kStripWidth, 0)}; };
  s.flow = test::options(across(0), across(kStripLength / 4));
  s.flow.pressure_limit = 3e5;
  s.flow.inlets.push_back({"other end", false, across(kStripLength), 1e-6});
  s.filling = flow::fill(s.sheet, laminate::evaluate_laminate(s.sheet, s.gap, s.laminate), s.flow);
  return s;
}
const double kTrapped = 0.5 * kStripLength * kStripWidth * atmosphere_pa / (atmosphere_pa + 3e5);

}  // namespace

TEST_CASE("A finer sheet has the same area, four times the triangles, and no open joints") {
  const Sheet s = test::strip(9, 5, 90, 50, 0.2);
  const FinerSheet whole = flow::finer_sheet(s);
  CHECK(whole.sheet.mesh.triangles.size() == 4 * s.mesh.triangles.size());
  std::vector<char> here(s.size(), 0);
  here[22] = 1;
  const FinerSheet part = flow::finer_sheet(s, here);
  CHECK(part.sheet.size() > s.size());
  CHECK(part.sheet.size() < whole.sheet.size());
  for (const FinerSheet* f : {&whole, &part}) {
    double area = 0;
    for (const double a : f->sheet.area) area += a;
    CHECK(area == Approx(4500));
    REQUIRE(f->from.size() == f->sheet.size());
    // An edge that only one triangle has lies on the outline: a joint left open would make others.
    std::map<std::pair<int, int>, int> sides;
    for (const auto& t : f->sheet.mesh.triangles) {
      const Vec3 a = f->sheet.mesh.points[t[0]], b = f->sheet.mesh.points[t[1]], c = f->sheet.mesh.points[t[2]];
      CHECK((b - a).cross(c - a).z() > 0);  // none turned over
      for (int k = 0; k < 3; ++k) ++sides[std::minmax(t[k], t[(k + 1) % 3])];
    }
    for (const auto& [e, count] : sides)
      if (count == 1) {
        CHECK(f->sheet.rim[e.first]);
        for (const int i : {e.first, e.second}) {
          const Vec3& p = f->sheet.mesh.points[i];
          CHECK(std::min({p.x(), 90 - p.x(), p.y(), 50 - p.y()}) == Approx(0).margin(1e-9));
        }
      }
    std::vector<double> x;
    for (const Vec3& p : s.mesh.points) x.push_back(p.x());
    const auto carried = f->carried(x);
    for (std::size_t i = 0; i < carried.size(); ++i) CHECK(carried[i] == Approx(f->sheet.mesh.points[i].x()));
  }
}

TEST_CASE("The mesh's uncertainty of a small pocket holds its true area, and shrinks with the edge") {
  int held = 0;
  double first = 0, last = 0;
  for (const int nx : {12, 16, 20, 24, 28, 32, 40}) {
    Enclosed s = strip_enclosed(nx);
    REQUIRE(s.filling.pockets.size() == 1);
    Pocket& p = s.filling.pockets[0];
    CHECK(std::isnan(p.area_U));
    flow::judge_pockets(s.sheet, s.gap, s.laminate, s.flow, s.filling);
    CAPTURE(nx, p.area, p.area_U, p.area_fine, kTrapped);
    CHECK(p.area_fine > 0);
    // A further twentieth of it: the gas is at its pressure to 1 %, the time at closing to a share of a cell.
    held += std::abs(p.area - kTrapped) <= p.area_U + 0.05 * kTrapped;
    (nx == 12 ? first : last) = p.area_U;
    WARN("nx " << nx << ": " << p.area << " +- " << p.area_U << " (half the edge " << p.area_fine << ", true "
               << kTrapped << ")");
  }
  CHECK(held >= 6);
  CHECK(last < first);
}
