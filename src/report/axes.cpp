#include "report/axes.hpp"

#include <algorithm>
#include <cmath>

#include "report/html.hpp"

namespace gapfront::report {

double tick_step(double span) {
  const double raw = span / 5, p = std::pow(10, std::floor(std::log10(raw)));
  return raw > 5 * p ? 10 * p : raw > 2 * p ? 5 * p : raw > p ? 2 * p : p;
}

std::string tick_text(double v, double step, const Voice& voice) {
  return spelt(spoken(v, std::clamp(static_cast<int>(std::ceil(-std::log10(step) - 1e-9)), 0, 6)), voice);
}

std::string text(double x, double y, const std::string& html, const char* anchor) {
  return "<text x=\"" + fixed(x) + "\" y=\"" + fixed(y) + "\" text-anchor=\"" + anchor + "\">" + html + "</text>";
}

std::string path(const char* style, const std::string& d) {
  return "<path class=\"" + std::string(style) + "\" d=\"" + d + "\"/>";
}

std::string plain_label(double x, double y, const std::string& html, const char* anchor) {
  return "<text class=\"lab\" x=\"" + fixed(x) + "\" y=\"" + fixed(y) + "\" text-anchor=\"" + anchor + "\">" + html +
         "</text>";
}

std::string line(double x1, double y1, double x2, double y2, const char* style) {
  return path(style, "M" + fixed(x1) + " " + fixed(y1) + "L" + fixed(x2) + " " + fixed(y2));
}

std::string axes(const Axis& x, const Axis& y, const std::string& x_label, const std::string& y_label,
                 const Voice& voice) {
  std::string out;
  const double sx = tick_step(x.high - x.low), sy = tick_step(y.high - y.low);
  for (double v = std::ceil(x.low / sx) * sx; v <= x.high + 1e-9 * sx; v += sx)
    out += line(x.at(v), y.from, x.at(v), y.from + 4, "ax") +
           text(x.at(v), y.from + 17, tick_text(v, sx, voice), "middle");
  for (double v = std::ceil(y.low / sy) * sy; v <= y.high + 1e-9 * sy; v += sy)
    out += line(x.from, y.at(v), x.to, y.at(v), "grid") + text(x.from - 6, y.at(v) + 4, tick_text(v, sy, voice), "end");
  out += line(x.from, y.from, x.to, y.from, "ax");
  out += text((x.from + x.to) / 2, y.from + 34, x_label, "middle");
  return out + text(std::max(4.0, x.from - 40), y.to - 10, y_label, "start");
}

std::string chart_figure(const std::string& caption, const std::string& said, const std::string& inside, int height) {
  return "<figure class=\"chart\"><svg viewBox=\"0 0 460 " + std::to_string(height) + "\" role=\"img\" aria-label=\"" +
         said + "\">" + inside + "</svg><figcaption>" + caption + "</figcaption></figure>\n";
}

}  // namespace gapfront::report
