// What a template is drawn of: lines, words, and the boxes under them.
#pragma once
#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "report/labels.hpp"

namespace gapfront::report {

struct DrawnLine {
  std::vector<Eigen::Vector2d> points;
  double width = 0.2;
  bool dashed = false;
  bool under = false;  ///< a contour, which a number on it may cover
};
struct DrawnWords {
  Eigen::Vector2d at;
  double size;  ///< mm
  std::string text;
};
/// y up, mm.
struct TemplateDrawing {
  std::vector<DrawnLine> lines;
  std::vector<std::pair<Eigen::Vector2d, Eigen::Vector2d>>
      blanks;  ///< corners of white boxes over the contours, under all else
  std::vector<DrawnWords> texts;
  Eigen::Vector2d low = Eigen::Vector2d::Constant(1e9), high = Eigen::Vector2d::Constant(-1e9);
  void line(std::vector<Eigen::Vector2d> points, double width, bool dashed = false) {
    for (const Eigen::Vector2d& p : points) low = low.cwiseMin(p), high = high.cwiseMax(p);
    lines.push_back({std::move(points), width, dashed});
  }
  void cross(const Eigen::Vector2d& at, double r, double width) {
    line({at - Eigen::Vector2d(r, 0), at + Eigen::Vector2d(r, 0)}, width),
        line({at - Eigen::Vector2d(0, r), at + Eigen::Vector2d(0, r)}, width);
  }
  void text(const Eigen::Vector2d& at, double size, const std::string& words) {
    // Helvetica runs at about half an em a letter, so that the page is wide enough.
    low = low.cwiseMin(at), high = high.cwiseMax(at + Eigen::Vector2d(0.52 * size * words.size(), size));
    texts.push_back({at, size, words});
  }
};

/// Words on a drawing: each on what it names, none over another.
class TemplateWords {
 public:
  explicit TemplateWords(TemplateDrawing& d) : TemplateWords(d, d.low, d.high) {}
  TemplateWords(TemplateDrawing& d, const Eigen::Vector2d& low, const Eigen::Vector2d& high)
      : d_(d), labels_(low, high) {}
  void keep_off(const Eigen::Vector2d& low, const Eigen::Vector2d& high) { labels_.keep_off(low, high); }
  /// At the first of these places that is free; where none is it goes without, unless it `must` be written. `blank`:
  /// over a white box.
  void put(const std::vector<Eigen::Vector2d>& centres, double size, const std::string& text, bool blank,
           bool must = false) {
    const auto at = place(centres, size, text, must);
    if (at) write(*at, size, text, blank);
  }
  /// Its centre, nothing written.
  std::optional<Eigen::Vector2d> place(const std::vector<Eigen::Vector2d>& centres, double size,
                                       const std::string& text, bool must) {
    auto c = labels_.place(centres, size_of(text, size) + Eigen::Vector2d::Constant(0.4));
    if (!c && must) c = centres.front();
    return c;
  }
  void write(const Eigen::Vector2d& centre, double size, const std::string& text, bool blank) {
    const Eigen::Vector2d box = size_of(text, size);
    const Eigen::Vector2d corner = centre - 0.5 * box;
    if (blank)
      d_.blanks.emplace_back(corner - Eigen::Vector2d::Constant(0.2), corner + box + Eigen::Vector2d::Constant(0.2));
    d_.text(corner + Eigen::Vector2d(0, 0.14 * size), size, text);
  }
  void put_beside(const Eigen::Vector2d& p, double size, const std::string& text, bool must = false) {
    put(centres_beside(p, size_of(text, size), 1), size, text, false, must);
  }

 private:
  TemplateDrawing& d_;
  Labels labels_;
};

inline void keep_off_line(TemplateWords& words, const std::vector<Eigen::Vector2d>& points) {
  for (std::size_t k = 1; k < points.size(); ++k) {
    const int steps = std::max(1, static_cast<int>(std::ceil((points[k] - points[k - 1]).norm())));
    for (int i = 0; i <= steps; ++i) {
      const Eigen::Vector2d p = points[k - 1] + double(i) / steps * (points[k] - points[k - 1]);
      words.keep_off(p - Eigen::Vector2d::Constant(0.4), p + Eigen::Vector2d::Constant(0.4));
    }
  }
}

}  // namespace gapfront::report
