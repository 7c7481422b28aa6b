// Places without noise: a few are filled holes, many are a scan that was smoothed as a whole.
#include <catch2/catch.hpp>

#include "../flow/sheets.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/text.hpp"
#include "pipeline/notes.hpp"

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
