// How long the gap lasts while the seat moves on.
#include <algorithm>
#include <cmath>
#include <limits>

#include "history/life.hpp"
#include "history/seat.hpp"

namespace gapfront::history {
namespace {

// Of the face may come to its limit sooner: single noisy places. Less of a movement at a place takes it nowhere, mm.
constexpr double kSooner = 0.05, kNowhere = 0.01;

}  // namespace

double soonest_by_seat(const Recheck& r, const Course& c, const RecheckOptions& o) {
  constexpr double none = std::numeric_limits<double>::infinity();
  if (r.datum != DatumState::half_moved || c.now == 0) return none;
  std::vector<Eigen::Matrix3d> covariance(c.records.size(), Eigen::Matrix3d::Zero());
  for (std::size_t k = 1; k < c.records.size(); ++k)
    covariance[k] = rigid_covariance(c.sheet, c.since[k], c.since[k].rigid);
  const auto limits = conformity::tolerance_limits(c.sheet, o.tolerance);
  std::vector<std::pair<double, double>> cycles;
  double face = 0;
  for (std::size_t i = 0; i < c.sheet.size(); ++i) {
    const NodeGap& n = r.now.gap.nodes[i];
    const double moved = c.since[c.now].rigid.part.effect[i];
    if (!n.measured) continue;
    face += c.sheet.area[i];
    if (!(std::abs(moved) > kNowhere)) continue;
    const double sign = std::copysign(1.0, moved);
    const double room = o.limit > 0 ? o.limit - std::abs(moved)
                        : sign > 0  ? limits[i].high - n.gap
                                    : n.gap - limits[i].low;
    if (!std::isfinite(room) || room + std::abs(moved) <= 0) continue;  // beyond its limit without the seat as well
    if (room <= 0) {
      cycles.push_back({0, c.sheet.area[i]});
      continue;
    }
    std::vector<TrendPoint> course{{c.records[0].cycles, 0, 0}};
    for (std::size_t k = 1; k < c.records.size(); ++k) {
      const Drift& d = c.since[k];
      if (!d.map.nodes[i].measured) continue;
      const Vec3 row = d.rigid.row(c.sheet, d.map, static_cast<int>(i));
      course.push_back({c.records[k].cycles, d.rigid.part.effect[i], std::sqrt(row.dot(covariance[k] * row))});
    }
    if (const double pace = fastest_pace(course, sign); pace > 0)
      cycles.push_back({std::max(0.0, room - kOneSided * 0.5 * n.U) / pace, c.sheet.area[i]});
  }
  std::sort(cycles.begin(), cycles.end());
  double area = 0;
  for (const auto& [end, of] : cycles)
    if ((area += of) > kSooner * face) return end;
  return none;
}

}  // namespace gapfront::history
