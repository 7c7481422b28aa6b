// Several scans of one half, joined.
#include "gapfront/patches.hpp"

#include <catch2/catch.hpp>

#include "dish.hpp"
#include "gapfront/error.hpp"

using namespace gapfront;
using namespace support;

namespace {

/// Balls on a dish, at distances that match in one way.
const std::vector<Vec3> kPlaces{{-20, 70, 30}, {15, -70, 25}, {28, 30, 40}, {-10, -5, 22}};

/// The part of a shape between two places in x, as a scan in a frame of its own.
Scan patch(Shape shape, double from, double to, const Rigid& off, const char* path, Random& random,
           double spacing = 1.5) {
  Scan scan;
  scan.path = path;
  for (const Vec3& p : scanned(shape, spacing, 0.03, 120, random))
    if (p.x() > from && p.x() < to) scan.cloud.points.push_back(off * p);
  return scan;
}

/// The same with the balls.
Scan with_balls(Scan scan, const Rigid& off, Random& random) {
  for (const Vec3& at : kPlaces) {
    std::vector<Vec3> ball;
    add_ball(ball, at, 8, -0.3, 600, 0.03, random);
    for (const Vec3& p : ball) scan.cloud.points.push_back(off * p);
  }
  return scan;
}

/// Of the points of a dish that was joined in the frame it was made in, mm.
double worst_of(const JoinedScan& joined, std::size_t from, std::size_t to) {
  double worst = 0;
  for (std::size_t i = from; i < to; ++i) {
    const Vec3& p = joined.scan.cloud.points[i];
    worst = std::max(worst, std::abs(p.z() - dish(p.x(), p.y())));
  }
  return worst;
}

JoinedScan join(const std::vector<Scan>& scans) {
  std::vector<PatchScan> further;
  for (std::size_t k = 1; k < scans.size(); ++k) further.push_back({scans[k], {}, 0});
  return align::join_patches(scans[0], std::move(further));
}

std::string joining_fault(const Scan& first, const PatchScan& further) {
  try {
    align::join_patches(first, {further});
  } catch (const Error& e) {
    return e.what();
  }
  return "no error";
}

}  // namespace

TEST_CASE("Three patches that lie a millimetre or two off are joined in the first one's frame") {
  Random random(21);
  const Rigid first = any_pose(random);
  const auto off = [&] { return pose(random.gauss(), random.gauss(), random.gauss(), 0, {1, 0, 0}) * first; };
  std::vector<Scan> scans{patch(dish, -121, -10, first, "a", random), patch(dish, -60, 70, off(), "b", random),
                          patch(dish, 20, 121, off(), "c", random)};
  const std::size_t before = scans[0].cloud.points.size(),
                    all = before + scans[1].cloud.points.size() + scans[2].cloud.points.size();
  const JoinedScan joined = join(scans);
  REQUIRE(joined.patches.size() == 2);
  REQUIRE(joined.scan.cloud.points.size() == all);
  CHECK(joined.scan.path == "a");
  CHECK(joined.patches[0].overlap == Approx(50.0 / 130).margin(0.1));
  CHECK(joined.patches[1].u > joined.patches[0].u);  // it errs with the one it is joined to
  double worst = 0;
  for (std::size_t i = before; i < all; ++i) {
    const Vec3 p = first.inverse() * joined.scan.cloud.points[i];
    worst = std::max(worst, std::abs(p.z() - dish(p.x(), p.y())));
  }
  CHECK(worst < 0.5);  // four σ of noise on slopes of up to 45°, and a few hundredths of the joint
}

TEST_CASE("The claimed uncertainty of a joined patch covers its error where that is greatest") {
  // The patch's far edge errs most, and u is of there (7 µm of error, 12 µm claimed). 40 draws; 95 % within 1.96 u: 35
  // or more of 40 (two-sided binomial 3 σ), and not three times too wide either.
  Random random(22);
  int within = 0;
  const int draws = 40;
  double square = 0, claimed = 0;
  for (int k = 0; k < draws; ++k) {
    const Rigid off = pose(0.4, -0.3, 0.2, 0.003, random.vector());  // as scanners that track themselves leave them
    const JoinedScan joined =
        join({patch(dish, -121, 20, Rigid::Identity(), "a", random), patch(dish, -30, 121, off, "b", random)});
    // Mean error along the normal over the last 15 mm, where noise averages out.
    double sum = 0;
    int n = 0;
    for (const Vec3& p : joined.scan.cloud.points) {
      if (p.x() < 105) continue;
      const double e = 0.01, dx = (dish(p.x() + e, p.y()) - dish(p.x() - e, p.y())) / (2 * e),
                   dy = (dish(p.x(), p.y() + e) - dish(p.x(), p.y() - e)) / (2 * e);
      sum += (p.z() - dish(p.x(), p.y())) / std::sqrt(1 + dx * dx + dy * dy), ++n;
    }
    within += std::abs(sum / n) < 1.96 * joined.u;
    square += sum / n * sum / n / draws, claimed += joined.u * joined.u / draws;
  }
  INFO("within " << within << ", error " << std::sqrt(square) << ", claimed " << std::sqrt(claimed));
  CHECK(within >= 35);
  CHECK(claimed < 9 * square);
}

TEST_CASE("A patch from another frame is joined from its pose, which the overlap refines") {
  Random random(24);
  const Rigid elsewhere = any_pose(random), near = pose(1, -1, 0.5, 0.01, {0, 0, 1});
  const Scan first = patch(dish, -121, 30, Rigid::Identity(), "a", random),
             other = patch(dish, -30, 121, elsewhere, "b", random);
  const JoinedScan joined = align::join_patches(first, {{other, near * elsewhere.inverse(), 0}});
  CHECK(joined.patches[0].place == PatchPlace::from_pose);
  CHECK(joined.patches[0].u > 0);
  CHECK(worst_of(joined, first.cloud.points.size(), joined.scan.cloud.points.size()) < 0.5);
}

TEST_CASE("A pose with its uncertainty is taken as it is, with or without an overlap that agrees") {
  Random random(25);
  const Rigid elsewhere = any_pose(random), back = elsewhere.inverse();
  const Scan first = patch(dish, -121, 0, Rigid::Identity(), "a", random),
             beside = patch(dish, 10, 121, elsewhere, "b", random),
             over = patch(dish, -40, 121, elsewhere, "c.ply", random);
  const JoinedScan apart = align::join_patches(first, {{beside, back, 0.05}});
  CHECK(apart.patches[0].place == PatchPlace::given);
  CHECK(apart.patches[0].overlap == 0);
  CHECK(apart.u == 0.05);
  CHECK(worst_of(apart, first.cloud.points.size(), apart.scan.cloud.points.size()) < 0.2);
  const JoinedScan both = align::join_patches(first, {{over, back, 0.05}});
  CHECK(both.u == 0.05);
  CHECK(both.patches[0].overlap > 0.1);
  const Rigid off = pose(0, 0, 0.6, 0, {1, 0, 0});
  const std::string contradicts = joining_fault(first, {over, off * back, 0.05});
  INFO(contradicts);
  CHECK(says(contradicts, "c.ply: what it has in common with the scans before it lies up to 0.6"));
  CHECK(says(joining_fault(first, {over, pose(0, 0, 0, M_PI, {0, 0, 1}) * back, 0.05}),
             "c.ply: its pose lays it over the scans before it, but not onto their face"));
}

TEST_CASE("A patch from another frame is joined from balls that both show, and only where they match in one way") {
  Random random(26);
  const Rigid elsewhere = any_pose(random);
  const Scan first = with_balls(patch(dish, -121, 40, Rigid::Identity(), "a", random), Rigid::Identity(), random),
             other = with_balls(patch(dish, -40, 121, elsewhere, "b", random), elsewhere, random);
  const std::size_t plain = patch(dish, -40, 121, elsewhere, "b", random).cloud.points.size();
  const JoinedScan joined = join({first, other});
  CHECK(joined.patches[0].place == PatchPlace::from_balls);
  CHECK(worst_of(joined, first.cloud.points.size(), first.cloud.points.size() + plain) < 0.5);
}

TEST_CASE("Patches with too little in common, or nothing that holds a direction, are refused by name") {
  Random random(23);
  const std::string apart =
      joining_fault(patch(dish, -121, 0, Rigid::Identity(), "a.ply", random, 5),
                    {patch(dish, -4, 121, pose(3, 2, 1, 0.1, {1, 0, 0}), "b.ply", random, 5), {}, 0});
  INFO(apart);
  CHECK(says(apart, "b.ply: does not lie on the scans before it as exported"));
  // From another frame, nearly symmetric panels fit in wrong places too: never guessed.
  const std::string elsewhere = joining_fault(patch(dish, -121, 30, Rigid::Identity(), "a.ply", random, 3),
                                              {patch(dish, -30, 121, any_pose(random), "b.ply", random, 3), {}, 0});
  CHECK(says(elsewhere, "export the scans of a half in one frame"));
  const Shape groove = [](double, double y) { return 8 * std::tanh((y - 45) / 8) + 0.002 * y * y; };
  const std::string loose = joining_fault(patch(groove, -121, 40, Rigid::Identity(), "a.ply", random),
                                          {patch(groove, -40, 121, Rigid::Identity(), "b.ply", random), {}, 0});
  INFO("and " << loose);
  CHECK(says(loose, "b.ply: what it has in common with the scans before it leaves it free to slide along"));
}
