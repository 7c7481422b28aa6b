// What the program says of itself: help, man pages, completions, version.
#include <catch2/catch.hpp>
#include <sstream>

#include "run_program.hpp"

using namespace gapfront::test;

namespace {

const std::vector<std::string> kCommands{"look",   "new",    "inspect", "recheck", "history", "diagnose",
                                         "study",  "report", "schema",  "glasses", "fields",  "characteristics",
                                         "record", "verify", "help",    "manual",  "fleet",   "shot"};
const std::vector<std::string> kTopics{"job", "units", "uncertainty", "messages"};

std::string line_after(const std::string& text, const std::string& heading) {
  const auto at = text.find("\n" + heading + "\n");
  if (at == std::string::npos) return "";
  const auto from = text.find_first_not_of(" \n", at + heading.size() + 2);
  return text.substr(from, text.find('\n', from) - from);
}

/// Whether a program is there at all: shells other than bash, and groff, are not on every machine.
bool there_is(const std::string& program) {
  return std::system(("command -v " + program + " >/dev/null 2>&1").c_str()) == 0;
}

int sh(const std::string& command) { return std::system(command.c_str()); }

}  // namespace

TEST_CASE("Help of the program names every command and topic, and nothing is in the words of a parser library") {
  const Bench bench;
  const auto all = bench.run({"--help"});
  CHECK(all.code == 0);
  CHECK(all.err.empty());
  CHECK(bench.run({"help"}).out == all.out);
  for (const auto& name : kCommands) CHECK_THAT(all.out, Catch::Contains("\n  " + name + " "));
  for (const auto& name : kTopics) CHECK_THAT(all.out, Catch::Contains("gapfront help " + name));
  for (const auto& name : kCommands) {
    const auto one = bench.run({name, "--help"});
    for (const char* theirs : {"Usage:", "Options:", "Positionals:", "Subcommands:", "OPTIONS", "REQUIRED", "TEXT"}) {
      CHECK_THAT(one.out, !Catch::Contains(theirs));
      CHECK_THAT(all.out, !Catch::Contains(theirs));
    }
  }
}

TEST_CASE("Help of a command has an example that its own command line takes") {
  const Bench bench;
  for (const auto& name : kCommands) {
    const auto help = bench.run({name, "--help"});
    CHECK(help.code == 0);
    CHECK(bench.run({"help", name}).out == help.out);
    std::istringstream words(line_after(help.out, "For example"));
    std::vector<std::string> line;
    for (std::string w; words >> w && w != ">";) line.push_back(w);
    INFO(help.out);
    REQUIRE(line.size() >= 2);
    CHECK(line[0] == "gapfront");
    CHECK(line[1] == name);
    // With --help at its end a command line is read, and nothing is done.
    line.erase(line.begin());
    line.push_back("--help");
    CHECK(bench.run(line).code == 0);
  }
}

TEST_CASE("A command names the exit codes that it has, and no others") {
  const Bench bench;
  const auto has = [&](const char* command, const char* code) {
    return bench.run({command, "--help"}).out.find(std::string("\n  ") + code + "  ") != std::string::npos;
  };
  for (const char* code : {"0", "1", "2", "3", "130"}) CHECK(has("inspect", code));
  CHECK_FALSE(has("recheck", "3"));
  CHECK(has("recheck", "2"));
  CHECK_FALSE(has("schema", "2"));
  CHECK_FALSE(has("history", "130"));
}

TEST_CASE("Topics: every section of the job file, every unit of length, every doubt") {
  const Bench bench;
  const auto job = bench.run({"help", "job"}).out;
  for (const char* heading : {"[job]", "[lower] and [upper]", "[align]", "[[align.target]]", "[cavity]", "[laminate]",
                              "[[laminate.ply]]", "[flow]", "[[flow.vent]]", "[closing]", "[correct]", "[history]"})
    CHECK_THAT(job, Catch::Contains(std::string("\n") + heading + "\n"));
  const auto units = bench.run({"help", "units"}).out;
  for (const char* unit : {"thou", "inHg", "darcy", "oz/yd2"}) CHECK_THAT(units, Catch::Contains(unit));
  CHECK_THAT(bench.run({"help", "messages"}).out, Catch::Contains("doubt.target-lies-off-other"));
  CHECK_THAT(bench.run({"help", "uncertainty"}).out, Catch::Contains("ISO 14253-1"));
  const auto wrong = bench.run({"help", "unit"});
  CHECK(wrong.code == 1);
  CHECK_THAT(wrong.err, Catch::Contains("did you mean \"units\"?"));
}

TEST_CASE("What is wrong with a command line is said in a line, with the remedy") {
  const Bench bench;
  const auto said = [&](const std::vector<std::string>& line) { return bench.run(line).err; };
  CHECK(said({}) == "gapfront: a command is missing; see gapfront --help\n");
  CHECK(said({"inspect"}) == "gapfront: inspect: JOB is missing; see gapfront inspect --help\n");
  CHECK(said({"new", "a.ply"}) == "gapfront: new: UPPER is missing; see gapfront new --help\n");
  CHECK(said({"inspect", "a.toml", "--output"}) ==
        "gapfront: inspect: --output needs a value: DIR; see gapfront inspect --help\n");
  CHECK(
      said({"inspect", "a.toml", "--fail-on", "non-conforming"}) ==
      "gapfront: inspect: --fail-on: unknown \"non-conforming\"; did you mean \"nonconforming\"?; see gapfront inspect "
      "--help\n");
  CHECK(said({"fields", "a.toml"}) ==
        "gapfront: fields: nothing more is expected where \"a.toml\" stands; see gapfront fields --help\n");
}

TEST_CASE("Version says how the program was built, and with what, but not when or where") {
  const Bench bench;
  const auto r = bench.run({"--version"});
  CHECK(r.code == 0);
  CHECK(r.out.starts_with("gapfront "));
  for (const char* word : {"C++20", "Eigen 3.", "OpenSSL ", "SQLite 3.", "libpng 1.", "Boost ", "fmt "})
    CHECK_THAT(r.out, Catch::Contains(word));
  // What differs from build to build would make two builds of one version differ.
  CHECK_THAT(r.out, !Catch::Contains(SOURCE_DIR));
}

TEST_CASE("Every command and topic has a man page, which groff reads without a warning") {
  const Bench bench;
  REQUIRE(bench.run({"manual", "out"}).code == 0);
  std::vector<std::string> pages{"man1/gapfront.1"};
  for (const auto& name : kCommands) pages.push_back("man1/gapfront-" + name + ".1");
  for (const auto& name : kTopics) pages.push_back("man7/gapfront-" + name + ".7");
  for (const auto& page : pages) {
    const std::string file = "out/share/man/" + page;
    REQUIRE(bench.has(file));
    CHECK_THAT(bench.read(file), Catch::Contains("\n.SH NAME\ngapfront"));
    if (there_is("groff")) {
      const std::string warnings = bench.path("warnings").string();
      CHECK(sh("groff -K utf8 -man -ww -Tutf8 '" + bench.path(file).string() + "' >/dev/null 2>'" + warnings + "'") ==
            0);
      INFO(page);
      CHECK(bench.read("warnings") == "");
    }
  }
}

TEST_CASE(
    "Bash completes commands, options, the values of an option, and files that fit; the other shells read theirs") {
  const Bench bench;
  REQUIRE(bench.run({"manual", "out"}).code == 0);
  bench.write("my.toml", "");
  bench.write("my.ply", "");
  bench.write("press.csv", "");
  bench.write("other tool.toml", "");
  const std::string share = bench.path("out/share/").string();
  const auto completed = [&](const std::string& line, int word) {
    const std::string script = "cd '" + bench.path("").string() + "' && . '" + share +
                               "bash-completion/completions/gapfront' && COMP_WORDS=(" + line +
                               ") COMP_CWORD=" + std::to_string(word) +
                               "; _gapfront; printf '%s\\n' \"${COMPREPLY[@]}\"";
    bench.write("complete.sh", script);
    REQUIRE(sh("bash '" + bench.path("complete.sh").string() + "' > '" + bench.path("completed").string() + "'") == 0);
    return bench.read("completed");
  };
  CHECK(completed("gapfront ins", 1) == "inspect\n");
  CHECK(completed("gapfront inspect --fa", 2) == "--fail-on\n");
  CHECK(completed("gapfront inspect --fail-on ''", 3) == "nonconforming\nundecided\n");
  CHECK(completed("gapfront inspect my", 2) == "my.toml\n");
  CHECK(completed("gapfront inspect oth", 2) == "other tool.toml\n");
  CHECK(completed("gapfront study my", 2) == "my.toml\n");
  CHECK(completed("gapfront shot out press", 3) == "press.csv\n");
  CHECK(completed("gapfront instrument press", 2) == "press.csv\n");
  CHECK(completed("gapfront help uni", 2) == "units\n");
  CHECK(completed("gapfront inspect --output o", 3) == "out\n");
  if (there_is("zsh")) CHECK(sh("zsh -n '" + share + "zsh/vendor-completions/_gapfront'") == 0);
  if (there_is("fish")) CHECK(sh("fish -n '" + share + "fish/vendor_completions.d/gapfront.fish'") == 0);
}
