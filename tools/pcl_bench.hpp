// What the benchmarks beside PCL share.
#pragma once
#include <pcl/point_types.h>
#include <sys/resource.h>

#include "../tests/random.hpp"
#include "gapfront/pcl.hpp"

namespace gapfront::bench {

using support::Random;
using PclPoints = pcl::PointCloud<pcl::PointXYZ>;

/// Of all threads together, so that what else the machine does counts little.
inline double processor_seconds() {
  rusage used{};
  getrusage(RUSAGE_SELF, &used);
  const auto seconds = [](const timeval& t) { return double(t.tv_sec) + 1e-6 * double(t.tv_usec); };
  return seconds(used.ru_utime) + seconds(used.ru_stime);
}

inline PclPoints::Ptr as_pcl(const std::vector<Vec3>& points) {
  Cloud cloud;
  cloud.points = points;
  return pcl::make_shared<PclPoints>(scan::to_pcl<pcl::PointXYZ>(cloud));
}

}  // namespace gapfront::bench
