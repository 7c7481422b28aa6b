#include "report/labels.hpp"

#include <algorithm>
#include <string>

#include "core/letters.hpp"

namespace gapfront::report {

std::optional<Labels::Vec2> Labels::place(const std::vector<Vec2>& centres, const Vec2& size) {
  for (const Vec2& c : centres) {
    const Box b{c - 0.5 * size, c + 0.5 * size};
    if ((b.low.array() < low_.array()).any() || (b.high.array() > high_.array()).any()) continue;
    if (std::any_of(taken_.begin(), taken_.end(), [&](const Box& t) {
          return (b.low.array() < t.high.array()).all() && (b.high.array() > t.low.array()).all();
        }))
      continue;
    taken_.push_back(b);
    return c;
  }
  return std::nullopt;
}

std::vector<Eigen::Vector2d> centres_on(const std::vector<Eigen::Vector2d>& line) {
  std::vector<Eigen::Vector2d> out;
  const int n = static_cast<int>(line.size());
  for (int k = 0; k < n; ++k) {
    const int at = n / 2 + (k % 2 ? -(k + 1) / 2 : k / 2);
    if (at >= 0 && at < n) out.push_back(line[at]);
  }
  return out;
}

std::vector<Eigen::Vector2d> centres_beside(const Eigen::Vector2d& mark, const Eigen::Vector2d& size, double off) {
  std::vector<Eigen::Vector2d> out;
  for (const auto& [x, y] : {std::pair(1, 1), std::pair(-1, 1), std::pair(1, -1), std::pair(-1, -1), std::pair(0, 1),
                             std::pair(0, -1), std::pair(1, 0), std::pair(-1, 0)})
    out.push_back(mark + Eigen::Vector2d(x * (0.5 * size.x() + off), y * (0.5 * size.y() + off)));
  return out;
}

std::vector<Eigen::Vector2d> centres_around(const Eigen::Vector2d& mark, const Eigen::Vector2d& size, double off) {
  std::vector<Eigen::Vector2d> out;
  for (const auto& [x, y] : {std::pair(0, -1), std::pair(0, 1), std::pair(1, 0), std::pair(-1, 0), std::pair(1, -1),
                             std::pair(-1, -1), std::pair(1, 1), std::pair(-1, 1)})
    out.push_back(mark + Eigen::Vector2d(x * (0.5 * size.x() + off), y * (0.5 * size.y() + off)));
  return out;
}

Vec3 middle_along(const std::vector<Vec3>& path) {
  double left = 0;
  for (std::size_t k = 1; k < path.size(); ++k) left += 0.5 * (path[k] - path[k - 1]).norm();
  for (std::size_t k = 1; k < path.size(); ++k) {
    const double piece = (path[k] - path[k - 1]).norm();
    if (left <= piece && piece > 0) return path[k - 1] + left / piece * (path[k] - path[k - 1]);
    left -= piece;
  }
  return path.front();
}

Eigen::Vector2d size_of(const std::string& words, double font) {
  return {0.56 * font * static_cast<double>(letters_in(words)), font};
}

}  // namespace gapfront::report
