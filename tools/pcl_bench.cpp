// Coarse poses, balls and cleaning beside PCL's, on the same points in the same run:
//   pcl_bench poses SCAN… | balls JOB… | cleaning [MILLIONS] | swarm
// SCAN: a surface; each is searched for in itself from random poses, half of its points against the other half, 60 %
// and then 40 % of it covered, with noise and 10 % stray points (DRAWS poses, else 50). JOB: its lower scan, and where
// its balls are. Swarm: strays in a swarm above a face, and a face of which a part is scanned thinly.
#include <pcl/common/transforms.h>
#include <pcl/features/fpfh.h>
#include <pcl/features/normal_3d.h>
#include <pcl/filters/radius_outlier_removal.h>
#include <pcl/filters/statistical_outlier_removal.h>
#include <pcl/filters/voxel_grid.h>
#include <pcl/point_types.h>
#include <pcl/registration/sample_consensus_prerejective.h>
#include <pcl/sample_consensus/ransac.h>
#include <pcl/sample_consensus/sac_model_normal_sphere.h>
#include <pcl/search/kdtree.h>
#include <sys/resource.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>

#include "../tests/random.hpp"
#include "gapfront/balls.hpp"
#include "gapfront/job.hpp"
#include "gapfront/pcl.hpp"
#include "gapfront/pose.hpp"

using namespace gapfront;
using support::Random;

namespace {

using PclPoints = pcl::PointCloud<pcl::PointXYZ>;
using PclSurface = pcl::PointCloud<pcl::PointNormal>;

/// Of all threads together, so that what else the machine does counts little.
double processor_seconds() {
  rusage used{};
  getrusage(RUSAGE_SELF, &used);
  const auto seconds = [](const timeval& t) { return double(t.tv_sec) + 1e-6 * double(t.tv_usec); };
  return seconds(used.ru_utime) + seconds(used.ru_stime);
}

PclPoints::Ptr as_pcl(const std::vector<Vec3>& points) {
  Cloud cloud;
  cloud.points = points;
  return pcl::make_shared<PclPoints>(scan::to_pcl<pcl::PointXYZ>(cloud));
}

double size_of(const std::vector<Vec3>& points) {
  Vec3 low = points[0], high = low;
  for (const Vec3& p : points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  return (high - low).norm();
}

/// Points with the normals' sides set right: FPFH needs them, and a scan without its viewpoint does not have them. So
/// PCL is given here what the own search does without.
PclSurface::Ptr oriented(const SurfacePoints& s, const Vec3& inside) {
  auto out = pcl::make_shared<PclSurface>();
  for (std::size_t i = 0; i < s.points.size(); ++i) {
    const Vec3f p = s.points[i].cast<float>(),
                n = (s.normals[i].dot(s.points[i] - inside) < 0 ? -1 : 1) * s.normals[i].cast<float>();
    out->push_back({p.x(), p.y(), p.z(), n.x(), n.y(), n.z()});
  }
  return out;
}

pcl::PointCloud<pcl::FPFHSignature33>::Ptr features_of(const PclSurface::Ptr& surface, double radius) {
  pcl::FPFHEstimation<pcl::PointNormal, pcl::PointNormal, pcl::FPFHSignature33> estimation;
  estimation.setInputCloud(surface);
  estimation.setInputNormals(surface);
  estimation.setSearchMethod(pcl::make_shared<pcl::search::KdTree<pcl::PointNormal>>());
  estimation.setRadiusSearch(radius);
  auto out = pcl::make_shared<pcl::PointCloud<pcl::FPFHSignature33>>();
  estimation.compute(*out);
  return out;
}

/// With the settings of PCL's own example, robust pose estimation of rigid objects (from memory).
Rigid by_fpfh(const PclSurface::Ptr& fixed, const PclSurface::Ptr& moving, double leaf) {
  pcl::SampleConsensusPrerejective<pcl::PointNormal, pcl::PointNormal, pcl::FPFHSignature33> search;
  search.setInputSource(moving);
  search.setSourceFeatures(features_of(moving, 5 * leaf));
  search.setInputTarget(fixed);
  search.setTargetFeatures(features_of(fixed, 5 * leaf));
  search.setMaximumIterations(50000);
  search.setNumberOfSamples(3);
  search.setCorrespondenceRandomness(5);
  search.setSimilarityThreshold(0.9f);
  search.setMaxCorrespondenceDistance(2.5 * leaf);
  search.setInlierFraction(0.25f);
  PclSurface carried;
  search.align(carried);
  Rigid out;
  out.matrix() = search.getFinalTransformation().cast<double>();
  return out;
}

struct Tally {
  const char* name;
  int found = 0;
  double seconds = 0;
  void print(int draws) const {
    std::printf("  %-9s found %2d of %d, processor %.2f s each\n", name, found, draws, seconds / draws);
  }
};

void compare_poses(const std::string& file, double covered, int draws) {
  Scan scan = scan::read_scan(file);
  const CleanReport cleaned = scan::clean(scan);
  std::vector<Vec3> halves[2];
  for (std::size_t i = 0; i < scan.cloud.points.size(); ++i) halves[i % 2].push_back(scan.cloud.points[i]);
  const double size = size_of(halves[0]), leaf = std::max(size / 60, 2 * cleaned.spacing);
  Vec3 middle = Vec3::Zero();
  for (const Vec3& p : halves[0]) middle += p / double(halves[0].size());
  // The own search takes all points, as the method `nominal` gives them, and thins them itself; PCL's takes the leaves.
  const SurfacePoints fixed = align::thin_surface(halves[0], 0), leaves = align::thin_surface(halves[0], leaf);
  const PoseRefiner refiner(fixed);                    // of either pose
  const Vec3 inside = middle - Vec3(0, 0, 10 * size);  // a face is seen from above
  const auto fixed_pcl = oriented(leaves, inside);
  Random random(50);
  Tally own{"gapfront"}, theirs{"PCL"};
  for (int k = 0; k < draws; ++k) {
    const Vec3 d = random.vector().normalized();
    std::vector<double> along;
    for (const Vec3& p : halves[1]) along.push_back(d.dot(p));
    auto sorted = along;
    const auto cut = sorted.begin() + std::ptrdiff_t(covered * double(sorted.size()));
    std::nth_element(sorted.begin(), cut, sorted.end());
    Rigid off = Rigid::Identity();
    off.translation() = 2 * size * random.vector();
    off.rotate(Eigen::AngleAxisd(2 * M_PI * random.uniform(), random.vector().normalized()));
    std::vector<Vec3> points;
    for (std::size_t i = 0; i < along.size(); ++i) {
      if (along[i] > *cut) continue;
      const Vec3 p = halves[1][i] + 0.05 * random.vector();
      points.push_back(off * (points.size() % 10 == 9 ? Vec3(middle + 0.4 * size * random.vector()) : p));
    }
    const SurfacePoints moving = align::thin_surface(points, 0), thin = align::thin_surface(points, leaf);
    const auto judge = [&](Tally& t, const Rigid& pose) {
      const Rigid error = refiner.refine(moving, pose).motion * off;
      const double turn = Eigen::AngleAxisd(error.linear()).angle() * 180 / M_PI,
                   shift = (error * middle - middle).norm();
      const bool ok = turn < 0.3 && shift < 1e-3 * size;  // what the refinement of so few points allows
      t.found += ok;
      if (!ok) std::printf("  draw %d, %s: off by %.2f degrees and %.2f mm\n", k, t.name, turn, shift);
    };
    double from = processor_seconds();
    const auto poses = align::find_poses(fixed, moving);
    own.seconds += processor_seconds() - from;
    if (!poses.empty()) judge(own, poses[0].motion);
    const auto moving_pcl = oriented(thin, off * inside);
    from = processor_seconds();
    const Rigid pose = by_fpfh(fixed_pcl, moving_pcl, leaf);
    theirs.seconds += processor_seconds() - from;
    judge(theirs, pose);
  }
  std::printf("%s, %.0f %% covered, %zu points thinned to %zu\n", file.c_str(), 100 * covered, halves[0].size(),
              leaves.points.size());
  own.print(draws), theirs.print(draws);
}

/// Spheres one after the other, each taken out before the next is looked for; samples from one neighbourhood, as four
/// points drawn from the whole scan hardly ever lie on one ball.
std::vector<Vec3> balls_by_pcl(std::vector<Vec3> points, double diameter, double noise, std::size_t wanted) {
  std::vector<Vec3> out;
  while (out.size() < wanted) {
    const auto cloud = as_pcl(points);
    auto normals = pcl::make_shared<pcl::PointCloud<pcl::Normal>>();
    pcl::NormalEstimation<pcl::PointXYZ, pcl::Normal> estimation;
    auto tree = pcl::make_shared<pcl::search::KdTree<pcl::PointXYZ>>();
    estimation.setInputCloud(cloud);
    estimation.setSearchMethod(tree);
    estimation.setKSearch(13);
    estimation.compute(*normals);
    const auto model = pcl::make_shared<pcl::SampleConsensusModelNormalSphere<pcl::PointXYZ, pcl::Normal>>(cloud);
    model->setInputNormals(normals);
    model->setNormalDistanceWeight(0.1);
    model->setRadiusLimits(0.48 * diameter, 0.52 * diameter);
    model->setSamplesMaxDist(0.5 * diameter, tree);
    pcl::RandomSampleConsensus<pcl::PointXYZ> search(model, std::max(5 * noise, 0.1));
    search.setMaxIterations(20000);
    if (!search.computeModel()) break;
    Eigen::VectorXf ball;
    search.getModelCoefficients(ball);
    out.push_back(ball.head<3>().cast<double>());
    std::erase_if(points, [&](const Vec3& p) { return (p - out.back()).norm() < 0.55 * diameter; });
  }
  return out;
}

void compare_balls(const std::string& file) {
  const Job job = job::read_job(file);
  Scan scan = scan::read_scan(job.lower.file, job.lower.read);
  const CleanReport cleaned = scan::clean(scan);
  std::vector<Vec3> truth;  // as somebody pointed them out: on the ball, some mm from its centre
  for (const Target& t : job.align.targets)
    if (t.ball && t.lower) truth.push_back(t.lower->at);
  const double diameter = *job.align.targets.at(0).ball;
  const auto hits = [&](const std::vector<Vec3>& found) {
    int n = 0;
    for (const Vec3& b : truth)
      n += std::any_of(found.begin(), found.end(), [&](const Vec3& f) { return (f - b).norm() < diameter / 2; });
    return n;
  };
  double from = processor_seconds();
  std::vector<Vec3> own;
  for (const FoundBall& b : align::search_balls(scan.cloud.points, {cleaned.spacing, cleaned.noise}))
    own.push_back(b.centre.at);
  const double own_time = processor_seconds() - from;
  from = processor_seconds();
  const auto theirs = balls_by_pcl(scan.cloud.points, diameter, cleaned.noise, truth.size());
  const double pcl_time = processor_seconds() - from;
  std::printf("%s, %zu points, %zu balls\n", file.c_str(), scan.cloud.points.size(), truth.size());
  std::printf("  gapfront  %d of them and %zu others, any diameter: processor %.2f s\n", hits(own),
              own.size() - std::size_t(hits(own)), own_time);
  std::printf("  PCL       %d of them and %zu others, diameter given: processor %.2f s\n", hits(theirs),
              theirs.size() - std::size_t(hits(theirs)), pcl_time);
}

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

}  // namespace

int main(int argc, char** argv) try {
  const std::string what = argc > 1 ? argv[1] : "";
  const char* draws = std::getenv("DRAWS");
  if (what == "cleaning") compare_cleaning(argc > 2 ? std::atof(argv[2]) : 1);
  if (what == "swarm") compare_swarm();
  for (int i = 2; i < argc && what != "cleaning"; ++i) {
    if (what == "balls") compare_balls(argv[i]);
    if (what == "poses")
      for (const double covered : {0.6, 0.4}) compare_poses(argv[i], covered, draws ? std::atoi(draws) : 50);
  }
} catch (const std::exception& e) {
  std::fprintf(stderr, "%s\n", e.what());
  return 1;
}
