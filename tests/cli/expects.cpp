// inspect --expects: what an earlier result predicted is tested on the new scans.
#include "run_program.hpp"

using gapfront::test::Bench;

namespace {

/// The plates lie 2 mm apart and 1.5 mm is asked for: half a millimetre is to come out of every stack.
std::string predicted(const Bench& bench) {
  bench.plates();
  const std::string job =
      bench.job({{"nominal = \"2 mm\"", "nominal = \"1.5 mm\""},
                 {"[laminate]\n",
                  "[correct]\npresent = \"1 mm\"\n[closing]\nforce = \"20 kN\"\n[laminate]\nclamping = \"1 bar\"\n"}});
  const auto first = bench.inspect(job);
  INFO(first.out << first.err);
  REQUIRE(first.code == 0);
  CHECK_THAT(first.out, Catch::Contains("take out 0.50 mm"));
  CHECK_THAT(first.out, Catch::Contains("6 are proposed along the rim"));
  CHECK(bench.has("report/work-order.html"));
  return job;
}

}  // namespace

// Scanned again, but nothing was done.
TEST_CASE("The program says of each correction whether it did what an earlier result predicted") {
  const Bench bench;
  const std::string job = predicted(bench);
  bench.write("lower.xyz", bench.read("lower.xyz") + "0 0 0\n");
  const auto again = bench.run({"inspect", job, "--expects", "report/result.json", "--output", "again"});
  INFO(again.out << again.err);
  CHECK(again.code == 0);
  CHECK_THAT(again.out, Catch::Contains("C1 P1") && Catch::Contains("It did less than was predicted."));
  CHECK_THAT(bench.read("again/report.html"), Catch::Contains("The work, as predicted and as measured"));
  CHECK_THAT(bench.read("again/result.json"), Catch::Contains("\"text\": \"It did less than was predicted.\""));
}

TEST_CASE("The scans that a prediction was made of test nothing: that is the first line, and an error") {
  const Bench bench;
  const std::string job = predicted(bench);
  const auto again = bench.run({"inspect", job, "--expects", "report/result.json", "--output", "again"});
  INFO(again.out << again.err);
  CHECK(again.code == 1);
  CHECK_THAT(again.out, Catch::StartsWith("These are the very scans that the prediction was made of"));
  CHECK_THAT(again.out, !Catch::Contains("It did less than was predicted."));
  const auto quiet = bench.run({"inspect", job, "--expects", "report/result.json", "--output", "again", "--quiet"});
  CHECK(quiet.code == 1);
  CHECK_THAT(quiet.err, Catch::Contains("--expects: These are the very scans"));
}

TEST_CASE("A file that predicts nothing is refused before the measurement") {
  const Bench bench;
  bench.plates();
  // Clamps hold it shut: there is nothing to correct.
  const std::string job = bench.job({{"[laminate]\n", "[closing]\nforce = \"20 kN\"\n[laminate]\n"}});
  const auto none = bench.run({"inspect", job, "--expects", "nowhere.json"});
  CHECK(none.code == 1);
  CHECK_THAT(none.err, Catch::Contains("--expects: nowhere.json: cannot be opened"));
  CHECK(bench.inspect(job).code == 0);
  const auto idle = bench.run({"inspect", job, "--expects", "report"});
  CHECK(idle.code == 1);
  CHECK_THAT(idle.err, Catch::Contains("chose no correction, so it predicts nothing"));
}
