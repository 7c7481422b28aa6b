// A ball at the end of a row: dirt in its seat, or a bow of the half.
#include <catch2/catch.hpp>

#include "../random.hpp"
#include "gapfront/align.hpp"
#include "gapfront/outcome.hpp"
#include "gapfront/text.hpp"

using namespace gapfront;

namespace {

// Seven balls around a panel, one of them alone at its end.
const std::vector<Vec3> kRow{{-95, -160, 1.5}, {70, -160, 1.5}, {210, -40, 1.5}, {210, 62, 1.5},
                             {110, 160, 1.5},  {-40, 160, 1.5}, {-210, 35, 1.5}};

Alignment row_of_balls(double bow, double dirt, unsigned seed, double u = 0.003) {
  support::Random random(seed);
  Scan lower, upper;
  AlignOptions o;
  for (std::size_t i = 0; i < kRow.size(); ++i) {
    Target t;
    t.name = "B" + std::to_string(i + 1), t.u = u;
    const Vec3 off(0, 0, bow * kRow[i].x() * kRow[i].x() / 40000 + (i == 6 ? dirt : 0));
    t.lower = {kRow[i] + off + u * random.vector()};
    t.upper = {kRow[i] + u * random.vector()};
    o.targets.push_back(std::move(t));
  }
  Alignment a = align::register_halves(lower, upper, o, {.lower = 0.02, .upper = 0.02});
  for (FoundMark& m : a.marks) m.ball = 20;
  return a;
}

Sheet sheet_of_row() {
  Mesh m;
  m.points = {Vec3(-200, -150, 0), Vec3(200, -150, 0), Vec3(200, 150, 0), Vec3(-200, 150, 0)};
  m.triangles = {{0, 1, 2}, {0, 2, 3}};
  return cavity::make_sheet(m);
}

std::optional<Doubt> doubt_of_row(const Alignment& a) {
  GapMap gap;
  gap.nodes.resize(4);
  return conformity::doubt_registration(a, {}, sheet_of_row(), gap);
}

}  // namespace

TEST_CASE("A ball at the end of a bowed half is not said to sit on dirt alone") {
  for (const double bow : {0.06, 0.12, -0.08})
    for (unsigned seed = 1; seed <= 6; ++seed) {
      const auto d = doubt_of_row(row_of_balls(bow, 0, seed));
      INFO(bow << " " << seed << " " << (d ? d->text.id : ""));
      REQUIRE(d);
      CHECK(d->reason != Doubt::Reason::seat_dirt);
    }
}

TEST_CASE("Dirt under a ball at the end of a row is still named as dirt") {
  for (const double dirt : {0.15, -0.15, 0.3})
    for (unsigned seed = 1; seed <= 6; ++seed) {
      const Alignment a = row_of_balls(0, dirt, seed);
      INFO(dirt << " " << seed);
      REQUIRE(a.rest_suffices);
      CHECK(!doubt_of_row(a));
      const auto left_out = conformity::target_left_out(a, {}, sheet_of_row());
      REQUIRE(left_out);
      CHECK_THAT(say(*left_out), Catch::Contains("Ball B7") && Catch::Contains("look for dirt in its seat, clean it"));
    }
}

TEST_CASE("A scale that is most of what the targets miss is the headline") {
  for (unsigned seed = 1; seed <= 4; ++seed) {
    support::Random random(seed);
    AlignOptions o;
    for (std::size_t i = 0; i < kRow.size(); ++i) {
      Target t;
      t.name = "B" + std::to_string(i + 1), t.u = 0.003;
      t.lower = {kRow[i] + 0.003 * random.vector()};
      // Beside the scale, twice the errors that are declared.
      t.upper = {(1 - 390e-6) * kRow[i] + 0.006 * random.vector()};
      o.targets.push_back(std::move(t));
    }
    const auto d = doubt_of_row(align::register_halves({}, {}, o, {.lower = 0.02, .upper = 0.02}));
    REQUIRE(d);
    CHECK(d->text.id == "doubt.halves-targets-differ-size");
  }
}
