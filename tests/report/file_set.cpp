#include <signal.h>
#include <sys/file.h>
#include <sys/wait.h>
#include <unistd.h>

#include <fcntl.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <set>
#include <thread>

#include "../random.hpp"
#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"

using namespace gapfront;
namespace fs = std::filesystem;

namespace {

struct SetFolder {
  fs::path path = fs::temp_directory_path() / ("gapfront-set-" + std::to_string(::getpid()));
  SetFolder() { fs::remove_all(path), fs::create_directories(path); }
  ~SetFolder() { fs::remove_all(path); }
  std::string read(const std::string& name) const {
    std::ifstream in(path / name, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
  }
};

FileSet set_of(const std::string& run) { return {{"a.json", "a of " + run}, {"b.html", "b of " + run}}; }

}  // namespace

// sha256sum (GNU coreutils) judges the list.
TEST_CASE("The list of checksums is what sha256sum checks, and grows with files that come later") {
  const SetFolder folder;
  report::write_set(folder.path, set_of("one"));
  report::write_set(folder.path, {{"c.html", "c of one"}});
  const std::string check = "cd " + folder.path.string() + " && sha256sum --strict --quiet -c checksums.sha256";
  CHECK(std::system(check.c_str()) == 0);
  CHECK(folder.read("checksums.sha256").find("  a.json\n") != std::string::npos);
  CHECK(report::changed_files(folder.path).empty());
}

TEST_CASE("A file that was edited or comes of another run is named") {
  const SetFolder folder;
  report::write_set(folder.path, set_of("one"));
  std::ofstream(folder.path / "b.html") << "b of two";
  CHECK(report::changed_files(folder.path) == std::vector<std::string>{"b.html"});
}

TEST_CASE("A file that was deleted is missing until the report is made anew, or it is made again by itself") {
  const SetFolder folder;
  report::write_set(folder.path, {{"result.json", "{}"}, {"b.html", "b"}});
  report::write_set(folder.path, {{"c.html", "c"}});
  CHECK(report::missing_files(folder.path).empty());
  fs::remove(folder.path / "b.html"), fs::remove(folder.path / "c.html");
  CHECK(report::missing_files(folder.path) == std::vector<std::string>{"b.html", "c.html"});
  CHECK(report::changed_files(folder.path).empty());
  report::write_set(folder.path, {{"d.html", "d"}});
  CHECK(report::missing_files(folder.path) == std::vector<std::string>{"b.html", "c.html"});
  report::write_set(folder.path, {{"result.json", "{}"}, {"b.html", "b"}});
  CHECK(report::missing_files(folder.path).empty());
  CHECK(folder.read("b.html") == "b");
}

TEST_CASE("What a killed run has left is swept by the next, and nothing else is") {
  const SetFolder folder;
  std::ofstream(folder.path / ".a.json.part-12345") << "half";
  std::ofstream(folder.path / ".notes.part-1") << "somebody's";
  report::write_set(folder.path, set_of("one"));
  std::set<std::string> names;
  for (const auto& e : fs::directory_iterator(folder.path)) names.insert(e.path().filename());
  CHECK(names == std::set<std::string>{".notes.part-1", "a.json", "b.html", "checksums.sha256"});
}

TEST_CASE("A file that no run has put there is neither overwritten nor removed, and named") {
  const SetFolder folder;
  std::ofstream(folder.path / "b.html") << "somebody's";
  CHECK_THROWS_WITH(report::write_set(folder.path, set_of("one")),
                    Catch::Contains("b.html: is not a file that gapfront wrote there"));
  CHECK(folder.read("b.html") == "somebody's");
  CHECK(!fs::exists(folder.path / "a.json"));
  fs::remove(folder.path / "b.html");
  report::write_set(folder.path, set_of("one"));
  report::write_set(folder.path, set_of("two"));
  CHECK(folder.read("b.html") == "b of two");
  std::ofstream(folder.path / "template-C7.svg") << "somebody's";
  CHECK(report::report_names(folder.path) == std::vector<std::string>{"template-C7.svg"});
  CHECK_THROWS_WITH(report::write_report(set_of("three"), folder.path), Catch::Contains("template-C7.svg: is not"));
  CHECK(folder.read("template-C7.svg") == "somebody's");
}

TEST_CASE("The folder of a program that wrote no list of checksums is written anew, as is the PDF of a page") {
  const SetFolder folder;
  std::ofstream(folder.path / "result.json") << "{\n \"format\": \"gapfront result\",\n";
  std::ofstream(folder.path / "b.html") << "of an earlier program";
  report::write_set(folder.path, set_of("one"));
  std::ofstream(folder.path / "b.pdf") << "b";
  report::write_set(folder.path, set_of("two"), {"b.pdf"});
  CHECK(folder.read("b.html") == "b of two");
  CHECK(!fs::exists(folder.path / "b.pdf"));
}

TEST_CASE("A second run waits until the first has written") {
  const SetFolder folder;
  const int fd = ::open(folder.path.c_str(), O_RDONLY | O_DIRECTORY);
  REQUIRE(::flock(fd, LOCK_EX) == 0);
  std::thread first([&] {
    std::this_thread::sleep_for(std::chrono::milliseconds(200));
    std::ofstream(folder.path / "first.txt") << "done";
    ::close(fd);
  });
  report::write_set(folder.path, set_of("two"));
  const bool waited = fs::exists(folder.path / "first.txt");
  first.join();
  CHECK(waited);
}

TEST_CASE("Killed at 100 random moments, a folder holds one run's files, or its list says that it does not") {
  const SetFolder folder;
  report::write_set(folder.path, set_of("0"));
  std::minstd_rand random(5);
  int mixed = 0, whole = 0;
  for (int k = 1; k <= 100; ++k) {
    const pid_t child = ::fork();
    if (child == 0) {
      for (int n = 0;; ++n) report::write_set(folder.path, set_of(std::to_string(k) + "." + std::to_string(n)));
    }
    ::usleep(500 + random() % 4000);
    ::kill(child, SIGKILL);
    ::waitpid(child, nullptr, 0);
    const bool same = folder.read("a.json").substr(5) == folder.read("b.html").substr(5);
    const bool agrees = report::changed_files(folder.path).empty();
    if (agrees) CHECK(same);
    mixed += !agrees, whole += agrees;
  }
  CHECK(whole + mixed == 100);
  CHECK(whole > 0);
}
