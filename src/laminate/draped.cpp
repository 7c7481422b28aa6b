// What nets do to the cloth at the nodes.
#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numbers>

#include "core/sheet_parts.hpp"
#include "gapfront/drape.hpp"
#include "laminate/lay_up.hpp"

namespace gapfront {
namespace {

// Cells within two cell lengths count, by a bell of this width in cells: a mean over some ten of them takes out the
// facets' noise, and what is straight over two cells stays.
constexpr double kBell = 0.7, kReach = 2;
// Of what a cell farther than this says, nothing is known at the node (in cells).
constexpr double kNear = 1.2;

/// Cells of a net by place.
class Cells {
 public:
  Cells(const std::vector<NetCell>& cells, double length) : cells_(cells), size_(kReach * length), length_(length) {
    for (std::size_t k = 0; k < cells.size(); ++k) boxes_[box(cells[k].at)].push_back(k);
  }
  /// Sums of warp and weft about p, on a face of that normal; false where none is near.
  bool about(const Vec3& p, const Vec3& normal, Vec3& warp, Vec3& weft) const {
    double nearest = 1e300;
    warp = weft = Vec3::Zero();
    const auto at = box(p);
    for (int k = 0; k < 27; ++k) {
      const auto found = boxes_.find({at[0] + k % 3 - 1, at[1] + k / 3 % 3 - 1, at[2] + k / 9 - 1});
      if (found == boxes_.end()) continue;
      for (const std::size_t c : found->second) {
        const double d = (cells_[c].at - p).norm() / length_;
        // A wall that lies close by faces another way.
        if (d > kReach || cells_[c].warp.cross(cells_[c].weft).dot(normal) <= 0) continue;
        const double weight = std::exp(-0.5 * d * d / (kBell * kBell));
        warp += weight * cells_[c].warp, weft += weight * cells_[c].weft;
        nearest = std::min(nearest, d);
      }
    }
    return nearest < kNear;
  }

 private:
  std::array<long, 3> box(const Vec3& p) const {
    return {std::lround(p.x() / size_), std::lround(p.y() / size_), std::lround(p.z() / size_)};
  }
  const std::vector<NetCell>& cells_;
  double size_, length_;
  std::map<std::array<long, 3>, std::vector<std::size_t>> boxes_;
};

double angle_on(const Vec3& normal, const Vec3& from, const Vec3& to) {
  return std::atan2(normal.dot(from.cross(to)), from.dot(to));
}

DrapedCloth lay(const Sheet& sheet, const LaminateOptions& o, double direction_deg) {
  DrapedCloth out;
  out.direction_deg = direction_deg;
  const double nominal = direction_deg * std::numbers::pi / 180, cell = sheet.edge_p50;
  const Vec3& start_normal = sheet.normals[nearest_node(sheet, o.drape.start)];
  const Vec3 zero = o.drape.direction.norm() > 0 ? o.drape.direction : o.axis;
  const Vec3 warp = Eigen::AngleAxisd(nominal, start_normal) * zero;
  const auto net = laminate::weave_net(sheet, o.drape.start, warp, cell);
  const Cells cells(net, cell);
  out.nodes.resize(sheet.size());
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const Vec3& n = sheet.normals[i];
    Vec3 along, across;
    if (!cells.about(sheet.mesh.points[i], n, along, across)) {
      out.missed_area += sheet.area[i];
      continue;
    }
    along -= n * n.dot(along), across -= n * n.dot(across);
    const double turn = angle_on(n, laminate::ply_axis(n, o.axis, nominal), along);
    out.nodes[i] = {laminate::kDrapeStep * std::round(turn / laminate::kDrapeStep),
                    laminate::kDrapeStep * std::round(angle_on(n, along, across) / laminate::kDrapeStep)};
    const double shear = std::abs(0.5 * std::numbers::pi - out.nodes[i].threads);
    if (shear > out.most_shear) out.most_shear = shear, out.most_at = static_cast<int>(i);
    if (shear > o.drape.lock) out.locked_area += sheet.area[i];
  }
  return out;
}

}  // namespace

std::vector<DrapedCloth> laminate::drape(const Sheet& sheet, const LaminateOptions& o) {
  std::vector<DrapedCloth> out;
  if (!o.drape.on) return out;
  const auto add = [&](const std::vector<Ply>& plies) {
    for (const Ply& p : plies)
      if (p.reinforcement.cloth && laminate::net_of(p, out) < 0)
        out.push_back(lay(sheet, o, laminate::quarter_rest(p.direction_deg)));
  };
  add(o.plies);
  for (const LaminateZone& z : o.zones)
    if (!z.adds) add(z.plies);
  return out;
}

}  // namespace gapfront
