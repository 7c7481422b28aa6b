// Trials are the stages themselves: what the page is told is what flow::fill() says of the same mold.
#include <catch2/catch.hpp>
#include <cmath>

#include "../flow/sheets.hpp"
#include "gapfront/error.hpp"
#include "gapfront/live.hpp"

namespace gapfront::test {
namespace {

constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

/// A strip 200 × 100 mm of two mats, resin from the left end, a vent at the right one.
LiveCase strip_case() {
  LiveCase c;
  c.mesh = strip(40, 20, 200, 100, 0.2).mesh;
  const std::size_t n = c.mesh.points.size();
  for (std::size_t i = 0; i < n; ++i) c.gap.push_back(3 + 0.2 * std::sin(0.05 * c.mesh.points[i].x()));
  c.low.assign(n, 2.9), c.high.assign(n, 3.1);
  c.low[7] = c.high[7] = kNone;
  Reinforcement mat;
  mat.name = "test mat", mat.areal_weight = 450e-6, mat.loft = 1.65, mat.density = 2.55e-3;
  mat.permeability.a = 7e-6, mat.permeability.b = 2.5;
  mat.compaction.a = 0.03, mat.compaction.b = 0.2;
  c.laminate.plies = {{mat, 2, 0}};
  LaminateZone zone;
  zone.name = "overlap", zone.adds = true, zone.plies = {{mat, 0.5, 0}}, zone.where.path = {Vec3(60, 50, 0)};
  zone.where.radius = 12;
  c.laminate.zones = {zone};
  Inlet inlet;
  inlet.name = "end", inlet.path = {Vec3(0, 0, 0), Vec3(0, 100, 0)}, inlet.radius = 6;
  c.flow.inlets = {inlet};
  c.flow.vents = {{"far", {Vec3(200, 50, 0)}, 8, 0}};
  c.flow.schedule = {{0, 5000}};
  Correction relief;
  relief.kind = Kind::relief, relief.name = "C1", relief.gap_change.assign(n, 0);
  for (std::size_t i = 100; i < 160; ++i) relief.gap_change[i] = 0.15;
  Correction move;
  move.kind = Kind::vent_move, move.name = "C2", move.port = "far", move.port_to = {Vec3(200, 80, 0)};
  Correction cut;
  cut.kind = Kind::overlap_cut, cut.name = "C3", cut.cut = {"overlap"};
  c.corrections = {relief, move, cut};
  return c;
}

Filling direct(const LiveCase& c, const std::vector<double>& gap, const LaminateOptions& l, const FlowOptions& f) {
  const Sheet sheet = cavity::make_sheet(c.mesh);
  return flow::fill(sheet, laminate::evaluate_laminate(sheet, gap, l), f);
}

LiveOutcome tried(const LiveCase& c, const LiveTrial& t) { return live::attempt(c, cavity::make_sheet(c.mesh), t); }

}  // namespace

TEST_CASE("a packed case fills as the case itself, to the last bit") {
  const LiveCase c = strip_case(), again = live::unpack(live::pack(c));
  CHECK(live::pack(again) == live::pack(c));
  const Filling here = direct(c, c.gap, c.laminate, c.flow);
  const LiveOutcome there = tried(again, {});
  CHECK(there.filling.arrival == here.arrival);
  CHECK(there.filling.peak_pressure == here.peak_pressure);
  CHECK(there.filling.fill_time == here.fill_time);
  CHECK(there.balance == flow::least_balance(here.opening));
  CHECK(again.corrections[0].gap_change == c.corrections[0].gap_change);
}

TEST_CASE("corrections, process and plies of a trial are those of a job that says the same") {
  const LiveCase c = strip_case();
  LiveTrial t;
  t.corrections = {1, 1, 1};
  t.viscosity = 0.35, t.pressure_limit = 9e4, t.cavity_pressure = 3e4, t.rate = 0;
  t.plies = {3};
  LaminateOptions l = c.laminate;
  FlowOptions f = c.flow;
  std::vector<double> gap = c.gap;
  for (std::size_t i = 100; i < 160; ++i) gap[i] += 0.15;
  l.zones.clear(), l.plies[0].count = 3;
  l.clamping_pressure += c.flow.cavity_pressure - 3e4;  // the deeper vacuum presses on the glass
  f.vents[0].path = {Vec3(200, 80, 0)};
  f.viscosity = 0.35, f.pressure_limit = 9e4, f.cavity_pressure = 3e4, f.schedule.clear();
  const LiveOutcome out = tried(c, t);
  CHECK(out.filling.arrival == direct(c, gap, l, f).arrival);
  const Sheet sheet = cavity::make_sheet(c.mesh);
  CHECK(out.over_packed_area == laminate::evaluate_laminate(sheet, gap, l).over_packed_area);
}

TEST_CASE("a port that is carried along stands at whole tenths of a millimetre, as a job line says it") {
  const LiveCase c = strip_case();
  LiveTrial t;
  t.moves = {{true, 0, -3.04, 21.27}, {false, 0, 0, 5.26}};
  const LiveOutcome out = tried(c, t);
  REQUIRE(out.vents[0].path.size() == 1);
  CHECK((out.vents[0].path[0] - Vec3(197, 71.3, 0)).norm() < 1e-12);
  CHECK((out.inlets[0].path[1] - Vec3(0, 105.3, 0)).norm() < 1e-12);
  FlowOptions f = c.flow;
  f.vents[0].path = {Vec3(197.0, 71.3, 0)};
  f.inlets[0].path = {Vec3(0, 5.3, 0), Vec3(0, 105.3, 0)};
  CHECK(out.filling.arrival == direct(c, c.gap, c.laminate, f).arrival);
}

TEST_CASE("what is added stands on the face: a vent, a patch, packed roving") {
  const LiveCase c = strip_case();
  LiveTrial t;
  t.vents = {{"added", {Vec3(100, 100, 40)}, 7, 0}};
  LaminateZone patch;
  patch.adds = true, patch.plies = c.laminate.plies, patch.plies[0].count = 1;
  patch.where.path = {Vec3(100, 20, 9)}, patch.where.radius = 15;
  LaminateZone packing = patch;
  packing.plies = {correct::roving(c.laminate.plies[0], 0.4)};
  packing.where.path = {Vec3(20, 80, 0), Vec3(180, 80, 0)}, packing.where.radius = 6;
  t.added = {patch, packing};
  LaminateOptions l = c.laminate;
  FlowOptions f = c.flow;
  f.vents.push_back({"added", {Vec3(100, 100, 0)}, 7, 0});
  patch.where.path = {Vec3(100, 20, 0)};
  l.zones.push_back(patch), l.zones.push_back(packing);
  CHECK(tried(c, t).filling.arrival == direct(c, c.gap, l, f).arrival);
}

TEST_CASE("the area out of tolerance leaves out what is not judged") {
  const LiveCase c = strip_case();
  const Sheet sheet = cavity::make_sheet(c.mesh);
  double expected = 0;
  for (std::size_t i = 0; i < c.gap.size(); ++i)
    if (i != 7 && (c.gap[i] > 3.1 || c.gap[i] < 2.9)) expected += sheet.area[i];
  REQUIRE(expected > 0);
  CHECK(tried(c, {}).out_area == expected);
}

TEST_CASE("with a light half the resin meets the gap that it leaves, the tolerance the gap as scanned") {
  LiveCase c = strip_case();
  c.breathing.assign(c.gap.size(), 0.05);
  std::vector<double> met = c.gap;
  for (double& h : met) h += 0.05;
  const LiveOutcome out = tried(c, {});
  CHECK(out.gap == c.gap);
  CHECK(out.filling.arrival == direct(c, met, c.laminate, c.flow).arrival);
}

TEST_CASE("a packed case that is cut short or edited is refused, wherever") {
  LiveCase c = strip_case();
  c.mesh = strip(3, 2, 30, 20).mesh;
  const std::size_t n = c.mesh.points.size();
  for (auto* v : {&c.gap, &c.low, &c.high}) v->resize(n);
  for (Correction& k : c.corrections) k.gap_change.assign(n, 0);
  const std::string bytes = live::pack(c);
  REQUIRE_NOTHROW(live::unpack(bytes));
  for (std::size_t k = 0; k < bytes.size(); ++k) CHECK_THROWS_AS(live::unpack(bytes.substr(0, k)), Error);
  CHECK_THROWS_AS(live::unpack(bytes + "x"), Error);
  std::string other = bytes;
  other[8] = 11;  // number of places along x
  CHECK_THROWS_AS(live::unpack(other), Error);
}

TEST_CASE("a trial's numbers are read in their order, and a list that is none is refused") {
  const LiveCase c = strip_case();
  const std::vector<double> numbers{0.3, kNone, kNone, 0, 3,  1, 0, 1, 1, 2, 1, 1,   0, -5, 6, 1, 9, 1,  10, 20, 0,
                                    2,   0,     0,     1, 15, 1, 3, 4, 5, 1, 0, 0.5, 4, 2,  1, 2, 0, 30, 40, 0};
  const LiveTrial t = live::read_trial(numbers, c);
  CHECK(t.viscosity == 0.3);
  CHECK(!t.pressure_limit);
  CHECK(t.rate == 0.0);
  CHECK(t.corrections == std::vector<char>{1, 0, 1});
  CHECK(t.plies == std::vector<double>{2});
  REQUIRE(t.moves.size() == 1);
  CHECK((t.moves[0].vent && t.moves[0].index == 0 && t.moves[0].dx == -5 && t.moves[0].dy == 6));
  REQUIRE(t.vents.size() == 1);
  CHECK((t.vents[0].radius == 9 && t.vents[0].path[0] == Vec3(10, 20, 0)));
  REQUIRE(t.added.size() == 2);
  CHECK((t.added[0].plies[0].count == 1 && t.added[0].where.radius == 15));
  CHECK(t.added[1].plies[0].reinforcement.name == "roving, packed");
  CHECK(t.added[1].where.path.size() == 2);
  for (std::size_t k = 0; k < numbers.size(); ++k)
    CHECK_THROWS_AS(live::read_trial({numbers.begin(), numbers.begin() + static_cast<long>(k)}, c), Error);
  for (const double bad : {-1.0, 0.5, 1e9, kNone}) {
    std::vector<double> wrong = numbers;
    wrong[4] = bad;  // how many corrections
    CHECK_THROWS_AS(live::read_trial(wrong, c), Error);
  }
}

}  // namespace gapfront::test
