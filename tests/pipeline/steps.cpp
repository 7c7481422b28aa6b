// Each step by itself, what it hands on, and how it stops.
#include <fmt/format.h>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include "../cli/run_program.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

Job bench_job(const Bench& bench) {
  bench.plates();
  Job job = job::read_job(bench.path(bench.job()));
  job.ensemble.runs = 4;
  return job;
}

/// The same to the last bit; a node that is not measured (NaN) in both counts as the same.
bool same(const std::vector<double>& a, const std::vector<double>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [](double x, double y) { return x == y || (std::isnan(x) && std::isnan(y)); });
}

}  // namespace

TEST_CASE("The steps in a row are the inspection") {
  const Bench bench;
  const Job job = bench_job(bench);
  const Inspection whole = pipeline::inspect(job);
  const Inspection steps = pipeline::correct(pipeline::predict(pipeline::measure(job)));
  CHECK(steps.verdict.headline == whole.verdict.headline);
  CHECK(same(steps.verdict.deviation, whole.verdict.deviation));
  CHECK(steps.filling.arrival == whole.filling.arrival);
  CHECK(steps.ensemble.dry == whole.ensemble.dry);
  CHECK(steps.plan.gap_after == whole.plan.gap_after);
  CHECK(steps.outcome.after.expected_dry == whole.outcome.after.expected_dry);
  CHECK(steps.warnings == whole.warnings);
  // What is large and no result is kept only where a step may follow.
  CHECK(steps.halves);
  CHECK(!whole.halves);
}

TEST_CASE("Points in another order give the same sheet, gaps and verdict, to the last bit") {
  const Bench bench;
  const Job job = bench_job(bench);
  const Measured first = pipeline::measure(job);
  unsigned seed = 1;
  for (const char* name : {"lower.xyz", "upper.xyz"}) {
    std::istringstream text(bench.read(name));
    std::vector<std::string> lines;
    for (std::string line; std::getline(text, line);) lines.push_back(line);
    std::shuffle(lines.begin(), lines.end(), std::mt19937(seed++));
    std::string shuffled;
    for (const auto& line : lines) shuffled += line + "\n";
    bench.write(name, shuffled);
  }
  const Measured second = pipeline::measure(job);
  CHECK(second.lower_sha256 != first.lower_sha256);
  CHECK(second.sheet.mesh.points == first.sheet.mesh.points);
  CHECK(second.sheet.mesh.triangles == first.sheet.mesh.triangles);
  CHECK(same(second.verdict.deviation, first.verdict.deviation));
  CHECK(second.verdict.headline == first.verdict.headline);
}

TEST_CASE("A scan that shows the face twice gets a map, and no verdict") {
  const Bench bench;
  const Job job = bench_job(bench);
  std::string ghost;
  std::istringstream text(bench.read("upper.xyz"));
  double x, y, z;
  while (text >> x >> y >> z) ghost += fmt::format("{} {} {}\n", x, y, z + 2);
  bench.write("upper.xyz", bench.read("upper.xyz") + ghost);
  const Measured m = pipeline::measure(job);
  REQUIRE(m.doubt);
  CHECK(m.doubt->reason == Doubt::Reason::second_layer);
  CHECK(m.doubt->amount == Approx(2).margin(0.05));
  CHECK(m.verdict.overall == Conformity::not_judged);
  CHECK(m.gap.nodes.size() == m.sheet.size());
}

TEST_CASE("A changed vent is predicted from what was measured, and nothing measured changes") {
  const Bench bench;
  const Measured measured = pipeline::measure(bench_job(bench));
  const Predicted first = pipeline::predict(measured);
  Measured changed = measured;
  changed.job.flow.vents[0].path = {{-45, 0, 2}};
  const Predicted second = pipeline::predict(changed);
  CHECK(second.verdict.headline == first.verdict.headline);
  CHECK(second.filling.arrival != first.filling.arrival);
  // The same vent again is the same filling: a step keeps nothing of the one before.
  CHECK(pipeline::predict(measured).filling.arrival == first.filling.arrival);
  // Off the sheet it is refused by name; the plates are 100 mm long.
  changed.job.flow.vents[0].path = {{120, 0, 2}};
  CHECK_THROWS_WITH(pipeline::predict(changed), Catch::Contains("[[flow.vent]] \"middle\" lies"));
}

TEST_CASE("Every step stops when the progress says so, and each stage is announced") {
  const Bench bench;
  const Job job = bench_job(bench);
  std::vector<std::string> stages;
  const Progress list = [&](std::string_view stage, double) {
    if (stages.empty() || stages.back() != stage) stages.emplace_back(stage);
    return true;
  };
  const Measured measured = pipeline::measure(job, list);
  const Predicted predicted = pipeline::predict(measured, list);
  pipeline::correct(predicted, list);
  for (const char* stage :
       {"read lower scan", "align", "sheet", "gap", "verdict", "laminate", "flow, measured", "ensemble", "corrections"})
    CHECK(std::count(stages.begin(), stages.end(), stage) > 0);

  const auto stopped = [](const auto& step, const std::string& at) {
    const Progress stop = [&](std::string_view stage, double) { return stage != at; };
    try {
      step(stop);
    } catch (const Error& e) {
      return e.fault == Fault::cancelled;
    }
    return false;
  };
  CHECK(stopped([&](const Progress& p) { pipeline::measure(job, p); }, "read upper scan"));
  CHECK(stopped([&](const Progress& p) { pipeline::measure(job, p); }, "gap"));
  CHECK(stopped([&](const Progress& p) { pipeline::predict(measured, p); }, "flow, measured"));
  CHECK(stopped([&](const Progress& p) { pipeline::correct(predicted, p); }, "corrections"));
}

TEST_CASE("A registration in doubt ends the way: predict() says why, and correct() needs the halves") {
  const Bench bench;
  Measured measured = pipeline::measure(bench_job(bench));
  measured.doubt.emplace();
  measured.verdict.headline = {conformity::verdict_word(Conformity::not_judged, false),
                               Message("doubt.registration-must-checked-first")};
  CHECK_THROWS_WITH(pipeline::predict(measured), "Not judged. The registration must be checked first.");
  Predicted without;
  CHECK_THROWS_WITH(pipeline::correct(without), Catch::Contains("the halves were released"));
}

TEST_CASE("gapfront.hpp includes every public header but the adaptor to PCL, which not everybody has") {
  std::ifstream in(SOURCE_DIR "/include/gapfront/gapfront.hpp");
  const std::string all{std::istreambuf_iterator<char>(in), {}};
  for (const auto& e : std::filesystem::directory_iterator(SOURCE_DIR "/include/gapfront")) {
    const std::string name = e.path().filename().string();
    CAPTURE(name);
    if (name != "gapfront.hpp" && name != "pcl.hpp")
      CHECK(all.find("#include \"gapfront/" + name + "\"") != std::string::npos);
  }
}
