// Times the refinement of a pose on dense invented scans, beside PCL's iterative closest point on the same points in
// the same run: pose_bench [MILLIONS]. Points per scan in millions (default 1). Built only where PCL is found.
#include <pcl/point_cloud.h>
#include <pcl/point_types.h>
#include <pcl/registration/icp.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <random>

#include "gapfront/pose.hpp"

using namespace gapfront;

namespace {

double seconds() { return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count(); }

/// A mold face of 1 m by 0.7 m with waves, a step and a bump; two scans of it never hold the same points.
std::vector<Vec3> scan(std::size_t n, unsigned seed) {
  std::mt19937_64 random(seed);
  std::uniform_real_distribution<double> x(0, 1000), y(0, 700);
  std::normal_distribution<double> noise(0, 0.03);
  std::vector<Vec3> out(n);
  for (Vec3& p : out) {
    p.x() = x(random), p.y() = y(random);
    p.z() = 20 * std::sin(p.x() / 110) * std::cos(p.y() / 90) + 30 * std::tanh((p.y() - 500) / 15) +
            40 * std::exp(-(std::pow(p.x() - 700, 2) + std::pow(p.y() - 250, 2)) / 5000) + noise(random);
  }
  return out;
}

double error_of(const Eigen::Matrix4d& found, const Rigid& off) {
  double most = 0;
  for (const Vec3& p : {Vec3(0, 0, 0), Vec3(1000, 0, 0), Vec3(1000, 700, 0), Vec3(0, 700, 0)})
    most = std::max(most, ((found * (off * p).homogeneous()).head<3>() - p).norm());
  return most;
}

pcl::PointCloud<pcl::PointXYZ>::Ptr cloud_of(const std::vector<Vec3>& points) {
  auto out = pcl::make_shared<pcl::PointCloud<pcl::PointXYZ>>();
  for (const Vec3& p : points) out->push_back(pcl::PointXYZ(float(p.x()), float(p.y()), float(p.z())));
  return out;
}

}  // namespace

int main(int argc, char** argv) {
  const auto n = static_cast<std::size_t>(1e6 * (argc > 1 ? std::atof(argv[1]) : 1));
  Rigid off = Rigid::Identity();
  off.linear() = Eigen::AngleAxisd(0.003, Vec3(1, 2, 3).normalized()).toRotationMatrix();
  off.translation() = Vec3(1.5, -1, 2);
  const auto fixed = scan(n, 1);
  auto moving = scan(n, 2);
  for (Vec3& p : moving) p = off * p;
  std::printf("%zu points in each scan; off by %.2f mm at a corner\n", n, error_of(Eigen::Matrix4d::Identity(), off));

  double from = seconds();
  const PoseRefiner refiner(align::thin_surface(fixed, 4));
  const Refined own = refiner.refine(align::thin_surface(moving, 4), Rigid::Identity());
  const double own_time = seconds() - from;
  std::printf("gapfront  %7.2f s, %2d iterations, error at a corner %.4f mm (thinning, normals and tree counted)\n",
              own_time, own.iterations, error_of(own.motion.matrix(), off));

  from = seconds();
  pcl::IterativeClosestPoint<pcl::PointXYZ, pcl::PointXYZ> icp;
  icp.setInputTarget(cloud_of(fixed));
  icp.setInputSource(cloud_of(moving));
  icp.setMaximumIterations(50);
  icp.setTransformationEpsilon(1e-10);
  pcl::PointCloud<pcl::PointXYZ> carried;
  icp.align(carried);
  const double pcl_time = seconds() - from;
  std::printf("PCL       %7.2f s, at most 50 iterations, error at a corner %.4f mm\n", pcl_time,
              error_of(icp.getFinalTransformation().cast<double>(), off));
  std::printf("%.1f times as fast\n", pcl_time / own_time);
}
