// The file: nothing committed is lost, whatever happens to the program.
#include <signal.h>
#include <sqlite3.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <random>

#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"
#include "gapfront/history.hpp"

using namespace gapfront;

namespace {

struct Folder {
  std::filesystem::path path;
  Folder() {
    // In memory where there is such a folder: what a killed program loses does not depend on the disk, only on what it
    // had handed to the system; and the test is then as quick on a slow disk.
    const std::filesystem::path memory = "/dev/shm";
    const auto base = access(memory.c_str(), W_OK) == 0 ? memory : std::filesystem::temp_directory_path();
    std::string name = (base / "gapfront-history-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()));
    path = name;
  }
  ~Folder() { std::filesystem::remove_all(path); }
};

Sheet square() {
  Mesh m;
  m.points = {Vec3(0, 0, 0), Vec3(10, 0, 0), Vec3(10, 10, 0), Vec3(0, 10, 0)};
  m.triangles = {{0, 1, 2}, {0, 2, 3}};
  return cavity::make_sheet(m);
}

Record record(double cycles) {
  Record r;
  r.date = "2026-01-01", r.cycles = cycles, r.lower_sha256 = std::to_string(cycles);
  r.gap.nodes.resize(4);
  for (auto& n : r.gap.nodes) n.measured = true, n.gap = 3 + cycles, n.fit_area = 40 + cycles;
  r.arrival.assign(4, 1);
  r.datums = {{"B1", Vec3(1, 2, 3), Vec3(1, 2, 3.01), 0.004, 0.005}};
  return r;
}

}  // namespace

TEST_CASE("What is stored comes back the same") {
  const Folder f;
  History h(f.path / "t.history", History::Access::write);
  h.begin("T", square(), record(0), 0);
  Record second = record(5);
  second.sheet = h.sheet_id();
  h.add(second);
  h.add(second);  // the same scans again: no second row
  const auto all = h.records();
  REQUIRE(all.size() == 2);
  CHECK(all[1].gap.nodes[3].gap == 8);
  CHECK(all[1].gap.nodes[3].fit_area == 45);
  CHECK(all[1].datums.at(0).upper == Vec3(1, 2, 3.01));
  CHECK(h.tool() == "T");
  CHECK(h.check().empty());
  CHECK_THROWS(h.begin("T", square(), record(9), 0));  // a baseline that the caller has not seen
}

TEST_CASE("Shots come back the same, and the same log again replaces what it stored") {
  const Folder f;
  History h(f.path / "t.history", History::Access::write);
  ShotRecord shot;
  shot.date = "2026-01-02", shot.file = "monday.csv", shot.log_sha256 = "a", shot.verdict = "normal",
  shot.cause = "none", shot.resists = 1.5, shot.volume = 4e6, shot.fill_time = 80;
  h.add(shot);
  shot.log_sha256 = "b", shot.resists = 1.7;
  h.add(shot);
  shot.log_sha256 = "a", shot.resists = 1.6;
  h.add(shot);
  const auto all = h.shots();
  REQUIRE(all.size() == 2);
  CHECK(all[0].resists == 1.7);
  CHECK(all[1].resists == 1.6);
  CHECK(all[1].file == "monday.csv");
  CHECK(all[1].fill_time == 80);
  CHECK(h.list().empty());
  h.begin("T", square(), record(0), 0);  // a baseline may follow
  CHECK(h.shots().size() == 2);
}

TEST_CASE("An inspection is taken out for good, but no baseline that others rest on") {
  const Folder f;
  History h(f.path / "t.history", History::Access::write);
  const long first = h.begin("T", square(), record(0), 0);
  Record second = record(5);
  second.sheet = h.sheet_id(), second.limits = {3, 0.2, 0.3, "hash"};
  const long later = h.add(second);
  CHECK(h.records().at(1).limits.minus == 0.2);
  CHECK(h.records().at(1).limits.sha256 == "hash");
  CHECK_THROWS_WITH(h.remove(first), Catch::Contains("is the baseline that 1 later ones are measured against"));
  CHECK_THROWS_WITH(h.remove(99), Catch::Contains("there is no inspection 99"));
  h.remove(later);
  REQUIRE(h.records().size() == 1);
  CHECK(h.records().at(0).id == first);
  h.remove(first);
  CHECK(h.list().empty());
  CHECK(h.sheet_id() == 0);
  CHECK(h.check().empty());
  h.begin("T", square(), record(7), 0);  // a new baseline may follow
  CHECK(h.records().size() == 1);
}

TEST_CASE("Another program's file is refused") {
  const Folder f;
  std::ofstream(f.path / "x") << "this is no database, only some text that is long enough to be read as one";
  CHECK_THROWS(History(f.path / "x", History::Access::write));
}

namespace {

/// Another hand in the file, past the program.
void alter(const std::filesystem::path& file, const std::string& sql) {
  sqlite3* db = nullptr;
  REQUIRE(sqlite3_open(file.c_str(), &db) == SQLITE_OK);
  CHECK(sqlite3_exec(db, sql.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK);
  sqlite3_close(db);
}

}  // namespace

TEST_CASE("A view in a table's place, which may compute without end, is refused") {
  const Folder f;
  const auto file = f.path / "t.history";
  History(file, History::Access::write).begin("T", square(), record(0), 0);
  alter(file,
        "ALTER TABLE about RENAME TO other;"
        "CREATE VIEW about AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) "
        "SELECT i AS key, i AS value FROM n;");
  CHECK_THROWS_WITH(History(file, History::Access::read), Catch::Contains("views or triggers"));
}

TEST_CASE("A value that is longer than the file, and counts that no bytes follow, are refused in a line") {
  const Folder f;
  const auto file = f.path / "t.history";
  History(file, History::Access::write).begin("T", square(), record(0), 0);
  // 2^61 + 1 points and no triangle: times 24, the count wraps to 24.
  alter(file, "UPDATE sheet SET mesh = x'0100000000000020' || x'0000000000000000' || zeroblob(24)");
  CHECK_THROWS_WITH(History(file, History::Access::read).sheet(), Catch::Contains("wrong length"));
  alter(file, "UPDATE inspection SET fields = x'ffffffffffffff0f'");
  CHECK_THROWS_WITH(History(file, History::Access::read).records(), Catch::Contains("end early"));
}

TEST_CASE("A mesh that names a node it does not have is refused") {
  const Folder f;
  const auto file = f.path / "t.history";
  History(file, History::Access::write).begin("T", square(), record(0), 0);
  sqlite3* db = nullptr;
  REQUIRE(sqlite3_open(file.c_str(), &db) == SQLITE_OK);
  // The last of the six indices: its eight bytes become 9.
  CHECK(sqlite3_exec(db, "UPDATE sheet SET mesh = substr(mesh, 1, length(mesh) - 8) || x'0900000000000000'", nullptr,
                     nullptr, nullptr) == SQLITE_OK);
  sqlite3_close(db);
  CHECK_THROWS_WITH(History(file, History::Access::read).sheet(), Catch::Contains("node that it does not have"));
}

// A limit of file size stands for a full disk.
TEST_CASE("A disk that takes no more is said to, and what was stored before is sound") {
  const Folder f;
  const auto file = f.path / "t.history";
  { History(file, History::Access::write).begin("T", square(), record(0), 0); }
  const pid_t child = ::fork();
  if (child == 0) {
    ::signal(SIGXFSZ, SIG_IGN);
    const rlimit limit{65536, 65536};
    ::setrlimit(RLIMIT_FSIZE, &limit);
    try {
      Record large = record(5);
      large.gap.nodes.resize(20000), large.arrival.resize(20000);
      History h(file, History::Access::write);
      large.sheet = h.sheet_id();
      h.add(large);
    } catch (const Error& e) {
      ::_exit(std::string(e.what()).find("nothing was stored") != std::string::npos ? 7 : 8);
    }
    ::_exit(0);
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  REQUIRE(WIFEXITED(status));
  CHECK(WEXITSTATUS(status) == 7);
  const History h(file, History::Access::read);
  CHECK(h.check().empty());
  CHECK(h.records().size() == 1);
}

TEST_CASE("A file of an older layout is brought up to date with all it holds") {
  const Folder f;
  const auto file = f.path / "t.history";
  {
    History h(file, History::Access::write);
    h.begin("T", square(), record(0), 0);
    Record second = record(5);
    second.sheet = h.sheet_id(), second.instrument = "scanner 1";
    h.add(second);
  }
  // Layout 4 kept no tolerance, layout 3 no shots, layout 2 no fit areas, layout 1 no instrument.
  alter(file,
        "ALTER TABLE inspection DROP COLUMN fit_areas; ALTER TABLE inspection DROP COLUMN fit_areas_sha256;"
        "ALTER TABLE inspection DROP COLUMN instrument; DROP TABLE shot;"
        "ALTER TABLE inspection DROP COLUMN nominal; ALTER TABLE inspection DROP COLUMN minus;"
        "ALTER TABLE inspection DROP COLUMN plus; ALTER TABLE inspection DROP COLUMN tolerance_sha256;"
        "PRAGMA user_version = 1");
  const History h(file, History::Access::read);
  CHECK(h.version() == 5);
  CHECK(h.records().at(1).limits.sha256.empty());
  const auto all = h.records();
  REQUIRE(all.size() == 2);
  CHECK(all[1].gap.nodes[3].gap == 8);
  CHECK(all[1].datums.at(0).upper == Vec3(1, 2, 3.01));
  CHECK(all[1].instrument.empty());
  CHECK(all[1].gap.nodes[3].fit_area == 0);
  CHECK(h.check().empty());
}

TEST_CASE("A file of a newer layout is refused, untouched, with the remedy") {
  const Folder f;
  const auto file = f.path / "t.history";
  History(file, History::Access::write).begin("T", square(), record(0), 0);
  alter(file, "PRAGMA user_version = 99");
  for (const auto access : {History::Access::read, History::Access::write})
    CHECK_THROWS_WITH(History(file, access), Catch::Contains("newer gapfront") && Catch::Contains("use that version"));
  alter(file, "PRAGMA user_version = 5");
  CHECK(History(file, History::Access::read).list().size() == 1);
}

TEST_CASE("A file of a layout that nobody writes is refused as damaged, and left as it is") {
  const Folder f;
  const auto file = f.path / "t.history";
  History(file, History::Access::write).begin("T", square(), record(0), 0);
  alter(file, "PRAGMA user_version = -7");
  for (const auto access : {History::Access::read, History::Access::write})
    CHECK_THROWS_WITH(History(file, access), Catch::Contains("layout -7") && Catch::Contains("last good copy"));
  alter(file, "PRAGMA user_version = 5");
  CHECK(History(file, History::Access::read).list().size() == 1);
}

TEST_CASE("Two programs that write at once both store all they have, and leave a sound file") {
  const Folder f;
  const auto file = f.path / "t.history";
  History(file, History::Access::write).begin("T", square(), record(0), 0);
  constexpr int kEach = 100;
  std::vector<pid_t> children;
  for (int writer = 1; writer <= 2; ++writer) {
    const pid_t child = fork();
    if (child == 0) {
      try {
        for (int k = 0; k < kEach; ++k) {
          History h(file, History::Access::write);  // opened anew each time, as programs do
          Record r = record(1000 * writer + k);
          r.sheet = h.sheet_id();
          h.add(r);
        }
      } catch (...) {
        _exit(1);
      }
      _exit(0);
    }
    children.push_back(child);
  }
  for (const pid_t child : children) {
    int status = -1;
    waitpid(child, &status, 0);
    CHECK((WIFEXITED(status) && WEXITSTATUS(status) == 0));
  }
  const History h(file, History::Access::read);
  CHECK(h.check().empty());
  std::vector<double> cycles;
  for (const Record& r : h.list()) cycles.push_back(r.cycles);
  std::sort(cycles.begin(), cycles.end());
  REQUIRE(cycles.size() == 1 + 2 * kEach);
  for (int k = 0; k < kEach; ++k) CHECK((cycles[1 + k] == 1000 + k && cycles[1 + kEach + k] == 2000 + k));
}

TEST_CASE("Of two programs that both begin a history, the second is told to run again") {
  const Folder f;
  const auto file = f.path / "t.history";
  History one(file, History::Access::write), two(file, History::Access::write);  // both saw an empty file
  one.begin("T", square(), record(0), 0);
  CHECK_THROWS_WITH(two.begin("T", square(), record(1), 0), Catch::Contains("run this again"));
  CHECK(two.list().size() == 1);
}

TEST_CASE("A writer killed at 200 random moments loses nothing that was committed") {
  const Folder f;
  const auto file = f.path / "t.history";
  History(file, History::Access::write).begin("T", square(), record(0), 0);
  std::mt19937_64 random(1);
  double next = 1;
  for (int k = 0; k < 200; ++k) {
    int ends[2];
    REQUIRE(pipe(ends) == 0);
    const pid_t child = fork();
    if (child == 0) {
      close(ends[0]);
      try {
        History h(file, History::Access::write);
        const long sheet = h.sheet_id();
        for (double c = next;; ++c) {
          Record r = record(c);
          r.sheet = sheet;
          h.add(r);
          if (write(ends[1], &c, sizeof c) != sizeof c) _exit(1);
        }
      } catch (...) {
        _exit(1);
      }
    }
    close(ends[1]);
    // From the first commit on, whenever that comes, it does nothing but write: any moment is one during a write.
    double told = 0;
    REQUIRE(read(ends[0], &told, sizeof told) == sizeof told);
    usleep(static_cast<useconds_t>(random() % 2000));
    kill(child, SIGKILL);
    waitpid(child, nullptr, 0);
    for (double c; read(ends[0], &c, sizeof c) == sizeof c;) told = c;
    close(ends[0]);
    History h(file, History::Access::read);
    const double last = h.list().back().cycles;
    if (last < told) FAIL("committed " << told << ", found " << last);
    next = last + 1;
  }
  CHECK(History(file, History::Access::read).check().empty());
  // Every whole number of cycles once: nothing lost, nothing twice.
  CHECK(History(file, History::Access::read).list().size() == static_cast<std::size_t>(next));
}
