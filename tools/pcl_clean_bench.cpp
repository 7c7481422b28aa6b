// Cleaning beside PCL's, on the same points in the same run:
//   pcl_clean_bench speed [MILLIONS] | swarm | smooth
// Swarm: strays in a swarm above a face, and a face of which a part is scanned thinly. Smooth: quadrics through noise,
// and how far from the true face they end.
#include <pcl/features/normal_3d.h>
#include <pcl/filters/radius_outlier_removal.h>
#include <pcl/filters/statistical_outlier_removal.h>
#include <pcl/filters/voxel_grid.h>
#include <pcl/surface/mls.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>

#include "cavity/patch.hpp"
#include "gapfront/pose.hpp"
#include "pcl_bench.hpp"

using namespace gapfront;
using namespace gapfront::bench;

namespace {

/// A waved face of 1 m by 0.7 m with 0.1 % of stray points up to 10 mm off it.
void compare_cleaning(double millions) {
  Random random(7);
  Scan scan;
  auto& points = scan.cloud.points;
  const auto face = [](double x, double y) { return 20 * std::sin(x / 110) * std::cos(y / 90); };
  const auto n = static_cast<std::size_t>(1e6 * millions);
  for (std::size_t i = 0; i < n; ++i) {
    const double x = random.uniform(0, 1000), y = random.uniform(0, 700);
    const double off = i % 1000 == 999 ? random.uniform(3, 10) : 0.03 * random.gauss();
    points.push_back({x, y, face(x, y) + off});
  }
  const auto stray = [&](const Vec3& p) { return std::abs(p.z() - face(p.x(), p.y())) > 2.5; };
  const auto cloud = as_pcl(points);
  std::size_t strays = 0;
  for (const Vec3& p : points) strays += stray(p);
  const auto print = [&](const char* name, double seconds, const std::vector<Vec3>& kept) {
    std::size_t left = 0;
    for (const Vec3& p : kept) left += stray(p);
    std::printf("  %-44s processor %6.2f s; %zu of %zu strays removed, and %zu of the face\n", name, seconds,
                strays - left, strays, n - kept.size() - (strays - left));
  };
  const auto timed = [&](const char* name, auto&& filter) {
    PclPoints out;
    const double from = processor_seconds();
    filter.setInputCloud(cloud);
    filter.filter(out);
    const double seconds = processor_seconds() - from;
    print(name, seconds, scan::from_pcl(out).cloud.points);
  };
  std::printf("cleaning, %zu points\n", n);
  const double side = 4;
  double from = processor_seconds();
  const SurfacePoints thin = align::thin_surface(points, side);
  std::printf("  %-44s processor %6.2f s; %zu points\n", "gapfront thin_surface, 4 mm, with normals",
              processor_seconds() - from, thin.points.size());
  from = processor_seconds();
  PclPoints::Ptr coarse = pcl::make_shared<PclPoints>();
  pcl::VoxelGrid<pcl::PointXYZ> grid;
  grid.setLeafSize(side, side, side);
  grid.setInputCloud(cloud);
  grid.filter(*coarse);
  const double voxels = processor_seconds() - from;
  pcl::NormalEstimation<pcl::PointXYZ, pcl::Normal> estimation;
  pcl::PointCloud<pcl::Normal> normals;
  estimation.setInputCloud(coarse);
  estimation.setKSearch(13);
  estimation.compute(normals);
  std::printf("  %-44s processor %6.2f s, with normals %.2f s; %zu points\n", "PCL VoxelGrid, 4 mm", voxels,
              processor_seconds() - from, coarse->size());

  pcl::StatisticalOutlierRemoval<pcl::PointXYZ> statistical;
  statistical.setMeanK(12);
  statistical.setStddevMulThresh(3);
  timed("PCL StatisticalOutlierRemoval, 12, 3 sigma", statistical);
  pcl::RadiusOutlierRemoval<pcl::PointXYZ> radius;
  radius.setRadiusSearch(3);
  radius.setMinNeighborsInRadius(6);
  timed("PCL RadiusOutlierRemoval, 3 mm, 6 neighbours", radius);
  from = processor_seconds();
  scan::clean(scan);
  print("gapfront clean (duplicates, clutter, strays)", processor_seconds() - from, points);
}

/// What is left of strays that fly in a swarm, and of a part of the face that has a ninth of the points of the rest.
void compare_swarm() {
  const auto face = [](double x, double y) { return 10 * std::sin(x / 110) * std::cos(y / 90); };
  const auto height = [&](const Vec3& p) { return p.z() - face(p.x(), p.y()); };
  const auto thin = [](const Vec3& p) { return std::hypot(p.x() - 90, p.y() - 80) < 60; };
  for (const double side : {40.0, 100.0, 250.0}) {
    Random random(3);
    Scan scan;
    auto& points = scan.cloud.points;
    for (double x = 0; x < 400; x += 1.5)
      for (double y = 0; y < 300; y += 1.5) {
        const double a = x + 0.4 * random.uniform(), b = y + 0.4 * random.uniform();
        const Vec3 p(a, b, face(a, b) + 0.02 * random.gauss());
        if (!thin(p) || random.uniform() < 1 / 9.0) points.push_back(p);
      }
    for (int i = 0; i < 300; ++i) {
      const double x = 270 + side * (random.uniform() - 0.5), y = 150 + side * (random.uniform() - 0.5);
      points.push_back({x, y, face(x, y) + random.uniform(10, 40)});
    }
    const auto print = [&](const char* name, const std::vector<Vec3>& kept) {
      std::size_t strays = 0, there = 0;
      for (const Vec3& p : kept) strays += height(p) > 5, there += height(p) < 5 && thin(p);
      std::printf("  %-44s %3zu of 300 strays left, %zu points of the thin part, %zu of the rest\n", name, strays,
                  there, kept.size() - strays - there);
    };
    std::printf("swarm over %.0f mm by %.0f mm, 10 to 40 mm above a face\n", side, side);
    print("before", points);
    PclPoints out;
    pcl::StatisticalOutlierRemoval<pcl::PointXYZ> statistical;
    statistical.setMeanK(12);
    statistical.setStddevMulThresh(3);
    statistical.setInputCloud(as_pcl(points));
    statistical.filter(out);
    print("PCL StatisticalOutlierRemoval, 12, 3 sigma", scan::from_pcl(out).cloud.points);
    scan::clean(scan);
    print("gapfront clean", points);
  }
}

/// A waved face with radii from 15 mm, a point every 0.8 mm, 0.03 mm of noise: at each point a quadric of the points
/// within 5 mm. Both are asked for the face there.
void compare_smoothing() {
  Random random(5);
  std::vector<Vec3> points;
  const auto face = [](double x, double y) { return 4 * std::sin(x / 8) * std::cos(y / 9); };
  for (double x = 0; x < 160; x += 0.8)
    for (double y = 0; y < 160; y += 0.8) {
      const double a = x + 0.3 * random.uniform(), b = y + 0.3 * random.uniform();
      points.push_back({a, b, face(a, b) + 0.03 * random.gauss()});
    }
  const auto print = [&](const char* name, double seconds, const std::vector<Vec3>& at) {
    double square = 0, worst = 0;
    std::size_t n = 0;
    for (const Vec3& p : at) {
      if (p.x() < 6 || p.x() > 154 || p.y() < 6 || p.y() > 154) continue;
      const double e = 1e-4, dx = (face(p.x() + e, p.y()) - face(p.x() - e, p.y())) / (2 * e),
                   dy = (face(p.x(), p.y() + e) - face(p.x(), p.y() - e)) / (2 * e);
      const double off = (p.z() - face(p.x(), p.y())) / std::sqrt(1 + dx * dx + dy * dy);
      square += off * off, worst = std::max(worst, std::abs(off)), ++n;
    }
    std::printf("  %-44s processor %6.2f s; %.4f mm RMS off the face, %.3f mm at worst\n", name, seconds,
                std::sqrt(square / double(n)), worst);
  };
  std::printf("smoothing, %zu points\n", points.size());
  double from = processor_seconds();
  pcl::MovingLeastSquares<pcl::PointXYZ, pcl::PointXYZ> mls;
  PclPoints out;
  mls.setInputCloud(as_pcl(points));
  mls.setSearchRadius(5);
  mls.setPolynomialOrder(2);
  mls.process(out);
  print("PCL MovingLeastSquares, order 2, 5 mm", processor_seconds() - from, scan::from_pcl(out).cloud.points);
  from = processor_seconds();
  const Surface surface(points, {.spacing = 0.8, .noise = 0.03});
  cavity::Scratch scratch;
  std::vector<Vec3> feet;
  for (const Vec3& p : points) {
    scratch.reach = 0;
    const cavity::Patch patch = cavity::fit_patch(surface, p, p, Vec3::UnitZ(), 5, scratch);
    if (patch.ok) feet.push_back(cavity::foot_on(patch, p).point);
  }
  print("gapfront fit_patch, 5 mm at first, with its u", processor_seconds() - from, feet);
}

}  // namespace

int main(int argc, char** argv) try {
  const std::string what = argc > 1 ? argv[1] : "";
  if (what == "speed") compare_cleaning(argc > 2 ? std::atof(argv[2]) : 1);
  if (what == "swarm") compare_swarm();
  if (what == "smooth") compare_smoothing();
} catch (const std::exception& e) {
  std::fprintf(stderr, "%s\n", e.what());
  return 1;
}
