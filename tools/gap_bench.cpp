// Times import, cleaning, index, and gap on dense invented scans of a gently curved mold, and the index beside
// nanoflann used plainly: gap_bench MILLIONS [NODES]. One size per run, so that the peak memory printed is that size's
// own. Points per half in millions.
#include <sys/resource.h>

#include <chrono>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <nanoflann.hpp>
#include <random>
#include <vector>

#include "gapfront/cavity.hpp"
#include "gapfront/scan.hpp"

using namespace gapfront;

namespace {

constexpr double side = 1000;  // mm: a mold of one square metre

double seconds() { return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count(); }

/// Peak resident memory so far, bytes.
double peak() {
  rusage use{};
  getrusage(RUSAGE_SELF, &use);
  return 1024.0 * double(use.ru_maxrss);
}

/// Waves of 400 mm length and 20 mm height: radii from some 200 mm up.
double height(double x, double y) { return 10 * std::sin(x / 64) * std::cos(y / 64); }

/// Scan lines with jitter along the face and 20 µm of noise, as a binary PLY.
void write_half(const std::string& file, std::size_t rows, double lift, unsigned seed) {
  std::mt19937_64 dice(seed);
  std::normal_distribution<double> noise(0, 0.02);
  std::uniform_real_distribution<double> jitter(-0.25, 0.25);
  std::ofstream out(file, std::ios::binary);
  out << "ply\nformat binary_little_endian 1.0\nelement vertex " << rows * rows
      << "\nproperty float x\nproperty float y\nproperty float z\nend_header\n";
  const double step = side / double(rows);
  std::vector<float> line(3 * rows);
  for (std::size_t j = 0; j < rows; ++j) {
    for (std::size_t i = 0; i < rows; ++i) {
      const double x = (double(i) + jitter(dice)) * step, y = (double(j) + jitter(dice)) * step;
      line[3 * i] = float(x), line[3 * i + 1] = float(y), line[3 * i + 2] = float(height(x, y) + lift + noise(dice));
    }
    out.write(reinterpret_cast<const char*>(line.data()), std::streamsize(line.size() * sizeof(float)));
  }
}

/// The lower face itself as a grid of nodes.
Sheet nodes(std::size_t wanted) {
  const int n = std::max(2, int(std::lround(std::sqrt(double(wanted)))));
  Mesh mesh;
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) {
      // Ten mm inside the scans' edge.
      const double x = 10 + (side - 20) * i / (n - 1), y = 10 + (side - 20) * j / (n - 1);
      mesh.points.emplace_back(x, y, height(x, y));
    }
  for (int j = 0; j + 1 < n; ++j)
    for (int i = 0; i + 1 < n; ++i) {
      const int a = j * n + i;
      mesh.triangles.push_back({a, a + 1, a + n + 1});
      mesh.triangles.push_back({a, a + n + 1, a + n});
    }
  return cavity::make_sheet(std::move(mesh));
}

/// As nanoflann's own examples use it, ten points a leaf.
struct Plain {
  const std::vector<Vec3>& points;
  std::size_t kdtree_get_point_count() const { return points.size(); }
  double kdtree_get_pt(std::size_t i, std::size_t axis) const { return points[i][Eigen::Index(axis)]; }
  template <class Box>
  bool kdtree_get_bbox(Box&) const {
    return false;
  }
};
using PlainTree =
    nanoflann::KDTreeSingleIndexAdaptor<nanoflann::L2_Simple_Adaptor<double, Plain>, Plain, 3, std::uint32_t>;

/// All points within five spacings of the nodes: what every fit asks for, and what bounds the gap.
void beside_nanoflann(const Surface& surface, const std::vector<Vec3>& places) {
  const double radius = 5 * surface.spacing();
  double start = seconds();
  const Surface own(surface.points(), {.spacing = surface.spacing(), .noise = surface.noise()});
  const double own_built = seconds() - start;
  start = seconds();
  const Plain plain{surface.points()};
  const PlainTree tree(3, plain);
  const double plain_built = seconds() - start;
  std::vector<int> found;
  std::size_t by_own = 0, by_plain = 0;
  start = seconds();
  for (const Vec3& p : places) own.within(p, radius, found), by_own += found.size();
  const double own_asked = seconds() - start;
  std::vector<std::pair<std::uint32_t, double>> matches;
  nanoflann::SearchParams any_order;
  any_order.sorted = false;
  start = seconds();
  for (const Vec3& p : places) by_plain += tree.radiusSearch(p.data(), radius * radius, matches, any_order);
  const double plain_asked = seconds() - start, n = double(places.size());
  std::printf(
      "  index of one half %.2f s, nanoflann %.2f s; all within five spacings %.1f µs (%.1f points), nanoflann %.1f µs "
      "(%.1f points)\n",
      own_built, plain_built, 1e6 * own_asked / n, double(by_own) / n, 1e6 * plain_asked / n, double(by_plain) / n);
}

}  // namespace

int main(int argc, char** argv) {
  const double millions = argc > 1 ? std::atof(argv[1]) : 1;
  const auto wanted = std::size_t(argc > 2 ? std::atof(argv[2]) : 20000);
  const auto rows = std::size_t(std::lround(std::sqrt(1e6 * millions)));
  const double points = 2 * double(rows * rows);
  const char* folder = std::getenv("TMPDIR");
  const std::string base = std::string(folder ? folder : "/tmp") + "/gap_bench_";
  write_half(base + "lower.ply", rows, 0, 1);
  write_half(base + "upper.ply", rows, 3, 2);
  const double before = peak();
  double start = seconds();
  const auto lap = [&] {
    const double now = seconds(), took = now - start;
    start = now;
    return took;
  };
  double read = 0, cleaned = 0, index = 0;
  // As the program does it: both halves read and cleaned, then each moved into its index and released.
  std::vector<Scan> scans;
  std::vector<CleanReport> reports;
  for (const char* half : {"lower.ply", "upper.ply"}) {
    lap();
    ReadOptions mm;
    mm.unit = 1;
    scans.push_back(scan::read_scan(base + half, mm));
    read += lap();
    std::remove((base + half).c_str());
  }
  for (Scan& s : scans) {
    lap();
    reports.push_back(scan::clean(s));
    cleaned += lap();
  }
  std::vector<Surface> halves;
  for (std::size_t k = 0; k < 2; ++k) {
    halves.push_back(
        Surface(std::move(scans[k].cloud.points), {.spacing = reports[k].spacing, .noise = reports[k].noise}));
    scans[k] = {};
  }
  index = lap();
  const double memory = peak();
  const Sheet sheet = nodes(wanted);
  lap();
  const std::clock_t spent = std::clock();
  const GapMap map = cavity::measure_gap(sheet, halves[0], halves[1], {}, {});
  const double gap = lap(), processor = double(std::clock() - spent) / CLOCKS_PER_SEC;
  std::size_t measured = 0;
  for (const NodeGap& g : map.nodes) measured += g.measured;
  std::printf(
      "2 x %.1f M points: read %.1f s, clean %.1f s, index %.1f s (%.2f µs a point in all), peak %.0f bytes a point\n"
      "  gap: %zu of %zu nodes in %.2f s of wall time, %.1f µs of processor time a node\n",
      points / 2e6, read, cleaned, index, 1e6 * (read + cleaned + index) / points, (memory - before) / points, measured,
      sheet.size(), gap, 1e6 * processor / double(sheet.size()));
  beside_nanoflann(halves[0], sheet.mesh.points);
}
