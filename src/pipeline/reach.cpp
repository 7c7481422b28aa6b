#include "pipeline/reach.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <limits>

namespace gapfront::pipeline {
namespace {

// Squared distance from the middle of the readings, in their own standard deviations, along the face: at the corner of
// a rectangle that is read evenly it is 6, and at four times its half sides from the middle, 48. Past 16, with even
// rows 1.6 times as far out, nothing is known.
constexpr double kWithin = 6, kBeyond = 16;
// A reading speaks for some centimetres about it, as the disc does that a place is judged by, mm.
constexpr double kOfOne = 15;
// A fifth of the face untested is what a person should know of.
constexpr double kAmple = 0.2;

}  // namespace

bool ReadingsReach::ample() const { return share < kAmple; }

ReadingsReach reach_of_readings(const Measured& m) {
  std::vector<Vec3> at;
  for (std::size_t k = 0; k < m.spots.size(); ++k)
    if (m.spots[k].found) at.push_back(m.job.spots[k].at);
  ReadingsReach out;
  if (at.empty()) return out;
  Vec3 axis = Vec3::Zero(), middle = Vec3::Zero();
  for (std::size_t i = 0; i < m.sheet.size(); ++i) axis += m.sheet.area[i] * m.sheet.normals[i];
  axis = axis.norm() > 0 ? Vec3(axis.normalized()) : Vec3(Vec3::UnitZ());
  const Vec3 x = axis.unitOrthogonal(), y = axis.cross(x);
  for (const Vec3& p : at) middle += p / double(at.size());
  const auto flat = [&](const Vec3& p) { return Eigen::Vector2d((p - middle).dot(x), (p - middle).dot(y)); };
  Eigen::Matrix2d spread = kOfOne * kOfOne * Eigen::Matrix2d::Identity();
  for (const Vec3& p : at) {
    spread += flat(p) * flat(p).transpose() / double(at.size());
    for (const Vec3& q : at) out.across = std::max(out.across, (p - q).norm());
  }
  const Eigen::Matrix2d inverse = spread.inverse();
  double all = 0;
  for (std::size_t i = 0; i < m.sheet.size(); ++i) {
    const Vec3& p = m.sheet.mesh.points[i];
    const Eigen::Vector2d d = flat(p);
    out.beyond.push_back(std::clamp((d.dot(inverse * d) - kWithin) / (kBeyond - kWithin), 0.0, 1.0));
    if (is_masked(m.sheet, i)) continue;
    all += m.sheet.area[i];
    if (out.beyond.back() > 0.5) out.share += m.sheet.area[i];
    double near = std::numeric_limits<double>::infinity();
    for (const Vec3& q : at) near = std::min(near, (p - q).norm());
    out.farthest = std::max(out.farthest, near);
  }
  if (all > 0) out.share /= all;
  return out;
}

void count_beyond_reach(GapMap& map, const ReadingsReach& reach, const std::vector<double>& change) {
  if (reach.beyond.size() != map.nodes.size()) return;
  Eigen::VectorXd column = Eigen::VectorXd::Zero(Eigen::Index(map.nodes.size()));
  for (std::size_t i = 0; i < map.nodes.size(); ++i) {
    NodeGap& g = map.nodes[i];
    if (!g.measured || reach.beyond[i] == 0) continue;
    // Off by as much as the whole change either way, with equal chance (JCGM 100:2008, 4.3.7).
    const double u = reach.beyond[i] * change[i] / std::sqrt(3.0);
    column(Eigen::Index(i)) = u;
    g.u_instrument = std::hypot(g.u_instrument, u);
    g.U = std::hypot(g.U, map.coverage * u);
  }
  if (column.isZero(0)) return;
  if (map.shapes.rows() != column.size()) map.shapes.resize(column.size(), 0);
  map.shapes.conservativeResize(Eigen::NoChange, map.shapes.cols() + 1);
  map.shapes.col(map.shapes.cols() - 1) = column;
}

}  // namespace gapfront::pipeline
