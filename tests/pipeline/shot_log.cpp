// A machine's log as text.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>

#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"

using namespace gapfront;

namespace {

struct LogFile {
  std::filesystem::path path;
  explicit LogFile(const std::string& text) {
    std::string name = (std::filesystem::temp_directory_path() / "gapfront-log-XXXXXX").string();
    const int file = ::mkstemp(name.data());
    REQUIRE(file >= 0);
    ::close(file);
    path = name;
    std::ofstream(path, std::ios::binary) << text;
  }
  ~LogFile() { std::filesystem::remove(path); }
};

}  // namespace

TEST_CASE("A log is read whatever separates its columns, with the units of its header") {
  for (const char* text : {"# pump 2\ntime [s],pressure [bar],volume [L]\n0,0.5,0\n10,1.25,0.3\n",
                           "Time_s;Note;Pressure (kPa);Volume (mL)\r\n0;a;50;0\r\n10;b;125;300\r\n",
                           "volume, L\ttime, min\tpressure, bar\n0\t0\t0,5\n0,3\t0,1666666667\t1,25\n"}) {
    const LogFile file(text);
    const ShotLog log = pipeline::read_shot_log(file.path);
    REQUIRE(log.samples.size() == 2);
    CHECK(log.samples[1].time == Approx(10));
    CHECK(log.samples[0].pressure == Approx(0.5e5));
    CHECK(log.samples[1].pressure == Approx(1.25e5));
    CHECK(log.samples[1].volume == Approx(0.3e6));
    CHECK(log.sha256.size() == 64);
  }
  const LogFile rates("time [s],pressure [bar],rate [L/min]\n0,0,1.2\n1,0,1.2\n3,0,0.6\n");
  const ShotLog log = pipeline::read_shot_log(rates.path);
  CHECK(log.samples[2].volume == Approx(1.2e6 / 60 + 2 * 0.6e6 / 60));
}

TEST_CASE("A log that cannot be read is refused in a line that names it") {
  using Catch::Contains;
  const auto refused = [](const std::string& text) {
    const LogFile file(text);
    try {
      pipeline::read_shot_log(file.path);
    } catch (const Error& e) {
      return std::string(e.what()).substr(file.path.string().size());
    }
    return std::string("read");
  };
  CHECK_THAT(refused("time,pressure [bar],volume [L]\n0,0,0\n"), Contains(":1: column \"time\" has no unit"));
  CHECK_THAT(refused("time [s],pressure [bar]\n0,0\n"), Contains("neither \"volume\" nor \"rate\""));
  CHECK_THAT(refused("time [s],volume [L]\n0,0\n"), Contains("no column \"pressure\""));
  CHECK_THAT(refused("time [s],pressure [bar],volume [L]\n0,0,0\n1,x,0\n"), Contains(":3: \"x\" is no number"));
  CHECK_THAT(refused("time [s],pressure [bar],volume [L]\n0,0\n"), Contains(":2: no value for \"volume\""));
  CHECK_THAT(refused("time [s],pressure [bar],volume [L]\n"), Contains("no rows"));
  CHECK_THAT(refused("time [s],pressure [L],volume [L]\n0,0,0\n"), Contains("pressure"));
  CHECK_THAT(refused("time [s],pressure [bar],volume [L]\n0,0,0\n5,0,1\n4,0,1\n"),
             Contains(":4: its time is before that of the row above"));
  CHECK_THAT(refused("time [s],pressure [bar],volume [L]\n0,0,0\n5,0,1\n5,0,2\n"), Contains(":4: it has the time"));
}

TEST_CASE("Two parts of a time may be hours or minutes, so that they are refused") {
  const LogFile file("time,pressure [bar],rate [L/min]\n00:00,0,6\n00:58,0.1,6\n");
  CHECK_THROWS_WITH(pipeline::read_shot_log(file.path), Catch::Contains("or times of the clock as hh:mm:ss"));
}

TEST_CASE("A log may give times of the clock, over midnight, and a row twice") {
  const LogFile file(
      "time,pressure [bar],rate [L/min]\n23:59:58.5,0,6\n23:59:59.5,0.1,6\n23:59:59.5,0.1,6\n00:00:01.5,0.2,6\n");
  const ShotLog log = pipeline::read_shot_log(file.path);
  REQUIRE(log.samples.size() == 3);
  CHECK(log.samples[2].time - log.samples[0].time == Approx(3));
  CHECK(log.samples[2].volume == Approx(0.3e6));
}
