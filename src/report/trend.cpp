// The chart of a wear: what was measured, the line through it, and when the line comes to its limit.
#include <algorithm>
#include <cmath>

#include "report/axes.hpp"
#include "report/figures.hpp"

namespace gapfront::report {
namespace {

constexpr double kLeft = 52, kRight = 448, kTop = 26, kBottom = 225;  // pixels of a picture 460 wide

}  // namespace

std::string trend_chart(const std::string& caption, const Trend& t, const Voice& voice) {
  double x_low = t.now, x_high = t.now, y_low = t.limit, y_high = t.limit;
  const auto grow = [&](double y) { y_low = std::min(y_low, y), y_high = std::max(y_high, y); };
  for (const auto& p : t.seen) {
    x_low = std::min(x_low, p.x), x_high = std::max(x_high, p.x);
    grow(p.y - p.U), grow(p.y + p.U);
  }
  for (const auto& p : t.line) x_high = std::max(x_high, p.x), grow(p.y);
  const double pad = 0.06 * std::max(y_high - y_low, 1e-6);
  const Axis x{x_low - 0.03 * (x_high - x_low), x_high + 0.01 * (x_high - x_low) + 1e-6, kLeft, kRight},
      y{y_low - pad, y_high + pad, kBottom, kTop};
  const auto shown_y = [&](double v) { return fixed(std::clamp(y.at(v), kTop, kBottom)); };
  std::string out = axes(x, y, told(voice, "pages.cycles-2"), t.y_label, voice);
  if (!t.line.empty()) {
    std::string up, back, middle;
    for (const auto& p : t.line) {
      up += (up.empty() ? "M" : "L") + fixed(x.at(p.x)) + " " + shown_y(p.high);
      middle += (middle.empty() ? "M" : "L") + fixed(x.at(p.x)) + " " + shown_y(p.y);
    }
    for (auto p = t.line.rbegin(); p != t.line.rend(); ++p) back += "L" + fixed(x.at(p->x)) + " " + shown_y(p->low);
    out += path("unsure", up + back + "Z") + path("cur", middle);
  }
  out += line(kLeft, y.at(t.limit), kRight, y.at(t.limit), "lim");
  if (t.reached) {
    const double from = std::clamp(x.at(t.reached->first), kLeft, kRight),
                 to = std::clamp(x.at(t.reached->second), kLeft, kRight), at = y.at(t.limit);
    out += path("reach", "M" + fixed(from) + " " + fixed(at) + "H" + fixed(to) + "M" + fixed(from) + " " +
                             fixed(at - 5) + "v10M" + fixed(to) + " " + fixed(at - 5) + "v10");
  }
  for (const auto& p : t.seen) {
    const std::string px = fixed(x.at(p.x));
    out += path("ax", "M" + px + " " + fixed(y.at(p.y - p.U)) + "V" + fixed(y.at(p.y + p.U)) + "m-4 0h8M" +
                          fixed(x.at(p.x) - 4) + " " + fixed(y.at(p.y - p.U)) + "h8");
    out += "<circle class=\"dot\" cx=\"" + px + "\" cy=\"" + fixed(y.at(p.y)) + "\" r=\"4\"/>";
  }
  // At the end where the trend is farther off, and last, so that it is read over a trend that crosses it; above the
  // line where there is room, or it would stand in the axis' name.
  const double base = y.at(t.limit) + (y.at(t.limit) > kTop + 20 ? -6 : 15);
  const auto clear = [&](double from, double to) {
    double least = INFINITY;
    const auto look = [&](double px, double py) {
      if (x.at(px) > from && x.at(px) < to) least = std::min(least, std::abs(y.at(py) - base + 4));
    };
    for (const auto& p : t.line) look(p.x, p.y);
    for (const auto& p : t.seen) look(p.x, p.y);
    return least;
  };
  constexpr double wide = 60;  // "Grenze" and what stands beside it
  const bool left = clear(kRight - wide, kRight + 1) < 14 && clear(kLeft - 1, kLeft + wide) > 14;
  out += "<text class=\"over\" x=\"" + fixed(left ? kLeft + 6 : kRight) + "\" y=\"" + fixed(base) +
         "\" text-anchor=\"" + (left ? "start" : "end") + "\">" + told(voice, "front.limit") + "</text>";
  return chart_figure(caption, t.name, out, 266);
}

}  // namespace gapfront::report
