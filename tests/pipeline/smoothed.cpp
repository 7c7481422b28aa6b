// Places without noise: a few are filled holes, many are a scan that was smoothed as a whole.
#include <catch2/catch.hpp>

#include "../flow/sheets.hpp"
#include "../random.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/text.hpp"
#include "pipeline/notes.hpp"
#include "pipeline/smoothed.hpp"

using namespace gapfront;

namespace {

/// A face of 400 mm by 300 mm whose lower scan has no noise in so many places of 40 mm by 40 mm.
Measured without_noise(int places) {
  Measured m;
  m.sheet = test::strip(40, 30, 400, 300);
  m.gap.nodes.resize(m.sheet.size());
  m.gap.made_up.assign(m.sheet.size(), 0);
  for (int k = 0; k < places; ++k)
    for (int y = 0; y < 4; ++y)
      for (int x = 0; x < 4; ++x)
        m.gap.made_up[std::size_t(41 * (8 * (k / 5) + 2 + y) + 8 * (k % 5) + 2 + x)] = kOfLower;
  return m;
}

}  // namespace

TEST_CASE("Filled holes are said one by one, a scan that was smoothed as a whole once") {
  const Messages few = pipeline::job_notes(without_noise(3)), many = pipeline::job_notes(without_noise(12));
  CHECK(few.size() == 3);
  CHECK_THAT(say(few), Catch::Contains("points that a program has filled in are no measurement"));
  REQUIRE(many.size() == 1);
  CHECK_THAT(say(many), Catch::Contains("the lower scan has no noise over") && Catch::Contains("in 12 places") &&
                            Catch::Contains("smoothed it as a whole"));
}

namespace {

constexpr double kFacePitch = 1.5;

double dish(double u, double v) { return (u * u + v * v) / 800; }
/// Bends too tightly for a quadric over five spacings.
double waves(double u, double v) { return 1.5 * std::sin(u / 6) * std::cos(v / 6); }

/// A dish of 400 mm radius whose points err by 0.02 mm each; with `over`, each is the mean of those within that radius.
Surface drawn_face(double over, unsigned seed, double (*height)(double, double) = dish) {
  support::Random random(seed);
  std::vector<Vec3> points, out;
  for (double x = -10; x < 90; x += kFacePitch)
    for (double y = -10; y < 70; y += kFacePitch) {
      const double u = x + random.uniform(0, kFacePitch), v = y + random.uniform(0, kFacePitch);
      points.push_back({u, v, height(u, v) + 0.02 * random.gauss()});
    }
  const Surface raw(points, {.spacing = kFacePitch, .noise = 0.02});
  if (!(over > 0)) return raw;
  for (const Vec3& p : points) {
    const std::vector<int> near = raw.within(p, over);
    Vec3 mean = Vec3::Zero();
    for (const int i : near) mean += points[std::size_t(i)] / double(near.size());
    out.push_back(mean);
  }
  return Surface(std::move(out), {.spacing = kFacePitch, .noise = 0.02});
}

pipeline::AlikeOnFace alike_on(const Surface& face, double (*height)(double, double) = dish) {
  Sheet sheet = test::grid(19, 15, [height](double u, double v) {
    const double x = 5 + 70 * u, y = 5 + 50 * v;
    return Vec3(x, y, height(x, y));
  });
  GapMap map;
  map.nodes.resize(sheet.size());
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    NodeGap& g = map.nodes[i];
    g.measured = true, g.gap = 3, g.direction = sheet.normals[i];
    g.mid = sheet.mesh.points[i] + 1.5 * g.direction;
  }
  return pipeline::alike_on_face(sheet, map, face, NarrowPlace::Half::lower);
}

}  // namespace

TEST_CASE("Points that were averaged over their neighbours err alike on the face, those of an honest scan do not") {
  for (unsigned seed = 1; seed <= 3; ++seed) {
    const auto honest = alike_on(drawn_face(0, seed));
    INFO(seed << " " << honest.share << " " << honest.u);
    CHECK(honest.places > 100);
    CHECK(honest.share < 0);
    for (const double over : {3., 5.}) {
      const auto smoothed = alike_on(drawn_face(over, seed));
      INFO(over << " " << smoothed.share << " " << smoothed.u);
      CHECK(smoothed.share > 0.2);
      CHECK_FALSE(smoothed.by_bends);
      CHECK(smoothed.u < 0.03);
    }
  }
}

TEST_CASE("What a quadric leaves over of tight bends is not taken for a scan that was smoothed") {
  for (unsigned seed = 1; seed <= 3; ++seed) {
    const auto bent = alike_on(drawn_face(0, seed, waves), waves);
    INFO(seed << " " << bent.share << " " << bent.u);
    CHECK(bent.places > 100);
    CHECK(bent.share > 0.13);
    CHECK(bent.by_bends);
    CHECK_FALSE(alike_on(drawn_face(3, seed, waves), waves).by_bends);
  }
}
