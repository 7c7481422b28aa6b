// What a newcomer does: two scans, `gapfront new`, `gapfront inspect`, no line of the job touched. On the demo pairs no
// instruction may concern a ball, its seat or a land.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>

#include "gapfront/gapfront.hpp"
#include "synth/synth.hpp"
#include "test_paths.hpp"

using namespace gapfront;

namespace {

/// The job as `new` drafts it. Only the drawn fillings are left out, for time: they rank corrections and propose none,
/// and here all that are proposed are looked at, chosen or not.
Inspection first_run(const std::string& pair) {
  const std::string scans = std::string(SOURCE_DIR) + "/scans/" + pair;
  const auto folder = std::filesystem::temp_directory_path() / ("gapfront-first-run-" + pair);
  std::filesystem::create_directories(folder);
  std::ofstream(folder / "job.toml") << pipeline::draft_job(scans + "-lower.ply", scans + "-upper.ply", folder);
  Job job = job::read_job(folder / "job.toml");
  job.ensemble.runs = 0;
  Inspection r = pipeline::inspect(job);
  std::filesystem::remove_all(folder);
  return r;
}

void check_first_run(const std::string& pair) {
  const Inspection r = first_run(pair);
  const synth::Truth truth = synth::load_truth(std::string(SOURCE_DIR) + "/scans/" + pair + "-truth.json");
  REQUIRE(!r.doubt);
  // The drafted tool frame goes by way of the lower scan's own into the generator's.
  const Rigid to_mold = truth.poses.lower.inverse() * r.alignment.lower_to_tool.motion.inverse();
  CHECK(r.job.sheet.masks.size() >= truth.mold.balls.size() * (r.sheet.masked_area > 0 ? 1 : 0));
  const auto check_place = [&](const std::string& what, const Vec3& p) {
    const Vec3 at = to_mold * p;
    CAPTURE(pair, what, at.transpose());
    for (const auto& ball : truth.mold.balls) CHECK((at - ball.centre).norm() > ball.diameter);
    // The seal line lies a little inside the land; a found one may lie some scan spacings beside it.
    CHECK(truth.mold.edge_distance(at) < truth.mold.shape.seal + 5);
  };
  for (const auto& g : r.verdict.regions) check_place("region " + g.name, g.centre);
  for (const auto& c : r.plan.candidates) {
    if (c.kind == Kind::shim) continue;  // shims belong on the land
    check_place(say(c.instruction), c.centre);
    for (const Vec3& p : c.outline) check_place("outline of " + c.name, p);
  }
}

}  // namespace

TEST_CASE("The first run on the new tool's scans instructs nothing on a ball, a seat or a land", "[new-tool]") {
  check_first_run("new-tool");
}

TEST_CASE("The first run on the dry spot's scans instructs nothing on a ball, a seat or a land", "[dry-spot]") {
  check_first_run("dry-spot");
}

TEST_CASE("The first run on the worn tool's scans instructs nothing on a ball, a seat or a land", "[worn-tool]") {
  check_first_run("worn-tool-3");
}
