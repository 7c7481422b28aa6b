#include <algorithm>
#include <cmath>
#include <cstdio>
#include <tuple>

#include "report/figures.hpp"

namespace gapfront::report {
namespace {

constexpr int map_width = 640, map_max_height = 620, bar_room = 112;  // pixels; the bar's numbers need about 100

struct Range {
  double low, high;
  explicit Range(const Field& f) { std::tie(low, high) = colour_range(f); }
};

// Largest of 1, 2, 5 × 10^k that does not exceed x.
double round_step(double x) {
  const double p = std::pow(10, std::floor(std::log10(x)));
  return x >= 5 * p ? 5 * p : x >= 2 * p ? 2 * p : p;
}

std::string label(double x, double y, const std::string& text, const char* anchor = "start") {
  return "<text class=\"lab\" x=\"" + fixed(x) + "\" y=\"" + fixed(y) + "\" text-anchor=\"" + anchor + "\">" +
         escape(text) + "</text>";
}

std::string closed_path(const std::vector<Vec3>& outline, const View& v) {
  std::string d;
  for (const auto& p : outline) d += (d.empty() ? "M" : "L") + fixed(v.x(p)) + " " + fixed(v.y(p));
  return d.empty() ? d : d + "Z";
}

// A name beside a mark, on the side where the picture has room for it.
std::string beside(const View& v, double x, double y, const std::string& text) {
  const bool left = x > v.width - 75;  // pixels; "vent" takes about 55
  return label(left ? x - 10 : x + 10, y, text, left ? "end" : "start");
}

// Regions, vents and what stays dry.
std::string marks(const Inspection& r, const View& v) {
  std::string out;
  for (const auto& region : r.verdict.regions) {
    out += "<path class=\"out halo\" d=\"" + closed_path(region.outline, v) + "\"/><path class=\"out\" d=\"" +
           closed_path(region.outline, v) + "\"/>" +
           label(v.x(region.centre), v.y(region.centre), region.name, "middle");
  }
  for (const auto& vent : r.job.flow.vents)
    if (!vent.path.empty()) {
      const double x = v.x(vent.path[0]), y = v.y(vent.path[0]);
      out += "<circle class=\"vent\" cx=\"" + fixed(x) + "\" cy=\"" + fixed(y) + "\" r=\"6\"/>" +
             beside(v, x, y + 6, "vent");
    }
  for (const auto& p : r.filling.pockets) {
    const double x = v.x(p.centre), y = v.y(p.centre);
    out += "<path class=\"dry\" d=\"M" + fixed(x - 7) + " " + fixed(y - 7) + "l14 14m0 -14l-14 14\"/>" +
           beside(v, x, y - 6, "air");
  }
  return out;
}

// What was seen on parts: a dashed ring, so that it is told from what is predicted.
std::string seen_marks(const std::vector<SeenSpot>& seen, const View& v) {
  std::string out;
  for (const auto& s : seen) {
    const double x = v.x(s.at), y = v.y(s.at), r = std::max(8.0, 0.5 * s.size * v.px_per_mm);
    const std::string ring = "cx=\"" + fixed(x) + "\" cy=\"" + fixed(y) + "\" r=\"" + fixed(r) + "\"/>";
    out +=
        "<circle class=\"out halo\" " + ring + "<circle class=\"seen\" " + ring + label(x, y - r - 5, s.name, "middle");
  }
  return out;
}

std::string scale_bar(const View& v, UnitSystem units) {
  const double unit = units == UnitSystem::inch ? 25.4 : 1;
  const double mm = round_step(0.25 * v.width / v.px_per_mm / unit) * unit;
  const double x = 8, y = v.height + 14, w = mm * v.px_per_mm;
  return "<path class=\"bar\" d=\"M" + fixed(x) + " " + fixed(y - 4) + "v8M" + fixed(x) + " " + fixed(y) + "h" +
         fixed(w) + "m0 -4v8\"/>" +
         label(x + w + 6, y + 6, fixed(mm / unit, mm / unit < 1 ? 2 : 0) + (units == UnitSystem::inch ? " in" : " mm"));
}

std::string colour_bar(const Field& f, Range range, const View& v, UnitSystem units) {
  const double x = v.width + 14, top = 36, height = std::max(120.0, v.height - 60.0);
  std::string out = "<g>";
  const int steps = 64;
  for (int i = 0; i < steps; ++i)
    out += "<rect x=\"" + fixed(x) + "\" y=\"" + fixed(top + height * i / steps) + "\" width=\"14\" height=\"" +
           fixed(height / steps + 0.6) + "\" fill=\"" + hex(colour(f.scale, 1 - (i + 0.5) / steps)) + "\"/>";
  for (int i = 0; i <= 4; ++i) {
    const double value = range.high + (range.low - range.high) * i / 4;
    out += label(x + 20, top + height * i / 4 + 6, shown(value, f.dimension, units));
  }
  return out + label(x, top - 16, shown_unit(f.dimension, units)) + "</g>";
}

std::string frame(const View& v, bool bar, const std::string& id, const std::string& alt, const std::string& inside,
                  const std::string& caption) {
  return "<figure class=\"map\" data-map=\"" + escape(id) + "\"><svg viewBox=\"0 0 " +
         std::to_string(v.width + (bar ? bar_room : 0)) + " " + std::to_string(v.height + 28) +
         "\" role=\"img\" aria-label=\"" + escape(alt) + "\">" + inside + "</svg><figcaption>" + caption +
         "</figcaption></figure>\n";
}

std::string image(const Mesh& mesh, const View& v, const Paint& paint) {
  return "<image width=\"" + std::to_string(v.width) + "\" height=\"" + std::to_string(v.height) + "\" href=\"" +
         png_data_uri(rasterise(mesh, v, paint), v.width, v.height) + "\"/>";
}

}  // namespace

std::pair<double, double> colour_range(const Field& f) {
  std::vector<double> v;
  for (double x : f.values)
    if (std::isfinite(x)) v.push_back(x);
  if (v.empty()) return {0, 1};
  std::sort(v.begin(), v.end());
  double low = v[v.size() / 100], high = v[v.size() - 1 - v.size() / 100];
  if (f.about_zero) high = std::max(std::abs(low), std::abs(high)), low = -high;
  if (!(high > low)) {
    const double pad = std::max(std::abs(high) * 1e-3, 1e-6);
    low -= pad, high += pad;
  }
  return {low, high};
}

View map_view(const Mesh& mesh) { return plan_view(mesh, map_width, map_max_height); }

std::string map_figure(const Inspection& r, const Field& f, const std::string& caption, bool isochrones) {
  return map_figure(r, f, caption, MapExtras{isochrones, {}, {}});
}

std::string map_figure(const Inspection& r, const Field& f, const std::string& caption, const MapExtras& extras) {
  const View v = map_view(r.sheet.mesh);
  Range range(f);
  if (extras.range) range.low = extras.range->first, range.high = extras.range->second;
  Paint paint;
  paint.values = &f.values;
  paint.low = range.low, paint.high = range.high, paint.scale = f.scale;
  std::string inside = image(r.sheet.mesh, v, paint);
  if (extras.isochrones && range.high > range.low) {
    const double step = std::max(1.0, round_step((range.high - range.low) / 6));
    for (double level = step; level < range.high; level += step)
      inside += "<path class=\"iso\" d=\"" + level_line(r.sheet.mesh, v, f.values, level) + "\"/>";
  }
  inside += marks(r, v) + seen_marks(extras.seen, v) + scale_bar(v, r.job.units) + colour_bar(f, range, v, r.job.units);
  return frame(v, true, f.id, f.title + " in plan. " + f.meaning, inside, caption);
}

std::string class_figure(const Inspection& r, const std::string& caption) {
  const View v = map_view(r.sheet.mesh);
  Paint paint;
  const std::vector<Conformity> classes = node_classes(r);
  paint.classes = &classes;
  return frame(v, false, "conformity", "Conformity in plan, by colour and pattern.",
               image(r.sheet.mesh, v, paint) + marks(r, v) + scale_bar(v, r.job.units), caption);
}

std::string corner_figure(const Inspection& r, const Field& f, const std::string& caption) {
  const View v = corner_view(r.sheet.mesh, map_width, 420, f.values);
  const Range range(f);
  Paint paint;
  paint.values = &f.values;
  paint.low = range.low, paint.high = range.high, paint.scale = f.scale, paint.shaded = true;
  return "<div class=\"corner\">" +
         frame(v, true, "", f.title + " seen from a corner and above.",
               image(r.sheet.mesh, v, paint) + colour_bar(f, range, v, r.job.units), caption) +
         "</div>\n";
}

}  // namespace gapfront::report
