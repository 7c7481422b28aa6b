// Files beside the scans: painted meshes, thicknesses at places, and a probe's tip.
#include <catch2/catch.hpp>
#include "files.hpp"

using namespace gapfront;
using files::bytes;
using files::fault;
using files::has;

namespace {

const Rgb kRed{200, 0, 0}, kBlue{0, 0, 255};

template <class Read>
std::string complaint(const Read& read) {
  try {
    read();
  } catch (const Error& e) {
    return e.fault == Fault::input ? e.what() : "not an input fault";
  }
  return "";
}

std::string painted_fault(const std::string& text) {
  return complaint([&] { scan::read_painted_mesh(files::write("bad.ply", text)); });
}
std::string values_fault(const std::string& text) {
  return complaint([&] { scan::read_place_values(files::write("bad.csv", text)); });
}

}  // namespace

TEST_CASE("Each face of a painted mesh keeps its own colour, a quadrangle for both of its triangles") {
  const PaintedMesh m = scan::read_painted_mesh(
      files::write("p.ply",
                   "ply\nformat ascii 1.0\nelement vertex 5\nproperty float x\nproperty float y\nproperty float z\n"
                   "element face 2\nproperty list uchar int vertex_indices\nproperty uchar red\nproperty uchar green\n"
                   "property uchar blue\nend_header\n0 0 0\n1 0 0\n1 1 0\n0 1 0\n2 0 0\n4 0 1 2 3 200 0 0\n"
                   "3 1 4 2 0 0 255\n"),
      25.4);
  REQUIRE(m.mesh.triangles.size() == 3);
  CHECK(m.mesh.triangles[1] == std::array{0, 2, 3});
  CHECK(m.mesh.points[4] == Vec3(50.8, 0, 0));
  CHECK(m.paint == std::vector<Rgb>{kRed, kRed, kBlue});
}

TEST_CASE("A face without a colour of its own takes that of most of its corners, in both byte orders") {
  for (bool big : {false, true}) {
    std::string s = "ply\nformat binary_" + std::string(big ? "big" : "little") +
                    "_endian 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n"
                    "property uchar red\nproperty uchar green\nproperty uchar blue\nelement face 2\n"
                    "property list uchar int vertex_index\nend_header\n";
    const auto vertex = [&](float x, float y, const Rgb& c) {
      s += bytes(x, big) + bytes(y, big) + bytes(0.f, big) + bytes(c[0]) + bytes(c[1]) + bytes(c[2]);
    };
    vertex(0, 0, kBlue), vertex(1, 0, kRed), vertex(1, 1, kRed), vertex(0, 1, kBlue);
    for (const std::array<int, 3>& t : {std::array{0, 1, 2}, std::array{0, 2, 3}}) {
      s += bytes<std::uint8_t>(3);
      for (int v : t) s += bytes<std::int32_t>(v, big);
    }
    CHECK(scan::read_painted_mesh(files::write("v.ply", s)).paint == std::vector<Rgb>{kRed, kBlue});
  }
}

TEST_CASE("A painted mesh without paint, without faces or cut short is refused with the remedy") {
  const std::string head =
      "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n";
  const std::string faces = "element face 1\nproperty list uchar int vertex_indices\nend_header\n";
  CHECK(has(painted_fault(head + faces + "0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"), "no colours"));
  CHECK(has(painted_fault(head + "end_header\n0 0 0\n1 0 0\n0 1 0\n"), "no faces"));
  CHECK(has(painted_fault(head + faces + "0 0 0\n1 0 0\n0 1 0\n"), "ends early"));
  CHECK(has(painted_fault(head + faces + "0 0 0\n1 0 0\n0 1 0\n3 0 1 7\n"), "vertex that is not there"));
  CHECK(has(painted_fault("solid s\nendsolid s\n"), "must be PLY"));
}

TEST_CASE("Thicknesses at places are read with titles in any order, a decimal comma and a unit") {
  const PlaceValues v = scan::read_place_values(
      files::write("t.csv", "thickness;x;y;z\n# invented\n0,12;1;0;0\n0,13;0;1;0\n0,125;0;0;2\n"), 25.4);
  REQUIRE(v.values.size() == 3);
  CHECK(v.values[0] == Approx(0.12 * 25.4));
  CHECK(v.places[2] == Vec3(0, 0, 50.8));
}

TEST_CASE("A place without a thickness is refused with its line, and two places are too few") {
  CHECK(has(values_fault("0 0 0 3\n1 0 0 3\n0 1 0\n"), ":3: expected x, y, z and a thickness"));
  CHECK(has(values_fault("0 0 0 3\n1 0 0 3\n"), "fewer than 3 places"));
}

TEST_CASE("A probe's tip goes off along the approach, or against the normal") {
  // Tip of 2 mm on a face z = 0 felt from above: centres at z = 2, approach (0, 0, −1), normal (0, 0, 1).
  ReadOptions o;
  o.tip_radius = 2;
  o.columns = "x y z i j k";
  for (const Vec3& p : scan::read_scan(files::write("a.xyz", "0 0 2 0 0 -1\n1 0 2 0 0 -1\n"), o).cloud.points)
    CHECK(p.z() == Approx(0).margin(1e-6));
  o.columns = "";
  const Scan titled = scan::read_scan(files::write("n.csv", "x,y,z,nx,ny,nz\n0,0,2,0,0,1\n1,0,2,0,0,1\n"), o);
  for (const Vec3& p : titled.cloud.points) CHECK(p.z() == Approx(0).margin(1e-6));
  CHECK(titled.tip_radius == 0);
}

TEST_CASE("Without directions the tip is left on and said to be, and unnamed directions are refused") {
  ReadOptions o;
  o.tip_radius = 2;
  const Scan scan = scan::read_scan(files::write("c.xyz", "0 0 2\n1 0 2\n"), o);
  CHECK(scan.tip_radius == 2);
  CHECK(scan.cloud.points[0] == Vec3(0, 0, 2));
  CHECK(has(fault(files::write("u.xyz", "0 0 2 0 0 -1\n1 0 2 0 0 -1\n"), o), "x y z i j k"));
}
