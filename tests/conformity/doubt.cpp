// When is a registration not to be judged on? Counted over seeded draws; GAPFRONT_DRAWS sets another number of them.
// Counted once with 500 draws each, named / only doubted / missed: one target off 474 / 17 / 9, wrong seat 486 / 14 /
// 0, exchanged 476 / 24 / 0, wrong tool place 500 / 0 / 0, halves 0.5 mm open on their lands 498 / 2 / 0, a chip under
// one corner 498 / 2 / 0. Doubted without reason: 2 of 500, with lands 2 of 500.
#include <Eigen/Geometry>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>

#include "../random.hpp"
#include "gapfront/outcome.hpp"
#include "gapfront/text.hpp"

using namespace gapfront;

namespace {

int draws_of(int usual) {
  const char* given = std::getenv("GAPFRONT_DRAWS");
  return given ? std::atoi(given) : usual;
}

/// A closed mold of 1 m by 0.7 m: targets around the rim, a cavity of 3 mm, lands that touch all around.
struct DoubtCase {
  double u = 0;                // declared, per coordinate and half
  std::vector<Vec3> truth;     // tool frame
  std::vector<Vec3> shift[2];  // what is wrong with each target, lower and upper
  std::vector<Vec3> tool_shift;
  bool tool = false;
  AlignOptions options;
  Alignment found;
  Sheet sheet;
  GapMap gap;
  std::optional<Doubt> doubt;
};

Rigid doubt_pose(support::Random& random) {
  Rigid m = Rigid::Identity();
  m.linear() = Eigen::AngleAxisd(random.uniform(0, 3), random.vector().normalized()).toRotationMatrix();
  m.translation() = 300 * random.vector();
  return m;
}

Sheet doubt_sheet() {
  Mesh mesh;
  const int nx = 26, ny = 18;
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) mesh.points.push_back(Vec3(-500 + 40 * i, -340 + 40 * j, 0));
  for (int j = 0; j + 1 < ny; ++j)
    for (int i = 0; i + 1 < nx; ++i) {
      const int a = j * nx + i;
      mesh.triangles.push_back({a, a + 1, a + nx + 1});
      mesh.triangles.push_back({a, a + nx + 1, a + nx});
    }
  return cavity::make_sheet(std::move(mesh));
}

/// 3 to 8 targets, u of 5 to 30 µm, every other mold with tool places from a drawing (rounded to a tenth).
DoubtCase doubt_setup(support::Random& random, int minimum) {
  DoubtCase c;
  c.u = random.uniform(0.005, 0.03);
  const int n = minimum + random.whole(9 - minimum);
  for (int k = 0; k < n; ++k) {
    const double turn = 2 * M_PI * (k + random.uniform(-0.25, 0.25)) / n;
    c.truth.push_back(Vec3(500 * std::cos(turn), 350 * std::sin(turn), random.uniform(-20, 20)));
  }
  for (auto& s : c.shift) s.assign(n, Vec3::Zero());
  c.tool_shift.assign(n, Vec3::Zero());
  c.tool = random.uniform() < 0.5;
  return c;
}

void doubt_measure(DoubtCase& c, support::Random& random) {
  const Rigid to_lower = doubt_pose(random), to_upper = doubt_pose(random);
  for (std::size_t k = 0; k < c.truth.size(); ++k) {
    Target t;
    t.name = "T" + std::to_string(k + 1);
    t.u = c.u;
    t.lower = {to_lower * Vec3(c.truth[k] + c.shift[0][k] + c.u * random.vector())};
    t.upper = {to_upper * Vec3(c.truth[k] + c.shift[1][k] + c.u * random.vector())};
    if (c.tool) {
      Vec3 drawn = c.truth[k] + c.tool_shift[k];
      for (int i = 0; i < 3; ++i) drawn[i] = std::round(10 * drawn[i]) / 10;
      t.tool = drawn;
    }
    c.options.targets.push_back(t);
  }
  c.found = align::register_halves({}, {}, c.options, {.lower = 0.02, .upper = 0.02});
  // Back into the frame of the truth, by the lower half: the sheet lies there.
  const Rigid off =
      to_lower.inverse() * c.found.lower_to_tool.motion.inverse() * c.found.upper_to_tool.motion * to_upper;
  const Rigid to_tool = c.found.lower_to_tool.motion * to_lower;
  c.sheet = doubt_sheet();
  c.gap.nodes.resize(c.sheet.size());
  for (std::size_t i = 0; i < c.sheet.size(); ++i) {
    NodeGap& g = c.gap.nodes[i];
    const Vec3 p = c.sheet.mesh.points[i];
    const bool land = std::abs(p.x()) > 400 || std::abs(p.y()) > 260;  // they touch: the gap there is nothing
    g.measured = true;
    g.u_lower = g.u_upper = 0.004;
    g.u_registration = c.found.u_at(to_tool * p, to_tool.linear() * Vec3::UnitZ());
    g.gap = (land ? 0 : 3) + (off * p - p).z() + 0.004 * std::sqrt(2.0) * random.gauss();
    g.U = 2 * std::sqrt(2 * 0.004 * 0.004 + g.u_registration * g.u_registration);
  }
  c.doubt = conformity::doubt_registration(c.found, c.options, c.sheet, c.gap);
}

struct DoubtCount {
  int named = 0, doubted = 0, missed = 0;
};

template <class Spoil>
DoubtCount doubt_count(unsigned seed, int draws, int minimum, Spoil spoil) {
  DoubtCount count;
  for (int k = 0; k < draws; ++k) {
    support::Random random(seed + 7919u * k);
    DoubtCase c = doubt_setup(random, minimum);
    const std::string subject = spoil(c, random);
    try {
      doubt_measure(c, random);
      // One that the rest can do without is left out by name, and needs no doubt.
      const bool left_out = !c.doubt && c.found.rest_suffices && c.found.left_out.front() == subject;
      ++(left_out ? count.named : !c.doubt ? count.missed : c.doubt->subject == subject ? count.named : count.doubted);
    } catch (const std::exception&) {
      ++count.doubted;  // refused outright, without a name
    }
  }
  return count;
}

/// One target off in one half by max(0.1 mm, 8 u) up to five times that.
std::string one_off(DoubtCase& c, support::Random& random, double most = 5) {
  const int k = random.whole(static_cast<int>(c.truth.size())), half = random.whole(2);
  c.shift[half][k] = std::max(0.1, 8 * c.u) * random.uniform(1, most) * random.vector().normalized();
  return "T" + std::to_string(k + 1);
}

}  // namespace

TEST_CASE("A good registration is doubted in less than one case of a hundred") {
  const int draws = draws_of(100);
  const DoubtCount c = doubt_count(1, draws, 3, [](DoubtCase&, support::Random&) { return std::string(); });
  WARN("good registrations: " << draws - c.missed << " of " << draws << " doubted");
  CHECK(draws - c.missed <= std::max(1, draws / 100));
}

TEST_CASE("One target off among four or more is doubted or left out, and mostly named") {
  const int draws = draws_of(100);
  const DoubtCount c =
      doubt_count(2, draws, 4, [](DoubtCase& d, support::Random& random) { return one_off(d, random); });
  WARN("one target off: " << c.named << " named, " << c.doubted << " doubted, " << c.missed << " missed of " << draws);
  CHECK(c.missed <= 0.05 * draws);
  CHECK(c.named >= 0.75 * draws);
}

TEST_CASE("A ball in a wrong seat is named") {
  const int draws = draws_of(60);
  const DoubtCount c = doubt_count(3, draws, 5, [](DoubtCase& d, support::Random& random) {
    const int k = random.whole(static_cast<int>(d.truth.size()));
    d.shift[random.whole(2)][k] = random.uniform(2, 60) * random.vector().normalized();
    return "T" + std::to_string(k + 1);
  });
  WARN("wrong seat: " << c.named << " named, " << c.doubted << " doubted, " << c.missed << " missed of " << draws);
  CHECK(c.missed == 0);
  CHECK(c.named >= 0.9 * draws);
}

TEST_CASE("Two targets exchanged in one half are named") {
  const int draws = draws_of(60);
  const DoubtCount c = doubt_count(4, draws, 5, [](DoubtCase& d, support::Random& random) {
    const int n = static_cast<int>(d.truth.size()), a = random.whole(n), b = (a + 1 + random.whole(n - 1)) % n;
    d.shift[1][a] = d.truth[b] - d.truth[a], d.shift[1][b] = d.truth[a] - d.truth[b];
    return "T" + std::to_string(std::min(a, b) + 1) + ", T" + std::to_string(std::max(a, b) + 1);
  });
  WARN("exchanged: " << c.named << " named, " << c.doubted << " doubted, " << c.missed << " missed of " << draws);
  CHECK(c.missed == 0);
  CHECK(c.named >= 0.9 * draws);
}

TEST_CASE("A wrong tool place is named") {
  const int draws = draws_of(60);
  const DoubtCount c = doubt_count(5, draws, 5, [](DoubtCase& d, support::Random& random) {
    const int k = random.whole(static_cast<int>(d.truth.size()));
    d.tool = true;
    d.tool_shift[k] = random.uniform(1.5, 30) * random.vector().normalized();
    return "T" + std::to_string(k + 1);
  });
  WARN("wrong tool place: " << c.named << " named, " << c.doubted << " doubted, " << c.missed << " missed of "
                            << draws);
  CHECK(c.missed == 0);
  CHECK(c.named >= 0.9 * draws);
}

TEST_CASE("With tool places the half in which a target is off is told") {
  support::Random random(6);
  DoubtCase c = doubt_setup(random, 6);
  c.tool = true;
  c.shift[1][2] = Vec3(0.6, 0.5, 0.3);
  doubt_measure(c, random);
  CHECK_FALSE(c.doubt);
  const auto note = conformity::target_left_out(c.found, c.options, c.sheet);
  REQUIRE(note);
  CHECK_THAT(say(*note), Catch::StartsWith("Target T3 lies 0.8") && Catch::Contains("in the upper half") &&
                             Catch::Contains("The closed position is that of the other"));
}

namespace {

/// Lands of 400 mm by 300 mm that touch when closed, with four dowels as targets; `lift` is what holds the upper half
/// off at a place when the targets are taken.
std::optional<Doubt> doubt_on_lands(unsigned seed, const Vec3& lift, const Vec3& tilt) {
  support::Random random(seed);
  Scan half[2];
  for (int h = 0; h < 2; ++h)
    for (double x = -200; x <= 200; x += 4)
      for (double y = -150; y <= 150; y += 4) {
        const bool land = std::abs(x) > 170 || std::abs(y) > 120;
        half[h].cloud.points.push_back(Vec3(x + random.uniform(-0.6, 0.6), y + random.uniform(-0.6, 0.6),
                                            (land ? 0
                                             : h  ? -17
                                                  : -20) +
                                                0.02 * random.gauss()));
      }
  AlignOptions o;
  o.methods = {AlignMethod::targets, AlignMethod::flange};
  Region frame;
  frame.polygon = {{-201, -151, 0}, {201, -151, 0}, {201, 151, 0},  {-201, 151, 0},  {-201, 0.001, 0}, {-172, 0.001, 0},
                   {-172, 122, 0},  {172, 122, 0},  {172, -122, 0}, {-172, -122, 0}, {-172, 0, 0},     {-201, 0, 0}};
  o.flange = {frame};
  for (const auto& [x, y] : {std::pair{-190.0, -140.0}, {190.0, -140.0}, {190.0, 140.0}, {-150.0, 140.0}}) {
    Target t;
    t.name = "D" + std::to_string(o.targets.size() + 1), t.u = 0.01;
    const Vec3 p(x, y, 0);
    t.lower = {p + 0.01 * random.vector()};
    // Seen lower in the upper scan, so the targets hold the upper half up by as much.
    t.upper = {p - lift - tilt.cross(p) + 0.01 * random.vector()};
    o.targets.push_back(t);
  }
  const Alignment a = align::register_halves(half[0], half[1], o, {.lower = 0.02, .upper = 0.02});
  return conformity::doubt_registration(a, o, {}, {});
}

}  // namespace

TEST_CASE("Lands and targets that agree are not doubted") {
  const int draws = draws_of(10);
  int doubted = 0;
  for (int k = 0; k < draws; ++k) doubted += doubt_on_lands(100 + k, Vec3::Zero(), Vec3::Zero()).has_value();
  WARN("lands and targets that agree: " << doubted << " of " << draws << " doubted");
  CHECK(doubted <= draws / 100);
}

TEST_CASE("A fit that did not come to an end within its rounds is doubted, whatever its numbers say") {
  Alignment a;
  CHECK_FALSE(conformity::doubt_registration(a, {}, {}, {}));
  a.unsettled = {Message("doubt.fit-targets-did-not-settle")};
  const auto d = conformity::doubt_registration(a, {}, {}, {});
  REQUIRE(d);
  CHECK((d->reason == Doubt::Reason::registration && d->text == a.unsettled[0]));
}

TEST_CASE("Halves that stay half a millimetre open on their lands are called not closed") {
  const int draws = draws_of(10);
  int named = 0, doubted = 0;
  for (int k = 0; k < draws; ++k)
    if (const auto d = doubt_on_lands(200 + k, Vec3(0, 0, 0.5), Vec3::Zero()))
      ++(d->reason == Doubt::Reason::not_closed ? named : doubted);
  WARN("halves 0.5 mm open: " << named << " named, " << doubted << " doubted, " << draws - named - doubted
                              << " missed of " << draws);
  CHECK(named >= 0.99 * draws);
}

TEST_CASE("A chip under one corner of the lands is called not closed") {
  const int draws = draws_of(10);
  int named = 0, doubted = 0;
  for (int k = 0; k < draws; ++k) {
    // 0.4 mm at one corner, nothing at the one across: half of it in the middle.
    const Vec3 tilt(0.2 / 150 / 2, -0.2 / 200 / 2, 0);
    if (const auto d = doubt_on_lands(300 + k, Vec3(0, 0, 0.2), tilt))
      ++(d->reason == Doubt::Reason::not_closed ? named : doubted);
  }
  WARN("chip under one corner: " << named << " named, " << doubted << " doubted, " << draws - named - doubted
                                 << " missed of " << draws);
  CHECK(named >= 0.99 * draws);
}

TEST_CASE("Halves that run into each other over a patch are doubted, over a few nodes not") {
  support::Random random(7);
  DoubtCase c = doubt_setup(random, 6);
  doubt_measure(c, random);
  REQUIRE(!c.doubt);
  for (const int i : {100, 101, 102}) c.gap.nodes[i].gap = -0.4;
  CHECK(!conformity::doubt_registration(c.found, c.options, c.sheet, c.gap));
  for (const int i : {126, 127}) c.gap.nodes[i].gap = -0.4;
  const auto doubt = conformity::doubt_registration(c.found, c.options, c.sheet, c.gap);
  REQUIRE(doubt);
  CHECK(doubt->area == Approx(5 * 1600));
  CHECK(doubt->amount == Approx(0.4));
}

TEST_CASE("What is not judged has no shares and no statistics, but a deviation to draw") {
  support::Random random(8);
  DoubtCase c = doubt_setup(random, 4);
  doubt_measure(c, random);
  const Verdict v = conformity::not_judged(c.sheet, c.gap, {}, {Message("doubt.registration-must-checked-first")});
  CHECK(v.overall == Conformity::not_judged);
  CHECK(v.fraction == std::array<double, 4>{});
  CHECK(v.regions.empty());
  CHECK(std::isnan(v.mean));
  CHECK(v.deviation[200] == Approx(c.gap.nodes[200].gap - 3));
}

TEST_CASE("A scan of two surfaces is a doubt that names file, distance, share and place") {
  SecondLayer l;
  l.half = SecondLayer::Half::upper, l.fraction = 0.25, l.distance = 2, l.at = Vec3(10, 20, 3);
  const auto doubt = conformity::doubt_layers(l, "upper.ply");
  REQUIRE(doubt);
  CHECK(doubt->reason == Doubt::Reason::second_layer);
  const std::string text = say(doubt->text);
  for (const char* part : {"upper.ply", "2.00 mm", "25", "x 10, y 20, z 3 mm"})
    CHECK(text.find(part) != std::string::npos);
  CHECK(say(conformity::what_first(*doubt)) == "The scans must be checked first.");
  CHECK_FALSE(conformity::doubt_layers(SecondLayer{}, "upper.ply"));
}

TEST_CASE("Three targets that alone close the halves give no verdict unless their u are stated or readings test them") {
  Alignment a;
  a.closure.names = {"B1", "B2", "B3"};
  AlignOptions o;
  o.methods = {AlignMethod::targets};
  o.targets.resize(3);
  const auto doubt = conformity::doubt_unchecked_targets(a, o, 0);
  REQUIRE(doubt);
  CHECK_THAT(say(doubt->text), Catch::Contains("Scan a fourth target"));
  CHECK_FALSE(conformity::doubt_unchecked_targets(a, o, 3));
  for (Target& t : o.targets) t.u = 0.05;
  CHECK_FALSE(conformity::doubt_unchecked_targets(a, o, 0));
  o.targets[0].u.reset();
  CHECK(conformity::doubt_unchecked_targets(a, o, 0));
  o.methods.push_back(AlignMethod::flange);
  CHECK_FALSE(conformity::doubt_unchecked_targets(a, o, 0));
  o.methods.pop_back();
  a.closure.names.push_back("B4");
  CHECK_FALSE(conformity::doubt_unchecked_targets(a, o, 0));
}

TEST_CASE("A reading that the map contradicts beyond both uncertainties leaves no verdict, and is named") {
  // En 1.5 with k = 2 is three standard deviations: p 0.0027, once in three readings by chance more often than 1 in
  // 400.
  std::vector<SpotComparison> spots{{"clay 1", 3.0, 0.04, 3.02, 0.06, 0.28, true},
                                    {"clay 2", 3.0, 0.04, 3.11, 0.06, 1.53, true},
                                    {"clay 3", 3.0, 0.04, 3.0, 0.06, 0, true}};
  CHECK_FALSE(conformity::doubt_of_readings(spots, {}, 2, 0.05));
  spots[1].reading = 3.45, spots[1].En = 6.2;
  const auto doubt = conformity::doubt_of_readings(spots, {}, 2, 0.05);
  REQUIRE(doubt);
  CHECK(doubt->subject == "clay 2");
  CHECK_THAT(say(doubt->text), Catch::Contains("clay 2") && Catch::Contains("3.45"));
  CHECK_FALSE(conformity::doubt_of_readings(spots, {}, 2, 0.5));  // less than the play of a seat
  spots[1].found = false;
  CHECK_FALSE(conformity::doubt_of_readings(spots, {}, 2, 0.05));
}

TEST_CASE("Readings that together prove the mold to sit differently leave no verdict until the shift is taken out") {
  SpotShift shift;
  const std::vector<SpotComparison> far{{"clay 1", 2.0, 0.04, 1.9, 0.2, 0.49, true}};
  shift.readings = 6, shift.parameters = 1, shift.offset = 0.1, shift.p_beyond = 1e-5;
  const auto doubt = conformity::doubt_of_readings(far, shift, 2, 0.05);
  REQUIRE(doubt);
  CHECK(doubt->reason == Doubt::Reason::readings);
  CHECK(doubt->amount == Approx(0.1));
  CHECK_FALSE(conformity::doubt_of_readings({{"clay 1", 2.0, 0.04, 1.96, 0.02, 0.9, true}}, shift, 2, 0.05));
  shift.removed = true;
  CHECK_FALSE(conformity::doubt_of_readings(far, shift, 2, 0.05));
  shift.removed = false, shift.p_beyond = 0.01;  // registration, instrument and temperature may explain it
  CHECK_FALSE(conformity::doubt_of_readings(far, shift, 2, 0.05));
}
