// gapfront study: one mold filled in several ways.
#include <nlohmann/json.hpp>

#include "run_program.hpp"

using gapfront::test::Bench;

namespace {

constexpr const char* kStudy = R"(job = "job.toml"
[[vents]]
name = "as built"
[[vents]]
name = "towards the end"
flow.vent = [{name = "end", at = "40, 0, 0 mm"}]
[[resins]]
name = "thin"
flow.viscosity = "0.1 Pa.s"
[[resins]]
name = "thick"
flow.viscosity = "0.3 Pa.s"
)";

/// With few drawn fillings: they are none of what is tested here.
std::string quick_job(const Bench& bench) {
  bench.plates();
  return bench.job({{"[flow]\n", "[flow]\nensemble = 4\n"}});
}

}  // namespace

// Each alternative by itself is a job like any other: what the study says of it is what inspect says of that job.
TEST_CASE("A study fills every combination as inspect would, and goes on where it was stopped") {
  const Bench bench;
  quick_job(bench);
  bench.write("study.toml", kStudy);
  const auto run = bench.run({"study", "study.toml", "--output", "out"});
  INFO(run.out << run.err);
  REQUIRE(run.code == 0);
  const auto study = nlohmann::json::parse(bench.read("out/study.json"));
  REQUIRE(study["alternatives"].size() == 4);
  CHECK(study["alternatives"][2]["names"] == nlohmann::json{"towards the end", "thin"});

  bench.job({{"[flow]\n", "[flow]\nensemble = 4\n"},
             {"0.2 Pa.s", "0.3 Pa.s"},
             {"at = \"0, 0, 0 mm\"", "at = \"40, 0, 0 mm\""}});
  REQUIRE(bench.inspect("job.toml").code == 0);
  const auto alone = nlohmann::json::parse(bench.read("report/result.json"));
  const auto& last = study["alternatives"][3];
  CHECK(last["fill_time_s"].get<double>() ==
        Approx(alone["front"]["measured"]["fill_time_s"].get<double>()).epsilon(1e-5));
  const auto& arrival = alone["sheet"]["fields"]["arrival_s"];
  REQUIRE(arrival.size() == last["arrival_s"].size());
  for (std::size_t i = 0; i < arrival.size(); ++i)
    if (const auto& here = last["arrival_s"][i]; here.is_null() || arrival[i].is_null())
      REQUIRE(here == arrival[i]);
    else
      REQUIRE(here.get<double>() == Approx(arrival[i].get<double>()).margin(1e-5));
  // Pressure alone drives this filling, so time goes as viscosity (Darcy).
  const auto& thin = study["alternatives"][2];
  CHECK(last["fill_time_s"].get<double>() == Approx(3 * thin["fill_time_s"].get<double>()).epsilon(0.02));
  CHECK_THAT(bench.read("out/study.html"),
             Catch::Contains("towards the end") && Catch::Contains("worth choosing from"));

  // A run that was stopped after three of them.
  quick_job(bench);
  auto cut = study;
  cut["alternatives"].erase(1);
  cut["alternatives"][0]["fill_time_s"] = 12345.0;  // what is there is taken over, not computed again
  bench.write("out/study.json", cut.dump());
  const auto again = bench.run({"study", "study.toml", "--output", "out"});
  REQUIRE(again.code == 0);
  const auto whole = nlohmann::json::parse(bench.read("out/study.json"));
  REQUIRE(whole["alternatives"].size() == 4);
  CHECK(whole["alternatives"][0]["fill_time_s"] == 12345.0);
  CHECK(whole["alternatives"][1] == study["alternatives"][1]);
}

TEST_CASE("A study file that cannot be meant so is refused, with its line and the remedy") {
  const Bench bench;
  quick_job(bench);
  const auto refused = [&](const std::string& text, const std::string& words) {
    bench.write("bad.toml", text);
    const auto r = bench.run({"study", "bad.toml"});
    INFO(r.err);
    CHECK(r.code == 1);
    CHECK(r.err.find('\n') == r.err.size() - 1);
    CHECK_THAT(r.err, Catch::Contains(words));
  };
  refused("[[vents]]\nname = \"a\"\n", "\"job\" is missing");
  refused("job = \"job.toml\"\n", "has no group of alternatives");
  refused("job = \"job.toml\"\n[[vents]]\nflow.rate = \"1 L/min\"\n",
          "bad.toml:2: [[vents]] has an entry without a name");
  refused("job = \"job.toml\"\n[[vents]]\nname = \"a\"\ncavity.nominal = \"3 mm\"\n",
          "bad.toml:4: [[vents]] cavity: a study replaces settings of laminate, flow and closing alone");
  refused("job = \"job.toml\"\n[[rates]]\nname = \"a\"\nflow.rate = 1\n", "bad.toml:2: [flow] rate: a bare number");
}
