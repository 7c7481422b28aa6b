#include "core/sheet_parts.hpp"

#include <numeric>

#include "core/joined_sets.hpp"

namespace gapfront {

std::vector<std::vector<int>> parts_of_sheet(const Sheet& sheet, const std::vector<char>& flagged) {
  constexpr double kLeastArea = 100;
  constexpr std::size_t kFewestNodes = 4;
  std::vector<int> set(sheet.size());
  std::iota(set.begin(), set.end(), 0);
  for (const auto& t : sheet.mesh.triangles)
    for (int k = 0; k < 3; ++k)
      if (flagged[t[k]] && flagged[t[(k + 1) % 3]]) join(set, t[k], t[(k + 1) % 3]);
  std::vector<std::vector<int>> parts(sheet.size());
  for (int i = 0; i < int(sheet.size()); ++i)
    if (flagged[i]) parts[root(set, i)].push_back(i);
  std::erase_if(parts, [&](const std::vector<int>& nodes) {
    double area = 0;
    for (int i : nodes) area += sheet.area[i];
    return nodes.size() < kFewestNodes || area < kLeastArea;
  });
  return parts;
}

}  // namespace gapfront
