// A half in several scans, measured as one.
#include <stdlib.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>

#include "../random.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/text.hpp"
#include "test_paths.hpp"

using namespace gapfront;

namespace {

/// With normals of either sign, as of a scan that was never oriented, where asked for: nothing may depend on them.
void write_points(const std::filesystem::path& file, const std::vector<Vec3>& points, bool normals = false) {
  std::ofstream out(file);
  out << "X [mm] Y [mm] Z [mm]" << (normals ? " nx ny nz\n" : "\n");
  out.precision(10);
  int sign = 1;
  for (const Vec3& p : points) {
    out << p.x() << " " << p.y() << " " << p.z();
    if (normals) out << " 0 0 " << (sign = -sign);
    out << "\n";
  }
}

}  // namespace

TEST_CASE(
    "A half in several scans, two of them in one file, gives the gap of the whole scan, with the joints in its U") {
  std::string name = (std::filesystem::temp_directory_path() / "gapfront-patches-XXXXXX").string();
  REQUIRE(mkdtemp(name.data()));
  const std::filesystem::path folder = name;
  Job job = job::read_job(SOURCE_DIR "/scans/new-tool.toml");
  job.sheet.edge = 12;  // the map need not be fine
  const Measured whole = pipeline::measure(job);
  const Rigid to_tool = whole.alignment.lower_to_tool.motion;
  // Cut across the tool; the second patch lies a millimetre off, as scanners that track themselves leave it.
  Rigid off = Rigid::Identity();
  off.rotate(Eigen::AngleAxisd(0.002, Vec3(1, 2, -1).normalized()));
  off.translation() = Vec3(0.6, -0.5, 0.4);
  std::vector<Vec3> left, right, low, high;  // the left one in two scans of an E57 file
  for (const Vec3& p : scan::read_scan(job.lower.file).cloud.points) {
    const double x = (to_tool * p).x();
    if (x < 60) left.push_back(p);
    if (x > -60) right.push_back(off * p);
  }
  for (const Vec3& p : left) {
    const double y = (to_tool * p).y();
    if (y < 40) low.push_back(p);
    if (y > -40) high.push_back(p);
  }
  write_points(folder / "low.txt", low), write_points(folder / "high.txt", high),
      write_points(folder / "b.txt", right, true);
  REQUIRE(std::system(("/usr/bin/python3 -B " SOURCE_DIR "/tests/external/e57_write.py " + name + "/a.e57 " + name +
                       "/low.txt " + name + "/high.txt")
                          .c_str()) == 0);
  job.lower.read.unit.reset();  // both files say theirs
  job.lower.file = folder / "a.e57", job.lower.more = {{folder / "b.txt", {}, 0}};
  const Measured joined = pipeline::measure(job);
  std::filesystem::remove_all(folder);
  CHECK(say(joined.warnings).find("b.txt was joined to the scans before it") != std::string::npos);
  CHECK(say(joined.warnings).find("a.e57, scan 2 (\"station 2\") was joined to") != std::string::npos);
  CHECK(joined.lower_format == "E57");
  REQUIRE(joined.extra_inputs.size() == 1);
  CHECK(joined.extra_inputs[0].file == "b.txt");
  CHECK(joined.lower_sha256.size() == 64);
  REQUIRE(joined.lower_patches.size() == 2);
  CHECK(joined.lower_patches[1].path == "b.txt");
  CHECK(joined.lower_patches[1].overlap > 0.1);
  CHECK(joined.upper_patches.empty());
  CHECK(joined.job.gap.u_instrument > whole.job.gap.u_instrument);
  CHECK(joined.job.gap.u_instrument < 0.03);
  // Of the whole scan's nodes that the other sheet has as well: within U nearly everywhere.
  int compared = 0, within = 0;
  for (std::size_t i = 0; i < whole.sheet.size(); i += 3) {
    if (!whole.gap.nodes[i].measured) continue;
    std::size_t best = 0;
    for (std::size_t k = 1; k < joined.sheet.size(); ++k)
      if ((joined.sheet.mesh.points[k] - whole.sheet.mesh.points[i]).squaredNorm() <
          (joined.sheet.mesh.points[best] - whole.sheet.mesh.points[i]).squaredNorm())
        best = k;
    if (!joined.gap.nodes[best].measured) continue;
    ++compared;
    within += std::abs(joined.gap.nodes[best].gap - whole.gap.nodes[i].gap) < joined.gap.nodes[best].U;
  }
  REQUIRE(compared > 100);
  CHECK(within > 0.95 * compared);
}
