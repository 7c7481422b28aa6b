// Draws that cover what may happen more evenly than independent ones.
#include <catch2/catch.hpp>
#include <cmath>
#include <set>

#include "core/distributions.hpp"
#include "core/parallel.hpp"
#include "flow/even_normals.hpp"
#include "flow/field_modes.hpp"
#include "gapfront/draws.hpp"
#include "sheets.hpp"

using namespace gapfront;
using namespace gapfront::test;

TEST_CASE("Sobol points are those of scipy 1.10 (scipy.stats.qmc.Sobol, unscrambled), the first of them too") {
  // qmc.Sobol(5, scramble=False).random(6), times 8.
  const std::vector<std::vector<int>> eighths = {{0, 0, 0, 0, 0}, {4, 4, 4, 4, 4}, {6, 2, 2, 2, 6},
                                                 {2, 6, 6, 6, 2}, {3, 3, 5, 7, 3}, {7, 7, 1, 3, 7}};
  for (unsigned k = 0; k < eighths.size(); ++k) {
    const auto point = flow::sobol_point(k, 5);
    for (std::size_t d = 0; d < 5; ++d) CHECK(point[d] == static_cast<unsigned>(eighths[k][d]) << 29);
  }
}

TEST_CASE("Of 64 scrambled points each axis has one in each sixty-fourth, and each seed others") {
  for (const unsigned seed : {1U, 2U}) {
    for (std::size_t d = 0; d < 68; ++d) {
      std::set<int> parts;
      for (unsigned k = 0; k < 64; ++k)
        parts.insert(static_cast<int>(64 * (1 - normal_beyond(flow::even_normals(seed, k, 68)[d]))));
      CHECK(parts.size() == 64);
    }
  }
  CHECK(flow::even_normals(1, 5, 3) != flow::even_normals(2, 5, 3));
}

TEST_CASE("A scrambled point is a normal number over the seeds, whatever its number") {
  constexpr int kSeeds = 2000;
  for (const unsigned number : {0U, 1U, 5U}) {
    std::vector<double> sum(4, 0), square(4, 0);
    double product = 0;
    for (unsigned seed = 0; seed < kSeeds; ++seed) {
      const auto x = flow::even_normals(seed, number, 4);
      for (std::size_t d = 0; d < 4; ++d) sum[d] += x[d], square[d] += x[d] * x[d];
      product += x[0] * x[1];
    }
    // Five standard deviations of a mean, of a variance and of a product.
    const double off = 5 / std::sqrt(double(kSeeds));
    for (std::size_t d = 0; d < 4; ++d) {
      CHECK(std::abs(sum[d] / kSeeds) < off);
      CHECK(std::abs(square[d] / kSeeds - 1) < off * std::sqrt(2.0));
    }
    CHECK(std::abs(product / kSeeds) < off);
  }
}

namespace {

/// A plate of 400 mm by 300 mm: 48 lengths² of 50 mm.
struct GlassPlate {
  Sheet sheet = cavity::make_sheet(strip(20, 15, 400, 300).mesh);
  GapMap map;
  GlassPlate() { map.nodes.resize(sheet.size()); }
};

}  // namespace

// What is left of a field of correlation K without its components A is one of covariance K − AᵀA (kriging: Matheron
// 1973); coefficients of unit variance give AᵀA back: together K again.
TEST_CASE("A field that is set has the coefficients it was given, and what is left of it the rest of the variance") {
  const GlassPlate plate;
  const auto& points = plate.sheet.mesh.points;
  const std::size_t n = points.size();
  constexpr double kLength = 50;
  const flow::FieldModes modes(plate.sheet, kLength);
  REQUIRE(modes.count() == 60);
  const std::vector<double> none(60, 0);
  std::vector<std::vector<double>> component(60, std::vector<double>(n, 0));
  for (std::size_t k = 0; k < 60; ++k) {
    auto one = none;
    one[k] = 1;
    modes.set(component[k], one);
    auto cleared = component[k];
    modes.set(cleared, none);
    for (const double v : cleared) CHECK(std::abs(v) < 1e-5);  // kept as single precision
  }
  double told = 0, of = 0;
  for (std::size_t j = 0; j < n; j += 7) {
    std::vector<double> with(n);  // the correlation with one node
    for (std::size_t i = 0; i < n; ++i)
      with[i] = std::exp(-(points[i] - points[j]).squaredNorm() / (2 * kLength * kLength));
    auto rest = with;
    modes.set(rest, none);
    const auto by_components = [&](std::size_t i) {
      double sum = 0;
      for (const auto& c : component) sum += c[i] * c[j];
      return sum;
    };
    double worst = 0;
    for (std::size_t i = 0; i < n; ++i) worst = std::max(worst, std::abs(rest[i] - (with[i] - by_components(i))));
    CHECK(worst < 1e-5);
    told += by_components(j), ++of;
  }
  CHECK(told / of > 0.98);  // 48 lengths²: nearly all of the variance is in them
}

TEST_CASE(
    "The mean over 64 draws of the glass on a quarter of the plate scatters a tenth as much as over independent ones") {
  const GlassPlate plate;
  // Of the field's mean over the quarter: the variance of one draw, from its correlation; and the scatter of means.
  std::vector<std::size_t> quarter;
  for (std::size_t i = 0; i < plate.sheet.size(); ++i)
    if (const Vec3& p = plate.sheet.mesh.points[i]; p.x() < 200 && p.y() < 150) quarter.push_back(i);
  constexpr double kLength = 50, kSpread = 0.2;
  double variance = 0;
  for (const std::size_t i : quarter)
    for (const std::size_t j : quarter)
      variance +=
          std::exp(-(plate.sheet.mesh.points[i] - plate.sheet.mesh.points[j]).squaredNorm() / (2 * kLength * kLength)) /
          double(quarter.size() * quarter.size());
  constexpr int kSeeds = 40, kDraws = 64;
  std::vector<double> means(kSeeds);
  parallel_for(
      kSeeds,
      [&](std::size_t s) {
        const Draws draws(plate.sheet, plate.map, {.spread = kSpread, .length = kLength}, static_cast<unsigned>(s));
        for (unsigned k = 0; k < kDraws; ++k) {
          const Draw d = draws(k);
          for (const std::size_t i : quarter)
            means[s] += std::log(d.permeability[i]) / kSpread / double(quarter.size()) / kDraws;
        }
      },
      1);
  double square = 0;
  for (const double m : means) square += m * m / kSeeds;
  WARN("scatter of the mean " << std::sqrt(square) << ", of independent draws " << std::sqrt(variance / kDraws));
  CHECK(std::sqrt(square) < 0.1 * std::sqrt(variance / kDraws));
}
