// Clouds from and to PCL, without a file in between. The only header of ours that includes PCL (1.12 or later), not a
// part of gapfront.hpp; it needs PCL's headers alone, and the library does not link PCL.
#pragma once
#include <pcl/point_cloud.h>
#include <pcl/point_types.h>
#include <cmath>
#include <string>
#include "gapfront/error.hpp"
#include "gapfront/scan.hpp"

namespace gapfront::scan {

/// The points of a PCL cloud as a scan, `unit` mm per unit of the cloud (1000 where it holds metres), at their places
/// in the frame that the cloud's sensor pose is given in, as `read_scan` takes a PCD file's VIEWPOINT. Points that are
/// not finite (holes of an organised cloud), or farther than a thousand kilometres, are left out and counted; normals
/// are taken where each point has one. PCL holds single precision: 0.03 µm at 1 m. Throws Error{Fault::input} when no
/// point is left.
template <class PointT>
Scan from_pcl(const pcl::PointCloud<PointT>& cloud, double unit = 1) {
  Scan out;
  out.path = "PCL cloud";
  out.format = "PCL";
  out.unit = unit;
  out.unit_declared = true;
  out.declared_points = cloud.size();
  Rigid pose = Rigid::Identity();
  pose.linear() = cloud.sensor_orientation_.template cast<double>().normalized().toRotationMatrix();
  pose.translation() = cloud.sensor_origin_.template head<3>().template cast<double>();
  out.cloud.points.reserve(cloud.size());
  bool all_have_normals = pcl::traits::has_normal<PointT>::value;
  for (const PointT& p : cloud) {
    const Vec3 at = pose * Vec3(p.x, p.y, p.z) * unit;
    if (!(at.array().abs() <= 1e9).all()) {  // NaN fails as well
      ++out.nonfinite_dropped;
      continue;
    }
    out.cloud.points.push_back(at);
    if constexpr (pcl::traits::has_normal<PointT>::value) {
      const Vec3 n = pose.linear() * Vec3(p.normal_x, p.normal_y, p.normal_z);
      all_have_normals &= std::isfinite(n.norm()) && n.norm() > 0;
      if (all_have_normals) out.cloud.normals.push_back(n.normalized().template cast<float>());
    }
  }
  if (!all_have_normals) out.cloud.normals = {};
  if (out.cloud.points.empty())
    throw Error(Fault::input, "PCL cloud: no finite point among " + std::to_string(cloud.size()) + "; scan again");
  return out;
}

/// The same the other way: places and, where both sides have them, normals; `unit` as above.
template <class PointT>
pcl::PointCloud<PointT> to_pcl(const Cloud& cloud, double unit = 1) {
  pcl::PointCloud<PointT> out;
  out.resize(cloud.points.size());  // sets width and height as well
  for (std::size_t i = 0; i < cloud.points.size(); ++i) {
    const Vec3f at = (cloud.points[i] / unit).template cast<float>();
    out[i].x = at.x(), out[i].y = at.y(), out[i].z = at.z();
    if constexpr (pcl::traits::has_normal<PointT>::value)
      if (!cloud.normals.empty()) {
        const Vec3f& n = cloud.normals[i];
        out[i].normal_x = n.x(), out[i].normal_y = n.y(), out[i].normal_z = n.z();
      }
  }
  return out;
}

}  // namespace gapfront::scan
