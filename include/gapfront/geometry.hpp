// Plain geometry shared by every stage. Lengths are mm, everywhere.
#pragma once
#include <Eigen/Core>
#include <Eigen/Geometry>
#include <array>
#include <cstdint>
#include <string>
#include <vector>

namespace gapfront {

/// A place, a shift or a direction.
using Vec3 = Eigen::Vector3d;
/// The same in single precision: normals.
using Vec3f = Eigen::Vector3f;
/// A rotation and a shift.
using Rigid = Eigen::Isometry3d;
/// A place in a scanner's own frame, mm. Only a ScanToTool makes a place in the tool frame of it, which is a plain
/// Vec3.
struct ScanPlace {
  Vec3 at = Vec3::Zero();
};

/// The motion from one scan's frame into the tool frame.
struct ScanToTool {
  Rigid motion = Rigid::Identity();
  Vec3 operator*(const ScanPlace& p) const { return motion * p.at; }  ///< the place in the tool frame
};

/// A covariance of six parameters.
using Matrix6 = Eigen::Matrix<double, 6, 6>;
/// Six parameters: a shift and a rotation vector.
using Vector6 = Eigen::Matrix<double, 6, 1>;

/// Red, green, blue, 0 to 255.
using Rgb = std::array<std::uint8_t, 3>;

/// Indexed triangle mesh; triangles wind counter-clockwise seen from the cavity.
struct Mesh {
  std::vector<Vec3> points;
  std::vector<std::array<int, 3>> triangles;
};

/// A part of the tool, in tool coordinates: everything (no shape given), a polygon in the
/// X–Y plane extruded along Z, an axis-aligned box, or a tube around a path.
struct Region {
  std::vector<Vec3> polygon;           ///< at least 3 corners; Z ignored
  std::vector<Vec3> box;               ///< exactly 2 opposite corners
  std::vector<Vec3> path;              ///< at least 1 point; points within `radius` of it belong
  double radius = 0;                   ///< mm, for `path`
  bool contains(const Vec3& p) const;  ///< p in tool coordinates, mm
};

/// Distance from p to an open polyline (one point: distance to the point), mm.
double distance_to_path(const Vec3& p, const std::vector<Vec3>& path);
/// Even–odd test in the X–Y plane.
bool inside_polygon_xy(const Vec3& p, const std::vector<Vec3>& polygon);

/// Weighted rigid fit by SVD (Arun, Huang & Blostein 1987; reflection fix Umeyama 1991): the motion that
/// carries `from` onto `to`. Weights empty: all equal.
Rigid fit_rigid(const std::vector<Vec3>& from, const std::vector<Vec3>& to, const std::vector<double>& weights = {});

}  // namespace gapfront
