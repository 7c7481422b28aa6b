// Fillings on fewer nodes than the sheet has: what is drawn at random on a fine mesh.
#include "flow/coarse.hpp"

#include <catch2/catch.hpp>
#include <functional>
#include <numeric>

#include "flow/fill_run.hpp"
#include "gapfront/ensemble.hpp"
#include "sheets.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

// The part of a sheet whose triangles' middles are as asked.
Sheet cut(const Sheet& whole, const std::function<bool(const Vec3&)>& stays) {
  Mesh m;
  std::vector<int> to(whole.size(), -1);
  for (auto t : whole.mesh.triangles) {
    const auto& p = whole.mesh.points;
    if (!stays((p[t[0]] + p[t[1]] + p[t[2]]) / 3)) continue;
    for (int& i : t) {
      if (to[i] < 0) to[i] = int(m.points.size()), m.points.push_back(p[i]);
      i = to[i];
    }
    m.triangles.push_back(t);
  }
  return finish(m);
}

double sum(const std::vector<double>& v) { return std::accumulate(v.begin(), v.end(), 0.0); }

// On the coarse sheet, with the ports of the fine one.
Filling filled_coarsely(const CoarseSheet& coarse, const Sheet& fine, const LaminateMap& laminate,
                        const FlowOptions& o) {
  const flow::Ground ground(coarse.sheet, coarse.ports(flow::find_ports(fine, o)));
  return flow::Fill(ground, coarse.mean(laminate), o, {}).run({});
}

// Filled from its rim to a vent beside the middle: of draws of its glass some close around air.
struct Plate {
  Sheet sheet = strip(120, 80, 300, 200, 0.2);
  LaminateOptions laminate;
  FlowOptions flow = options({}, {});
  GapMap map;
  std::vector<double> gap = std::vector<double>(sheet.size(), 3.0);

  Plate() {
    laminate.plies = {mat(0.2)};
    flow.inlets[0].perimeter = true;
    flow.vents[0].path = {{170, 110, 0}}, flow.vents[0].radius = 6;
    map.nodes.resize(sheet.size());
    for (std::size_t i = 0; i < sheet.size(); ++i) {
      auto& n = map.nodes[i];
      n.measured = true, n.gap = 3, n.mid = sheet.mesh.points[i], n.u_lower = n.u_upper = 0.01;
    }
  }
  // With all nodes, or with as many as draws are filled with.
  std::vector<DrawnFill> draw(bool all_nodes, int count) const {
    const EnsembleOptions o;
    const Draws draws(sheet, map, flow::scatter_model(sheet, laminate, flow::scatter_of(o)), o.seed);
    const KeptDraws kept(draws, count, all_nodes ? nullptr : flow::sheet_of_draws(sheet, o));
    return flow::draw_air(sheet, map, gap, laminate, flow, o, flow::numbers_from(0, count), false, nullptr, &kept);
  }
};

}  // namespace

TEST_CASE("A coarse sheet keeps the area and the resin, in cells as wide as asked") {
  for (const double row : {4.0, 6.0, 9.0}) {
    const Sheet fine = strip(150, 100, 300, 200, 0.2);
    auto laminate = uniform(fine);
    for (std::size_t i = 0; i < fine.size(); ++i) laminate.nodes[i].fluid_thickness = 2 + fine.mesh.points[i].x() / 300;
    const CoarseSheet coarse(fine, row);
    CHECK(sum(coarse.sheet.area) == Approx(sum(fine.area)).epsilon(1e-12));
    const auto resin = [](const Sheet& s, const LaminateMap& m) {
      double all = 0;
      for (std::size_t i = 0; i < s.size(); ++i) all += s.area[i] * m.nodes[i].fluid_thickness;
      return all;
    };
    CHECK(resin(coarse.sheet, coarse.mean(laminate)) == Approx(resin(fine, laminate)).epsilon(1e-12));
    const double width = std::sqrt(sum(fine.area) / double(coarse.sheet.size()));
    WARN("row " << row << ": " << width);
    CHECK(width <= row);  // in whole rows of the fine sheet, of 2 mm
    CHECK(width > 0.85 * row);
    // The triangles fill the sheet: what lies outside of them is the half cell at its corners at the most.
    double covered = 0;
    for (const auto& t : coarse.sheet.mesh.triangles) {
      const auto& p = coarse.sheet.mesh.points;
      covered += 0.5 * (p[t[1]] - p[t[0]]).cross(p[t[2]] - p[t[0]]).norm();
    }
    CHECK(covered == Approx(sum(fine.area)).epsilon(0.01));
  }
}

TEST_CASE("A coarse sheet fills in the time of the closed form") {
  // Straight front at a constant pressure: t = φ µ L²/(2 K Δp) (Darcy; see closed_forms.cpp).
  const Sheet fine = strip(150, 60, 300, 120, 0.2);
  const FlowOptions o = options({{0, 0, 0}, {0, 120, 0}}, {{300, 0, 0}, {300, 120, 0}});
  const CoarseSheet coarse(fine, 5.3);
  const Filling f = filled_coarsely(coarse, fine, uniform(fine), o);
  const double exact = 0.83 * 0.2 * 300 * 300 / (2 * 1e-3 * 1e5);
  WARN("fill time " << f.fill_time << ", exact " << exact);
  CHECK(f.fill_time == Approx(exact).epsilon(0.02));
  CHECK(f.pockets.empty());
}

TEST_CASE("Glass with a direction keeps its axes on a coarse sheet") {
  const Sheet fine = strip(60, 60, 120, 120, 0.2);
  auto laminate = uniform(fine);
  const Vec3 along = Vec3(2, 1, 0).normalized();
  for (auto& n : laminate.nodes) n.direction = along, n.conductance2 = n.conductance / 4;
  for (const auto& n : CoarseSheet(fine, 6).mean(laminate).nodes) {
    REQUIRE(n.conductance == Approx(state().conductance).epsilon(1e-9));
    REQUIRE(n.conductance2 == Approx(state().conductance / 4).epsilon(1e-9));
    REQUIRE(std::abs(n.direction.dot(along)) == Approx(1).epsilon(1e-9));
  }
}

TEST_CASE("Draws on a coarse sheet trap air as those on all nodes do") {
  const Plate plate;
  constexpr int kDraws = 64;
  REQUIRE(flow::sheet_of_draws(plate.sheet, {}));
  const auto all = plate.draw(true, kDraws), few = plate.draw(false, kDraws);
  int traps = 0, traps_too = 0, differ = 0;
  for (int k = 0; k < kDraws; ++k) {
    traps += all[k].pocket, traps_too += few[k].pocket;
    differ += all[k].pocket != few[k].pocket;
  }
  WARN(traps << " and " << traps_too << " trap air, " << differ << " differ; mean dry area " << flow::mean_dry_area(all)
             << " and " << flow::mean_dry_area(few));
  CHECK(traps > 10);
  CHECK(traps < 54);
  CHECK(differ <= 4);  // of 16 mm, within what a third of it tells
  CHECK(flow::mean_dry_area(few) == Approx(flow::mean_dry_area(all)).epsilon(0.1));
}

TEST_CASE("The mouth of a vent is as large as it is bored on any mesh") {
  auto o = options({{0, 0, 0}, {0, 200, 0}}, {{151, 103, 0}});
  o.vents[0].radius = 8;
  const double bored = M_PI * 8 * 8;
  for (const int rows : {20, 40, 100}) {
    const Sheet sheet = strip(3 * rows / 2, rows, 300, 200, 0.2);
    const auto ports = flow::find_ports(sheet, o);
    double area = 0;
    for (const auto& m : ports.mouths[0]) area += m.share * sheet.area[m.node];
    CHECK(area == Approx(bored).epsilon(0.03));
    if (rows < 100) continue;
    const CoarseSheet coarse(sheet, 6);
    area = 0;
    const auto left = coarse.ports(ports);
    for (const auto& m : left.mouths[0]) area += m.share * coarse.sheet.area[m.node];
    CHECK(area == Approx(bored).epsilon(0.03));
  }
}

TEST_CASE("No cell of a coarse sheet is alone at the tip of a wedge") {
  const Sheet wedge =
      cut(strip(200, 100, 200, 100), [](const Vec3& p) { return std::abs(p.y() - 50) < 0.18 * p.x(); });  // 20°
  const CoarseSheet coarse(wedge, 5.3);
  CHECK(coarse.whole);
  std::vector<char> joined(coarse.sheet.size(), 0);
  for (const auto& t : coarse.sheet.mesh.triangles)
    for (const int i : t) joined[i] = 1;
  CHECK(std::count(joined.begin(), joined.end(), 0) == 0);
  CHECK(sum(coarse.sheet.area) == Approx(sum(wedge.area)).epsilon(1e-12));
}

TEST_CASE("A sheet with a neck narrower than the cells wanted is filled as it is") {
  const auto dumb_bell = [](double neck) {
    return cut(strip(160, 60, 160, 60),
               [=](const Vec3& p) { return std::abs(p.x() - 80) > 20 || std::abs(p.y() - 30) < neck / 2; });
  };
  CHECK_FALSE(flow::sheet_of_draws(dumb_bell(2), {}));
  CHECK(flow::sheet_of_draws(dumb_bell(20), {}));
}

TEST_CASE("Draws that differ in nothing lead by nothing, on a coarse sheet too") {
  Plate plate;
  plate.flow.inlets[0] = {"gate", false, {{12, 100, 0}}, 6};
  plate.flow.vents[0].path = {{290, 100, 0}};
  plate.laminate.plies[0].reinforcement.permeability.spread = 0;
  for (auto& n : plate.map.nodes) n.u_lower = n.u_upper = 0;
  EnsembleOptions o;
  o.runs = 2, o.spread = 0;
  REQUIRE(flow::sheet_of_draws(plate.sheet, o));
  const auto laminate = laminate::evaluate_laminate(plate.sheet, plate.gap, plate.laminate);
  const Filling filling = flow::fill(plate.sheet, laminate, plate.flow);
  const Lead lead = flow::compare_fillings(plate.sheet, filling, filling);
  const Ensemble e =
      flow::draw_fillings(plate.sheet, plate.map, plate.gap, plate.laminate, plate.flow, filling, lead, o);
  CHECK(*std::max_element(e.leads.begin(), e.leads.end()) == 0);
  CHECK(e.max_high == 0);
  CHECK(e.fill_time_high == Approx(filling.fill_time).epsilon(1e-9));  // fewer nodes take some 4 % longer from a gate
}

TEST_CASE("Air beside a vent that bleeds stays shut in once the mouth is covered") {
  Plate plate;
  Filling plain, bleeds;
  const Draws draws(plate.sheet, plate.map, flow::scatter_model(plate.sheet, plate.laminate, {0.2, 50, {}, 0}), 6);
  auto laminate = laminate::evaluate_laminate(plate.sheet, plate.gap, plate.laminate);
  flow::scatter_reinforcement(laminate, draws(5).permeability);
  plain = flow::fill(plate.sheet, laminate, plate.flow);
  plate.flow.vents[0].bleed = 20;
  bleeds = flow::fill(plate.sheet, laminate, plate.flow);
  REQUIRE(plain.pockets.size() == 1);
  REQUIRE(bleeds.pockets.size() == 1);
  CHECK(bleeds.pockets[0].initial_volume == Approx(plain.pockets[0].initial_volume).epsilon(0.05));
  CHECK(bleeds.vent_closed_at[0] == Approx(plain.vent_closed_at[0] + 20).epsilon(1e-3));
}

TEST_CASE("A line vent narrower than the cells along it leaves none of their air shut in") {
  // Along the far edge, and across the middle between two fronts: the part of the cells beside the mouth fills too.
  const Sheet sheet = strip(40, 25, 640, 400, 0.1);  // cells of 16 mm
  auto edge = options({{0, 0, 0}, {0, 400, 0}}, {{640, 0, 0}, {640, 400, 0}});
  edge.vents[0].radius = 5;
  CHECK(flow::fill(sheet, uniform(sheet), edge).pockets.empty());
  auto middle = options({{0, 0, 0}, {0, 400, 0}}, {{312, 0, 0}, {312, 400, 0}});
  middle.inlets.push_back({"other edge", false, {{640, 0, 0}, {640, 400, 0}}, 1e-6});
  middle.vents[0].radius = 9;
  CHECK(flow::fill(sheet, uniform(sheet), middle).pockets.empty());
}

TEST_CASE("A sheet whose rows are hardly finer than draws need is filled as it is") {
  CHECK_FALSE(flow::sheet_of_draws(strip(60, 40, 300, 200), {}));
}
