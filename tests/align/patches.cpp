// Several scans of one half, joined.
#include "gapfront/patches.hpp"

#include <catch2/catch.hpp>

#include "dish.hpp"
#include "gapfront/error.hpp"

using namespace gapfront;
using namespace support;

namespace {

/// The part of a shape between two places in x, as a scan in a frame of its own.
Scan patch(Shape shape, double from, double to, const Rigid& off, const char* path, Random& random,
           double spacing = 1.5) {
  Scan scan;
  scan.path = path;
  for (const Vec3& p : scanned(shape, spacing, 0.03, 120, random))
    if (p.x() > from && p.x() < to) scan.cloud.points.push_back(off * p);
  return scan;
}

std::string joining_fault(std::vector<Scan> scans) {
  try {
    align::join_patches(std::move(scans));
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
  const JoinedScan joined = align::join_patches(scans);
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
    const JoinedScan joined = align::join_patches(
        {patch(dish, -121, 20, Rigid::Identity(), "a", random), patch(dish, -30, 121, off, "b", random)});
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

TEST_CASE("Patches with too little in common, or nothing that holds a direction, are refused by name") {
  Random random(23);
  const std::string apart = joining_fault({patch(dish, -121, 0, Rigid::Identity(), "a.ply", random, 5),
                                           patch(dish, -4, 121, pose(3, 2, 1, 0.1, {1, 0, 0}), "b.ply", random, 5)});
  INFO(apart);
  CHECK(says(apart, "b.ply: does not lie on the scans before it as exported"));
  // From another frame, nearly symmetric panels fit in wrong places too: never guessed.
  const std::string elsewhere = joining_fault({patch(dish, -121, 30, Rigid::Identity(), "a.ply", random, 3),
                                               patch(dish, -30, 121, any_pose(random), "b.ply", random, 3)});
  CHECK(says(elsewhere, "export the scans of a half in one frame"));
  const Shape groove = [](double, double y) { return 8 * std::tanh((y - 45) / 8) + 0.002 * y * y; };
  const std::string loose = joining_fault({patch(groove, -121, 40, Rigid::Identity(), "a.ply", random),
                                           patch(groove, -40, 121, Rigid::Identity(), "b.ply", random)});
  INFO("and " << loose);
  CHECK(says(loose, "b.ply: what it has in common with the scans before it leaves it free to slide along"));
}
