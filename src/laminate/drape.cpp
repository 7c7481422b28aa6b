// A net of threads over the sheet.
#include "gapfront/drape.hpp"

#include <cmath>
#include <map>
#include <optional>

#include "core/triangle_tree.hpp"
#include "gapfront/error.hpp"

namespace gapfront::laminate {
namespace {

// A thread is so long between crossings to this share of a cell; beyond the sheet's rim it comes out otherwise.
constexpr double kOff = 1e-3;
// Steps of a Newton search that roughly doubles its digits with each.
constexpr int kSearch = 12;
// More threads to a side than any cut piece has cells.
constexpr int kMostCells = 2000;

class Weaver {
 public:
  Weaver(const Sheet& sheet, const DrapeOptions& o)
      : sheet_(sheet), tree_(sheet.mesh), cell_(o.cell > 0 ? o.cell : sheet.edge_p50) {}

  struct Knot {
    Vec3 at, normal;
    double off;
  };
  Knot on_sheet(const Vec3& p) const {
    const auto hit = tree_.nearest(p);
    const auto& t = sheet_.mesh.triangles[static_cast<std::size_t>(hit.triangle)];
    // Normals of the corners, by distance: a facet's own would make the net wander from facet to facet.
    Vec3 n = Vec3::Zero();
    for (const int k : t) n += sheet_.normals[k] / (1e-3 * cell_ + (sheet_.mesh.points[k] - hit.point).norm());
    return {hit.point, n.normalized(), hit.distance};
  }
  double cell() const { return cell_; }

  /// Straightest way from p along d: points a cell apart, until the sheet ends.
  std::vector<Vec3> straight(const Vec3& p, Vec3 d) const {
    std::vector<Vec3> out{p};
    while (out.size() < kMostCells) {
      const Vec3 from = out.back();
      Knot k = on_sheet(from);
      d = (d - k.normal * k.normal.dot(d)).normalized();
      Vec3 to = from + cell_ * d;
      for (int step = 0; step < kSearch; ++step) {
        k = on_sheet(to);
        to = k.at;
        const Vec3 way = to - from;
        if (!(way.norm() > 0) || std::abs(way.norm() - cell_) < 1e-9 * cell_) break;
        to = from + way * (cell_ / way.norm());
      }
      k = on_sheet(to);
      if (std::abs((k.at - from).norm() - cell_) > kOff * cell_) break;
      d = k.at - from;
      out.push_back(k.at);
    }
    return out;
  }

  /// The crossing a cell from both a and b, away from c; none where the sheet ends.
  std::optional<Vec3> crossing(const Vec3& a, const Vec3& b, const Vec3& c) const {
    Vec3 p = a + b - c;
    Knot k = on_sheet(p);
    for (int step = 0; step < kSearch; ++step) {
      // In the tangent plane, both lengths put right: (p − a)·δ = (cell² − |p − a|²)/2 and the same for b.
      const Vec3 e1 = k.normal.unitOrthogonal(), e2 = k.normal.cross(e1), da = p - a, db = p - b;
      Eigen::Matrix2d m;
      m << da.dot(e1), da.dot(e2), db.dot(e1), db.dot(e2);
      const Eigen::Vector2d r(0.5 * (cell_ * cell_ - da.squaredNorm()), 0.5 * (cell_ * cell_ - db.squaredNorm()));
      if (std::abs(m.determinant()) < 0.02 * cell_ * cell_) return std::nullopt;  // threads lie upon each other
      const Eigen::Vector2d x = m.inverse() * r;
      if (!(x.norm() < 2 * cell_)) return std::nullopt;
      k = on_sheet(p + x[0] * e1 + x[1] * e2);
      p = k.at;
      if (x.norm() < 1e-9 * cell_) break;
    }
    if (std::abs((p - a).norm() - cell_) > kOff * cell_ || std::abs((p - b).norm() - cell_) > kOff * cell_)
      return std::nullopt;
    if ((p - c).norm() < 0.2 * cell_) return std::nullopt;  // folded back
    return p;
  }

 private:
  const Sheet& sheet_;
  TriangleTree tree_;
  double cell_;
};

/// One quarter of the net, between two threads that start together.
void weave(const Weaver& w, const std::vector<Vec3>& warp, const std::vector<Vec3>& weft, double sign,
           std::vector<DrapedPlace>& out) {
  std::vector<std::optional<Vec3>> last(weft.begin(), weft.end());
  for (std::size_t i = 1; i < warp.size(); ++i) {
    std::vector<std::optional<Vec3>> row{warp[i]};
    for (std::size_t j = 1; j < last.size(); ++j) {
      std::optional<Vec3> p;
      if (last[j] && last[j - 1] && row[j - 1]) p = w.crossing(*last[j], *row[j - 1], *last[j - 1]);
      row.push_back(p);
      if (!p) continue;
      const Vec3 along = *p - *last[j], across = *p - *row[j - 1];
      const double angle = std::acos(std::clamp(along.dot(across) / along.norm() / across.norm(), -1.0, 1.0));
      out.push_back({*p, std::abs(0.5 * M_PI - angle), sign * along.normalized()});
    }
    last = std::move(row);
  }
}

void count_area(const Sheet& sheet, double cell, double lock, Net& net) {
  // Nearest place by a grid of the cell's size: those of the 27 boxes around.
  std::map<std::array<long, 3>, std::vector<int>> boxes;
  const auto box = [&](const Vec3& p) {
    return std::array<long, 3>{std::lround(p.x() / cell), std::lround(p.y() / cell), std::lround(p.z() / cell)};
  };
  for (std::size_t k = 0; k < net.places.size(); ++k) boxes[box(net.places[k].at)].push_back(int(k));
  double all = 0, covered = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const Vec3& p = sheet.mesh.points[i];
    const auto at = box(p);
    int best = -1;
    double least = cell * cell;
    for (long x = -1; x <= 1; ++x)
      for (long y = -1; y <= 1; ++y)
        for (long z = -1; z <= 1; ++z) {
          const auto found = boxes.find({at[0] + x, at[1] + y, at[2] + z});
          if (found == boxes.end()) continue;
          for (const int k : found->second)
            if (const double d = (net.places[k].at - p).squaredNorm(); d < least) least = d, best = k;
        }
    all += sheet.area[i];
    if (best < 0) continue;
    covered += sheet.area[i];
    if (net.places[best].shear > lock) net.locked_area += sheet.area[i];
  }
  if (all > 0) net.covered = covered / all;
}

}  // namespace

Net drape(const Sheet& sheet, const DrapeOptions& o) {
  Net out;
  if (!(o.warp.norm() > 0)) return out;
  const Weaver w(sheet, o);
  const auto start = w.on_sheet(o.start);
  // A point taken from a drawing may stand off the face by the gap and more.
  if (start.off > 20)
    throw Error(Fault::input, "drape: the start stands more than 20 mm off the sheet; give a point on the lower face");
  const Vec3 n = start.normal, flat = o.warp - n * n.dot(o.warp);
  if (flat.norm() < 0.1 * o.warp.norm())
    throw Error(Fault::input, "drape: the direction stands on the sheet at the start; give one that runs along it");
  const Vec3 d = flat.normalized(), e = n.cross(d);
  const std::vector<Vec3> threads[4] = {w.straight(start.at, d), w.straight(start.at, e), w.straight(start.at, -d),
                                        w.straight(start.at, -e)};
  out.places.push_back({start.at, 0, d});
  for (int q = 0; q < 4; ++q) {  // along the four threads nothing is sheared
    const double sign = q < 2 ? 1 : -1;
    for (std::size_t k = 1; k < threads[q].size(); ++k) {
      const Vec3 way = sign * (threads[q][k] - threads[q][k - 1]).normalized();
      const Vec3 up = w.on_sheet(threads[q][k]).normal;
      out.places.push_back({threads[q][k], 0, q % 2 ? Vec3(way.cross(up)) : way});
    }
  }
  weave(w, threads[0], threads[1], 1, out.places), weave(w, threads[0], threads[3], 1, out.places);
  weave(w, threads[2], threads[1], -1, out.places), weave(w, threads[2], threads[3], -1, out.places);
  for (const DrapedPlace& p : out.places)
    if (p.shear > out.greatest_shear) out.greatest_shear = p.shear, out.at = p.at;
  count_area(sheet, w.cell(), o.lock, out);
  return out;
}

}  // namespace gapfront::laminate
