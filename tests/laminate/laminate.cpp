#include "gapfront/laminate.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "gapfront/error.hpp"
#include "gapfront/text.hpp"

using namespace gapfront;

namespace {

Ply ply(const std::string& name, double count) { return {laminate::find_reinforcement(name), count, 0}; }

// One square millimetre patch of a sheet: nodes at the given places, unit area each.
Sheet nodes_at(std::vector<Vec3> points) {
  Sheet s;
  s.normals.assign(points.size(), Vec3::UnitZ());
  s.area.assign(points.size(), 1.0);
  s.rim.assign(points.size(), 0);
  s.mesh.points = std::move(points);
  return s;
}

}  // namespace

TEST_CASE("Thirty per cent glass by weight is about seventeen per cent by volume") {
  // Eq. 10 and item 11 (common practice, no source): Wf = 0.30, ρf = 2.55, ρr = 1.2 →
  // Vf = (0.30/2.55)/(0.30/2.55 + 0.70/1.2) = 0.11765/(0.11765 + 0.58333) = 0.1678.
  const auto mat = ply("chopped strand mat 450", 3);
  const double solid = 3 * 450e-6 / 2.55e-3;
  const auto n = laminate::evaluate_stack({mat}, solid / 0.16783, {});
  CHECK(n.vf == Approx(0.16783).epsilon(1e-9));
  CHECK(n.weight_fraction == Approx(0.30).epsilon(1e-3));
  CHECK(n.porosity == Approx(1 - 0.16783).epsilon(1e-9));
  CHECK(n.fluid_thickness == Approx(solid / 0.16783 - solid).epsilon(1e-12));
}

TEST_CASE("The permeability laws give the textbook values") {
  // Eq. 14, by hand at Vf = 0.25: power 1e-5·0.25^−3 = 6.4e-4; exponential 2e-3·e^(−1); Kozeny–Carman
  // 1e-4·0.75³/0.25² = 6.75e-4; table half-way between decades in ln K.
  using Kind = PermeabilityLaw::Kind;
  CHECK(PermeabilityLaw{Kind::power, 1e-5, 3, {}, 1, 0}.at(0.25) == Approx(6.4e-4));
  CHECK(PermeabilityLaw{Kind::exponential, 2e-3, 4, {}, 1, 0}.at(0.25) == Approx(2e-3 * std::exp(-1.0)));
  CHECK(PermeabilityLaw{Kind::kozeny_carman, 1e-4, 0, {}, 1, 0}.at(0.25) == Approx(6.75e-4));
  const PermeabilityLaw table{Kind::table, 0, 0, {{0.2, 1e-2}, {0.3, 1e-4}}, 1, 0};
  CHECK(table.at(0.25) == Approx(1e-3));
  CHECK(table.at(0.1) == Approx(1e-2));
  CHECK(table.at(0.9) == Approx(1e-4));
}

TEST_CASE("A compacted ply answers with the pressure of its law") {
  // Eq. 14: Vf = A·P^B, so P = (Vf/A)^(1/B); well beyond the loft the law holds as given.
  const auto mat = ply("chopped strand mat 450", 1);
  const auto& law = mat.reinforcement.compaction;
  const double solid = 450e-6 / 2.55e-3;
  const auto n = laminate::evaluate_stack({mat}, solid / 0.25, {});
  CHECK(n.compaction == Approx(std::pow(0.25 / law.a, 1 / law.b)).epsilon(1e-9));
  const CompactionLaw table{CompactionLaw::Kind::table, 0, 0, {{0.2, 1e3}, {0.4, 1e5}}};
  CHECK(table.pressure(0.2 * std::sqrt(2.0)) == Approx(1e4));
}

TEST_CASE("Unlike plies share one pressure and fill the gap together") {
  // At the shared pressure each ply's own law gives its Vf; the thicknesses must add up to the gap. The check goes
  // the other way round: choose P = 20 kPa, add up h = Σ solid/(A·P^B), and ask for that gap.
  const auto mat = ply("chopped strand mat 450", 2), roving = ply("woven roving 600", 3);
  const double p = 2e4;
  double gap = 0, kh = 0;
  for (const auto& x : {mat, roving}) {
    const double solid = x.count * x.reinforcement.areal_weight / x.reinforcement.density;
    const double vf = x.reinforcement.compaction.a * std::pow(p, x.reinforcement.compaction.b);
    gap += solid / vf;
    kh += x.reinforcement.permeability.at(vf) * solid / vf;
  }
  const auto n = laminate::evaluate_stack({mat, roving}, gap, {});
  CHECK(n.compaction == Approx(p).epsilon(1e-8));
  CHECK(n.conductance == Approx(kh).epsilon(1e-8));
}

TEST_CASE("Compaction pressure rises without a jump from zero at the loft") {
  const std::vector<Ply> plies = {ply("chopped strand mat 450", 2), ply("stitched core mat 300", 1)};
  const double loft = 2 * 1.5 + 3.2;
  double last = 0;
  CHECK(laminate::evaluate_stack(plies, loft, {}).compaction == 0);
  CHECK(laminate::evaluate_stack(plies, loft, {}).loft == Approx(loft));
  for (double gap = loft - 1e-6; gap > 1.5; gap -= 0.01) {
    const double p = laminate::evaluate_stack(plies, gap, {}).compaction;
    CHECK(p > last);
    last = p;
  }
  CHECK(laminate::evaluate_stack(plies, loft - 1e-6, {}).compaction < 1);
}

TEST_CASE("A gap beyond the loft adds the cubic law of an open channel") {
  // Eq. 7: conductance = K·loft + c³/12.
  const auto mat = ply("chopped strand mat 450", 1);
  const double vf = 450e-6 / 2.55e-3 / 1.5;
  const auto n = laminate::evaluate_stack({mat}, 1.5 + 0.6, {});
  CHECK(n.channel == Approx(0.6));
  CHECK(n.compaction == 0);
  CHECK(n.conductance == Approx(mat.reinforcement.permeability.at(vf) * 1.5 + 0.6 * 0.6 * 0.6 / 12).epsilon(1e-12));
  CHECK(n.under_filled);
  CHECK_FALSE(laminate::evaluate_stack({mat}, 1.54, {}).under_filled);  // 0.04 mm: within what a gap is known to
}

TEST_CASE("A stack of forty thousandths does not fill a gap of a hundred and twenty") {
  // Item 13 (common practice, no source).
  auto mat = ply("chopped strand mat 300", 1);
  mat.reinforcement.loft = 0.040 * 25.4;
  CHECK(laminate::evaluate_stack({mat}, 0.120 * 25.4, {}).under_filled);
}

TEST_CASE("One overlap is tolerable and four choke") {
  // Item 13 (common practice, no source): a laminate of three mats in 0.120 in; one overlap adds a third.
  const double gap = 0.120 * 25.4;
  const auto plain = laminate::evaluate_stack({ply("chopped strand mat 450", 3)}, gap, {});
  const auto one = laminate::evaluate_stack({ply("chopped strand mat 450", 4)}, gap, {});
  const auto four = laminate::evaluate_stack({ply("chopped strand mat 450", 7)}, gap, {});
  CHECK_FALSE(plain.over_packed);
  CHECK_FALSE(one.over_packed);
  CHECK(four.over_packed);
  CHECK(one.conductance > 0.3 * plain.conductance);
  CHECK(four.conductance < 0.1 * plain.conductance);
  // The same with a lofty mat between two thin ones: one overlap of it can be closed on, four cannot.
  const auto lofty = [&](double mats) {
    return laminate::evaluate_stack({ply("chopped strand mat 450", 2), ply("continuous filament mat 450", mats)}, gap,
                                    {});
  };
  CHECK_FALSE(lofty(1).over_packed);
  CHECK_FALSE(lofty(1 + 1).over_packed);
  CHECK(lofty(1 + 4).over_packed);
}

TEST_CASE("A gap below the solid glass is held there and counts as over-packed") {
  const auto n = laminate::evaluate_stack({ply("woven roving 600", 4)}, -0.3, {});
  CHECK(n.over_packed);
  CHECK(n.vf < 1);
  CHECK(n.fluid_thickness > 0);
  CHECK(n.conductance > 0);
}

TEST_CASE("Crossed unidirectional plies make an orthotropic stack with the right axes") {
  // Two plies of ratio 0.1 at 30° and one at 120°: Σ K·h along 30° is h·K(2 + 0.1), across h·K(0.2 + 1).
  auto reinforcement = laminate::find_reinforcement("woven roving 600");
  reinforcement.permeability.ratio = 0.1;
  const double gap = 3 * 600e-6 / 2.55e-3 / 0.45, k = reinforcement.permeability.at(0.45), h = gap / 3;
  const auto s = nodes_at({Vec3::Zero()});
  LaminateOptions o;
  o.plies = {{reinforcement, 2, 30}, {reinforcement, 1, 120}};
  const auto n = laminate::evaluate_laminate(s, {gap}, o).nodes[0];
  CHECK(n.conductance == Approx(2.1 * k * h).epsilon(1e-9));
  CHECK(n.conductance2 == Approx(1.2 * k * h).epsilon(1e-9));
  CHECK(std::abs(n.direction.dot(Vec3(std::sqrt(0.75), 0.5, 0))) == Approx(1).epsilon(1e-12));
}

TEST_CASE("Zones replace or add to the stack where they lie") {
  LaminateOptions o;
  o.plies = {ply("chopped strand mat 450", 2)};
  LaminateZone patch{"patch", {}, true, {ply("chopped strand mat 300", 1)}};
  patch.where.path = {Vec3(10, 0, 0)}, patch.where.radius = 2;
  LaminateZone other{"other", {}, false, {ply("woven roving 600", 1)}};
  other.where.path = {Vec3(20, 0, 0)}, other.where.radius = 2;
  o.zones = {patch, other};
  const auto m = laminate::evaluate_laminate(nodes_at({Vec3(0, 0, 0), Vec3(10, 0, 0), Vec3(20, 0, 0)}), {3, 3, 3}, o);
  CHECK(m.nodes[0].loft == Approx(3.0));
  CHECK(m.nodes[1].loft == Approx(4.0));
  CHECK(m.nodes[2].loft == Approx(0.75));
  CHECK(m.under_filled_area == Approx(1));
  CHECK(m.compaction_load == Approx(m.nodes[1].compaction));
}

TEST_CASE("Draped cloth has more glass per area and stretched cloth less") {
  // Sheared by 30°: 1/cos 30° = 1.1547 times the areal weight, hence of Vf at the same gap; the gap is below the loft.
  LaminateOptions o;
  o.plies = {ply("woven roving 600", 4)};
  LaminateZone sheared{"corner", {}, false, {}, 1 / std::cos(M_PI / 6)};
  sheared.where.path = {Vec3(10, 0, 0)}, sheared.where.radius = 2;
  o.zones = {sheared};
  const auto m = laminate::evaluate_laminate(nodes_at({Vec3(0, 0, 0), Vec3(10, 0, 0)}), {2.2, 2.2}, o);
  CHECK(m.nodes[1].vf == Approx(1.1547 * m.nodes[0].vf).epsilon(1e-4));
  CHECK(m.nodes[1].compaction > m.nodes[0].compaction);
  CHECK(m.nodes[1].conductance < m.nodes[0].conductance);
  o.zones[0].drape = 0;
  CHECK_THROWS_WITH(laminate::evaluate_laminate(nodes_at({Vec3(0, 0, 0)}), {2}, o), Catch::Contains("\"corner\""));
}

TEST_CASE("The direction of the plies is laid onto the sheet, zone by zone or along a path") {
  auto reinforcement = laminate::find_reinforcement("woven roving 600");
  reinforcement.permeability.ratio = 0.2;
  LaminateOptions o;
  o.plies = {{reinforcement, 3, 0}};
  LaminateZone across{"across", {}, false, {}, 1, Vec3(0, 1, 1)};
  across.where.path = {Vec3(10, 0, 0)}, across.where.radius = 1;
  LaminateZone round{"round", {}, false, {}, 1, Vec3::Zero(), {Vec3(20, 0, 0), Vec3(30, 0, 0), Vec3(30, 10, 0)}};
  round.where.box = {Vec3(15, -5, -5), Vec3(40, 15, 5)};
  o.zones = {across, round};
  auto s = nodes_at({Vec3(0, 0, 0), Vec3(10, 0, 0), Vec3(22, 1, 0), Vec3(29, 8, 0), Vec3(0, 50, 0)});
  s.normals[4] = Vec3(1, 0, 1).normalized();  // a slope: X laid on it falls with it
  const auto m = laminate::evaluate_laminate(s, std::vector<double>(5, 2), o);
  const auto along = [&](int i, const Vec3& way) { return std::abs(m.nodes[i].direction.dot(way.normalized())); };
  CHECK(along(0, Vec3(1, 0, 0)) == Approx(1));
  CHECK(along(1, Vec3(0, 1, 0)) == Approx(1));  // its Z falls away on a level sheet
  CHECK(along(2, Vec3(1, 0, 0)) == Approx(1));
  CHECK(along(3, Vec3(0, 1, 0)) == Approx(1));
  CHECK(along(4, Vec3(1, 0, -1)) == Approx(1));
  for (const auto& n : m.nodes) CHECK(n.conductance2 == Approx(0.2 * n.conductance));
}

TEST_CASE("Every zone has its own areas and fractions") {
  LaminateOptions o;
  o.plies = {ply("chopped strand mat 450", 2)};
  LaminateZone patch{"patch", {}, true, {ply("chopped strand mat 450", 5)}};
  patch.where.path = {Vec3(10, 0, 0)}, patch.where.radius = 2;
  o.zones = {patch};
  const auto m = laminate::evaluate_laminate(nodes_at({Vec3(0, 0, 0), Vec3(10, 0, 0), Vec3(11, 0, 0)}), {4, 3, 2.5}, o);
  REQUIRE(m.zones.size() == 2);
  CHECK(m.zones[0].area == 1);
  CHECK(m.zones[0].under_filled == 1);  // 3 mm of loft in 4 mm
  CHECK(m.zones[1].name == "patch");
  CHECK(m.zones[1].area == 2);
  CHECK(m.zones[1].over_packed == 2);
  CHECK(m.zones[1].load == Approx(m.nodes[1].compaction + m.nodes[2].compaction));
  CHECK(m.zones[1].vf_mean == Approx(0.5 * (m.nodes[1].vf + m.nodes[2].vf)));
  CHECK(m.zones[1].vf_max == m.nodes[2].vf);
}

TEST_CASE("An unknown glass is refused with the nearest known name") {
  CHECK_THROWS_WITH(laminate::find_reinforcement("choped strand mat 450"),
                    Catch::Contains("\"chopped strand mat 450\""));
  try {
    laminate::find_reinforcement("wool");
    FAIL("no error");
  } catch (const Error& e) {
    CHECK(e.fault == Fault::input);
  }
}

TEST_CASE("Every built-in glass says where its numbers are from and can be compacted from its loft") {
  CHECK(laminate::reinforcements().size() == 6);
  for (const auto& r : laminate::reinforcements()) {
    INFO(r.name);
    // Areal weight, density, loft, permeability, its scatter, compaction: each with how far to trust it and where from.
    for (const char* part :
         {"areal weight", "density", "loft", "permeability", "its scatter from place", "compaction"}) {
      const auto says = [&](const Message& m) { return say(m).rfind(part, 0) == 0; };
      const auto at = std::find_if(r.source.begin(), r.source.end(), says);
      REQUIRE(at != r.source.end());
      const std::string said = say(*at);
      CHECK_THAT(said, Catch::Contains("±") || Catch::Contains("factor") || Catch::Contains("%"));
      CHECK_THAT(said, Catch::Contains("from memory"));
    }
    CHECK(r.permeability.spread > 0);
    const double vf0 = r.areal_weight / r.density / r.loft;
    // The law's own pressure at the loft stays small against clamping (half an atmosphere), else loft and law differ.
    CHECK(r.compaction.pressure(vf0) < 0.1 * 50662.5);
    CHECK(r.permeability.at(vf0) > r.permeability.at(2 * vf0));
  }
}

TEST_CASE("Curves over the gap give what each node gives by itself, within and beyond their range") {
  // Two glasses that share the gap, one with a direction, one zone with more of it; gaps from over-packed to open.
  LaminateOptions o;
  o.plies = {ply("chopped strand mat 450", 2), ply("chopped strand mat 300", 1)};
  o.plies[1].reinforcement.permeability.ratio = 0.4, o.plies[1].reinforcement.compaction.b *= 0.7,
  o.plies[1].direction_deg = 30;
  LaminateZone more;
  more.name = "overlap", more.adds = true, more.plies = {ply("chopped strand mat 450", 1)};
  more.where.polygon = {{150, -1, 0}, {301, -1, 0}, {301, 1, 0}, {150, 1, 0}};
  o.zones = {more};
  std::vector<Vec3> points;
  std::vector<double> about, gap;
  for (int i = 0; i <= 300; ++i) {
    points.emplace_back(i, 0, 0);
    gap.push_back(0.5 + 0.0137 * i), about.push_back(gap.back() + 0.05 * std::sin(i));
  }
  about[0] = about[1], gap[300] = 40;
  const Sheet s = nodes_at(points);
  const LaminateMap exact = laminate::evaluate_laminate(s, gap, o), curves = LaminateCurves(s, about, o)(gap);
  REQUIRE(curves.nodes.size() == exact.nodes.size());
  for (std::size_t i = 0; i < exact.nodes.size(); ++i) {
    const auto &a = curves.nodes[i], &b = exact.nodes[i];
    INFO("gap " << gap[i]);
    CHECK(a.conductance == Approx(b.conductance).epsilon(1e-3));
    CHECK(a.conductance2 == Approx(b.conductance2).epsilon(1e-3));
    CHECK((a.direction - b.direction).norm() < 1e-3);
    CHECK(a.channel == b.channel);
    CHECK(a.fluid_thickness == b.fluid_thickness);
  }
}
