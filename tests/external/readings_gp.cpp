// The map by readings on a flat plate against a Gaussian process that knows no mesh: readings_gp.py, numpy and scipy.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "../align/support.hpp"
#include "../plate.hpp"
#include "gapfront/readings.hpp"
#include "test_paths.hpp"

using namespace gapfront;

TEST_CASE("The map by readings agrees with a dense Gaussian process in numpy, in gap, U and length") {
  std::string name = (std::filesystem::temp_directory_path() / "gapfront-gp-XXXXXX").string();
  REQUIRE(mkdtemp(name.data()));
  const std::filesystem::path folder = name;
  // 320 × 240 mm, 8 mm from node to node.
  const Mesh plate = support::plate_of(40, 30, [](int i, int j) { return Vec3(8.0 * i, 8.0 * j, 0); });
  const Sheet sheet = cavity::make_sheet(plate);
  support::Random random(3);
  std::vector<SpotReading> readings;
  std::ofstream list(folder / "readings.txt"), nodes(folder / "nodes.txt");
  for (int k = 0; k < 50; ++k) {
    const double x = 320 * random.uniform(), y = 240 * random.uniform();
    const double deviation = 0.1 + 0.2 * std::sin(x / 30) * std::cos(y / 25) + 0.025 * random.gauss();
    readings.push_back({"r" + std::to_string(k), {x, y, 0}, 3 + deviation, 0.05});
    list << x << " " << y << " " << deviation << " 0.025\n";
  }
  for (const Vec3& p : plate.points) nodes << p.x() << " " << p.y() << "\n";
  list.close(), nodes.close();
  const auto map = cavity::map_by_readings(sheet, std::vector<double>(sheet.size(), 3.0), readings);
  const std::string range = std::to_string(3 * sheet.edge_p50) + " 600";
  REQUIRE(std::system(
              ("/usr/bin/python3 " SOURCE_DIR "/tests/external/readings_gp.py " + name + " " + range).c_str()) == 0);
  std::ifstream in(folder / "gp.txt");
  double length = 0, sigma = 0, apart = 0, least = 10, most = 0, sum = 0, count = 0;
  in >> length >> sigma;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    double mean = 0, u = 0;
    in >> mean >> u;
    const Vec3& p = plate.points[i];
    // Near the rim the finite elements see its reflection.
    if (std::min({p.x(), p.y(), 320 - p.x(), 240 - p.y()}) < 50) continue;
    apart = std::max(apart, std::abs(map.gap.nodes[i].gap - 3 - mean) / u);
    sum += std::pow(std::log(map.gap.nodes[i].U / (2 * u)), 2), ++count;
    least = std::min(least, map.gap.nodes[i].U / (2 * u)), most = std::max(most, map.gap.nodes[i].U / (2 * u));
  }
  REQUIRE(in);
  std::filesystem::remove_all(folder);
  WARN("most likely length " << map.field.length << " mm, numpy " << length << "; size " << map.field.sigma
                             << " mm, numpy " << sigma << "; means apart by " << apart << " u at most, U " << least
                             << " to " << most << " of numpy's, RMS " << std::sqrt(sum / count));
  // Linear elements let the field vary more within an edge or two than it does: U is on the safe side, by 15 % in the
  // mean at a tenth of the field's length from node to node, by 6 % at a fourteenth (measured).
  CHECK(apart < 0.5);
  CHECK(least > 0.95);
  CHECK(most < 1.4);
  CHECK(std::sqrt(sum / count) < 0.2);
  CHECK(std::abs(std::log(map.field.length / length)) < 0.6);  // the grid's step
}
