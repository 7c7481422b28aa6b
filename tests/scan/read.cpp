// Files are written here byte by byte from the public descriptions of the formats (PLY: G. Turk, Stanford 1994; PCD
// .7; STL: 80 bytes, count, 50 bytes per triangle; from memory), never by the code under test.
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include "files.hpp"

using namespace gapfront;
using files::bytes;
using files::fault;
using files::has;

namespace {
const std::string kTriangle =
    "solid s\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\n"
    "endloop\nendfacet\nfacet normal 0 0 1\nouter loop\nvertex 1 0 0\nvertex 1 1 0\n"
    "vertex 0 1 0\nendloop\nendfacet\nendsolid s\n";

std::string ply_header(const std::string& format, int n, const std::string& rest) {
  return "ply\nformat " + format + " 1.0\ncomment invented\nelement vertex " + std::to_string(n) + "\n" + rest +
         "end_header\n";
}
const std::string kXyz = "property float x\nproperty float y\nproperty float z\n";
}  // namespace

TEST_CASE("A binary PLY with mixed types, lists and another element first gives its vertices, in both byte orders") {
  for (bool big : {false, true}) {
    std::string s = "ply\nformat binary_" + std::string(big ? "big" : "little") +
                    "_endian 1.0\nelement view 2\nproperty list uchar int ids\nelement vertex 2\nproperty uchar red\n"
                    "property double z\nproperty list uchar short tags\nproperty float y\nproperty int x\n"
                    "element face 1\nproperty list uchar int vertex_indices\nend_header\n";
    s += bytes<std::uint8_t>(2) + bytes<std::int32_t>(7, big) + bytes<std::int32_t>(8, big) + bytes<std::uint8_t>(0);
    s += bytes<std::uint8_t>(255) + bytes(3.25, big) + bytes<std::uint8_t>(1) + bytes<std::int16_t>(5, big) +
         bytes(2.5f, big) + bytes<std::int32_t>(-1, big);
    s += bytes<std::uint8_t>(9) + bytes(-6.5, big) + bytes<std::uint8_t>(0) + bytes(5.f, big) +
         bytes<std::int32_t>(4, big);
    const Scan scan = scan::read_scan(files::write("mixed.ply", s));
    REQUIRE(scan.cloud.points.size() == 2);
    CHECK(scan.cloud.points[0] == Vec3(-1, 2.5, 3.25));
    CHECK(scan.cloud.points[1] == Vec3(4, 5, -6.5));
    CHECK(scan.declared_points == 2);
  }
}

TEST_CASE(
    "Binary records that cross the blocks a file is read in come out whole, and a file cut off there is refused") {
  // 13 and 17 bytes a record; a block is a megabyte.
  constexpr int n = 200000;
  std::string ply = ply_header("binary_little_endian", n, kXyz + "property uchar red\n");
  std::string pcd =
      "# .PCD v0.7\nVERSION 0.7\nFIELDS x y z i c\nSIZE 4 4 4 4 1\nTYPE F F F F U\nCOUNT 1 1 1 1 1\nWIDTH " +
      std::to_string(n) + "\nHEIGHT 1\nPOINTS " + std::to_string(n) + "\nDATA binary\n";
  for (int i = 0; i < n; ++i) {
    const std::string xyz = bytes(float(i)) + bytes(float(2 * i)) + bytes(0.5f);
    ply += xyz + bytes<std::uint8_t>(7), pcd += xyz + bytes(1.f) + bytes<std::uint8_t>(7);
  }
  for (const auto& [name, content] : {std::pair{"blocks.ply", ply}, std::pair{"blocks.pcd", pcd}}) {
    const Scan scan = scan::read_scan(files::write(name, content));
    REQUIRE(scan.cloud.points.size() == n);
    bool whole = true;
    for (int i = 0; i < n; ++i) whole = whole && scan.cloud.points[i] == Vec3(i, 2 * i, 0.5);
    CHECK(whole);
  }
  CHECK(has(fault(files::write("cut.ply", ply.substr(0, ply.size() - 5))), "199999 present"));
  CHECK(has(fault(files::write("cut.pcd", pcd.substr(0, pcd.size() - 17 * 100))), "199900 present"));
}

TEST_CASE("An ascii PLY with CRLF line ends gives points and unit normals") {
  const Scan scan = scan::read_scan(files::write(
      "n.ply",
      "ply\r\nformat ascii 1.0\r\nelement vertex 1\r\nproperty float x\r\nproperty float y\r\nproperty float "
      "z\r\nproperty float nx\r\nproperty float ny\r\nproperty float nz\r\nend_header\r\n1 2 3 0 0 2\r\n"));
  CHECK(scan.cloud.points.at(0) == Vec3(1, 2, 3));
  CHECK(scan.cloud.normals.at(0) == Vec3f(0, 0, 1));
}

TEST_CASE("The declared unit scales the points and is remembered") {
  ReadOptions inch;
  inch.unit = 25.4;
  const auto file = files::write("u.xyz", "1 0 0\n0 1 0\n0 0 2\n");
  CHECK(scan::read_scan(file, inch).cloud.points[2] == Vec3(0, 0, 50.8));
  CHECK(scan::read_scan(file, inch).unit_declared);
  CHECK_FALSE(scan::read_scan(file).unit_declared);
}

TEST_CASE("NaN and infinite points are left out and counted") {
  const float bad = std::numeric_limits<float>::quiet_NaN(), inf = std::numeric_limits<float>::infinity();
  const std::string s = ply_header("binary_little_endian", 3, kXyz) + bytes(1.f) + bytes(bad) + bytes(1.f) +
                        bytes(1.f) + bytes(2.f) + bytes(3.f) + bytes(inf) + bytes(0.f) + bytes(0.f);
  const Scan scan = scan::read_scan(files::write("nan.ply", s));
  CHECK(scan.cloud.points.size() == 1);
  CHECK(scan.nonfinite_dropped == 2);
  CHECK(scan::read_scan(files::write("nan.xyz", "1 2 3\nnan nan nan\n4 5 inf\n")).nonfinite_dropped == 2);
  CHECK(has(fault(files::write("all.xyz", "nan 1 2\nnan nan nan\n")), "all 2 points are NaN or infinite"));
}

TEST_CASE("A truncated binary PLY says how many points were promised and how many are present") {
  const std::string s = ply_header("binary_little_endian", 10, kXyz) + std::string(12 * 4 + 5, '\0');
  const std::string f = fault(files::write("cut.ply", s));
  CHECK(has(f, "10 vertex records promised, 4 present"));
  CHECK(has(f, "byte " + std::to_string(s.size())));
}

TEST_CASE("A header that promises more points than memory holds is refused by the file's end, not by memory") {
  const std::string s = "ply\nformat binary_little_endian 1.0\nelement vertex 400000000000\n" + kXyz + "end_header\n";
  CHECK(has(fault(files::write("huge.ply", s + std::string(24, '\0'))), "400000000000 vertex records promised, 2"));
}

TEST_CASE("A missing file, a folder and an empty file each give one clear line") {
  CHECK(has(fault("/nowhere/at/all.ply"), "/nowhere/at/all.ply: no such file"));
  CHECK(has(fault(std::filesystem::temp_directory_path()), "is a folder"));
  CHECK(has(fault(files::write("empty.ply", "")), "the file is empty"));
}

TEST_CASE("A job file that is given as a scan is told from one") {
  for (const char* name : {"a.toml", "a.txt"})
    CHECK(has(fault(files::write(name, "# mine\n[job]\nname = \"a\"\n")), "is a job file and no scan"));
}

TEST_CASE("A file whose content contradicts its extension is refused") {
  CHECK(has(fault(files::write("wrong.ply", "1 2 3\n4 5 6\n")), "extension .ply says PLY, its content is text"));
  CHECK(has(fault(files::write("wrong.xyz", ply_header("ascii", 1, kXyz) + "0 0 0\n")), "its content is PLY"));
  CHECK(has(fault(files::write("wrong.txt", std::string("\x01\x02\x00\x03zz", 6))), "first bytes are not those of"));
  CHECK(has(fault(files::write("head.ply", "ply\nformat ascii 1.0\nelement vertex 3\n")), "no end_header"));
}

TEST_CASE("A broken line of text is named with file and line") {
  std::string s = "x y z\n# remark\n";
  for (int i = 0; i < 100; ++i) s += "1 2 3\n";
  const std::string f = fault(files::write("broken.xyz", s + "1 2,x 3\n1 2 3\n"));
  CHECK(has(f, "broken.xyz:103: expected a number for y in column 2, found \"2,x\""));
  CHECK(has(fault(files::write("short.xyz", s + "1 2\n")), "short.xyz:103: expected a number for z"));
  CHECK(has(fault(files::write("broken.ply", ply_header("ascii", 2, kXyz) + "1 2 3\n1 b 3\n")), "broken.ply:10"));
}

TEST_CASE("Remarks, blank lines, CRLF and a last line without its end are no points") {
  const Scan scan = scan::read_scan(files::write("r.asc", "# a\r\n// b\r\n; c\r\n\r\n 1\t2  3\r\n  \r\n4 5 6"));
  REQUIRE(scan.cloud.points.size() == 2);
  CHECK(scan.cloud.points[0] == Vec3(1, 2, 3));
  CHECK(scan.cloud.points[1] == Vec3(4, 5, 6));
}

TEST_CASE("Decimal commas parted by semicolons, tabs or blanks are understood") {
  for (const std::string sep : {";", "\t", " ", "; "}) {
    const Scan scan =
        scan::read_scan(files::write("c.txt", "1,5" + sep + "-2,25" + sep + "3e0\n4,5" + sep + "5,5" + sep + "6\n"));
    REQUIRE(scan.cloud.points.size() == 2);
    CHECK(scan.cloud.points[0] == Vec3(1.5, -2.25, 3));
  }
}

TEST_CASE("Comma-separated values with titles take their columns from the titles") {
  const Scan scan = scan::read_scan(
      files::write("t.csv", "Point,\"Z [mm]\",X (mm),Y,Normal_X,ny,NZ\n1,3,1,2,0,0,1\n2,6.5,4,5,0,1,0\n"));
  CHECK(scan.cloud.points.at(1) == Vec3(4, 5, 6.5));
  CHECK(scan.cloud.normals.at(1) == Vec3f(0, 1, 0));
}

TEST_CASE("Columns given by the user win over detection") {
  ReadOptions o;
  o.columns = "- x y z";
  CHECK(scan::read_scan(files::write("k.xyz", "7 1 2 3\n8 4 5 6\n"), o).cloud.points.at(1) == Vec3(4, 5, 6));
  o.columns = "a b c";
  CHECK(has(fault(files::write("k.xyz", "7 1 2 3\n"), o), "does not name x, y and z"));
}

TEST_CASE("Six columns are normals only when they are unit vectors") {
  CHECK(scan::read_scan(files::write("n.xyz", "0 0 0 0 0 1\n1 0 0 0.6 0 0.8\n")).cloud.normals.size() == 2);
  CHECK(scan::read_scan(files::write("rgb.xyz", "0 0 0 255 0 1\n1 0 0 10 20 30\n")).cloud.normals.empty());
}

TEST_CASE("A leading count of points is a promise that is kept or reported") {
  CHECK(scan::read_scan(files::write("p.pts", "2\n0 0 0\n1 1 1\n")).declared_points == 2);
  CHECK(has(fault(files::write("p.pts", "3\n0 0 0\n1 1 1\n")), "3 points promised in its first line, 2 present"));
}

TEST_CASE("PCD is read as text, packed and compressed") {
  const std::string head =
      "# .PCD v0.7\nVERSION 0.7\nFIELDS rgb x y z\nSIZE 4 4 4 4\nTYPE F F F F\nCOUNT 1 1 1 1\n"
      "WIDTH 2\nHEIGHT 1\nVIEWPOINT 0 0 0 1 0 0 0\nPOINTS 2\n";
  std::string packed, fields;
  for (float f : {0.f, 1.f, 2.f, 3.f, 0.f, 4.f, 5.f, 6.f}) packed += bytes(f);
  for (float f : {0.f, 0.f, 1.f, 4.f, 2.f, 5.f, 3.f, 6.f}) fields += bytes(f);
  // LZF: a literal zero byte, a copy of 7 from distance 1 (control (7−2)<<5, then distance−1), then 24 literals.
  std::string lzf = std::string("\x00\x00", 2) + std::string("\xA0\x00", 2) + '\x17' + fields.substr(8);
  const std::string compressed = bytes<std::uint32_t>(lzf.size()) + bytes<std::uint32_t>(32) + lzf;
  for (const auto& [kind, data] : {std::pair<std::string, std::string>{"ascii", "0 1 2 3\n0 4 5 6\n"},
                                   {"binary", packed},
                                   {"binary_compressed", compressed}}) {
    INFO(kind);
    const Scan scan = scan::read_scan(files::write("a.pcd", head + "DATA " + kind + "\n" + data));
    REQUIRE(scan.cloud.points.size() == 2);
    CHECK(scan.cloud.points[1] == Vec3(4, 5, 6));
  }
  CHECK(
      has(fault(files::write("b.pcd", head + "DATA binary\n" + packed.substr(0, 20))), "2 points promised, 1 present"));
  CHECK(has(fault(files::write("c.pcd", head + "DATA binary_compressed\n" + compressed.substr(0, 30))), "end early"));
}

TEST_CASE("A pose is read from the rows of its matrix, and anything but a motion is refused with its file") {
  const auto pose_fault = [](const std::string& text) -> std::string {
    try {
      scan::read_pose(files::write("pose.txt", text));
    } catch (const Error& e) {
      return e.what();
    }
    return "";
  };
  // A quarter turn about Z, and a move, in metres.
  const Rigid p = scan::read_pose(files::write("pose.txt", "0 -1 0 0.5\n1 0 0 -2\n\n0 0 1 0.25\n0 0 0 1\n"), 1000);
  CHECK((p * Vec3(1, 2, 3) - Vec3(498, -1999, 253)).norm() < 1e-9);
  CHECK(has(pose_fault("1 0 0\n0 1 0\n0 0 1\n"), "pose.txt:1: needs three or four rows of four numbers"));
  CHECK(has(pose_fault("1 0 0 0\n0 1 0 0\n"), "needs three or four rows of four numbers"));
  CHECK(has(pose_fault("1 0 0 0\n0 1 x 0\n0 0 1 0\n"), "pose.txt:2:"));
  CHECK(has(pose_fault("1 0 0 0\n0 1 0 0\n0 0 1 0\n5 6 7 1\n"), "by rows, not by columns"));
  CHECK(has(pose_fault("2 0 0 0\n0 2 0 0\n0 0 2 0\n"), "no rotation"));
  CHECK(has(pose_fault("1 0 0 0\n0 1 0 0\n0 0 -1 0\n"), "without scale or mirror"));
}

TEST_CASE("A PCD file's VIEWPOINT carries points and normals from the scanner's axes into their common frame") {
  const auto head = [](const std::string& viewpoint) {
    return "VERSION 0.7\nFIELDS x y z normal_x normal_y normal_z\nSIZE 4 4 4 4 4 4\nTYPE F F F F F F\n"
           "COUNT 1 1 1 1 1 1\nWIDTH 1\nHEIGHT 1\nVIEWPOINT " +
           viewpoint + "\nPOINTS 1\nDATA ";
  };
  std::string packed;
  for (float f : {1.f, 2.f, 3.f, 1.f, 0.f, 0.f}) packed += bytes(f);
  const std::string compressed = bytes<std::uint32_t>(25) + bytes<std::uint32_t>(24) + '\x17' + packed;
  // A quarter turn about Z takes (1, 2, 3) to (−2, 1, 3); then 10, 20, 30 in the file's unit, here an inch.
  ReadOptions inch;
  inch.unit = 25.4;
  for (const auto& [kind, data] : {std::pair<std::string, std::string>{"ascii", "1 2 3 1 0 0\n"},
                                   {"binary", packed},
                                   {"binary_compressed", compressed}}) {
    INFO(kind);
    const auto file = files::write("v.pcd", head("10 20 30 0.70710678 0 0 0.70710678") + kind + "\n" + data);
    const Scan scan = scan::read_scan(file, inch);
    REQUIRE(scan.cloud.points.size() == 1);
    CHECK((scan.cloud.points[0] - 25.4 * Vec3(8, 21, 33)).norm() < 1e-9);
    CHECK((scan.cloud.normals.at(0) - Vec3f(0, 1, 0)).norm() < 1e-6);
  }
  const std::string body = "ascii\n1 2 3 1 0 0\n";
  CHECK(scan::read_scan(files::write("i.pcd", head("0 0 0 1 0 0 0") + body)).cloud.points[0] == Vec3(1, 2, 3));
  for (const char* broken : {"", "0 0 0 1 0 0", "0 0 nan 1 0 0 0", "0 0 x 1 0 0 0"})
    CHECK(has(fault(files::write("f.pcd", head(broken) + body)), "VIEWPOINT needs seven numbers"));
  for (const char* no_turn : {"0 0 0 0 0 0 0", "0 0 0 2 0 0 0", "0 0 0 1e200 0 0 0"})
    CHECK(has(fault(files::write("q.pcd", head(no_turn) + body)), "are no rotation"));
}

TEST_CASE("An organised PCD gives its points, and counts the places where the scanner saw none") {
  const Scan scan =
      scan::read_scan(files::write("o.pcd",
                                   "FIELDS x y z\nSIZE 4 4 4\nTYPE F F F\nCOUNT 1 1 1\nWIDTH 2\nHEIGHT 2\nPOINTS 4\n"
                                   "DATA ascii\n1 2 3\nnan nan nan\n4 5 6\n7 8 9\n"));
  CHECK(scan.declared_points == 4);
  CHECK(scan.nonfinite_dropped == 1);
  REQUIRE(scan.cloud.points.size() == 3);
  CHECK(scan.cloud.points[1] == Vec3(4, 5, 6));
}

TEST_CASE("STL corners are merged and carry the normals of their facets, as text and packed") {
  std::string packed = std::string("solid but binary") + std::string(64, ' ') + bytes<std::uint32_t>(2);
  for (float f : {0.f, 0.f, 1.f, 0.f, 0.f, 0.f, 1.f, 0.f, 0.f, 0.f, 1.f, 0.f}) packed += bytes(f);
  packed += bytes<std::uint16_t>(0);
  for (float f : {0.f, 0.f, 1.f, 1.f, -0.f, 0.f, 1.f, 1.f, 0.f, 0.f, 1.f, 0.f}) packed += bytes(f);
  packed += bytes<std::uint16_t>(0);
  for (const std::string& s : {kTriangle, packed}) {
    const Scan scan = scan::read_scan(files::write("a.stl", s));
    REQUIRE(scan.cloud.points.size() == 4);
    for (const auto& n : scan.cloud.normals) CHECK((n - Vec3f(0, 0, 1)).norm() < 1e-6f);
  }
  CHECK(has(fault(files::write("cut.stl", packed.substr(0, 150))), "2 triangles promised, 1 present"));
  CHECK(has(fault(files::write("cut2.stl", kTriangle.substr(0, 64))), "cut off"));
}

TEST_CASE("OBJ gives its vertices, and normals when there are as many") {
  const std::string s = "# invented\no part\nv 0 0 0\nv 1 0 0 1.0\nv 0 1 0\nvt 0 0\n";
  CHECK(scan::read_scan(files::write("a.obj", s + "f 1 2 3\n")).cloud.points.size() == 3);
  CHECK(scan::read_scan(files::write("b.obj", s + "vn 0 0 1\nvn 0 0 1\nvn 0 0 1\nf 1 2 3\n")).cloud.normals.size() ==
        3);
  CHECK(scan::read_scan(files::write("c.obj", s + "vn 0 0 1\nf 1 2 3\n")).cloud.normals.empty());
  CHECK(has(fault(files::write("d.obj", s + "v 1 q 3\nf 1 2 3\n")), "d.obj:7"));
}

TEST_CASE("The digest is that of FIPS 180, for a file and for a scan read to its end") {
  // "abc": the example of FIPS 180-2, appendix B.1.
  CHECK(scan::sha256_file(files::write("abc", "abc")) ==
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  std::string big = ply_header("ascii", 1, kXyz) + "1 2 3\n" + std::string(3000000, '\n');
  const auto file = files::write("big.ply", big);
  CHECK(scan::read_scan(file).sha256 == scan::sha256_file(file));
}

TEST_CASE("A scan longer than the read buffer comes back number for number") {
  std::string s = ply_header("binary_little_endian", 200000, kXyz), t;
  for (int i = 0; i < 200000; ++i) {
    for (int k = 0; k < 3; ++k) s += bytes(float(i) * 0.1f + float(k));
    if (i < 100000) t += std::to_string(i) + ".5," + std::to_string(-i) + ",1e-3\n";
  }
  const Scan scan = scan::read_scan(files::write("long.ply", s));
  REQUIRE(scan.cloud.points.size() == 200000);
  CHECK(scan.cloud.points[199999] == Vec3(199999 * 0.1f + 0.f, 199999 * 0.1f + 1.f, 199999 * 0.1f + 2.f));
  const Scan text = scan::read_scan(files::write("long.csv", t));
  REQUIRE(text.cloud.points.size() == 100000);
  CHECK(text.cloud.points[99999] == Vec3(99999.5, -99999, 1e-3));
}

TEST_CASE("Reading stops when the progress callback says so") {
  try {
    scan::read_scan(files::write("s.xyz", "1 2 3\n"), {}, [](std::string_view, double) { return false; });
    FAIL("not cancelled");
  } catch (const Error& e) {
    CHECK(e.fault == Fault::cancelled);
  }
}

TEST_CASE("A header whose sizes wrap around, or promise more than the file can hold, is refused in one line") {
  const std::string pcd = "FIELDS x y z\nSIZE 4 4 4\nTYPE F F F\nCOUNT 1 1 1\nHEIGHT 1\n";
  // 12 · 2^62 bytes wrap around to nought.
  CHECK(has(fault(files::write("w.pcd", pcd + "WIDTH 1\nPOINTS 4611686018427387904\nDATA binary_compressed\n" +
                                            bytes<std::uint32_t>(0) + bytes<std::uint32_t>(0))),
            "repair the header"));
  // A quarter of a milliard points from eight bytes: refused before any memory is asked for.
  CHECK(has(fault(files::write("b.pcd", pcd + "WIDTH 300000000\nPOINTS 300000000\nDATA binary_compressed\n" +
                                            bytes<std::uint32_t>(8) + bytes<std::uint32_t>(3600000000u) + "12345678")),
            "cannot hold 300000000 points"));
  CHECK(
      has(fault(files::write("e.ply", "ply\nformat ascii 1.0\nelement vertex 1e300\n" + kXyz + "end_header\n1 2 3\n")),
          "not a whole number"));
  CHECK(has(fault(files::write("n.ply", "ply\nformat ascii 1.0\nelement view 900000000000\nelement vertex 1\n" + kXyz +
                                            "end_header\n1 2 3\n")),
            "has no properties"));
  CHECK(has(fault(files::write("t.ply", "ply\nformat ascii 1.0\nelement vertex 1\n" + kXyz + "element vertex 1\n" +
                                            kXyz + "end_header\n1 2 3\n1 2 3\n")),
            "twice"));
}

TEST_CASE("A list as long as no file is ends the reading, in a scan and in a painted mesh") {
  const std::string list = "property list double float w\n";
  CHECK(has(fault(files::write("l.ply", "ply\nformat binary_little_endian 1.0\nelement vertex 1\n" + kXyz + list +
                                            "end_header\n" + std::string(12, '\0') + bytes(1e300) + "1234")),
            "ends early"));
  CHECK_THROWS_WITH(scan::read_painted_mesh(files::write("p.ply", "ply\nformat ascii 1.0\nelement vertex 1\n" + kXyz +
                                                                      list + "end_header\n0 0 0 2000000000 1\n")),
                    Catch::Contains("no such length"));
}

TEST_CASE("A coordinate beyond a thousand kilometres is no place, and is counted with those that are not finite") {
  const Scan scan = scan::read_scan(files::write("far.xyz", "1 2 3\n1e308 0 0\n-1e308 0 0\n4 5 6\n"));
  CHECK(scan.cloud.points.size() == 2);
  CHECK(scan.nonfinite_dropped == 2);
}

TEST_CASE("A title with its unit behind a blank is one title, and the unit is used") {
  const auto rows = "1 2 3\n4 5 6\n7 8 10\n";
  for (const char* titles : {"X [mm] Y [mm] Z [mm]\n", "# X [mm] Y [mm] Z [mm]\n", "X (mm) Y (mm) Z (mm)\n"}) {
    const Scan scan = scan::read_scan(files::write("titled.xyz", titles + std::string(rows)));
    REQUIRE(scan.cloud.points.size() == 3);
    CHECK(scan.cloud.points[2] == Vec3(7, 8, 10));
    CHECK(scan.unit_declared);
  }
  const Scan inches = scan::read_scan(files::write("inches.csv", "Z [in],Y [in],X [in]\n1,2,3\n4,5,6\n7,8,10\n"));
  CHECK((inches.cloud.points[0] - 25.4 * Vec3(3, 2, 1)).norm() < 1e-12);
}

TEST_CASE("A unit in the titles that contradicts the one declared is refused, and so are three that differ") {
  ReadOptions mm;
  mm.unit = 1;
  const auto rows = "1,2,3\n4,5,6\n7,8,10\n";
  const auto inches = files::write("contra.csv", "x [in],y [in],z [in]\n" + std::string(rows));
  CHECK(has(fault(inches, mm), "the titles of its columns say in, and the unit declared for it is another one, mm"));
  ReadOptions in;
  in.unit = 25.4;
  CHECK(fault(inches, in).empty());
  CHECK(has(fault(files::write("mixed.csv", "x [in],y [mm],z [mm]\n" + std::string(rows))),
            "different units (in and mm"));
  // What stands in brackets and is no unit of length says nothing.
  CHECK_FALSE(scan::read_scan(files::write("world.csv", "x (world),y,z\n" + std::string(rows))).unit_declared);
}
