#include "cavity/made_up.hpp"

#include <algorithm>
#include <cmath>

#include "core/sheet_parts.hpp"
#include "core/statistics.hpp"

namespace gapfront::cavity {
namespace {

constexpr double kTooEven = 0.05;
// Below this a scan is as good as exact, mm: a drawing, or one that was smoothed as a whole.
constexpr double kExact = 0.002;

}  // namespace

void drop_made_up(const Sheet& sheet, const std::vector<Witness>& witnesses, const PointNoise& noise, GapMap& map) {
  const std::size_t n = sheet.size();
  std::vector<char> found(n, 0);
  bool any = false;
  for (const char half : {kOfLower, kOfUpper}) {
    const auto scatter = [&](std::size_t i) {
      return map.nodes[i].measured ? (half == kOfLower ? witnesses[i].scatter_lower : witnesses[i].scatter_upper)
                                   : std::nan("");
    };
    std::vector<double> known;
    for (std::size_t i = 0; i < n; ++i)
      if (std::isfinite(scatter(i))) known.push_back(scatter(i));
    if (known.empty()) continue;
    // Where a face bends, what a fit leaves over adds to the scatter, so the median may be more than noise.
    const double usual = std::min(half == kOfLower ? noise.lower : noise.upper, median(std::move(known)));
    if (usual < kExact) continue;
    std::vector<char> even(n, 0);
    for (std::size_t i = 0; i < n; ++i) even[i] = scatter(i) < kTooEven * usual;
    for (const auto& part : parts_of_sheet(sheet, even))
      for (const int i : part) found[i] |= half, any = true;
  }
  if (!any) return;
  for (std::size_t i = 0; i < n; ++i)
    if (found[i]) map.nodes[i].measured = false;
  map.made_up = std::move(found);
}

void count_made_up(const Sheet& sheet, GapMap& map) {
  for (std::size_t i = 0; i < map.made_up.size(); ++i) {
    if (map.made_up[i] & kOfLower) map.unseen_lower[i] = sheet.area[i];
    if (map.made_up[i] & kOfUpper) map.unseen_upper[i] = sheet.area[i];
  }
}

}  // namespace gapfront::cavity
