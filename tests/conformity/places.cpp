#include "conformity/places.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "gapfront/text.hpp"
#include "plate.hpp"

using namespace gapfront;

namespace {

constexpr double kStep = 6;
constexpr double kFits = 0.02, kShift = 0.012;  // mm: of each node by itself, and of all of them together

GapMap map_of(const Sheet& s, const std::function<double(const Vec3&)>& value) {
  GapMap g = plate::gap(s, kFits, value);
  g.registration(2, 2) = kShift * kShift;
  for (NodeGap& n : g.nodes) n.u_registration = kShift, n.U = 2 * std::hypot(kFits, kShift);
  return g;
}

/// How often a mold is called conforming, undecided, nonconforming when it is measured again and again.
struct Words {
  int count[3] = {0, 0, 0};
};

Words measured_often(int times, const std::function<double(const Vec3&)>& truth, const ToleranceOptions& o = {}) {
  const Sheet s = plate::sheet(150, 120, kStep);
  GapMap g = map_of(s, truth);
  const auto limits = conformity::tolerance_limits(s, o);
  const auto places = conformity::places_on(s, g, limits, conformity::disc_across(o));
  plate::Noise noise{77};
  Words out;
  for (int k = 0; k < times; ++k) {
    const double shift = kShift * noise();
    for (std::size_t i = 0; i < s.size(); ++i) g.nodes[i].gap = truth(s.mesh.points[i]) + shift + kFits * noise();
    const auto word = conformity::decide_places(places, s, g, limits).node;
    bool all = true, any = false;
    for (const Conformity c : word)
      all = all && c == Conformity::conforming, any = any || c == Conformity::nonconforming;
    ++out.count[any ? 2 : all ? 0 : 1];
  }
  return out;
}

// Two standard deviations of a binomial count above 5 %.
double most_of(int times) { return 0.05 * times + 2 * std::sqrt(0.05 * 0.95 * times); }

}  // namespace

// The gap is at its limit over two discs and far inside elsewhere: the tool is just out.
TEST_CASE("A map whose gaps alone have changed is judged by the rule that was simulated for it before") {
  const Sheet s = plate::sheet(150, 120, kStep);
  const ToleranceOptions o;
  const Verdict before = conformity::judge(s, map_of(s, [](const Vec3&) { return 3.0; }), o);
  const GapMap changed = map_of(s, [](const Vec3& p) { return 3 + 0.008 * p.x(); });
  const Verdict fresh = conformity::judge(s, changed, o);
  CHECK(conformity::node_classes(s, changed, before.limits, before.rule) == fresh.node);
  CHECK(std::count(fresh.node.begin(), fresh.node.end(), Conformity::nonconforming) > 0);
  CHECK(std::count(fresh.node.begin(), fresh.node.end(), Conformity::conforming) > 0);
}

TEST_CASE("A mold that is just outside in one place is called conforming in 5 percent of measurements at most") {
  const Words w = measured_often(2000, [](const Vec3& p) { return p.norm() < 20 ? 3.3001 : 3.1; });
  WARN("just outside: conforming " << w.count[0] << ", undecided " << w.count[1] << ", nonconforming " << w.count[2]);
  CHECK(w.count[0] <= most_of(2000));
}

TEST_CASE("A mold that is just within everywhere is called nonconforming in 5 percent of measurements at most") {
  const Words w = measured_often(2000, [](const Vec3&) { return 3.2999; });
  WARN("just within: conforming " << w.count[0] << ", undecided " << w.count[1] << ", nonconforming " << w.count[2]);
  CHECK(w.count[2] <= most_of(2000));
  CHECK(w.count[2] > 0);
}

// By each node for itself with U = 2 u, 500 nodes at 3 u inside leave some undecided nearly always.
TEST_CASE("A uniform mold three uncertainties within its limit is mostly proven to be so") {
  const double u = std::hypot(kFits, kShift);
  const Words w = measured_often(500, [&](const Vec3&) { return 3.3 - 3 * u; });
  WARN("3 u within: conforming " << w.count[0] << ", undecided " << w.count[1] << ", nonconforming " << w.count[2]);
  CHECK(w.count[0] > 450);
  CHECK(w.count[2] == 0);
}

TEST_CASE("A narrow strip that is outside decides, a speck of the same width is listed") {
  const Sheet s = plate::sheet(150, 120, kStep);
  const auto strip = [](double length) {
    return [=](const Vec3& p) { return std::abs(p.y()) < 2 && std::abs(p.x()) < length / 2 ? 3.45 : 3.0; };
  };
  const Verdict channel = conformity::judge(s, map_of(s, strip(60)), {});
  CHECK(channel.overall == Conformity::nonconforming);
  const Verdict speck = conformity::judge(s, map_of(s, strip(10)), {});
  CHECK(speck.overall == Conformity::conforming);
  CHECK(speck.small_outside.area == Approx(2 * kStep * kStep).epsilon(0.01));
  CHECK(speck.small_outside.deviation == Approx(0.45));
  CHECK_THAT(say(speck.headline), Catch::Contains("Places smaller than 25 mm across are provably outside"));
}

TEST_CASE("The risk beside the word falls as the gap moves away from its limit") {
  const Sheet s = plate::sheet(150, 120, kStep);
  const auto flat = [](double gap) { return [=](const Vec3&) { return gap; }; };
  const auto judged = [&](double gap) { return conformity::judge(s, map_of(s, flat(gap)), {}); };
  const auto places = conformity::places_on(s, map_of(s, flat(3)), conformity::tolerance_limits(s, {}), 25);
  const double largest = *std::max_element(places.u.begin(), places.u.end());  // at a corner, of a quarter of a disc
  // Far inside; 1.7 u of the mean inside, where the chance of a Gaussian is 4.46 %; and outside.
  const Verdict far = judged(3.1), near = judged(3.3 - 1.7 * largest), out = judged(3.4);
  CHECK(far.consumer_risk < 1e-6);
  CHECK(near.consumer_risk == Approx(0.0446).epsilon(0.01));
  CHECK(out.overall == Conformity::nonconforming);
  CHECK(out.producer_risk <= 0.003);
  CHECK_THAT(say(out.headline), Catch::Contains("within its limits everywhere: 0.20 % at most"));
}

TEST_CASE("Discs end at the border between zones, so that one zone's room does not pay for the other") {
  const Sheet s = plate::sheet(150, 120, kStep);
  ToleranceOptions o;
  Region half;
  half.polygon = {{0, -100, 0}, {100, -100, 0}, {100, 100, 0}, {0, 100, 0}};
  o.zones = {{"tight", half, 3, 0.1, 0.1}};
  const Verdict v = conformity::judge(s, map_of(s, [](const Vec3&) { return 3.2; }), o);
  CHECK(v.zones[0].overall == Conformity::nonconforming);
  CHECK(v.zones[0].fraction[2] == Approx(1));
  CHECK(v.zones[1].overall == Conformity::conforming);
}

TEST_CASE("The mean over a disc knows which fits share points") {
  const Sheet s = plate::sheet(150, 120, kStep);
  GapMap g = plate::gap(s, kFits, [](const Vec3&) { return 3.0; });
  const auto limits = conformity::tolerance_limits(s, {});
  const auto u_mid = [&] { return conformity::places_on(s, g, limits, 25).u[s.size() / 2]; };
  const double apart = u_mid();
  // Independent fits: the root of the sum of squared weights by area.
  double area = 0, squares = 0;
  for (std::size_t i = 0; i < s.size(); ++i)
    if ((s.mesh.points[i] - s.mesh.points[s.size() / 2]).norm() < 12.5)
      area += s.area[i], squares += s.area[i] * s.area[i];
  CHECK(apart == Approx(kFits * std::sqrt(squares) / area));
  for (NodeGap& n : g.nodes) n.fit_area = 100;
  CHECK(u_mid() > 1.3 * apart);
}

TEST_CASE("An uncertainty that is no number proves nothing: it is refused") {
  const Sheet s = plate::sheet(60, 60, kStep);
  const GapMap good = map_of(s, [](const Vec3&) { return 3.0; });
  CHECK(conformity::judge(s, good, {}).overall == Conformity::conforming);
  for (const auto part : {&NodeGap::u_lower, &NodeGap::u_instrument, &NodeGap::U}) {
    GapMap bad = good;
    bad.nodes[7].*part = NAN;
    CHECK_THROWS_WITH(conformity::judge(s, bad, {}), Catch::Contains("is no number"));
    bad.nodes[7].measured = false;  // of what is not measured nothing is read
    CHECK_NOTHROW(conformity::judge(s, bad, {}));
  }
  GapMap bad = good;
  bad.registration(0, 3) = NAN;
  CHECK_THROWS_WITH(conformity::judge(s, bad, {}), Catch::Contains("is no number"));
}
