// Reading scans of one mold half, cleaning them, and saying what is in them.
#pragma once
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>
#include "gapfront/geometry.hpp"
#include "gapfront/message.hpp"
#include "gapfront/progress.hpp"

namespace gapfront {

/// Points of one scan in the scanner's own frame, mm.
struct Cloud {
  std::vector<Vec3> points;
  std::vector<Vec3f> normals;  ///< unit, one per point, or empty when the file has none
};

/// Errors that neighbouring points of a scan share, as of a scanner that smooths: correlation exp(−d²/2L²) at the
/// distance d.
struct SharedNoise {
  double sigma = 0;   ///< standard deviation, mm; 0: points err independently
  double length = 0;  ///< L, mm
};

/// Errors of one scan beside its points' independent scatter, as a certificate or a check measurement declares them.
struct ScanErrors {
  double place = 0;                 ///< standard uncertainty of any place per coordinate, mm
  SharedNoise shared{};             ///< of neighbouring points
  std::vector<SharedNoise> fields;  ///< that change along the scan, per coordinate: its warp, steps between passes
};

/// How densely and how sharply a surface was scanned.
struct Sampling {
  double spacing = 0;  ///< of neighbouring points, mm
  double noise = 0;    ///< standard deviation of a single point along the normal, mm
  SharedNoise shared{};
};

/// How to read a file; everything unset is detected.
struct ReadOptions {
  std::optional<double> unit;     ///< mm per file unit; unset: mm is assumed and `unit_declared` is false
  std::string columns;            ///< delimited text: e.g. "x y z nx ny nz", "- x y z", "x y z i j k"; empty: detect
  std::optional<char> separator;  ///< delimited text
  std::optional<bool> decimal_comma;  ///< delimited text
  double tip_radius = 0;              ///< the points are centres of a probe's tip of this radius, mm
};

/// What was touched by name: a ball, a datum face, its edge or end. Of a list with a column `feature`.
struct ScanFeature {
  std::string name;
  std::vector<Vec3> points;    ///< mm, in the scan's own frame
  std::vector<Vec3f> normals;  ///< unit, one per point, or empty
};

/// A scan as read: its points in mm, where they are from, and what was left out.
struct Scan {
  Cloud cloud;
  std::vector<ScanFeature> features;  ///< in the file's order; their points are not in `cloud`
  std::string path, format, sha256;
  bool unit_declared = false;           ///< by the job, or by the titles of a text file's columns
  double unit = 1;                      ///< mm per file unit, as applied
  std::uint64_t declared_points = 0;    ///< what the header promised (0: no header)
  std::uint64_t nonfinite_dropped = 0;  ///< left out while reading: NaN, infinite, or marked invalid in the file
  /// Probe tip that is still to be taken off, mm: the file has no directions, see `take_off_tip`. With directions
  /// (columns i j k along the approach, or nx ny nz out of the material) the points read are those touched.
  double tip_radius = 0;
};

namespace scan {
/// Reads PLY (ascii, both binaries), PCD (ascii, binary, compressed; its VIEWPOINT applied), STL (both), OBJ, and
/// delimited text (XYZ/ASC/CSV/TSV/TXT), and E57 (cartesian points; in metres; all its scans in the file's one frame,
/// by their poses). Throws Error{Fault::input} naming file and line or byte offset, and the remedy.
Scan read_scan(const std::filesystem::path& file, const ReadOptions& = {}, const Progress& = {});

/// Each scan of the file by itself, in the file's one frame, with the file's hash: those of an E57 file that hold
/// points, one of any other. Errors as `read_scan`.
std::vector<Scan> read_scans(const std::filesystem::path& file, const ReadOptions& = {}, const Progress& = {});

/// A mesh with its triangles (STL or OBJ), `unit` mm per file unit; corners at the same place become one point. Throws
/// Error{Fault::input} naming file and line or byte offset, and the remedy.
Mesh read_mesh(const std::filesystem::path& file, double unit = 1);
}  // namespace scan

/// A mesh that says by its colours which part is which.
struct PaintedMesh {
  Mesh mesh;
  std::vector<Rgb> paint;  ///< per triangle
};

namespace scan {
/// PLY (ascii, both binaries) with red, green, blue (uchar) at its faces or vertices; a face without a colour of its
/// own takes the one that most of its corners have, at a tie the first corner's. Errors as `read_mesh`.
PaintedMesh read_painted_mesh(const std::filesystem::path& file, double unit = 1);
}  // namespace scan

/// Lengths at places.
struct PlaceValues {
  std::vector<Vec3> places;
  std::vector<double> values;  ///< one per place, mm
};

namespace scan {
/// Delimited text with a length at each place (x, y, z, value; with titles, the first column that is none of x, y, z),
/// all in `unit` mm. Errors as `read_scan`.
PlaceValues read_place_values(const std::filesystem::path& file, double unit = 1);
}  // namespace scan

/// A row of a list of thickness readings.
struct ReadingRow {
  std::string place;  ///< its name, or empty
  std::optional<Vec3> at;
  double thickness = 0;     ///< mm
  std::optional<double> U;  ///< expanded, mm
  std::uint64_t line = 0;
};

namespace scan {
/// Delimited text whose first line titles the columns: x, y, z (or place), thickness, U; all lengths in `unit` mm.
/// Errors as `read_scan`.
std::vector<ReadingRow> read_readings(const std::filesystem::path& file, double unit = 1);
}  // namespace scan

/// What is taken off a scan.
struct CleanOptions {
  bool outliers = true;
  int neighbours = 12;              ///< for the statistical outlier test
  double outlier_sigma = 6;         ///< points whose mean neighbour distance exceeds the mean by so many σ go
  double clutter_distance = 20;     ///< islands separated by more than so many spacings…
  double clutter_fraction = 0.002;  ///< …and smaller than this share of all points are clutter
};

/// What was taken off a scan, and how dense and how sharp the rest is.
struct CleanReport {
  std::uint64_t read = 0, nonfinite = 0, duplicates = 0, clutter = 0, outliers = 0, kept = 0;
  double spacing = 0;  ///< from point to point, median over the area, mm
  double noise = 0;    ///< estimated standard deviation of the scatter along the normal, mm
};

namespace scan {
/// Removes duplicates, far clutter and statistical outliers; every removal is counted.
CleanReport clean(Scan&, const CleanOptions& = {}, const Progress& = {});
}  // namespace scan

/// What `gapfront look` prints.
struct ScanFacts {
  std::uint64_t points = 0;
  Vec3 low = Vec3::Zero(), high = Vec3::Zero();  ///< extent, mm
  double spacing = 0, noise = 0;                 ///< mm
  bool has_normals = false, unit_declared = false;
  std::string likely_unit;     ///< "mm", "in", "m" with…
  Message likely_unit_reason;  ///< …the reason
  /// A gap in the coverage, inside the surface.
  struct Hole {
    Vec3 centre;  ///< mm
    double area;  ///< mm²
  };
  std::vector<Hole> holes;  ///< largest first
};

namespace scan {
/// Extent, spacing, holes and likely unit of a cleaned scan.
ScanFacts look(const Scan&, const CleanReport&, const Progress& = {});

/// Throws Error{Fault::input} when the halves' sizes differ by a factor near 25.4, 10, 1000 or 1000/25.4, as units do
/// (declared or not), when both are the same points, or when a half has fewer than 10 points or no extent in two
/// directions.
void check_pair(const Scan& lower, const Scan& upper);

/// A rigid motion from a text file of three or four rows of four numbers (rotation, translation; a fourth row is
/// 0 0 0 1), the translation in `unit` mm. Throws Error{Fault::input} naming the file for anything else.
Rigid read_pose(const std::filesystem::path&, double unit = 1);

/// SHA-256 of a file, lower-case hex (FIPS 180-4, via OpenSSL).
std::string sha256_file(const std::filesystem::path&);
}  // namespace scan

}  // namespace gapfront
