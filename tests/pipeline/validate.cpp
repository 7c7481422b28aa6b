// What is wrong with a job is said before a scan is read, in the words of the stage that would have found it.
#include <catch2/catch.hpp>
#include <functional>

#include "../cli/run_program.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

/// The bench's plates and job, sound as they are.
struct Sound {
  Bench bench;
  Job job;
  Sound() {
    bench.plates();
    job = job::read_job(bench.path(bench.job()));
  }
};

/// The words of both validate() and measure(); and no stage has begun by then.
void refused_early(const Job& job, const std::string& words) {
  INFO(words);
  const auto says = [&](const std::function<void()>& step) {
    try {
      step();
    } catch (const Error& e) {
      CHECK(e.fault == Fault::input);
      return std::string(e.what());
    }
    return std::string("nothing");
  };
  CHECK_THAT(says([&] { pipeline::validate(job); }), Catch::Contains(words));
  bool begun = false;
  const Progress watch = [&](std::string_view, double) { return begun = true; };
  CHECK_THAT(says([&] { pipeline::measure(job, watch); }), Catch::Contains(words));
  CHECK(!begun);
}

/// Gives the job a target that both halves show.
Target& target_b1(Job& job) {
  Target& t = job.align.targets.emplace_back();
  t.name = "B1", t.lower = t.upper = ScanPlace{};
  return t;
}

}  // namespace

TEST_CASE("A sound job is let through") {
  const Sound s;
  CHECK_NOTHROW(pipeline::validate(s.job));
}

TEST_CASE("Each stage's refusal of its settings comes before a scan is read") {
  const Sound s;
  const auto broken = [&](const std::function<void(Job&)>& slip, const std::string& words) {
    Job job = s.job;
    slip(job);
    refused_early(job, words);
  };
  broken([](Job& j) { j.align.methods = {}; }, "align: no method given");
  broken([](Job& j) { j.align.methods = {AlignMethod::given, AlignMethod::nominal}; }, "\"given\" leaves the scans");
  broken([](Job& j) { j.align.methods = {AlignMethod::nominal}; }, "needs both nominal surfaces");
  broken(
      [](Job& j) {
        j.align.methods = {AlignMethod::given, AlignMethod::flange};
        j.align.stand_off = 1;
      },
      "with a stand-off the lands cannot be told from the cavity");
  broken([](Job& j) { target_b1(j).upper.reset(); }, "target B1: has no place in the upper half");
  broken([](Job& j) { target_b1(j).u = 0; }, "target B1: uncertainty u is not positive");
  broken([](Job& j) { j.sheet.min_edge = 2 * j.sheet.edge; }, "cavity.min_edge");
  broken([](Job& j) { j.gap.nominal = 0; }, "gap: nominal must be above 0 mm");
  broken([](Job& j) { j.tolerance.minus = -0.1; }, "a tolerance must not be negative");
  broken([](Job& j) { j.laminate.plies = {}; }, "[laminate] no glass");
  broken([](Job& j) { j.laminate.plies[0].reinforcement.loft = 0.1; }, "a loft thinner than its glass packed solid");
  broken([](Job& j) { j.laminate.zones.emplace_back().plies.emplace_back(); }, "needs areal_weight");
  broken([](Job& j) { j.flow.inlets = {}; }, "flow: no inlet");
  broken([](Job& j) { j.flow.vents = {}; }, "flow: no vent");
  broken([](Job& j) { j.flow.vents.push_back(j.flow.vents[0]); }, "[[flow.vent]] \"middle\" is given twice");
  broken([](Job& j) { j.flow.schedule = {{0, 0}}; }, "every rate of the schedule");
  broken([](Job& j) { j.flow.cavity_pressure = 1e6; }, "the pressure limit is not above the cavity pressure");
  broken(
      [](Job& j) {
        j.correct.stations = {{"S1", {60, 0, 0}}, {"S2", {60, 4, 0}}};
      },
      "\"S2\" lies where \"S1\" lies");
  const std::vector<Vec3> square{{-40, -30, 0}, {40, -30, 0}, {40, 30, 0}, {-40, 30, 0}};
  broken(
      [&](Job& j) {
        j.sheet.seal = square, j.correct.stations = {{"S1", {20, 0, 0}}};
      },
      "\"S1\" lies inside the seal line");
  Job good = s.job;
  good.sheet.seal = {square[0], square[0], square[1], square[2], square[3], square[0]};  // corners written twice
  good.sheet.islands = {{{10, -5, 0}, {20, -5, 0}, {20, 5, 0}, {10, 5, 0}}};
  good.correct.stations = {{"S1", {15, 0, 0}}};  // on the land of an island
  CHECK_NOTHROW(pipeline::validate(good));
  broken([&](Job& j) { j.sheet.seal = {square[0], square[2], square[1], square[3]}; }, "[cavity] seal crosses itself");
  broken([&](Job& j) { j.sheet.seal = square, j.sheet.seal.insert(j.sheet.seal.begin() + 1, Vec3(-200, -31, 0)); },
         "turns back on itself at its corner x −200");
  broken([](Job& j) { j.language = "la"; }, "[report] language \"la\" is unknown");
}

TEST_CASE("A file that is not there is named with the line of the job that names it") {
  const Sound s;
  Job job = s.job;
  job.upper.file = s.bench.path("nowhere.xyz");
  job.text = "# upper = nowhere.xyz\n[lower]\nfile = \"nowhere.xyz\"\n[upper]\nfile = \"nowhere.xyz\"\n";
  refused_early(job, ":5: [upper] " + job.upper.file.string() + ": no such file");
}

TEST_CASE("A file that is not there is named before a scan is read, and so is one scan given for both halves") {
  const Sound s;
  const auto missing = s.bench.path("nowhere.stl");
  const std::string words = missing.string() + ": no such file";
  Job job = s.job;
  job.upper.file = missing;
  refused_early(job, words);
  for (auto Job::*file : {&Job::sheet_mesh, &Job::thickness, &Job::painted}) {
    job = s.job;
    job.*file = FileInput{missing, 1};
    refused_early(job, words);
  }
  job = s.job;
  job.surface_lower = job.surface_upper = FileInput{missing, 1};
  refused_early(job, words);
  job = s.job;
  job.nominal_lower = job.nominal_upper = missing;
  refused_early(job, words);
  job = s.job;
  job.upper.file = job.lower.file;
  refused_early(job, "the same scan is given for both halves");
  s.bench.write("upper.ply", "\x01\x02\x03 this is no scan");
  job.upper.file = s.bench.path("upper.ply");
  refused_early(job, "its first bytes are not those of a PLY file");
}

TEST_CASE("A zone's colour that the painted mesh lacks is refused before a scan is read") {
  const Sound s;
  s.bench.write("zones.ply",
                "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n"
                "element face 1\nproperty list uchar int vertex_indices\nproperty uchar red\nproperty uchar green\n"
                "property uchar blue\nend_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2 200 0 0\n");
  Job job = s.job;
  job.painted = FileInput{s.bench.path("zones.ply"), 1};
  job.tolerance.zones = {{"rib", {}, 2, 0.1, 0.1, Rgb{0, 255, 0}}};
  bool begun = false;
  CHECK_THROWS_WITH(pipeline::measure(job, [&](std::string_view, double) { return begun = true; }),
                    Catch::Contains("\"rib\" colour: no face is painted #00ff00; the mesh has #c80000"));
  CHECK(!begun);
}

TEST_CASE("A port outside the seal line is refused before a scan is read; one that reaches in is not") {
  const Sound s;
  Job job = s.job;
  job.sheet.seal = {{-40, -30, 0}, {40, -30, 0}, {40, 30, 0}, {-40, 30, 0}};
  job.flow.vents[0].path = {{60, 0, 0}};
  refused_early(job, "[[flow.vent]] \"middle\" lies 20 mm outside the seal line");
  // A path across the cavity whose ends both lie outside.
  job.flow.vents[0].path = {{-60, 0, 0}, {60, 0, 0}};
  CHECK_NOTHROW(pipeline::validate(job));
  // The bench's edge is 8 mm and the radius 5 mm: a node may be as far inside as that.
  job.flow.vents[0].path = {{52, 0, 0}};
  CHECK_NOTHROW(pipeline::validate(job));
}

TEST_CASE("A vent whose mouth overlaps an inlet's is refused") {
  const Sound s;
  Job job = s.job;
  job.flow.inlets[0].path = {{-20, 0, 0}, {20, 0, 0}}, job.flow.inlets[0].radius = 5;
  job.flow.vents[0].path = {{3, 9, 0}}, job.flow.vents[0].radius = 5;
  refused_early(job, "the mouth of [[flow.vent]] \"middle\" overlaps that of [[flow.inlet]]");
  job.flow.vents[0].path = {{3, 11, 0}};
  CHECK_NOTHROW(pipeline::validate(job));
  job.flow.vents[0].path = {{3, -25, 0}, {3, 25, 0}};  // across the inlet's line, its ends far from it
  refused_early(job, "overlaps that of [[flow.inlet]]");
}

TEST_CASE("A report folder or a history that cannot be written is refused by validate(), and measure() asks neither") {
  const Sound s;
  s.bench.write("taken", "a file, not a folder");
  Job job = s.job;
  job.output = s.bench.path("taken") / "report";
  CHECK_THROWS_WITH(pipeline::validate(job), Catch::Contains("the report folder cannot be made"));
  job = s.job;
  job.date = "2026-05-20", job.tool = "T1", job.history.file = s.bench.path("no-such-folder") / "T1.history";
  CHECK_THROWS_WITH(pipeline::validate(job), Catch::Contains("T1.history: the history cannot be opened"));
  CHECK_NOTHROW(pipeline::measure(job));
}

TEST_CASE("A date that no inspection has is refused before the tool is measured again") {
  const Sound s;
  Job job = s.job;
  job.date = "2026-05-20", job.tool = "T1", job.history.file = s.bench.path("T1.history");
  job.ensemble.runs = 0;
  CHECK_NOTHROW(pipeline::check_against(job, "2026-01-01"));  // no history yet: this will be the baseline
  REQUIRE(pipeline::inspect_into_history(job, false).baseline);
  CHECK_NOTHROW(pipeline::check_against(job, "baseline"));
  CHECK_NOTHROW(pipeline::check_against(job, "2026-05-20"));
  CHECK_THROWS_WITH(pipeline::check_against(job, "2026-01-01"),
                    Catch::Contains("no such inspection since the baseline; there are: 2026-05-20"));
}

TEST_CASE("look and new name a missing second scan, and new a folder that is not there, before a scan is read") {
  const Bench bench;
  bench.plates();
  const auto looked = bench.run({"look", "lower.xyz", "nowhere.xyz"});
  CHECK(looked.code == 1);
  CHECK(looked.out.empty());
  CHECK_THAT(looked.err, Catch::Contains("nowhere.xyz: no such file"));
  CHECK_THAT(bench.run({"new", "lower.xyz", "nowhere.xyz"}).err, Catch::Contains("nowhere.xyz: no such file"));
  // Even where the scans are no pair: the folder is asked for first.
  CHECK_THAT(bench.run({"new", "lower.xyz", "lower.xyz", "-o", "nowhere/job.toml"}).err,
             Catch::Contains("nowhere/job.toml: cannot be written"));
}
