// Coarse poses, balls and dowels beside PCL's, on the same points in the same run:
//   pcl_bench poses SCAN… | balls JOB… | dowels | read FILE.pcd…
// SCAN: a surface; each is searched for in itself from random poses, half of its points against the other half, 60 %
// and then 40 % of it covered, with noise and 10 % stray points (DRAWS poses, else 50). JOB: its lower scan, and where
// its balls are. Dowels: of 12 mm, and holes, in a land around a dished face.
#include <pcl/common/transforms.h>
#include <pcl/console/print.h>
#include <pcl/features/fpfh.h>
#include <pcl/features/normal_3d.h>
#include <pcl/io/pcd_io.h>
#include <pcl/registration/sample_consensus_prerejective.h>
#include <pcl/sample_consensus/ransac.h>
#include <pcl/sample_consensus/sac_model_cylinder.h>
#include <pcl/sample_consensus/sac_model_normal_sphere.h>
#include <pcl/search/kdtree.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include "gapfront/balls.hpp"
#include "gapfront/job.hpp"
#include "gapfront/pose.hpp"
#include "gapfront/scan.hpp"
#include "pcl_bench.hpp"

using namespace gapfront;
using namespace gapfront::bench;

namespace {

using PclSurface = pcl::PointCloud<pcl::PointNormal>;

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

using PclTree = pcl::search::KdTree<pcl::PointXYZ>::Ptr;

/// Shapes of one kind, one after the other, each taken out within `clear` before the next is looked for. `limit` gives
/// the model what is known; samples come from one neighbourhood, as points drawn from the whole scan hardly ever lie on
/// one shape. `place_of`: its coefficients → where it is.
template <class Model, class Limit, class PlaceOf>
std::vector<Vec3> shapes_by_pcl(std::vector<Vec3> points, double noise, double clear, std::size_t wanted, Limit limit,
                                PlaceOf place_of) {
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
    const auto model = pcl::make_shared<Model>(cloud);
    model->setInputNormals(normals);
    model->setNormalDistanceWeight(0.1);
    limit(*model, tree);
    pcl::RandomSampleConsensus<pcl::PointXYZ> search(model, std::max(5 * noise, 0.1));
    search.setMaxIterations(20000);
    if (!search.computeModel()) break;
    Eigen::VectorXf found;
    search.getModelCoefficients(found);
    out.push_back(place_of(Eigen::VectorXd(found.cast<double>())));
    std::erase_if(points, [&](const Vec3& p) { return (p - out.back()).norm() < clear; });
  }
  return out;
}

std::vector<Vec3> balls_by_pcl(const std::vector<Vec3>& points, double diameter, double noise, std::size_t wanted) {
  using Model = pcl::SampleConsensusModelNormalSphere<pcl::PointXYZ, pcl::Normal>;
  const auto limit = [&](Model& m, const PclTree& tree) {
    m.setRadiusLimits(0.48 * diameter, 0.52 * diameter);
    m.setSamplesMaxDist(0.5 * diameter, tree);
  };
  return shapes_by_pcl<Model>(points, noise, 0.55 * diameter, wanted, limit,
                              [](const Eigen::VectorXd& ball) { return Vec3(ball.head<3>()); });
}

/// Of the diameter given and square to the land.
std::vector<Vec3> dowels_by_pcl(const std::vector<Vec3>& points, double diameter, double noise, std::size_t wanted) {
  using Model = pcl::SampleConsensusModelCylinder<pcl::PointXYZ, pcl::Normal>;
  const auto limit = [&](Model& m, const PclTree& tree) {
    m.setRadiusLimits(0.48 * diameter, 0.52 * diameter);
    m.setAxis(Eigen::Vector3f::UnitZ());
    m.setEpsAngle(5 * M_PI / 180);
    m.setSamplesMaxDist(diameter, tree);
  };
  return shapes_by_pcl<Model>(points, noise, 1.5 * diameter, wanted, limit, [](const Eigen::VectorXd& dowel) {
    const Vec3 at = dowel.head<3>(), axis = dowel.segment<3>(3).normalized();
    return Vec3(at - axis * (at.z() / axis.z()));
  });
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

/// A land of 500 mm by 400 mm around a dish, with two dowels and two holes of 12 mm at its corners.
std::vector<Vec3> land_with_dowels(const std::vector<Vec3>& dowels, double spacing) {
  Random random(9);
  std::vector<Vec3> out;
  for (double x = -250; x <= 250; x += spacing)
    for (double y = -200; y <= 200; y += spacing) {
      const double a = x + 0.3 * random.uniform(), b = y + 0.3 * random.uniform();
      const auto on_dowel = [&](const Vec3& d) { return std::hypot(a - d.x(), b - d.y()) < 6; };
      if (std::any_of(dowels.begin(), dowels.end(), on_dowel)) continue;
      const double in = std::max(std::abs(a) / 180, std::abs(b) / 130);
      out.push_back({a, b, -40 / (1 + std::exp((in - 1) * 40)) + 0.02 * random.gauss()});
    }
  for (std::size_t k = 0; k < dowels.size(); ++k)
    for (double h = spacing; h < 12; h += spacing)
      for (double turn = 0; turn < 2 * M_PI; turn += spacing / 6) {
        const double r = 6 + 0.02 * random.gauss();
        out.push_back(dowels[k] + Vec3(r * std::cos(turn), r * std::sin(turn), k % 2 ? -h : h));
      }
  return out;
}

void compare_dowels() {
  const std::vector<Vec3> truth{{-220, -170, 0}, {220, -170, 0}, {220, 170, 0}, {-200, 170, 0}};
  for (const double spacing : {1.0, 2.0}) {
    const auto points = land_with_dowels(truth, spacing);
    const auto print = [&](const char* name, const std::vector<Vec3>& found, double seconds) {
      int hits = 0;
      double worst = 0;
      for (const Vec3& t : truth)
        for (const Vec3& f : found)
          if (const double off = (f - t).head<2>().norm(); off < 1) ++hits, worst = std::max(worst, off);
      std::printf("  %-9s %d of 4 and %d others, to %.3f mm: processor %.2f s\n", name, hits, int(found.size()) - hits,
                  worst, seconds);
    };
    std::printf("dowels, %zu points, %.0f mm apart\n", points.size(), spacing);
    double from = processor_seconds();
    std::vector<Vec3> own;
    for (const FoundDowel& d : align::search_dowels(points, {spacing, 0.02})) own.push_back(d.at.at);
    print("gapfront", own, processor_seconds() - from);
    from = processor_seconds();
    const auto theirs = dowels_by_pcl(points, 12, 0.02, truth.size());
    print("PCL", theirs, processor_seconds() - from);
  }
}

/// The least of three: what else runs, and the first reading from the disk, make one longer.
template <class F>
double least_of_three(F read) {
  double least = 1e300;
  for (int k = 0; k < 3; ++k) {
    const double from = processor_seconds();
    read();
    least = std::min(least, processor_seconds() - from);
  }
  return least;
}

/// Import of one PCD file: the bytes alone, the own reader (in double precision, with the file's hash), and PCL's.
void compare_readers(const char* file) {
  std::vector<char> bytes(std::filesystem::file_size(file));
  std::size_t points = 0;
  const double alone = least_of_three([&] {
    std::FILE* in = std::fopen(file, "rb");
    if (!in || std::fread(bytes.data(), 1, bytes.size(), in) != bytes.size())
      throw std::runtime_error(std::string(file) + ": cannot be read");
    std::fclose(in);
  });
  const double own = least_of_three([&] { points = scan::read_scan(file).cloud.points.size(); });
  const double theirs = least_of_three([&] {
    pcl::PointCloud<pcl::PointXYZ> cloud;
    pcl::io::loadPCDFile(file, cloud);
  });
  std::printf("%s, %zu points, %.1f MB: processor, bytes alone %.3f s, gapfront %.3f s, PCL %.3f s\n", file, points,
              1e-6 * double(bytes.size()), alone, own, theirs);
}

}  // namespace

int main(int argc, char** argv) try {
  const std::string what = argc > 1 ? argv[1] : "";
  const char* draws = std::getenv("DRAWS");
  pcl::console::setVerbosityLevel(pcl::console::L_ALWAYS);  // not a line for each sample that is no cylinder
  if (what == "dowels") compare_dowels();
  for (int i = 2; i < argc; ++i) {
    if (what == "balls") compare_balls(argv[i]);
    if (what == "read") compare_readers(argv[i]);
    if (what == "poses")
      for (const double covered : {0.6, 0.4}) compare_poses(argv[i], covered, draws ? std::atoi(draws) : 50);
  }
} catch (const std::exception& e) {
  std::fprintf(stderr, "%s\n", e.what());
  return 1;
}
