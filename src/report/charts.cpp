#include <algorithm>
#include <cmath>
#include <cstdio>

#include "report/html.hpp"

namespace gapfront::report {
namespace {

struct Axis {
  double low, high;  // data
  double from, to;   // pixels
  double at(double v) const { return from + (v - low) / (high - low) * (to - from); }
};

double tick_step(double span) {
  const double raw = span / 5, p = std::pow(10, std::floor(std::log10(raw)));
  return raw > 5 * p ? 10 * p : raw > 2 * p ? 5 * p : raw > p ? 2 * p : p;
}

std::string tick_text(double v, double step) {
  const int decimals = std::clamp(static_cast<int>(std::ceil(-std::log10(step) - 1e-9)), 0, 6);
  std::string s = fixed(std::abs(v) < step * 1e-6 ? 0 : v, decimals);
  return s[0] == '-' ? "−" + s.substr(1) : s;
}

std::string text(double x, double y, const std::string& s, const char* anchor, const char* extra = "") {
  return "<text x=\"" + fixed(x) + "\" y=\"" + fixed(y) + "\" text-anchor=\"" + anchor + "\" " + extra + ">" +
         escape(s) + "</text>";
}
std::string line(double x1, double y1, double x2, double y2, const char* style) {
  return "<path class=\"" + std::string(style) + "\" d=\"M" + fixed(x1) + " " + fixed(y1) + "L" + fixed(x2) + " " +
         fixed(y2) + "\"/>";
}

std::string axes(const Axis& x, const Axis& y, const std::string& x_label, const std::string& y_label) {
  std::string out;
  const double sx = tick_step(x.high - x.low), sy = tick_step(y.high - y.low);
  for (double v = std::ceil(x.low / sx) * sx; v <= x.high + 1e-9 * sx; v += sx)
    out += line(x.at(v), y.from, x.at(v), y.from + 4, "ax") + text(x.at(v), y.from + 17, tick_text(v, sx), "middle");
  for (double v = std::ceil(y.low / sy) * sy; v <= y.high + 1e-9 * sy; v += sy)
    out += line(x.from, y.at(v), x.to, y.at(v), "grid") + text(x.from - 6, y.at(v) + 4, tick_text(v, sy), "end");
  out += line(x.from, y.from, x.to, y.from, "ax");
  out += text((x.from + x.to) / 2, y.from + 34, x_label, "middle");
  return out + text(x.from - 40, y.to - 10, y_label, "start");
}

std::string chart(const std::string& title, const std::string& said, const std::string& inside, int height = 250) {
  return "<figure class=\"chart\"><svg viewBox=\"0 0 460 " + std::to_string(height) + "\" role=\"img\" aria-label=\"" +
         escape(said) + "\">" + inside + "</svg><figcaption>" + escape(title) + "</figcaption></figure>\n";
}

double greatest(const Curve& c) {
  double out = 0;
  for (const auto& p : c.points)
    if (std::isfinite(p.second)) out = std::max(out, p.second);
  return out;
}

}  // namespace

std::string line_chart(const std::string& title, const std::string& x_label, const std::string& y_label,
                       const std::vector<Curve>& curves, double limit, const std::string& limit_name) {
  double x_high = 0, y_low = 0, y_high = limit;
  for (const auto& c : curves)
    for (const auto& [px, py] : c.points)
      if (std::isfinite(px) && std::isfinite(py))
        x_high = std::max(x_high, px), y_low = std::min(y_low, py), y_high = std::max(y_high, py);
  const Axis x{0, x_high > 0 ? x_high : 1, 52, 448}, y{1.08 * y_low, y_high > 0 ? 1.08 * y_high : 1, 205, 26};
  std::string out = axes(x, y, x_label, y_label);
  if (limit > 0)
    out += line(x.from, y.at(limit), x.to, y.at(limit), "lim") + text(x.to, y.at(limit) - 5, limit_name, "end");
  double legend = x.from + 10;
  for (const auto& c : curves) {
    std::string d;
    for (const auto& [px, py] : c.points)
      if (std::isfinite(px) && std::isfinite(py))
        d += (d.empty() ? "M" : "L") + fixed(x.at(px)) + " " + fixed(y.at(py));
    const char* style = c.dashed ? "cur dash" : "cur";
    out += "<path class=\"" + std::string(style) + "\" d=\"" + d + "\"/>";
    if (curves.size() > 1) {
      out += line(legend, 256, legend + 24, 256, style) + text(legend + 29, 260, c.name, "start");
      legend += 190;  // room for the name in every language
    }
  }
  std::string said = title + ".";
  if (curves.size() == 2) {
    auto most = [&](const Curve& c) { return fixed(greatest(c), 2) + " " + y_label; };
    said +=
        " With the nominal gap at most " + most(curves[0]) + ", with the measured gap at most " + most(curves[1]) + ".";
  }
  return chart(title, said, out, curves.size() > 1 ? 268 : 245);
}

std::string histogram_chart(const Inspection& r) {
  const auto& bins = r.verdict.histogram;
  if (bins.size() < 2) return "";
  const UnitSystem units = r.job.units;
  const double per = units == UnitSystem::inch ? 25.4 : 1;
  const double width = bins[1].first - bins[0].first;
  const auto& t = r.job.tolerance;
  std::vector<double> us;
  for (const auto all = fields(r); double v : find_field(all, "U_mm").values)
    if (std::isfinite(v)) us.push_back(v);
  std::sort(us.begin(), us.end());
  const double U = us.empty() ? 0 : us[us.size() / 2];
  double low = std::min(bins.front().first - width, -t.minus - 2 * U),
         high = std::max(bins.back().first + width, t.plus + 2 * U), top = 0;
  for (const auto& b : bins) top = std::max(top, b.second);
  const Axis x{low / per, high / per, 52, 448}, y{0, 108 * top, 205, 26};
  std::string out;
  for (double limit : {-t.minus, t.plus})  // within ± U of a limit nothing can be proven
    out += "<rect class=\"band\" x=\"" + fixed(x.at((limit - U) / per)) + "\" y=\"26\" width=\"" +
           fixed(x.at((limit + U) / per) - x.at((limit - U) / per)) + "\" height=\"179\"/>";
  for (const auto& [centre, share] : bins)
    out += "<rect class=\"col\" x=\"" + fixed(x.at((centre - 0.45 * width) / per)) + "\" y=\"" +
           fixed(y.at(100 * share)) + "\" width=\"" +
           fixed(x.at((centre + 0.45 * width) / per) - x.at((centre - 0.45 * width) / per)) + "\" height=\"" +
           fixed(205 - y.at(100 * share)) + "\"/>";
  out += axes(x, y, "deviation, " + shown_unit(Dimension::length, units), "share of area, %");
  for (double limit : {-t.minus, t.plus}) out += line(x.at(limit / per), 205, x.at(limit / per), 26, "lim");
  const std::string title = "How the deviation is spread over the area.";
  return chart(title + " Dashed: tolerance limits. Shaded: within U of a limit.",
               title + " The table below has the numbers.", out, 245);
}

}  // namespace gapfront::report
