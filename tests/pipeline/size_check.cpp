// Wrong units that only the job tells.
#include "pipeline/size_check.hpp"

#include <catch2/catch.hpp>

using namespace gapfront;

TEST_CASE("A gap that is a twenty-fifth of the nominal on the whole is inches read as millimetres") {
  Job job;
  job.lower.file = "lower.ply", job.upper.file = "upper.ply", job.tolerance.nominal = 3;
  Sheet sheet;
  sheet.mesh.points.resize(100);
  GapMap gap;
  gap.nodes.resize(100);
  for (auto& n : gap.nodes) n.measured = true, n.gap = 0.12;
  CHECK_THROWS_WITH(pipeline::refuse_wrong_unit(job, sheet, gap), Catch::Contains("the numbers are likely inches"));
  for (auto& n : gap.nodes) n.gap = 0.5;  // thin, but no unit's fault
  CHECK_NOTHROW(pipeline::refuse_wrong_unit(job, sheet, gap));
}
