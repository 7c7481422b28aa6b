#include "scan/holes.hpp"
#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numeric>
#include "core/cell_grid.hpp"
#include "core/joined_sets.hpp"
#include "core/linear.hpp"

namespace gapfront::scan {
namespace {

// Coverage at a thousandth of the extent is seen with this many points; more only cost time.
constexpr std::size_t kThinned = 300000;

/// One point per cell (the first of the list), enough cells for `kThinned` points; `pitch` is what parts them now.
std::vector<Vec3> thin(const std::vector<Vec3>& points, double spacing, double& pitch) {
  pitch = spacing;
  if (points.size() <= kThinned) return points;
  pitch = spacing * std::sqrt(double(points.size()) / double(kThinned));
  const cells::Grid grid(points, pitch);
  std::vector<Vec3> out(grid.cells());
  for (std::size_t c = 0; c < out.size(); ++c) out[c] = points[*grid.begin(c)];
  return out;
}

/// True when the neighbours of p within `reach` leave a wide angle free around it.
bool on_rim(const std::vector<Vec3>& points, const Vec3& p, const std::vector<std::uint32_t>& around, double reach) {
  Vec3 mean = Vec3::Zero();
  std::vector<Vec3> near;
  for (auto i : around) {
    const Vec3 d = points[i] - p;
    if (d.squaredNorm() > reach * reach || d.squaredNorm() == 0) continue;
    near.push_back(d);
    mean += d;
  }
  if (near.size() < 4) return false;
  mean /= double(near.size());
  Eigen::Matrix3d c = Eigen::Matrix3d::Zero();
  for (const auto& d : near) c += (d - mean) * (d - mean).transpose();
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> frame;
  frame.computeDirect(c);
  const Vec3 u = frame.eigenvectors().col(1), v = frame.eigenvectors().col(2);
  std::vector<double> angle;
  for (const auto& d : near) angle.push_back(std::atan2(d.dot(v), d.dot(u)));
  std::sort(angle.begin(), angle.end());
  double widest = angle.front() + 2 * M_PI - angle.back();
  for (std::size_t k = 1; k < angle.size(); ++k) widest = std::max(widest, angle[k] - angle[k - 1]);
  // A straight edge leaves 180° free, the inside of a round hole of five spacings some 110°; with 15 or more
  // neighbours a full surface leaves hardly ever 90°.
  return widest > M_PI / 2;
}

/// Rim points linked when closer than `reach`, as lists of indices.
std::vector<std::vector<std::uint32_t>> rims(const std::vector<Vec3>& points, const std::vector<std::uint32_t>& rim,
                                             double reach) {
  std::vector<Vec3> at;
  for (auto i : rim) at.push_back(points[i]);
  const cells::Grid grid(at, reach);
  std::vector<std::uint32_t> parent(at.size()), around;
  std::iota(parent.begin(), parent.end(), 0u);
  for (std::uint32_t i = 0; i < at.size(); ++i) {
    grid.around(at[i], around);
    for (auto j : around) {
      if (j >= i || (at[i] - at[j]).squaredNorm() > reach * reach) continue;
      join(parent, i, j);
    }
  }
  std::vector<std::vector<std::uint32_t>> of(at.size()), out;
  for (std::uint32_t i = 0; i < at.size(); ++i) of[root(parent, i)].push_back(rim[i]);
  for (auto& r : of)
    if (r.size() >= 6) out.push_back(std::move(r));  // a gap of five spacings has a dozen rim points
  return out;
}

/// A picture of the rim's plane: 0 free, 1 surface, 2 rim, 3 free and joined to the outside.
struct Picture {
  int width, height;
  std::vector<std::uint8_t> cell;
  std::uint8_t& at(int x, int y) { return cell[std::size_t(y) * width + x]; }
  bool inside(int x, int y) const { return x >= 0 && y >= 0 && x < width && y < height; }
};

void paint(Picture& picture, double x, double y, double radius, std::uint8_t value) {
  // Cut to the picture before it becomes whole: a far point's place is no int.
  const auto whole = [](double v, int size) { return int(std::clamp(v, -1.0, double(size))); };
  const int i0 = whole(std::floor(x - radius), picture.width), i1 = whole(std::ceil(x + radius), picture.width);
  const int j0 = whole(std::floor(y - radius), picture.height), j1 = whole(std::ceil(y + radius), picture.height);
  for (int j = j0; j <= j1; ++j)
    for (int i = i0; i <= i1; ++i)
      if (picture.inside(i, j) && std::hypot(i - x, j - y) <= radius)
        picture.at(i, j) = std::max(picture.at(i, j), value);
}

/// Fills the free cells joined to (x, y); returns them.
std::vector<std::pair<int, int>> flood(Picture& picture, int x, int y) {
  std::vector<std::pair<int, int>> found{{x, y}};
  picture.at(x, y) = 3;
  for (std::size_t k = 0; k < found.size(); ++k) {
    const auto [cx, cy] = found[k];
    const int steps[4][2] = {{1, 0}, {-1, 0}, {0, 1}, {0, -1}};
    for (const auto& s : steps) {
      const int nx = cx + s[0], ny = cy + s[1];
      if (!picture.inside(nx, ny) || picture.at(nx, ny) != 0) continue;
      picture.at(nx, ny) = 3;
      found.emplace_back(nx, ny);
    }
  }
  return found;
}

/// The gaps enclosed by one rim.
void gaps_in(const std::vector<Vec3>& points, const std::vector<std::uint8_t>& is_rim, const cells::Grid& grid,
             const std::vector<std::uint32_t>& rim, double pitch, std::vector<ScanFacts::Hole>& holes) {
  Vec3 mean = Vec3::Zero();
  for (auto i : rim) mean += points[i];
  mean /= double(rim.size());
  Eigen::Matrix3d c = Eigen::Matrix3d::Zero();
  for (auto i : rim) c += (points[i] - mean) * (points[i] - mean).transpose();
  const auto frame = spectrum_of(c);
  const Vec3 n = frame.eigenvectors().col(0), u = frame.eigenvectors().col(1), v = frame.eigenvectors().col(2);
  double thick = 0, left = 0, right = 0, bottom = 0, top = 0;
  for (auto i : rim) {
    const Vec3 d = points[i] - mean;
    thick = std::max(thick, std::abs(d.dot(n)));
    left = std::min(left, d.dot(u)), right = std::max(right, d.dot(u));
    bottom = std::min(bottom, d.dot(v)), top = std::max(top, d.dot(v));
  }
  // Four picture cells per pitch keep the area of a gap of five pitches within some per cent.
  const double cell = pitch / 4, margin = 6 * pitch;
  const double width = (right - left + 2 * margin) / cell + 1, height = (top - bottom + 2 * margin) / cell + 1;
  // The rim of the whole scan would need a picture of tens of millions of cells, and says nothing new: every gap
  // inside has a rim of its own.
  if (!(width * height <= 2e7)) return;
  Picture picture{int(width), int(height), {}};
  picture.cell.assign(std::size_t(picture.width) * picture.height, 0);
  // A raster of the pitch leaves no free cell between its points at a radius above √½ of it; jitter needs more.
  const double grow = 1.1 * pitch;
  std::vector<std::uint32_t> all, here;
  std::vector<std::uint64_t> seen;
  for (auto i : rim) seen.push_back(grid.key_of(points[i]));
  std::sort(seen.begin(), seen.end());
  seen.erase(std::unique(seen.begin(), seen.end()), seen.end());
  for (auto key : seen) {
    const std::size_t at = grid.lower_bound(key);
    grid.around(points[*grid.begin(at)], here);
    all.insert(all.end(), here.begin(), here.end());
  }
  std::sort(all.begin(), all.end());
  all.erase(std::unique(all.begin(), all.end()), all.end());
  for (auto i : all) {
    const Vec3 d = points[i] - mean;
    if (std::abs(d.dot(n)) > thick + 2 * pitch) continue;
    paint(picture, (d.dot(u) - left + margin) / cell, (d.dot(v) - bottom + margin) / cell, grow / cell,
          is_rim[i] ? 2 : 1);
  }
  for (int x = 0; x < picture.width; ++x)
    for (int y : {0, picture.height - 1})
      if (picture.at(x, y) == 0) flood(picture, x, y);
  for (int y = 0; y < picture.height; ++y)
    for (int x : {0, picture.width - 1})
      if (picture.at(x, y) == 0) flood(picture, x, y);
  for (int y = 0; y < picture.height; ++y)
    for (int x = 0; x < picture.width; ++x) {
      if (picture.at(x, y) != 0) continue;
      const auto cells = flood(picture, x, y);
      double sx = 0, sy = 0, bordering = 0, rimmed = 0;
      for (const auto& [cx, cy] : cells) {
        sx += cx, sy += cy;
        for (const auto& [nx, ny] : {std::pair{cx + 1, cy}, {cx - 1, cy}, {cx, cy + 1}, {cx, cy - 1}}) {
          if (!picture.inside(nx, ny) || picture.at(nx, ny) == 3) continue;
          ++bordering;
          rimmed += picture.at(nx, ny) == 2;
        }
      }
      // Where the surface merely bends out of the rim's plane its points are no rim points.
      if (rimmed < 0.7 * bordering) continue;
      // Undo the growth of the points, but for the half pitch by which points stop short of an edge on average.
      const double radius = std::sqrt(double(cells.size()) * cell * cell / M_PI);
      const double border = bordering * cell * M_PI / 4;  // staircase → length
      const double wider = grow - pitch / 2;
      const double area = M_PI * radius * radius + border * wider + M_PI * wider * wider;
      if (area < M_PI * 6.25 * pitch * pitch) continue;  // five pitches across
      const double k = double(cells.size());
      const Vec3 centre = mean + (sx / k * cell + left - margin) * u + (sy / k * cell + bottom - margin) * v;
      const bool known = std::any_of(holes.begin(), holes.end(), [&](const ScanFacts::Hole& h) {
        return (h.centre - centre).norm() < 0.5 * std::sqrt(h.area);
      });
      if (!known) holes.push_back({centre, area});
    }
}

}  // namespace

std::vector<ScanFacts::Hole> find_holes(const std::vector<Vec3>& full, double spacing) {
  std::vector<ScanFacts::Hole> holes;
  if (!(spacing > 0)) return holes;
  double pitch;
  const std::vector<Vec3> points = thin(full, spacing, pitch);
  const double reach = 2.5 * pitch;  // some 20 neighbours on a raster
  const cells::Grid grid(points, 3 * pitch);
  std::vector<std::uint8_t> is_rim(points.size(), 0);
  grid.for_each_cell([&](std::size_t cell, const std::vector<std::uint32_t>& around) {
    for (const auto* i = grid.begin(cell); i != grid.end(cell); ++i)
      is_rim[*i] = on_rim(points, points[*i], around, reach);
  });
  std::vector<std::uint32_t> rim;
  for (std::uint32_t i = 0; i < points.size(); ++i)
    if (is_rim[i]) rim.push_back(i);
  if (rim.empty()) return holes;
  auto found = rims(points, rim, reach);
  // Small rims first: a gap belongs to its own rim rather than to that of the whole piece.
  std::stable_sort(found.begin(), found.end(), [](const auto& a, const auto& b) { return a.size() < b.size(); });
  for (const auto& r : found) gaps_in(points, is_rim, grid, r, pitch, holes);
  std::stable_sort(holes.begin(), holes.end(), [](const auto& a, const auto& b) { return a.area > b.area; });
  return holes;
}

}  // namespace gapfront::scan
