// What the headline owes to a seal line that nobody has confirmed.
#include "pipeline/seal_choice.hpp"

#include <catch2/catch.hpp>

#include "../flow/sheets.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/text.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

/// A plate of 200 × 100 mm inside a proposed line along its rim, the gap 3 mm with limits of ±0.3 mm.
Measured plate() {
  Measured m;
  m.sheet = cavity::make_sheet(strip(40, 20, 200, 100).mesh);
  const std::size_t n = m.sheet.size();
  m.gap.nodes.resize(n);
  for (NodeGap& g : m.gap.nodes) g.measured = true, g.gap = 3;
  m.verdict.node.assign(n, Conformity::conforming), m.verdict.limits.assign(n, {3, 2.7, 3.3});
  m.verdict.deviation.assign(n, 0);
  m.verdict.overall = Conformity::nonconforming;
  m.verdict.headline = {conformity::verdict_word(m.verdict.overall, false), Message("page.no-place-sheet-has")};
  m.job.sheet.seal = {{0, 0, 0}, {200, 0, 0}, {200, 100, 0}, {0, 100, 0}};
  m.seal.source = SealOrigin::Source::proposed, m.seal.u = 1.5;
  return m;
}

void put_outside(Measured& m, const Vec3& at, double gap) {
  std::size_t best = 0;
  for (std::size_t i = 0; i < m.sheet.size(); ++i)
    if ((m.sheet.mesh.points[i] - at).norm() < (m.sheet.mesh.points[best] - at).norm()) best = i;
  m.gap.nodes[best].gap = gap, m.verdict.deviation[best] = gap - 3;
  m.verdict.node[best] = Conformity::nonconforming;
}

std::string headline_of(Measured m) {
  pipeline::qualify_headline(m);
  return say(m.verdict.headline, {m.job.units});
}

}  // namespace

TEST_CASE("Where the place that decides lies on a proposed seal line, that line is to be confirmed first") {
  Measured m = plate();
  put_outside(m, {0, 50, 0}, 1);
  put_outside(m, {50, 100, 0}, 1.2);
  CHECK_THAT(headline_of(m), Catch::Contains("Confirm the seal line first: it is a proposal, known to 3.0 mm only"));
  CHECK_THAT(headline_of(m), Catch::Contains("Farther inside, nothing is provably outside its limits."));
  put_outside(m, {100, 50, 0}, 3.6);
  CHECK_THAT(headline_of(m), Catch::Contains("Farther inside, the deciding place is +0.60 mm at x 100, y 50 mm."));
  m.seal.source = SealOrigin::Source::given;
  CHECK_THAT(headline_of(m), !Catch::Contains("Confirm the seal line"));
}

TEST_CASE("A place that decides well inside of a proposed seal line decides as it is") {
  Measured m = plate();
  put_outside(m, {0, 50, 0}, 2.6);
  put_outside(m, {100, 50, 0}, 1);
  CHECK_THAT(headline_of(m), !Catch::Contains("Confirm the seal line"));
}
