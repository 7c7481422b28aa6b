// Errors that run along the scans, as few shapes on the sheet.
#include <catch2/catch.hpp>
#include <cmath>

#include "../shared_errors.hpp"
#include "cavity/long_errors.hpp"
#include "core/area_mean.hpp"

using namespace gapfront;

namespace {

/// Σ h·field over the nodes of a flat sheet: its variance by the covariance σ² exp(−d²/2L²) itself.
double exact_variance(const Sheet& sheet, const SharedNoise& f, const std::vector<double>& h) {
  double sum = 0;
  for (std::size_t i = 0; i < h.size(); ++i)
    for (std::size_t j = 0; j < h.size(); ++j)
      sum += h[i] * h[j] * f.sigma * f.sigma *
             std::exp(-0.5 * (sheet.mesh.points[i] - sheet.mesh.points[j]).squaredNorm() / (f.length * f.length));
  return sum;
}

}  // namespace

TEST_CASE("Means and tilts have the u that the fields' covariance gives them") {
  const Sheet sheet = support::flat_sheet();
  // The lengths of a warp, of wide passes, of narrow ones, and one as short as the nodes are apart.
  for (const double length : {400.0, 200.0, 52.0, 30.0}) {
    GapMap map;
    for (std::size_t i = 0; i < sheet.size(); ++i) {
      NodeGap g;
      g.measured = true, g.gap = 3, g.direction = Vec3::UnitZ();
      map.nodes.push_back(g);
    }
    Alignment a;
    a.fields = {{0.015, length}};
    cavity::carry_fields(sheet, a, map);
    std::vector<double> mean(sheet.size(), 1.0 / double(sheet.size())), tilt[2];
    for (int c = 0; c < 2; ++c)
      for (const Vec3& p : sheet.mesh.points) tilt[c].push_back(p[c] / (length * double(sheet.size())));
    CAPTURE(length, map.shapes.cols());
    // The anchors' own errors, a hundredth of the variance; what is shared about anchors has a shape of its own.
    for (const auto& h : {mean, tilt[0], tilt[1]})
      CHECK(sum_errors(sheet, map, {}, h).instrument ==
            Approx(std::sqrt(exact_variance(sheet, a.fields[0], h))).epsilon(0.02));
    for (const NodeGap& g : map.nodes) CHECK(g.u_instrument == Approx(0.015).epsilon(1e-6));
  }
}
