// Many jobs in one call: what is finished is left out, what fails is named, and the others go on.
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <sstream>

#include "run_program.hpp"

using namespace gapfront;
using namespace gapfront::test;
using Catch::Contains;

namespace {

/// A quick job NAME.toml whose report goes to NAME/.
std::string quick_job(const Bench& bench, const std::string& name, const std::string& upper = "upper.xyz",
                      const std::string& head = "") {
  bench.job({{"output = \"report\"", "output = \"" + name + "\"" + head},
             {"file = \"upper.xyz\"", "file = \"" + upper + "\""},
             {"viscosity", "ensemble = 0\nviscosity"}});
  std::filesystem::rename(bench.path("job.toml"), bench.path(name + ".toml"));
  return name + ".toml";
}

std::vector<nlohmann::json> lines_of(const std::string& out) {
  std::vector<nlohmann::json> all;
  std::istringstream in(out);
  for (std::string line; std::getline(in, line);) all.push_back(nlohmann::json::parse(line));
  return all;
}

std::vector<std::string> states(const gapfront::test::Outcome& r) {
  std::vector<std::string> out;
  for (const auto& j : lines_of(r.out)) out.push_back(j.at("state"));
  return out;
}

using Words = std::vector<std::string>;

}  // namespace

TEST_CASE("Of many jobs a fault is named and the others go on; what is finished is left out until an input changes") {
  const Bench bench;
  bench.plates();
  std::filesystem::copy(bench.path("upper.xyz"), bench.path("other.xyz"));
  const std::string a = quick_job(bench, "a"), b = quick_job(bench, "b", "other.xyz"),
                    c = quick_job(bench, "c", "missing.xyz");
  const auto all = [&](Words more = {}) {
    Words words{"inspect", a, b, c, "--json"};
    words.insert(words.end(), more.begin(), more.end());
    return bench.run(words);
  };
  const auto first = all();
  INFO(first.out << first.err);
  CHECK(first.code == 1);
  CHECK(states(first) == Words{"inspected", "inspected", "failed"});
  const auto lines = lines_of(first.out);
  CHECK(lines.at(0).at("verdict") == "conforming");
  CHECK(lines[0].at("exit_code") == 0);
  CHECK(lines[0].at("trapped_air_probability").is_null());
  CHECK_THAT(lines.at(2).at("says").get<std::string>(), Contains("missing.xyz"));
  const std::string before = bench.read("a/result.json");

  const auto second = all();
  CHECK(second.code == 1);
  CHECK(states(second) == Words{"unchanged", "unchanged", "failed"});
  CHECK(lines_of(second.out).at(0).at("verdict") == "conforming");

  bench.write("other.xyz", bench.read("other.xyz") + "0 0 2.0001\n");
  CHECK(states(all()) == Words{"unchanged", "inspected", "failed"});
  bench.write("a/sheet.ply", "cut short");  // a folder that is not whole is not finished
  CHECK(states(all()) == Words{"inspected", "unchanged", "failed"});
  bench.remove("a/sheet.vtu"), bench.remove("b/work-order.html");  // nor is one that lacks a file
  CHECK(states(all()) == Words{"inspected", "inspected", "failed"});
  CHECK((bench.has("a/sheet.vtu") && bench.has("b/work-order.html")));
  bench.write("a.toml", bench.read("a.toml") + "# another file\n");
  CHECK(states(all()) == Words{"inspected", "unchanged", "failed"});
  bench.remove("c.toml");
  quick_job(bench, "c");
  const auto table = bench.run({"inspect", a, b, c, "--at-once", "1", "--fail-on", "nonconforming"});
  INFO(table.out << table.err);
  CHECK(table.code == 0);
  CHECK_THAT(table.out, Contains("3 jobs: 1 inspected, 2 unchanged"));
  CHECK(bench.has("c/report.html"));

  CHECK(states(bench.run({"inspect", a, a, "./" + a, b, "--json"})) == Words{"unchanged", "unchanged"});
  bench.write("d.toml", bench.read(a));
  const auto twice = bench.run({"inspect", a, "d.toml", "--json"});
  CHECK(twice.code == 1);
  CHECK_THAT(lines_of(twice.out).at(1).at("says").get<std::string>(), Contains("its report goes to a, as that of"));
  CHECK_THAT(bench.run({"inspect", a, b, "--expects", "a"}).err, Contains("--expects: speaks of one job"));
}

TEST_CASE("A change of the readings' file is a change of the job's inputs, and so is one of the photo") {
  using namespace std::string_literals;
  const Bench bench;
  bench.plates();
  const auto photo = [&](char shade) {
    bench.write("tool.png", "\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\0\x10\0\0\0\x10\x08\2\0\0\0crc.\0\0\0\1IDAT"s + shade +
                                "crc.\0\0\0\0IENDcrc."s);
  };
  photo('1');
  bench.write("list.csv", "x,y,z,thickness,U\n0,0,0,2.00,0.05\n0,20,0,2.00,0.05\n");
  const std::string a = quick_job(bench, "a", "upper.xyz", "\nphoto = \"tool.png\""), b = quick_job(bench, "b");
  bench.write("b.toml", bench.read("b.toml") + "\n[cavity.readings]\nfile = \"list.csv\"\nunit = \"mm\"\n");
  const auto both = [&] { return bench.run({"inspect", a, b, "--json"}); };
  const auto first = both();
  INFO(first.out << first.err);
  CHECK(states(first) == Words{"inspected", "inspected"});
  CHECK_THAT(bench.read("b/result.json"), Contains("\"file\": \"list.csv\""));
  CHECK(states(both()) == Words{"unchanged", "unchanged"});
  bench.write("list.csv", "x,y,z,thickness,U\n0,0,0,2.01,0.05\n0,20,0,2.00,0.05\n");
  CHECK(states(both()) == Words{"unchanged", "inspected"});
  photo('2');
  CHECK(states(both()) == Words{"inspected", "unchanged"});
}

TEST_CASE("Re-checks of one tool run in the order given, and a fleet's page shows the tool once") {
  const Bench bench;
  bench.plates();
  const auto dated = [&](const std::string& name, const std::string& date, const std::string& cycles) {
    return quick_job(bench, name, "upper.xyz", "\ntool = \"P-1\"\ndate = \"" + date + "\"\ncycles = " + cycles + "\n");
  };
  const Words jobs{dated("new", "2026-01-10", "0"), dated("later", "2026-03-10", "800")};
  const auto first = bench.run({"recheck", jobs[0], jobs[1], "--json"});
  INFO(first.out << first.err);
  CHECK(first.code == 0);
  CHECK(states(first) == Words{"re-checked", "re-checked"});
  CHECK_FALSE(bench.has("new/recheck.json"));  // the baseline
  CHECK(bench.has("later/recheck.json"));
  CHECK(states(bench.run({"recheck", jobs[0], jobs[1], "--json"})) == Words{"unchanged", "unchanged"});
  CHECK_THAT(bench.run({"recheck", jobs[0], jobs[1], "--new-baseline"}).err, Contains("is for one tool"));

  const auto fleet = bench.run({"fleet", ".", "--day", "2026-04-01", "--lang", "de"});
  INFO(fleet.err);
  CHECK(fleet.code == 0);
  CHECK_THAT(fleet.out, Contains("1 tool, ") && Contains("fleet.html"));
  CHECK_THAT(bench.read("fleet.html"), Contains("lang=\"de\"") && Contains("href=\"later/report.html\""));
  const std::string csv = bench.read("fleet.csv");
  CHECK(std::count(csv.begin(), csv.end(), '\n') == 2);
  CHECK_THAT(csv, Contains("\"P-1\"") && Contains(",2026-03-10,800,2,conforming,"));
  CHECK(bench.run({"fleet", "nowhere"}).code == 1);
  CHECK(bench.run({"fleet", "new", "--day", "today"}).code == 1);
  bench.write("broken/result.json", "");
  std::filesystem::create_directory(bench.path("broken"));
  bench.write("broken/result.json", "{");
  const auto lost = bench.run({"fleet", "."});
  CHECK(lost.code == 1);
  CHECK_THAT(lost.err, Contains("broken/result.json"));
}

TEST_CASE("Jobs that are stopped write nothing, and are done by the next run") {
  const Bench bench;
  bench.plates();
  const std::string a = quick_job(bench, "a"), b = quick_job(bench, "b");
  const pid_t run = ::fork();
  if (run == 0) {
    if (::chdir(bench.path(".").c_str()) != 0) ::_exit(9);
    ::execl(GAPFRONT_PROGRAM, "gapfront", "inspect", a.c_str(), b.c_str(), "--at-once", "1", "--quiet", nullptr);
    ::_exit(127);
  }
  ::usleep(100'000);
  ::kill(run, SIGTERM);
  int status = 0;
  REQUIRE(::waitpid(run, &status, 0) == run);
  // Asked while it was still reading job files it ends by the signal itself.
  CHECK(((WIFEXITED(status) && WEXITSTATUS(status) == 130) || (WIFSIGNALED(status) && WTERMSIG(status) == SIGTERM)));
  CHECK_FALSE(bench.has("b/result.json"));
  const auto again = bench.run({"inspect", a, b, "--json"});
  INFO(again.out << again.err);
  CHECK(again.code == 0);
  CHECK(states(again).at(1) == "inspected");
  CHECK((bench.has("a/result.json") && bench.has("b/result.json")));
}
