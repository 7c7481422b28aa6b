// E57 files of an independent writer (e57_write.py), against the points that it wrote and against what the npm package
// web-e57 reads of them.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "gapfront/scan.hpp"
#include "test_paths.hpp"

using namespace gapfront;

namespace {

/// The first three numbers of each line, times `unit`.
std::vector<Vec3> first_three(const std::filesystem::path& file, double unit) {
  std::vector<Vec3> out;
  std::ifstream in(file);
  for (std::string line; std::getline(in, line);) {
    std::istringstream numbers(line);
    Vec3 p;
    if (numbers >> p.x() >> p.y() >> p.z()) out.push_back(unit * p);
  }
  return out;
}

double farthest_pair(const std::vector<Vec3>& a, const std::vector<Vec3>& b) {
  REQUIRE(a.size() == b.size());
  double most = 0;
  for (std::size_t i = 0; i < a.size(); ++i) most = std::max(most, (a[i] - b[i]).norm());
  return most;
}

}  // namespace

TEST_CASE("E57 files are read as they were written, and as web-e57 reads them") {
  std::string name = (std::filesystem::temp_directory_path() / "gapfront-e57-XXXXXX").string();
  REQUIRE(mkdtemp(name.data()));
  const std::filesystem::path folder = name;
  REQUIRE(std::system(("/usr/bin/python3 -B " SOURCE_DIR "/tests/external/e57_write.py " + name).c_str()) == 0);
  const char* both[] = {"single", "double", "scaledinteger", "marked", "poses", "spherical"};
  std::string command = "node " SOURCE_DIR "/tests/external/e57_read.mjs " WEB_E57;
  for (const char* file : both) command += " " + (folder / file).string() + ".e57";
  REQUIRE(std::system(command.c_str()) == 0);
  for (const std::string file : {"single", "double", "scaledinteger", "marked", "poses", "spherical", "between"}) {
    INFO(file);
    const Scan scan = scan::read_scan(folder / (file + ".e57"));
    // Scaled integers are micrometres: half of one in each direction.
    const bool rounded = file == "scaledinteger" || file == "marked";
    CHECK(farthest_pair(scan.cloud.points, first_three(folder / (file + ".txt"), 1)) < (rounded ? 0.9e-3 : 1e-9));
    CHECK(scan.nonfinite_dropped == (file == "marked" || file == "spherical" ? 5000 - scan.cloud.points.size() : 0));
    // It drops no other points and knows no other unit: what it reads is the same to the rounding of its numbers.
    if (file != "between")
      CHECK(farthest_pair(scan.cloud.points, first_three(folder / (file + ".e57.xyz"), 1000)) < 1e-9);
  }
  std::filesystem::remove_all(folder);
}
