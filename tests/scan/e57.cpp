// E57 files of tests/fuzz/corpus, which tests/external/e57_write.py writes by the format's public description, and what
// becomes of them when one number is changed. tests/external/e57.cpp has the points themselves.
#include <sys/resource.h>

#include <catch2/catch.hpp>
#include <fstream>
#include <iterator>

#include "../fuzz/e57_checksums.hpp"
#include "files.hpp"
#include "test_paths.hpp"

using namespace gapfront;

namespace {

std::string e57_sample(const std::string& name) {
  std::ifstream in(std::string(SOURCE_DIR "/tests/fuzz/corpus/e57/") + name, std::ios::binary);
  REQUIRE(in);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// The error of a file with its checksums made right again; empty when it is read.
std::string e57_fault(std::string bytes) {
  fuzz::mend_checksums(bytes);
  return files::fault(files::write("changed.e57", bytes));
}

/// Read, or refused in one line. Whatever a number says, no gigabytes are asked for: the address space has a limit.
void e57_survives(const std::string& bytes, const std::string& what) {
  INFO(what);
  const std::string fault = e57_fault(bytes);
  CHECK(fault.find('\n') == fault.npos);
  CHECK(fault != "not an input fault");
  if (!fault.empty()) CHECK(files::has(fault, "; "));  // the remedy
}

std::string with_number(std::string bytes, std::size_t at, std::size_t width, std::uint64_t value) {
  for (std::size_t k = 0; k < width; ++k) bytes[at + k] = char(value >> (8 * k));
  return bytes;
}

/// The text in place of `n` bytes at `at` of the file without checksums; what is behind moves, and the header's length
/// of the XML part with it. The samples' XML part is the last thing in them.
std::string with_text(const std::string& bytes, std::size_t at, std::size_t n, const std::string& text) {
  std::string logical;
  for (std::size_t k = 0; k < bytes.size(); k += 1024) logical += bytes.substr(k, 1020);
  logical.replace(at, n, text);
  std::uint64_t length;
  std::memcpy(&length, logical.data() + 32, 8);
  logical.resize((logical.size() + 1019) / 1020 * 1020);
  std::string out;
  for (std::size_t k = 0; k < logical.size(); k += 1020) out += logical.substr(k, 1020) + std::string(4, '\0');
  return with_number(with_number(out, 32, 8, length + text.size() - n), 16, 8, out.size());
}

}  // namespace

TEST_CASE("An E57 file is read in metres, its scans by their poses and without points that it marks as invalid") {
  const auto file = files::write("two.e57", e57_sample("good-two"));
  const auto scans = scan::read_scans(file);
  REQUIRE(scans.size() == 2);
  // places(): a grid of 6 × 6, 1 mm apart, every fifth marked; the first scan stands 0.5 m higher.
  CHECK(scans[0].cloud.points.size() == 29);
  CHECK(scans[0].nonfinite_dropped == 7);
  CHECK(scans[0].unit_declared);
  CHECK(scans[0].unit == 1000);
  CHECK((scans[0].cloud.points[1] - Vec3(0, 1, 500)).norm() < 1e-3);
  CHECK(files::has(scans[1].path, "two.e57, scan 2 (\"b\")"));
  // The quaternion (1, 1, 1, 1)/2 turns x to y, y to z, z to x.
  CHECK((scans[1].cloud.points[1] - Vec3(0, 0, 1)).norm() < 1e-9);
  const Scan all = scan::read_scan(file);
  CHECK(all.cloud.points.size() == 29 + 36);
  CHECK(all.format == "E57, 2 scans");
  CHECK(all.path == file.string());
  CHECK(all.sha256 == scan::sha256_file(file));
  ReadOptions inches;
  inches.unit = 25.4;
  CHECK(files::has(files::fault(file, inches), "E57 files are in metres"));
  CHECK(files::has(files::fault(files::write("a.ply", e57_sample("good-two"))), "its content is E57"));
}

TEST_CASE("Spherical coordinates of an E57 file are range, azimuth from x to y and elevation, in radians") {
  const Scan scan = scan::read_scan(files::write("spherical.e57", e57_sample("good-spherical")));
  const Scan two = scan::read_scans(files::write("two.e57", e57_sample("good-two"))).front();
  // The same places by the same pose, with the same ones marked; those are rounded to a micrometre.
  REQUIRE(scan.cloud.points.size() == 29);
  CHECK(scan.nonfinite_dropped == 7);
  for (int i = 0; i < 29; ++i) CHECK((scan.cloud.points[i] - two.cloud.points[i]).norm() < 1e-3);
  std::string none = e57_sample("good-spherical");
  none[none.find("sphericalAzimuth")] = 'S';
  CHECK(files::has(e57_fault(none), "neither cartesianX, cartesianY and cartesianZ nor sphericalRange"));
}

TEST_CASE("A page of an E57 file that was changed is found by its checksum, and named") {
  const std::string good = e57_sample("good-single");
  for (std::size_t at : {48u, 1000u, 1021u, 1300u}) {
    std::string bad = good;
    bad[at] ^= 4;
    CHECK(files::has(files::fault(files::write("crc.e57", bad)),
                     "byte " + std::to_string(at / 1024 * 1024) + ": the page that begins here is damaged"));
  }
  CHECK(files::has(files::fault(files::write("cut.e57", good.substr(0, 1024))), "the header promises"));
  CHECK(files::has(files::fault(files::write("cut.e57", good.substr(0, 40))), "ends within its header"));
}

TEST_CASE("Whatever any number of an E57 file says, it is read or refused in one line, within a gigabyte") {
  rlimit before{};
  getrlimit(RLIMIT_AS, &before);
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
  const rlimit limit{rlim_t(1) << 30, before.rlim_max};
  setrlimit(RLIMIT_AS, &limit);
#endif
  const std::uint64_t values[] = {0,    1,          7,          47,         48,         1020, 1023,
                                  1024, 0x7fffffff, 0xffffffff, 1ull << 52, 1ull << 63, ~0ull};
  int cases = 0;
  for (const char* name : {"good-single", "good-two"}) {
    const std::string good = e57_sample(name);
    REQUIRE(e57_fault(good).empty());
    // The header, the first section's header, and its first packets' bytes and pairs of bytes.
    for (std::size_t at : {8, 12})
      for (auto v : values) e57_survives(with_number(good, at, 4, v), "header"), ++cases;
    for (std::size_t at : {16, 24, 32, 40, 48, 56, 64, 72})
      for (auto v : values) e57_survives(with_number(good, at, 8, v), "byte " + std::to_string(at)), ++cases;
    for (std::size_t at = 80; at < 104; ++at)
      for (auto v : {0, 1, 2, 127, 255})
        e57_survives(with_number(good, at, 1, v), "byte " + std::to_string(at)), ++cases;
    // Each number of the XML part.
    std::string logical;
    for (std::size_t k = 0; k < good.size(); k += 1024) logical += good.substr(k, 1020);
    for (std::size_t at = logical.find("<data3D"); at < logical.size(); ++at) {
      const std::size_t n = std::min(logical.find_first_not_of("+-0123456789.e", at), logical.size()) - at;
      const char first = logical[at - 1];
      if (n == 0 || (first != '"' && first != '>')) continue;
      for (const char* text : {"", "0", "-1", "1e308", "-1e308", "nan", "9223372036854775807", "-9223372036854775808",
                               "18446744073709551616", "x"})
        e57_survives(with_text(good, at, n, text), "XML at " + std::to_string(at) + ": " + text), ++cases;
      at += n;
    }
  }
  setrlimit(RLIMIT_AS, &before);
  CHECK(cases > 700);
}
