// The outcome is one line, the same wherever it is stated.
#include <regex>

#include "run_program.hpp"

using namespace gapfront::test;

TEST_CASE("Terminal and pages and result.json carry the identical outcome line") {
  // On a page a number holds its unit.
  const auto spaced = [](const std::string& page) { return std::regex_replace(page, std::regex("\u00a0"), " "); };
  Bench bench;
  bench.plates();
  // Half a millimetre is to come out of every stack; the clamps hold what the glass then pushes.
  const std::string job =
      bench.job({{"nominal = \"2 mm\"", "nominal = \"1.5 mm\""},
                 {"[laminate]\n",
                  "[correct]\npresent = \"1 mm\"\n[closing]\nforce = \"20 kN\"\n[laminate]\nclamping = \"1 bar\"\n"}});
  const auto run = bench.inspect(job);
  REQUIRE(run.code == 0);
  const auto from = run.out.find("Verdict: ");
  REQUIRE(from != std::string::npos);
  const std::string line = run.out.substr(from, run.out.find('\n', from) - from);
  INFO(line);
  CHECK_THAT(line, Catch::Contains("Gap out of tolerance: ") && Catch::Contains("Chance of trapped air"));
  for (const char* file : {"report/report.html", "report/result.json", "report/work-order.html"}) {
    INFO(file);
    CHECK_THAT(spaced(bench.read(file)), Catch::Contains(line));
  }
  const auto diagnosis = bench.run({"diagnose", job, "--spot", "20,10,0mm"});
  CHECK_THAT(diagnosis.out, Catch::Contains(line));
  CHECK_THAT(spaced(bench.read("report/diagnosis.html")), Catch::Contains(line));
}
