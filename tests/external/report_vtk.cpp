// sheet.ply and sheet.vtu as others read them (VTK; NumPy for the fields of the PLY), node by node, field by field.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>

#include "../report/small.hpp"
#include "gapfront/report.hpp"
#include "test_paths.hpp"

namespace {

/// What a reader says: one line each "field NAME v0 v1 …", "points x y z …", "triangles a b c …".
std::map<std::string, std::vector<double>> seen_by_vtk(const std::string& file) {
  std::map<std::string, std::vector<double>> out;
  const std::string answer = file + ".txt";
  REQUIRE(std::system(
              ("/usr/bin/python3 " SOURCE_DIR "/tests/external/vtk_read.py " + file + " > " + answer).c_str()) == 0);
  std::ifstream in(answer);
  for (std::string line; std::getline(in, line);) {
    std::istringstream words(line);
    std::string name, value;
    words >> name;
    while (words >> value) out[name].push_back(std::strtod(value.c_str(), nullptr));  // strtod knows "nan"
  }
  return out;
}

}  // namespace

TEST_CASE("Others read in sheet.ply and sheet.vtu the nodes, triangles and fields that result.json holds") {
  const std::filesystem::path folder =
      std::filesystem::temp_directory_path() / ("gapfront-vtk-read-" + std::to_string(::getpid()));
  const Inspection r = full_inspection();
  const auto json = nlohmann::json::parse(report::result_json(r));
  const auto &points = json["sheet"]["nodes_mm"], &fields = json["sheet"]["fields"];
  report::write_report(report::report_files(r), folder);
  for (const char* file : {"sheet.ply", "sheet.vtu"}) {
    CAPTURE(file);
    const auto seen = seen_by_vtk((folder / file).string());
    REQUIRE(seen.at("points").size() == 3 * points.size());
    for (std::size_t i = 0; i < seen.at("points").size(); ++i)
      // VTK holds the points of a PLY file in single precision.
      CHECK(std::abs(seen.at("points")[i] - points[i / 3][i % 3].get<double>()) <= 1e-6);
    std::vector<double> corners;
    for (const auto& t : json["sheet"]["triangles"]) corners.insert(corners.end(), t.begin(), t.end());
    CHECK(seen.at("triangles") == corners);
    CHECK(seen.size() == fields.size() + 2);  // and no field more
    for (const auto& [id, list] : fields.items()) {
      CAPTURE(id);
      std::vector<double> values;
      for (const auto& v : list) values.push_back(v.is_null() ? std::nan("") : v.get<double>());
      REQUIRE(seen.count(id) == 1);
      REQUIRE(seen.at(id).size() == values.size());
      // Both files hold single precision: 24 bits, so 6e-8 of the value at most.
      for (std::size_t i = 0; i < values.size(); ++i)
        CHECK((std::isnan(values[i]) ? std::isnan(seen.at(id)[i])
                                     : std::abs(seen.at(id)[i] - values[i]) <= 1.2e-7 * std::abs(values[i]) + 1e-6));
    }
  }
  std::filesystem::remove_all(folder);
}
