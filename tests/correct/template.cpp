#include <catch2/catch.hpp>

#include <cmath>
#include <functional>

#include "../random.hpp"
#include "correct/flatten.hpp"
#include "gapfront/cavity.hpp"

using namespace gapfront;

namespace {

/// A grid of (n + 1) × (m + 1) places of a face given by two lengths along it; diagonals alternate.
Mesh grid(int n, int m, const std::function<Vec3(int, int)>& at) {
  Mesh out;
  for (int j = 0; j <= m; ++j)
    for (int i = 0; i <= n; ++i) out.points.push_back(at(i, j));
  for (int j = 0; j < m; ++j)
    for (int i = 0; i < n; ++i) {
      const int a = j * (n + 1) + i, b = a + 1, c = a + n + 2, d = a + n + 1;
      if ((i + j) % 2)
        out.triangles.push_back({a, b, c}), out.triangles.push_back({a, c, d});
      else
        out.triangles.push_back({a, b, d}), out.triangles.push_back({b, c, d});
    }
  return out;
}

double worst(const std::vector<double>& strain) { return *std::max_element(strain.begin(), strain.end()); }

}  // namespace

// On a cylinder of radius R a place is (Rφ, y) unrolled, so the true distance of two places is known. The mesh is as
// coarse as a sheet may be, an edge of R/3, where chords are short of their arcs by 1/216 = 0.46 %.
TEST_CASE("A cylinder is unrolled to its true lengths within 0.1 %") {
  const double R = 30, step = 10;
  const int n = 9, m = 7;
  const auto turn = Eigen::AngleAxisd(0.7, Vec3(1, 2, 3).normalized());  // no axis of the mesh is one of the tool
  std::vector<Vec3> normals;
  const Mesh mesh = grid(n, m, [&](int i, int j) -> Vec3 {
    const double f = i * step / R;
    normals.push_back(turn * Vec3(std::sin(f), 0, std::cos(f)));
    return turn * Vec3(R * std::sin(f), 8 * j, R * std::cos(f));
  });
  const correct::Flat flat = correct::lay_flat(mesh, normals);
  CHECK(worst(flat.strain) < 1e-3);
  double most = 0;
  for (std::size_t a = 0; a < mesh.points.size(); ++a)
    for (std::size_t b = 0; b < a; ++b) {
      const double du = (int(a % (n + 1)) - int(b % (n + 1))) * step, dv = (int(a / (n + 1)) - int(b / (n + 1))) * 8;
      const double truth = std::hypot(du, dv);
      most = std::max(most, std::abs((flat.at[a] - flat.at[b]).norm() / truth - 1));
    }
  CHECK(most < 1e-3);
  // Seen from the side of the normals, u to the right has v upwards.
  const Vec3 u = flat.at[1] - flat.at[0], v = flat.at[n + 1] - flat.at[0];
  CHECK(u.x() * v.y() - u.y() * v.x() > 0);
}

TEST_CASE("A flat patch whose nodes scatter is not taken for one that stretches") {
  support::Random random(5);
  std::vector<Vec3> normals;
  const Mesh mesh = grid(12, 10, [&](int i, int j) -> Vec3 {
    normals.push_back((Vec3::UnitZ() + 0.1 * random.vector()).normalized());
    return Vec3(6 * i, 6 * j, 0.3 * random.gauss());
  });
  const correct::Flat flat = correct::lay_flat(mesh, normals);
  CHECK(worst(flat.strain) > 0.01);  // a triangle here and there
  CHECK(flat.stretch < 0.5 * worst(flat.strain));
  for (std::size_t a = 0; a < mesh.points.size(); ++a)  // as far as a hand reaches and beyond, distances are right
    for (std::size_t b = 0; b < a; ++b) {
      const double d = (mesh.points[a] - mesh.points[b]).head<2>().norm();
      if (d > 30) CHECK((flat.at[a] - flat.at[b]).norm() == Approx(d).epsilon(0.01));
    }
}

// A cap that reaches the angle a from its middle cannot lie flat: with its rim's length 2πR sin a and its slant Ra at
// odds by 1 − sin(a)/a ≈ a²/6, some length must change by a good part of that. From memory, standard geometry.
TEST_CASE("A ball's cap is stretched by laying it flat, the more the deeper it is, and that is said") {
  const auto cap = [](double half) {
    const double R = 50;
    std::vector<Vec3> normals;
    const Mesh mesh = grid(10, 10, [&](int i, int j) -> Vec3 {
      const double u = half * (i - 5) / 5.0, v = half * (j - 5) / 5.0, d = std::hypot(u, v),
                   s = d > 0 ? std::sin(d) / d : 1;
      normals.push_back(Vec3(s * u, s * v, std::cos(d)));
      return R * normals.back();
    });
    const correct::Flat flat = correct::lay_flat(mesh, normals);
    CHECK(flat.stretch < worst(flat.strain));  // over a finger's breadth less than at a corner
    if (half > 0.3) CHECK(flat.stretch > 0.5 * worst(flat.strain));
    return worst(flat.strain);
  };
  const double flatter = cap(0.1), deeper = cap(0.5);
  CHECK(flatter < 0.005);
  CHECK(deeper > 0.02);
  CHECK(deeper < 0.25 * 0.5);  // below the whole of a²/6 at the corners, a = 0.5√2, 8 %, and a margin
}

TEST_CASE("A level line on a plane is where the level is, closed inside and open at the edge") {
  const Mesh mesh = grid(8, 8, [](int i, int j) { return Vec3(i - 4, j - 4, 0); });
  std::vector<double> inside, across;
  for (const Vec3& p : mesh.points)
    inside.push_back(2.5 - std::max(std::abs(p.x()), std::abs(p.y()))), across.push_back(p.x());
  const auto loop = correct::level_lines(mesh, inside, 0);
  REQUIRE(loop.size() == 1);
  CHECK((loop[0].front() - loop[0].back()).norm() < 1e-12);
  const auto line = correct::level_lines(mesh, across, 0.25);
  REQUIRE(line.size() == 1);
  CHECK((line[0].front() - line[0].back()).norm() == Approx(8));
  for (const Vec3& p : line[0]) CHECK(p.x() == Approx(0.25));
}
