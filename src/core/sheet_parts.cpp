#include "core/sheet_parts.hpp"

#include <numeric>

#include "core/joined_sets.hpp"

namespace gapfront {

double sheet_area(const Sheet& sheet) { return std::accumulate(sheet.area.begin(), sheet.area.end(), 0.0); }

int nearest_node(const Sheet& sheet, const Vec3& p) {
  int best = 0;
  for (int i = 1; i < static_cast<int>(sheet.size()); ++i)
    if ((sheet.mesh.points[i] - p).squaredNorm() < (sheet.mesh.points[best] - p).squaredNorm()) best = i;
  return best;
}

std::vector<std::vector<int>> connected_parts(const Sheet& sheet, const std::vector<char>& label) {
  std::vector<int> set(sheet.size());
  std::iota(set.begin(), set.end(), 0);
  for (const auto& t : sheet.mesh.triangles)
    for (int k = 0; k < 3; ++k)
      if (const int a = t[k], b = t[(k + 1) % 3]; label[a] != 0 && label[a] == label[b]) join(set, a, b);
  std::vector<std::vector<int>> parts(sheet.size());
  for (int i = 0; i < int(sheet.size()); ++i)
    if (label[i] != 0) parts[root(set, i)].push_back(i);
  std::erase_if(parts, [](const std::vector<int>& nodes) { return nodes.empty(); });
  return parts;
}

std::vector<std::vector<int>> parts_of_sheet(const Sheet& sheet, const std::vector<char>& flagged) {
  constexpr double kLeastArea = 100;
  constexpr std::size_t kFewestNodes = 4;
  auto parts = connected_parts(sheet, flagged);
  std::erase_if(parts, [&](const std::vector<int>& nodes) {
    double area = 0;
    for (int i : nodes) area += sheet.area[i];
    return nodes.size() < kFewestNodes || area < kLeastArea;
  });
  return parts;
}

bool in_radius(const Sheet& sheet, const std::vector<int>& nodes) {
  // Normals that turn evenly by θ have a mean of length sin(θ/2)/(θ/2); 0.985 is 34°.
  constexpr double kMeanNormal = 0.985;
  Vec3 normal = Vec3::Zero();
  double area = 0;
  for (const int i : nodes) normal += sheet.area[i] * sheet.normals[i], area += sheet.area[i];
  return area > 0 && normal.norm() / area < kMeanNormal;
}

}  // namespace gapfront
