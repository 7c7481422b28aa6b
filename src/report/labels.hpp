// Where the words of a drawing go: on what they name, inside the drawing, none over another.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront::report {

class Labels {
 public:
  using Vec2 = Eigen::Vector2d;
  Labels(const Vec2& low, const Vec2& high) : low_(low), high_(high) {}
  /// Keeps words off that box.
  void keep_off(const Vec2& low, const Vec2& high) { taken_.push_back({low, high}); }
  /// The first of the centres where a label of that size lies inside and over nothing; it is taken then.
  std::optional<Vec2> place(const std::vector<Vec2>& centres, const Vec2& size);

 private:
  struct Box {
    Vec2 low, high;
  };
  Vec2 low_, high_;
  std::vector<Box> taken_;
};

/// Centres for a label on a line: its places, from the middle of it on outwards.
std::vector<Eigen::Vector2d> centres_on(const std::vector<Eigen::Vector2d>& line);
/// Centres for a label of that size beside a mark: right above it first, then the other corners and sides.
std::vector<Eigen::Vector2d> centres_beside(const Eigen::Vector2d& mark, const Eigen::Vector2d& size, double off);
/// The same right above it first, then right below, on its sides, and at its corners.
std::vector<Eigen::Vector2d> centres_around(const Eigen::Vector2d& mark, const Eigen::Vector2d& size, double off);
/// The place half-way along a path that is not empty, by length.
Vec3 middle_along(const std::vector<Vec3>& path);
/// Width and height of words: sans-serif capitals and digits run at 0.56 em, others less; UTF-8 counts by letters.
Eigen::Vector2d size_of(const std::string& words, double font);

}  // namespace gapfront::report
