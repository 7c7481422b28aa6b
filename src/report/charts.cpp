#include <algorithm>
#include <cmath>

#include "report/axes.hpp"
#include "report/html.hpp"

namespace gapfront::report {
namespace {

double maximum(const Curve& c) {
  double out = 0;
  for (const auto& p : c.points)
    if (std::isfinite(p.second)) out = std::max(out, p.second);
  return out;
}

}  // namespace

std::string line_chart(const Voice& v, const Message& title, const std::string& unit, const std::vector<Curve>& curves,
                       double limit) {
  double x_high = 0, y_low = 0, y_high = limit;
  for (const auto& c : curves)
    for (const auto& [px, py] : c.points)
      if (std::isfinite(px) && std::isfinite(py))
        x_high = std::max(x_high, px), y_low = std::min(y_low, py), y_high = std::max(y_high, py);
  const Axis x{0, x_high > 0 ? x_high : 1, 52, 448}, y{1.08 * y_low, y_high > 0 ? 1.08 * y_high : 1, 205, 26};
  std::string out = axes(x, y, told(v, "front.time-s"), unit, v);
  if (limit > 0)
    out += line(x.from, y.at(limit), x.to, y.at(limit), "lim") +
           text(x.to, y.at(limit) - 5, told(v, "front.limit"), "end");
  double legend = x.from + 10;
  for (const auto& c : curves) {
    std::string d;
    for (const auto& [px, py] : c.points)
      if (std::isfinite(px) && std::isfinite(py))
        d += (d.empty() ? "M" : "L") + fixed(x.at(px)) + " " + fixed(y.at(py));
    const char* style = c.dashed ? "cur dash" : "cur";
    out += path(style, d);
    if (curves.size() > 1) {
      out += line(legend, 256, legend + 24, 256, style) + text(legend + 29, 260, told(v, c.name), "start");
      legend += 190;  // room for the name in every language
    }
  }
  Messages most;
  for (const Curve& c : curves)
    most.push_back(
        Message("front.curve-at-most", {arg::message(c.name), arg::name(fixed(maximum(c), 2, v) + " " + unit)}));
  const Message said =
      full_sentence({Message("list.named", {arg::message(title), arg::message(in_one_sentence(most))})});
  return chart_figure(told(v, title), told(v, said), out, curves.size() > 1 ? 268 : 245);
}

std::string histogram_chart(const Inspection& r) {
  const auto& bins = r.verdict.histogram;
  if (bins.size() < 2) return "";
  const Voice v = voice_of(r.job);
  const UnitSystem units = v.units;
  const double per = mm_per_unit(units);
  const double width = bins[1].first - bins[0].first;
  const auto& t = r.job.tolerance;
  const double known = median_U(fields(r)), U = std::isfinite(known) ? known : 0;
  double low = std::min(bins.front().first - width, -t.minus - 2 * U),
         high = std::max(bins.back().first + width, t.plus + 2 * U), top = 0;
  for (const auto& b : bins) top = std::max(top, b.second);
  const Axis x{low / per, high / per, 52, 448}, y{0, 108 * top, 205, 26};
  std::string out;
  for (double limit : {-t.minus, t.plus})  // within ± U of a limit nothing can be proven
    out += "<rect class=\"band\" x=\"" + fixed(x.at((limit - U) / per)) + "\" y=\"26\" width=\"" +
           fixed(x.at((limit + U) / per) - x.at((limit - U) / per)) + "\" height=\"179\"/>";
  for (const auto& [centre, fraction] : bins)
    out += "<rect class=\"col\" x=\"" + fixed(x.at((centre - 0.45 * width) / per)) + "\" y=\"" +
           fixed(y.at(100 * fraction)) + "\" width=\"" +
           fixed(x.at((centre + 0.45 * width) / per) - x.at((centre - 0.45 * width) / per)) + "\" height=\"" +
           fixed(205 - y.at(100 * fraction)) + "\"/>";
  out += axes(x, y, told(v, "gap.deviation-3", {arg::name(shown_unit(Dimension::length, units))}),
              told(v, "gap.share-area"), v);
  for (double limit : {-t.minus, t.plus}) out += line(x.at(limit / per), 205, x.at(limit / per), 26, "lim");
  const std::string title = told(v, "gap.how-deviation-spread-over") + " ";
  return chart_figure(title + told(v, "gap.dashed-tolerance-limits") + " " + told(v, "gap.shaded-within-u-limit"),
                      title + told(v, "gap.table-below-has-numbers"), out, 245);
}

}  // namespace gapfront::report
