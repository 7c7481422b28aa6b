// A net over the sheet, and what it does to the cloth.
#include "gapfront/drape.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "../flow/sheets.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

/// A spherical cap, `reach` rad to each side over the pole.
Sheet cap(double radius, int cells, double reach = 1) {
  return cavity::make_sheet(grid(cells, cells, [=](double u, double v) {
                              const double a = reach * (2 * u - 1), b = reach * (2 * v - 1);
                              return Vec3(radius *
                                          Vec3(std::sin(a) * std::cos(b), std::sin(b), std::cos(a) * std::cos(b)));
                            }).mesh);
}

/// Of a net on a unit sphere with two geodesics that cross squarely: the angle φ between its threads at lengths u and v
/// obeys φ_uv = −K sin φ (Chebyshev 1878), and since it is π/2 on both, it depends on z = uv alone: z φ'' + φ' = −sin
/// φ. By Runge–Kutta from the series at 0.
double net_angle(double z) {
  const int steps = 400;
  double t = 1e-6, phi = M_PI / 2 - t, rate = -1;
  const double h = (z - t) / steps;
  const auto bend = [](double at, double f, double r) { return (-std::sin(f) - r) / at; };
  for (int k = 0; k < steps; ++k, t += h) {
    const double a1 = rate, b1 = bend(t, phi, rate);
    const double a2 = rate + h / 2 * b1, b2 = bend(t + h / 2, phi + h / 2 * a1, a2);
    const double a3 = rate + h / 2 * b2, b3 = bend(t + h / 2, phi + h / 2 * a2, a3);
    const double a4 = rate + h * b3, b4 = bend(t + h, phi + h * a3, a4);
    phi += h / 6 * (a1 + 2 * a2 + 2 * a3 + a4), rate += h / 6 * (b1 + 2 * b2 + 2 * b3 + b4);
  }
  return phi;
}

Ply woven(double count = 2, double direction = 0) {
  Ply p{laminate::find_reinforcement("woven roving 600")};
  p.count = count, p.direction_deg = direction;
  return p;
}

LaminateOptions cloth_at(const Vec3& start, const Vec3& direction = Vec3::UnitX()) {
  LaminateOptions o;
  o.plies = {woven()};
  o.drape.on = true, o.drape.start = start, o.drape.direction = direction;
  return o;
}

double most_shear(const std::vector<NetCell>& net) {
  double out = 0;
  for (const NetCell& c : net) out = std::max(out, std::abs(M_PI / 2 - c.threads()));
  return out;
}

int nearest(const Sheet& s, const Vec3& p) {
  int best = 0;
  for (int i = 0; i < int(s.size()); ++i)
    if ((s.mesh.points[i] - p).norm() < (s.mesh.points[best] - p).norm()) best = i;
  return best;
}

}  // namespace

TEST_CASE("Cloth lies without shear on a flat, and the glass is as if nothing were draped") {
  const Sheet s = cavity::make_sheet(strip(40, 20, 200, 100).mesh);
  LaminateOptions o = cloth_at({60, 30, 0}, {3, 1, 0});
  o.drape.lock = 1e-6, o.plies[0].reinforcement.permeability.ratio = 0.5;
  CHECK(most_shear(laminate::weave_net(s, o.drape.start, o.drape.direction, 5)) < 1e-7);
  const std::vector<double> gap(s.size(), 1.2);
  o.axis = {3, 1, 0};
  const LaminateMap plain = laminate::evaluate_laminate(s, gap, o);
  o.axis = {1, 0, 0};
  o.draped = laminate::drape(s, o);
  REQUIRE(o.draped.size() == 1);
  CHECK(o.draped[0].missed_area == 0);
  CHECK(o.draped[0].locked_area == 0);
  const LaminateMap draped = laminate::evaluate_laminate(s, gap, o);
  for (std::size_t i = 0; i < s.size(); ++i) {
    CHECK(draped.nodes[i].vf == plain.nodes[i].vf);
    CHECK(draped.nodes[i].conductance2 == plain.nodes[i].conductance2);
    // Turned in whole steps of a quarter of a degree.
    CHECK(std::abs(draped.nodes[i].direction.dot(plain.nodes[i].direction)) > std::cos(0.0023));
  }
}

TEST_CASE("Cloth lies on a cylinder and a cone without shear: they roll out flat") {
  const Sheet cylinder = cavity::make_sheet(grid(40, 40, [](double u, double v) {
                                              const double a = 2 * (u - 0.5);
                                              return Vec3(80 * std::sin(a), 160 * v, -80 * std::cos(a));
                                            }).mesh);
  const Sheet cone = cavity::make_sheet(grid(40, 40, [](double u, double v) {
                                          const double a = 1.5 * (u - 0.5), r = 60 + 100 * v;
                                          return Vec3(r * std::sin(a), -r * std::cos(a), -0.5 * r);
                                        }).mesh);
  for (const auto& [sheet, start] : {std::pair{&cylinder, Vec3(0, 80, -80)}, {&cone, Vec3(0, -110, -55)}}) {
    LaminateOptions o = cloth_at(start, {1, 0.6, 0.2});
    const DrapedCloth cloth = laminate::drape(*sheet, o).at(0);
    CHECK(cloth.missed_area == 0);
    CHECK(cloth.most_shear < 0.01);  // a facet turns by 0.05 rad
    CHECK(cloth.locked_area == 0);
  }
}

TEST_CASE("On a sphere the net shears as a Chebyshev net does, and covers what its curvature says") {
  const double radius = 100;
  double off[2];
  for (const int fine : {0, 1}) {
    const double cell = fine ? 2.5 : 5;
    const Sheet s = cap(radius, fine ? 80 : 40);
    const auto net = laminate::weave_net(s, {0, 0, radius}, {1, 0.3, 0}, cell);
    REQUIRE(net.size() > (fine ? 4800 : 1200));  // 204 mm to a side, and beyond it
    double worst = 0, area = 0;
    int seen = 0;
    const int last = fine ? 28 : 14;  // 70 mm to each side: within the cap's corners
    for (const NetCell& c : net) {
      if (c.i < -last || c.i >= last || c.j < -last || c.j >= last) continue;
      const double u = (c.i + 0.5) * cell / radius, v = (c.j + 0.5) * cell / radius;
      // In the other quarters u or v is negative, and so is the shear: the angle is seen from the other side.
      worst = std::max(worst, std::abs(c.threads() - (u * v > 0 ? net_angle(u * v) : M_PI - net_angle(-u * v))));
      if (c.i >= 0 && c.j >= 0) area += std::sin(c.threads()) * cell * cell, ++seen;
    }
    CHECK(seen == last * last);
    off[fine] = worst;
    // ∬ K dA = −(φ(u,v) − φ(u,0) − φ(0,v) + φ(0,0)) (Hazzidakis 1879, by integrating φ_uv): on a sphere R² times the
    // shear at the corner.
    CHECK(area == Approx(radius * radius * (M_PI / 2 - net_angle(0.49))).epsilon(0.004));
  }
  WARN("the net's angle on a sphere is off by up to " << off[0] << " rad with cells of R/20, " << off[1]
                                                      << " rad with R/40");
  CHECK(off[0] < 0.01);
  CHECK(off[1] < 0.6 * off[0]);
}

TEST_CASE("A sheared cloth lays 1/cos as much glass, and conducts along the bisector of its threads") {
  const Sheet s = cap(100, 40);
  LaminateOptions o = cloth_at({0, 0, 100});
  o.draped = laminate::drape(s, o);
  const std::vector<double> gap(s.size(), 1.4);
  const LaminateMap m = laminate::evaluate_laminate(s, gap, o);
  const int pole = nearest(s, {0, 0, 100}), corner = nearest(s, {50, 50, 70.7});
  const NodeLaminate flat = laminate::evaluate_stack(o.plies, 1.4, o);
  CHECK(m.nodes[pole].vf == Approx(flat.vf).epsilon(0.002));
  const double shear = m.nodes[corner].shear;
  CHECK(shear == Approx(std::abs(M_PI / 2 - o.draped[0].nodes[corner].threads)));
  CHECK(shear > 0.25);
  CHECK(m.nodes[corner].vf == Approx(flat.vf / std::cos(shear)));
  // Two families of threads, each 1 ± 0.5 of the mean, cos φ = sin γ between them: (1 − sin γ/2)/(1 + sin γ/2).
  const double ratio = (1 - 0.5 * std::sin(shear)) / (1 + 0.5 * std::sin(shear));
  CHECK(m.nodes[corner].conductance2 / m.nodes[corner].conductance == Approx(ratio));
  // Threads come together towards the corner's diagonal (the net closes there), and resin runs along it.
  const Vec3 diagonal = Vec3(1, 1, -1).normalized(), way = m.nodes[corner].direction;
  CHECK(std::abs(way.dot((diagonal - s.normals[corner] * s.normals[corner].dot(diagonal)).normalized())) > 0.99);
  // Curves say the same, and so does a map of twice the glass.
  const LaminateMap drawn = LaminateCurves(s, gap, o)(gap);
  for (std::size_t i = 0; i < s.size(); ++i)
    CHECK(drawn.nodes[i].conductance == Approx(m.nodes[i].conductance).epsilon(1e-3));
}

TEST_CASE("Cloth of two directions has a net for each; mats lie as they did") {
  const Sheet s = cap(100, 40);
  LaminateOptions o = cloth_at({0, 0, 100});
  o.plies.push_back(woven(1, -45));
  o.plies.push_back(woven(1, 90));  // as a net like direction 0
  Ply mat{laminate::find_reinforcement("chopped strand mat 450")};
  o.plies.push_back(mat);
  const auto nets = laminate::drape(s, o);
  REQUIRE(nets.size() == 2);
  CHECK(nets[1].direction_deg == Approx(45));
  // What is sheared most under 0/90 is not under ±45, and the other way round.
  const int diagonal = nearest(s, {50, 50, 70.7}), side = nearest(s, {70, 0, 71});
  const auto shear = [&](int net, int node) { return std::abs(M_PI / 2 - nets[net].nodes[node].threads); };
  CHECK(shear(0, diagonal) > 5 * shear(1, diagonal));
  CHECK(shear(1, side) > 5 * shear(0, side));
  // The sphere looks the same to both: near the start the shear is uv = r²/2 (φ_uv = −K), of each node by its own way
  // r.
  const auto by_way = [&](int net, int node) {
    const double r = std::acos(s.mesh.points[node].z() / 100);
    return shear(net, node) / (0.5 * r * r);
  };
  CHECK(by_way(0, diagonal) == Approx(by_way(1, side)).epsilon(0.04));
  o.draped = nets;
  const LaminateMap m = laminate::evaluate_laminate(s, std::vector<double>(s.size(), 6), o);
  const double c = 1 / std::cos(shear(0, diagonal)), d = 1 / std::cos(shear(1, diagonal));
  const double weight = 600e-6 * (3 * c + d) + 450e-6;
  CHECK(m.nodes[diagonal].vf == Approx(weight / 2.55e-3 / 6));
  o.plies = {mat};
  CHECK(laminate::drape(s, o).empty());
}

TEST_CASE("The net goes on over a hole, and over a corner as cloth does") {
  // Two walls over a rounding of 6 mm, with a hole of 30 mm.
  Mesh mesh = grid(48, 42, [](double u, double v) {
                const double arc = 3 * M_PI, at = v * (160 + arc);
                if (at < 80) return Vec3(200 * u, at, 0);
                if (at > 80 + arc) return Vec3(200 * u, 86, 6 + (at - 80 - arc));
                const double a = (at - 80) / 6;
                return Vec3(200 * u, 80 + 6 * std::sin(a), 6 * (1 - std::cos(a)));
              }).mesh;
  std::erase_if(mesh.triangles, [&](const auto& t) { return (mesh.points[t[0]] - Vec3(100, 40, 0)).norm() < 15; });
  std::vector<int> is(mesh.points.size(), -1);
  Mesh kept;
  for (auto& t : mesh.triangles)
    for (int& k : t) {
      if (is[k] < 0) is[k] = int(kept.points.size()), kept.points.push_back(mesh.points[k]);
      k = is[k];
    }
  kept.triangles = mesh.triangles;
  const Sheet s = cavity::make_sheet(std::move(kept));
  const DrapedCloth cloth = laminate::drape(s, cloth_at({30, 20, 0}, {1, 0.2, 0})).at(0);
  CHECK(cloth.missed_area < 0.002 * 200 * 169);
  CHECK(1 / std::cos(cloth.most_shear) <
        1.003);  // cells of two thirds of the radius turn over it in two or three chords
}

TEST_CASE("Shear beyond the lock is counted; a start off the sheet and a direction that stands on it are refused") {
  const Sheet s = cap(100, 40);
  LaminateOptions o = cloth_at({0, 0, 100});
  o.drape.lock = 0.3;
  const DrapedCloth cloth = laminate::drape(s, o).at(0);
  double beyond = 0;
  for (std::size_t i = 0; i < s.size(); ++i)
    if (std::abs(M_PI / 2 - cloth.nodes[i].threads) > 0.3) beyond += s.area[i];
  CHECK(cloth.locked_area == Approx(beyond));
  CHECK(beyond > 1000);
  CHECK_THROWS_WITH(laminate::drape(s, cloth_at({0, 0, 200})), Catch::Contains("stands more than 20 mm off"));
  CHECK_THROWS_WITH(laminate::drape(s, cloth_at({0, 0, 100}, Vec3::UnitZ())), Catch::Contains("stands on the sheet"));
  o.drape.on = false;
  CHECK(laminate::drape(s, o).empty());
  o.drape.on = true, o.draped = laminate::drape(s, o);
  const Sheet other = cap(100, 20);
  CHECK_THROWS_WITH(laminate::evaluate_laminate(other, std::vector<double>(other.size(), 2), o),
                    Catch::Contains("over another sheet"));
}
