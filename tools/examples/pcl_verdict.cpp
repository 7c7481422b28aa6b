// Two PCL clouds to a verdict, without a file: as they come from a scanner's driver, each in the scanner's own frame,
// with three marks seen in both.
#include <pcl/point_types.h>

#include <cstdio>
#include <exception>
#include <vector>

#include <gapfront/gapfront.hpp>
#include <gapfront/pcl.hpp>

using namespace gapfront;

namespace {

constexpr double kLength = 0.2, kWidth = 0.12, kGap = 0.0032;  // metres, as PCL's drivers give them
constexpr double kMetre = 1000;                                // mm

/// A flat face seen from a place of the scanner's own; a hole of the scan is a point that is no number.
pcl::PointCloud<pcl::PointXYZ> scan_of_face(double z, double shift, const Rigid& to_scanner) {
  pcl::PointCloud<pcl::PointXYZ> out;
  for (double x = -0.01 + shift; x <= kLength + 0.01; x += 0.001)
    for (double y = -0.01 + shift; y <= kWidth + 0.01; y += 0.001) {
      const Vec3f p = (to_scanner * Vec3(x, y, z)).cast<float>();
      out.push_back({p.x(), p.y(), p.z()});
    }
  out.push_back({NAN, NAN, NAN});
  return out;
}

}  // namespace

int main() try {
  Rigid lower_seen = Rigid::Identity(), upper_seen = Rigid::Identity();
  lower_seen.translation() = Vec3(0.3, -0.1, 0.8);
  upper_seen.rotate(Eigen::AngleAxisd(3, Vec3(1, 0.1, 0).normalized()));  // on its back
  const auto lower_cloud = scan_of_face(0, 0, lower_seen);
  const auto upper_cloud = scan_of_face(kGap, 0.0005, upper_seen);

  Scan lower = scan::from_pcl(lower_cloud, kMetre), upper = scan::from_pcl(upper_cloud, kMetre);
  const CleanReport lower_clean = scan::clean(lower), upper_clean = scan::clean(upper);

  AlignOptions marks;
  for (const Vec3& p : {Vec3(-0.01, -0.01, 0), Vec3(kLength + 0.01, -0.01, 0), Vec3(0, kWidth + 0.01, 0)}) {
    Target mark;
    mark.name = "mark " + std::to_string(marks.targets.size() + 1);
    mark.lower = ScanPlace{kMetre * (lower_seen * p)}, mark.upper = ScanPlace{kMetre * (upper_seen * p)};
    mark.tool = kMetre * p, mark.u = 0.02;
    marks.targets.push_back(mark);
  }
  const Alignment closed = align::register_halves(lower, upper, marks, {lower_clean.noise, upper_clean.noise});
  const auto in_tool = [](const Scan& s, const ScanToTool& pose, const CleanReport& c) {
    std::vector<Vec3> points;
    for (const Vec3& p : s.cloud.points) points.push_back(pose * ScanPlace{p});
    return Surface(std::move(points), {.spacing = c.spacing, .noise = c.noise});
  };
  const Surface low = in_tool(lower, closed.lower_to_tool, lower_clean),
                high = in_tool(upper, closed.upper_to_tool, upper_clean);

  SheetOptions face;
  face.edge = 6;
  const double length = kMetre * kLength, width = kMetre * kWidth;
  face.seal = {{0, 0, 0}, {length, 0, 0}, {length, width, 0}, {0, width, 0}};
  const Sheet sheet = cavity::build_sheet(low, high, face);
  ToleranceOptions limits;  // 3 mm ± 0.3 mm
  GapOptions search;
  search.nominal = limits.nominal;
  const GapMap gap = cavity::measure_gap(sheet, low, high, closed, search);
  const Verdict verdict = conformity::judge(sheet, gap, limits);
  std::printf("%s\nmean gap %.4f mm of %llu + %llu points\n", say(verdict.headline).c_str(),
              limits.nominal + verdict.mean, static_cast<unsigned long long>(lower_clean.kept),
              static_cast<unsigned long long>(upper_clean.kept));
} catch (const std::exception& e) {
  std::fprintf(stderr, "%s\n", e.what());
  return 1;
}
