// Normals, spheres, outliers and registration beside those of PCL, on the same points.
#include <pcl/features/normal_3d.h>
#include <pcl/filters/statistical_outlier_removal.h>
#include <pcl/point_types.h>
#include <pcl/registration/icp.h>
#include <pcl/sample_consensus/ransac.h>
#include <pcl/sample_consensus/sac_model_sphere.h>

#include <catch2/catch.hpp>
#include <set>

#include "../align/support.hpp"
#include "bunny.hpp"
#include "gapfront/pcl.hpp"
#include "gapfront/pose.hpp"
#include "gapfront/scan.hpp"

using namespace gapfront;
using namespace support;

namespace {

using PclPoints = pcl::PointCloud<pcl::PointXYZ>;

PclPoints::Ptr as_pcl(const std::vector<Vec3>& points) {
  Cloud cloud;
  cloud.points = points;
  return pcl::make_shared<PclPoints>(scan::to_pcl<pcl::PointXYZ>(cloud));
}

}  // namespace

TEST_CASE("Normals agree with PCL's of the same neighbours") {
  const auto points = align::sample_mesh(bunny(), 1.5).points;
  const SurfacePoints own = align::thin_surface(points, 0);
  pcl::NormalEstimation<pcl::PointXYZ, pcl::Normal> estimation;
  estimation.setInputCloud(as_pcl(points));
  estimation.setKSearch(13);  // the point itself is one of them
  pcl::PointCloud<pcl::Normal> theirs;
  estimation.compute(theirs);
  REQUIRE(theirs.size() == points.size());
  std::vector<double> apart;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const Vec3 n = theirs[i].getNormalVector3fMap().cast<double>();
    apart.push_back(std::asin(std::min(1.0, own.normals[i].cross(n.normalized()).norm())) * 180 / M_PI);
  }
  std::sort(apart.begin(), apart.end());
  WARN(apart.size() << " normals; half within " << apart[apart.size() / 2] << " degrees, 99 % within "
                    << apart[apart.size() * 99 / 100]);
  // PCL computes in single precision; where two neighbours are equally near, either may be the thirteenth.
  CHECK(apart[apart.size() / 2] < 0.01);
  CHECK(apart[apart.size() * 99 / 100] < 0.5);
}

TEST_CASE("A sphere among stray points is the one that PCL's sample consensus finds") {
  Random random(3);
  const Vec3 centre(40, -25, 12);
  const double radius = 12.7, noise = 0.02;
  std::vector<Vec3> points;
  add_ball(points, centre, radius, 0, 2000, noise, random);
  for (int i = 0; i < 600; ++i) points.push_back(centre + 12 * random.vector());
  const SphereFit own = align::fit_sphere(points, centre + Vec3(3, -2, 1), {.radius = 0, .noise = noise});
  const auto model = pcl::make_shared<pcl::SampleConsensusModelSphere<pcl::PointXYZ>>(as_pcl(points));
  pcl::RandomSampleConsensus<pcl::PointXYZ> search(model, 3 * noise);
  REQUIRE(search.computeModel());
  REQUIRE(search.refineModel());  // or the points kept would be those near a sphere through four of them
  pcl::Indices inliers;
  Eigen::VectorXf found, best;
  search.getInliers(inliers);
  search.getModelCoefficients(found);
  model->optimizeModelCoefficients(inliers, found, best);
  const Vec3 theirs = best.head<3>().cast<double>();
  WARN("apart by " << (own.centre - theirs).norm() << " mm; from the truth: gapfront " << (own.centre - centre).norm()
                   << " (u " << own.u_centre << "), PCL " << (theirs - centre).norm());
  // 2000 points of 0.02 mm over a hemisphere give the centre to about 0.001 mm; PCL computes in single precision.
  CHECK((own.centre - theirs).norm() < 0.005);
  CHECK((own.centre - centre).norm() < 4 * own.u_centre);
  CHECK(own.radius == Approx(best[3]).margin(0.003));
}

TEST_CASE("Points in the air are removed as by PCL's statistical filter, and no point of the surface goes") {
  Random random(4);
  Scan scan;
  auto& points = scan.cloud.points;
  const auto face = [](double x) { return 5 * std::sin(x / 30); };
  for (double x = 0; x < 200; x += 1)
    for (double y = 0; y < 100; y += 1)
      points.push_back({x + 0.1 * random.gauss(), y + 0.1 * random.gauss(), face(x) + 0.01 * random.gauss()});
  const std::size_t surface = points.size();
  // Nearer to the face than to each other: what flies in swarms looks like a thinly covered surface.
  for (int i = 0; i < 60; ++i) {
    const double x = 200 * random.uniform();
    points.push_back({x, 100 * random.uniform(), face(x) + 4 + 4 * random.uniform()});
  }
  const auto cloud = as_pcl(points);
  const std::size_t all = points.size();
  pcl::StatisticalOutlierRemoval<pcl::PointXYZ> filter(true);
  filter.setInputCloud(cloud);
  filter.setMeanK(12);
  filter.setStddevMulThresh(1);
  PclPoints kept;
  filter.filter(kept);
  std::size_t theirs_of_air = 0, theirs_of_surface = 0;
  for (const int i : *filter.getRemovedIndices()) (std::size_t(i) < surface ? theirs_of_surface : theirs_of_air) += 1;
  scan::clean(scan);
  std::size_t own_of_air = 0;
  for (const Vec3& p : points) own_of_air += p.z() > face(p.x()) + 3;
  own_of_air = 60 - own_of_air;
  const std::size_t own_of_surface = all - points.size() - own_of_air;
  WARN("removed of 60 in the air and " << surface << " of the surface: gapfront " << own_of_air << " and "
                                       << own_of_surface << ", PCL " << theirs_of_air << " and " << theirs_of_surface);
  CHECK(own_of_air == 60);
  CHECK(theirs_of_air == 60);
  CHECK(own_of_surface == 0);
}

TEST_CASE("The refinement agrees with PCL's iterative closest point from the same start") {
  const Mesh mesh = bunny();
  const Rigid off = pose(2, -1, 1.5, 0.05, Vec3(1, 2, 3));
  std::vector<Vec3> moving;
  for (const Vec3& p : mesh.points) moving.push_back(off * p);
  pcl::IterativeClosestPoint<pcl::PointXYZ, pcl::PointXYZ> icp;
  icp.setInputTarget(as_pcl(mesh.points));
  icp.setInputSource(as_pcl(moving));
  icp.setMaximumIterations(200);
  icp.setTransformationEpsilon(1e-12);
  icp.setEuclideanFitnessEpsilon(1e-12);
  PclPoints carried;
  icp.align(carried);
  const Eigen::Matrix4d theirs = icp.getFinalTransformation().cast<double>();
  const Refined own =
      PoseRefiner(align::sample_mesh(mesh, 0.7)).refine(align::thin_surface(moving, 0), Rigid::Identity());
  double apart = 0, own_error = 0, pcl_error = 0;
  for (const Vec3& p : mesh.points) {
    const Vec3 q = off * p, by_pcl = (theirs * q.homogeneous()).head<3>();
    apart = std::max(apart, (own.motion * q - by_pcl).norm());
    own_error = std::max(own_error, (own.motion * q - p).norm());
    pcl_error = std::max(pcl_error, (by_pcl - p).norm());
  }
  WARN("apart by " << apart << " mm; from the truth: gapfront " << own_error << ", PCL " << pcl_error);
  // The same bounds as beside VTK's; PCL has the very points of the fixed surface, and so may meet them exactly.
  CHECK(apart < 0.05);
  CHECK(own_error < 0.02);
}
