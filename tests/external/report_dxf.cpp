// template-*.dxf as another reader (ezdxf) sees it.
#include <unistd.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>

#include "../report/work_case.hpp"
#include "gapfront/report.hpp"
#include "report/shop_files.hpp"
#include "test_paths.hpp"

namespace {

std::vector<std::string> seen_by_ezdxf(const std::string& dxf) {
  const std::string file =
      (std::filesystem::temp_directory_path() / ("gapfront-" + std::to_string(::getpid()) + ".dxf")).string();
  std::ofstream(file, std::ios::binary) << dxf;
  const std::string read = "/usr/bin/python3 " SOURCE_DIR "/tests/external/dxf_read.py " + file + " > " + file + ".txt";
  REQUIRE(std::system(read.c_str()) == 0);
  std::vector<std::string> out;
  std::ifstream in(file + ".txt");
  for (std::string line; std::getline(in, line);) out.push_back(line);
  std::filesystem::remove(file), std::filesystem::remove(file + ".txt");
  return out;
}

}  // namespace

TEST_CASE("Others read in template-*.dxf the template's lines, at 1:1 in mm, and find nothing wrong with it") {
  const auto files = report::template_dxfs(with_template());
  REQUIRE(files.size() == 1);
  CHECK(files[0].first == "template-C1.dxf");
  const auto seen = seen_by_ezdxf(files[0].second);
  for (const char* line : {"release AC1009", "faults 0",
                           // 300 × 250 mm about the mark in the middle of the work; the repeated first point is closing
                           "polyline OUTLINE 1 -150.0 -125.0 150.0 -125.0 150.0 125.0 -150.0 125.0",
                           "polyline CONTOUR_0-10 0 -140.0 -115.0 140.0 -115.0", "point STOPS 0.0 0.0",
                           "text STOPS 1.0 1.0 2.5 1", "polyline CHECK 0 0.0 -137.0 100.0 -137.0"}) {
    CAPTURE(line);
    CHECK(std::count(seen.begin(), seen.end(), line) == 1);
  }
  for (const std::string& line : seen) CHECK_FALSE(line.starts_with("unknown"));
}
