// One half seen as two surfaces, one behind the other, with nothing of the other half between them.
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <optional>

#include "cavity/sheet_mesh.hpp"
#include "core/parallel.hpp"
#include "core/point_tree.hpp"
#include "core/sheet_parts.hpp"
#include "core/statistics.hpp"
#include "gapfront/cavity.hpp"

namespace gapfront {
namespace {

using Half = SecondLayer::Half;

// A tube along the normal is as wide as its two layers need for some twelve points each.
constexpr int kTubePoints = 24;
constexpr std::size_t kFewestPoints = 5;
// In pitches, the mean distance between the points of one layer: those of an even one lie about 1 from their middle in
// each direction; those of a wall, a row or an edge lie in a line, or to one side.
constexpr double kLeastSpread = 0.4, kMostAside = 0.8;
// Layers part where no point lies in between for so much of a pitch.
constexpr double kApart = 0.15;
// A layer is thinner than this share of what parts it from the next one, else it is a slope or scatter.
constexpr double kThin = 0.35;
constexpr std::size_t kSites = 600;

struct Layer {
  Half half;
  double height, thickness;  // along the normal, mm
};

struct Hidden {
  Half half;
  double distance;
  Vec3 second;  // a place on the layer that is farther from the cavity
};

struct Seen {
  double height;
  Eigen::Vector2d beside;
};

/// Even all round the tube, as the points of a surface across it are.
bool is_across(const Seen* from, const Seen* to, double pitch) {
  const auto n = double(to - from);
  if (to - from < std::ptrdiff_t(kFewestPoints)) return false;
  Eigen::Vector2d mean = Eigen::Vector2d::Zero();
  for (const Seen* s = from; s != to; ++s) mean += s->beside / n;
  if (mean.norm() > kMostAside * pitch) return false;
  Eigen::Matrix2d c = Eigen::Matrix2d::Zero();
  for (const Seen* s = from; s != to; ++s) c += (s->beside - mean) * (s->beside - mean).transpose() / n;
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> axes;
  axes.computeDirect(c, Eigen::EigenvaluesOnly);
  return axes.eigenvalues()[0] > std::pow(kLeastSpread * pitch, 2);
}

/// Distance from point to point of one layer about a place, if there are two; 0 where the half has too few points.
double pitch_at(const Surface& half, const Vec3& at, double reach, std::vector<int>& found) {
  const double from = std::max(half.nearest(at).distance, 0.0);
  for (double radius = 3 * half.spacing(); radius < 2 * reach; radius *= 1.5) {
    half.within(at, std::hypot(from, radius), found);
    if (int(found.size()) >= kTubePoints) return radius * std::sqrt(2 * std::numbers::pi / double(found.size()));
  }
  return 0;
}

/// What the tube about the line through `at` along `normal` holds of a half, between two heights.
std::vector<Seen> seen_through(const Surface& half, const Vec3& at, const Vec3& normal, double reach, double pitch,
                               std::vector<int>& found) {
  const double tube = 2 * pitch, ball = 1.25 * tube, step = 1.5 * tube;  // 1.25² = 1 + 0.75²
  const Vec3 across = normal.unitOrthogonal(), other = normal.cross(across);
  std::vector<Seen> out;
  const int steps = int(std::ceil(4 * reach / step));
  for (int k = 0; k < steps; ++k) {
    const double middle = -2 * reach + (k + 0.5) * step;
    const Vec3 centre = at + middle * normal;
    half.within(centre, ball, found);
    for (int i : found) {
      const Vec3 d = half.points()[std::size_t(i)] - centre;
      const double height = d.dot(normal);
      const Eigen::Vector2d beside(d.dot(across), d.dot(other));
      // Each height belongs to one ball.
      if (height >= -0.5 * step && height < 0.5 * step && beside.norm() <= tube)
        out.push_back({middle + height, beside});
    }
  }
  std::sort(out.begin(), out.end(), [](const Seen& a, const Seen& b) { return a.height < b.height; });
  return out;
}

/// Adds the layers of a half that the line through `at` meets within twice the reach either way.
void add_layers(std::vector<Layer>& layers, const Surface& half, Half which, const Vec3& at, const Vec3& normal,
                double reach) {
  thread_local std::vector<int> found;
  const double pitch = pitch_at(half, at, reach, found);
  if (!(pitch > 0)) return;
  const std::vector<Seen> seen = seen_through(half, at, normal, reach, pitch, found);
  for (std::size_t from = 0, to = 0; from < seen.size(); from = to) {
    double sum = 0;
    for (to = from; to < seen.size() && (to == from || seen[to].height - seen[to - 1].height < kApart * pitch); ++to)
      sum += seen[to].height;
    if (is_across(seen.data() + from, seen.data() + to, pitch))
      layers.push_back({which, sum / double(to - from), seen[to - 1].height - seen[from].height});
  }
}

/// Two layers of a half side by side, the first of which faces the cavity, and that nothing of the other half parts.
/// Two walls of a rib are no such pair: beyond the second the other half follows.
std::optional<double> pair_at(const std::vector<Layer>& layers, std::ptrdiff_t facing, std::ptrdiff_t way,
                              const LayerRange& range) {
  const auto inside = [&](std::ptrdiff_t i) { return i >= 0 && i < std::ptrdiff_t(layers.size()); };
  const std::ptrdiff_t second = facing + way, beyond = facing + 2 * way;
  if (!inside(second) || layers[second].half != layers[facing].half) return std::nullopt;
  const double distance = std::abs(layers[second].height - layers[facing].height);
  if (distance < range.least || distance > range.most ||
      std::max(layers[second].thickness, layers[facing].thickness) > kThin * distance)
    return std::nullopt;
  if (inside(beyond) && layers[beyond].half != layers[facing].half) return std::nullopt;
  return distance;
}

std::optional<Hidden> hidden_at(const Surface& lower, const Surface& upper, const Vec3& at, const Vec3& normal,
                                const LayerRange& range) {
  std::vector<Layer> layers;
  add_layers(layers, lower, Half::lower, at, normal, range.most);
  add_layers(layers, upper, Half::upper, at, normal, range.most);
  std::sort(layers.begin(), layers.end(), [](const Layer& a, const Layer& b) { return a.height < b.height; });
  // The cavity here: from a lower layer to an upper one, the nearest to the place.
  std::ptrdiff_t cavity = -1;
  for (std::ptrdiff_t i = 0; i + 1 < std::ptrdiff_t(layers.size()); ++i)
    if (layers[i].half == Half::lower && layers[i + 1].half == Half::upper &&
        (cavity < 0 || std::abs(layers[i].height) < std::abs(layers[cavity].height)))
      cavity = i;
  if (cavity < 0) return std::nullopt;
  if (const auto d = pair_at(layers, cavity, -1, range))
    return Hidden{Half::lower, *d, at + layers[cavity - 1].height * normal};
  if (const auto d = pair_at(layers, cavity + 1, 1, range))
    return Hidden{Half::upper, *d, at + layers[cavity + 2].height * normal};
  return std::nullopt;
}

/// The other wall of a rib or a groove whose own other half was not scanned: the sheet goes over it too, and there
/// looks the opposite way.
bool is_other_wall(const Sheet& sheet, const PointTree& nodes, double edge, const Vec3& place, const Vec3& normal) {
  const int near = nodes.nearest(place, 2 * edge).first;
  return near >= 0 && sheet.normals[std::size_t(near)].dot(normal) < -0.3;
}

double mean_edge(const Sheet& sheet) {
  double sum = 0;
  for (const auto& t : sheet.mesh.triangles) sum += (sheet.mesh.points[t[0]] - sheet.mesh.points[t[1]]).norm();
  return sheet.mesh.triangles.empty() ? 0 : sum / double(sheet.mesh.triangles.size());
}

SecondLayer layer_of(const Sheet& sheet, const std::vector<std::optional<Hidden>>& hidden, Half half) {
  SecondLayer out;
  out.half = half;
  std::vector<double> distances;
  std::vector<Vec3> largest;
  std::vector<char> here(sheet.size(), 0);
  for (std::size_t i = 0; i < sheet.size(); ++i) here[i] = hidden[i] && hidden[i]->half == half;
  for (const auto& part : parts_of_sheet(sheet, here)) {
    std::vector<Vec3> places;
    for (int i : part) {
      out.fraction += sheet.area[std::size_t(i)];
      distances.push_back(hidden[std::size_t(i)]->distance);
      places.push_back(sheet.mesh.points[std::size_t(i)]);
    }
    if (places.size() > largest.size()) largest = std::move(places);
  }
  if (distances.empty()) return out;
  out.fraction /= std::accumulate(sheet.area.begin(), sheet.area.end(), 0.0);
  out.distance = median(std::move(distances));
  out.at = cavity::middle_one(largest);
  return out;
}

/// Of the plane through the points about a place; zero where they are too few. Wide, so that two layers tilt it little.
Vec3 layer_normal(const Surface& scan, const Vec3& at, double reach) {
  std::vector<int> found;
  const double pitch = pitch_at(scan, at, reach, found);
  if (!(pitch > 0)) return Vec3::Zero();
  scan.within(at, 4 * pitch, found);
  Vec3 mean = Vec3::Zero();
  for (int i : found) mean += scan.points()[std::size_t(i)] / double(found.size());
  Eigen::Matrix3d c = Eigen::Matrix3d::Zero();
  for (int i : found) {
    const Vec3 d = scan.points()[std::size_t(i)] - mean;
    c += d * d.transpose();
  }
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> axes;
  axes.computeDirect(c);
  const Vec3 n = axes.eigenvectors().col(0);
  return n.z() < 0 ? Vec3(-n) : n;
}

}  // namespace

SecondLayer cavity::find_second_layer(const Sheet& sheet, const Surface& lower, const Surface& upper,
                                      const LayerRange& range) {
  std::vector<std::optional<Hidden>> hidden(sheet.size());
  if (sheet.size() == 0 || !(range.most > 0)) return {};
  const PointTree nodes(sheet.mesh.points);
  const double edge = mean_edge(sheet);
  parallel_for(
      sheet.size(),
      [&](std::size_t i) {
        if (is_masked(sheet, i)) return;
        hidden[i] = hidden_at(lower, upper, sheet.mesh.points[i], sheet.normals[i], range);
        if (hidden[i] && is_other_wall(sheet, nodes, edge, hidden[i]->second, sheet.normals[i])) hidden[i].reset();
      },
      16);
  const SecondLayer low = layer_of(sheet, hidden, Half::lower), high = layer_of(sheet, hidden, Half::upper);
  return low.fraction >= high.fraction ? low : high;
}

SecondLayer cavity::find_second_layer(const Surface& lower, const Surface& upper, const LayerRange& range) {
  const auto& points = lower.points();
  const std::size_t sites = std::min(points.size(), kSites);
  std::vector<std::optional<Hidden>> hidden(sites);
  const auto place = [&](std::size_t s) { return points[s * points.size() / sites]; };
  parallel_for(
      sites,
      [&](std::size_t s) {
        const Vec3 normal = layer_normal(lower, place(s), range.most);
        if (normal.isZero()) return;
        hidden[s] = hidden_at(lower, upper, place(s), normal, range);
        if (!hidden[s]) hidden[s] = hidden_at(lower, upper, place(s), -normal, range);
      },
      16);
  SecondLayer low, high;
  high.half = Half::upper;
  std::vector<double> distances[2];
  std::vector<Vec3> places[2];
  for (std::size_t s = 0; s < sites; ++s)
    if (hidden[s]) {
      const int k = hidden[s]->half == Half::lower ? 0 : 1;
      distances[k].push_back(hidden[s]->distance), places[k].push_back(place(s));
    }
  for (int k = 0; k < 2; ++k) {
    SecondLayer& layer = k == 0 ? low : high;
    if (distances[k].empty()) continue;
    layer.fraction = double(distances[k].size()) / double(sites);
    layer.distance = median(std::move(distances[k]));
    layer.at = cavity::middle_one(places[k]);
  }
  return low.fraction >= high.fraction ? low : high;
}

}  // namespace gapfront
