// Pose search and refinement on a real surface: the npm package `bunny` (made from a range scan), from random poses,
// partly covered, with noise and outliers; and the result against VTK's iterative closest point transform.
#include <catch2/catch.hpp>
#include <cstdio>
#include <cstdlib>
#include <fstream>

#include "../align/support.hpp"
#include "bunny.hpp"
#include "gapfront/pose.hpp"
#include "test_paths.hpp"

using namespace gapfront;
using namespace support;

namespace {

double size_of(const std::vector<Vec3>& points) {
  Vec3 low = points[0], high = low;
  for (const Vec3& p : points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  return (high - low).norm();
}

Rigid any_pose(Random& random) {
  return pose(300 * random.gauss(), 300 * random.gauss(), 300 * random.gauss(), 2 * M_PI * random.uniform(),
              random.vector());
}

double turn_degrees(const Rigid& m) { return Eigen::AngleAxisd(m.linear()).angle() * 180 / M_PI; }

}  // namespace

TEST_CASE("A real surface is found from 50 random poses at 60 % overlap with noise and 10 % outliers") {
  // The bar: rotation under 0.1 degrees and translation under 0.1 % of the size in at least 98 %.
  const Mesh mesh = bunny();
  const double size = size_of(mesh.points);
  const SurfacePoints fixed = align::sample_mesh(mesh, 1.0);
  const PoseRefiner refiner(fixed);
  const SurfacePoints scan = align::sample_mesh(mesh, 1.1);
  Random random(50);
  int good = 0;
  const int draws = 50;
  for (int k = 0; k < draws; ++k) {
    // 60 % of the surface: all points on one side of a plane of random direction.
    const Vec3 d = random.vector().normalized();
    std::vector<double> along;
    for (const Vec3& p : scan.points) along.push_back(d.dot(p));
    std::vector<double> sorted = along;
    std::nth_element(sorted.begin(), sorted.begin() + sorted.size() * 6 / 10, sorted.end());
    const double cut = sorted[sorted.size() * 6 / 10];
    const Rigid off = any_pose(random);
    std::vector<Vec3> points;
    for (std::size_t i = 0; i < scan.points.size(); ++i) {
      if (along[i] > cut) continue;
      Vec3 p = scan.points[i] + 0.05 * random.vector();
      if (points.size() % 10 == 9) p = 0.4 * size * random.vector();
      points.push_back(off * p);
    }
    const SurfacePoints moving = align::thin_surface(points, 1.5);
    const auto poses = align::find_poses(fixed, moving);
    if (poses.empty()) continue;
    const Rigid error = refiner.refine(moving, poses[0].motion).motion * off;
    // Translation at the surface's middle, where rotation does not enter.
    Vec3 middle = Vec3::Zero();
    for (const Vec3& p : mesh.points) middle += p / mesh.points.size();
    const bool ok = turn_degrees(error) < 0.1 && (error * middle - middle).norm() < 1e-3 * size;
    if (!ok)
      WARN("draw " << k << ": " << turn_degrees(error) << " degrees, " << (error * middle - middle).norm()
                   << " mm, score " << poses[0].score);
    good += ok;
  }
  WARN(good << " of " << draws << " poses found");
  CHECK(good >= 49);
}

TEST_CASE("The refinement agrees with VTK's iterative closest point from the same start") {
  const Mesh mesh = bunny();
  const Rigid off = pose(2, -1, 1.5, 0.05, Vec3(1, 2, 3));
  const std::string folder = std::string(std::getenv("TMPDIR") ? std::getenv("TMPDIR") : "/tmp") + "/gapfront-vtk-" +
                             std::to_string(::getpid());
  REQUIRE(std::system(("mkdir -p " + folder).c_str()) == 0);
  {
    std::ofstream obj(folder + "/fixed.obj"), xyz(folder + "/moving.txt");
    for (const Vec3& p : mesh.points) obj << "v " << p.transpose() << "\n";
    for (const auto& t : mesh.triangles) obj << "f " << t[0] + 1 << " " << t[1] + 1 << " " << t[2] + 1 << "\n";
    for (const Vec3& p : mesh.points) xyz << (off * p).transpose() << "\n";
  }
  REQUIRE(std::system(("/usr/bin/python3 " SOURCE_DIR "/tests/external/vtk_icp.py " + folder).c_str()) == 0);
  std::ifstream answer(folder + "/pose.txt");
  Eigen::Matrix4d vtk;
  for (int i = 0; i < 16; ++i) answer >> vtk(i / 4, i % 4);
  REQUIRE(answer);
  std::system(("rm -r " + folder).c_str());
  std::vector<Vec3> moving;
  for (const Vec3& p : mesh.points) moving.push_back(off * p);
  const Refined own =
      PoseRefiner(align::sample_mesh(mesh, 0.7)).refine(align::thin_surface(moving, 0), Rigid::Identity());
  double apart = 0, own_error = 0, vtk_error = 0;
  for (const Vec3& p : mesh.points) {
    const Vec3 q = off * p, by_vtk = (vtk * q.homogeneous()).head<3>();
    apart = std::max(apart, (own.motion * q - by_vtk).norm());
    own_error = std::max(own_error, (own.motion * q - p).norm());
    vtk_error = std::max(vtk_error, (by_vtk - p).norm());
  }
  WARN("apart by " << apart << " mm; from the truth: gapfront " << own_error << ", VTK " << vtk_error);
  // Both stop near the truth, VTK by its own criterion of mean distance; 0.05 mm is a third of a thousandth of the
  // size.
  CHECK(apart < 0.05);
  CHECK(own_error < 0.02);
}
