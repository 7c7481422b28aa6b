#include "report/work_sketches.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/neighbours.hpp"
#include "core/places.hpp"
#include "gapfront/report.hpp"
#include "report/html.hpp"
#include "report/labels.hpp"
#include "report/templates.hpp"
#include "units/inch.hpp"

namespace gapfront::report {
namespace {

using Vec2 = Eigen::Vector2d;

// Of the words, in units of the drawing. A drawing is 360 units across at the most, and on paper no higher than 5.2 cm
// (work_order.cpp): words are 2.3 mm high at the least.
constexpr double kFont = 16, kAcross = 260;
constexpr double kSmall = 13;  // numbers of stops and thicknesses, many of which stand close together
constexpr double kEdge = 50, kAxis = 34;

/// A drawing with y up, in mm, and its words.
class Sketch {
 public:
  /// `scale`: units of the drawing per mm.
  Sketch(const Vec2& low, const Vec2& high, double scale)
      : low_(low),
        scale_(scale),
        size_((high - low) * scale_),
        labels_(Vec2::Constant(-kEdge + 2), size_ + Vec2::Constant(kEdge - 2)) {}
  Vec2 at(const Vec2& p) const { return {(p.x() - low_.x()) * scale_, size_.y() - (p.y() - low_.y()) * scale_}; }

  void path(const std::vector<Vec2>& line, const char* style, const std::string& more = "") {
    std::string d;
    for (const Vec2& p : line) d += (d.empty() ? "M" : "L") + fixed(at(p).x()) + " " + fixed(at(p).y());
    shapes_ += std::string("<path class=\"") + style + "\"" + more + " d=\"" + d + "\"/>";
  }
  void dot(const Vec2& p, double r) {
    shapes_ += "<circle class=\"vent\" r=\"" + fixed(r) + "\" cx=\"" + fixed(at(p).x()) + "\" cy=\"" +
               fixed(at(p).y()) + "\"/>";
    labels_.keep_off(at(p) - Vec2::Constant(r), at(p) + Vec2::Constant(r));
  }
  void keep_off(const Vec2& p, double r) { labels_.keep_off(at(p) - Vec2::Constant(r), at(p) + Vec2::Constant(r)); }
  void cross(const Vec2& p) {
    const Vec2 q = at(p);
    shapes_ += "<path class=\"stop\" d=\"M" + fixed(q.x() - 3) + " " + fixed(q.y()) + "h6m-3 -3v6\"/>";
    crosses_.push_back(q);
    labels_.keep_off(q - Vec2::Constant(4), q + Vec2::Constant(4));
  }
  /// The number of a stop: above its cross, or below or beside it where it is still nearest to it. Where other crosses
  /// are too close it stands farther off, with a line to its own.
  void number(const Vec2& p, const std::string& text) {
    const Vec2 mark = at(p), size = size_of(text, kSmall);
    const auto own = [&](const Vec2& c) {
      return std::all_of(crosses_.begin(), crosses_.end(), [&](const Vec2& other) {
        return (other - mark).norm() < 1e-9 || (c - mark).norm() < 0.8 * (c - other).norm();
      });
    };
    std::vector<Vec2> near, far;
    for (const Vec2& c : centres_around(mark, size, 4.5))
      if (own(c)) near.push_back(c);
    if (const auto c = labels_.place(near, size)) return write(*c, text, "name", kSmall);
    for (const double off : {11.0, 18.0, 26.0, 36.0})
      for (const Vec2& c : centres_around(mark, size, off)) far.push_back(c);
    const auto found = labels_.place(far, size);
    const Vec2 c = found ? *found : far.front();  // a stop without its number cannot be found in the table
    const Vec2 way = (c - mark).normalized(), from = mark + 4 * way, to = c - 0.5 * size.cwiseProduct(way);
    shapes_ += "<path class=\"lead\" d=\"M" + fixed(from.x()) + " " + fixed(from.y()) + "L" + fixed(to.x()) + " " +
               fixed(to.y()) + "\"/>";
    write(c, text, "name", kSmall);
  }
  /// Keeps what is written later off a line.
  void keep_off_line(const std::vector<Vec2>& line) {
    for (std::size_t k = 1; k < line.size(); ++k) {
      const Vec2 a = at(line[k - 1]), b = at(line[k]);
      const int pieces = 1 + static_cast<int>((b - a).norm() / 4);
      for (int i = 0; i <= pieces; ++i) {
        const Vec2 p = a + (b - a) * i / pieces;
        labels_.keep_off(p - Vec2::Constant(2), p + Vec2::Constant(2));
      }
    }
  }
  /// Words on the first place that is free; left out, and false, where none is.
  bool words(const std::vector<Vec2>& centres, const std::string& text) {
    const auto c = labels_.place(centres, size_of(text, kFont));
    if (c) write(*c, text, "name", kFont);
    return c.has_value();
  }
  /// A thickness on its line, well away from every cross where there is room, and over none.
  void on_line(const std::vector<Vec2>& line, const std::string& text) {
    std::vector<Vec2> drawn;
    for (const Vec2& p : line) drawn.push_back(at(p));
    std::vector<Vec2> centres = centres_on(drawn);
    const Vec2 size = size_of(text, kSmall), away = 0.5 * size + Vec2::Constant(8);
    std::stable_partition(centres.begin(), centres.end(), [&](const Vec2& c) {
      return std::none_of(crosses_.begin(), crosses_.end(),
                          [&](const Vec2& x) { return ((c - x).cwiseAbs().array() < away.array()).all(); });
    });
    if (const auto c = labels_.place(centres, size)) write(*c, text, "name thick", kSmall);
  }
  void beside(const Vec2& p, const std::string& text) {
    // Clear of the largest dot, of radius 5: a name that overlaps its own dot has no place.
    words(centres_beside(at(p), size_of(text, kFont), 6), text);
  }
  /// An arrow along a tool axis with its name, from a place in units of the drawing.
  void arrow(const Vec2& from, const Vec2& way, char axis, const Voice& v) {
    const Vec2 to = from + kAxis * way, side(-way.y(), way.x()), back = to - 6 * way;
    const auto p = [](const Vec2& v) { return fixed(v.x()) + " " + fixed(v.y()); };
    shapes_ += std::string("<path class=\"axis\" data-axis=\"tool +") + axis + "\" d=\"M" + p(from) + "L" + p(to) +
               "M" + p(back + 3 * side) + "L" + p(to) + "L" + p(back - 3 * side) + "\"/>";
    labels_.keep_off(from.cwiseMin(to) - Vec2::Constant(4), from.cwiseMax(to) + Vec2::Constant(4));
    const std::string name = say(Message("order.tool", {arg::name(std::string(1, axis))}), v);
    if (words(centres_beside(to, size_of(name, kFont), 4), name)) return;
    const std::string sign = std::string("+") + axis;  // where there is no room for more
    words(centres_beside(to, size_of(sign, kFont), 4), sign);
  }
  Vec2 corner() const { return {-kEdge + 8, size_.y() + kEdge - 8}; }
  Vec2 top_corner() const { return {-kEdge + 8, -kEdge + 8}; }
  /// In a frame of at least that size, so that drawings of one scale look like one scale.
  std::string figure(const std::string& caption, const Vec2& frame = Vec2::Zero()) const {
    const Vec2 whole = size_.cwiseMax(frame) + Vec2::Constant(2 * kEdge), corner = 0.5 * (size_ - whole);
    return "<figure class=\"map sketch\"><svg viewBox=\"" + fixed(corner.x()) + " " + fixed(corner.y()) + " " +
           fixed(whole.x()) + " " + fixed(whole.y()) + "\" role=\"img\" aria-label=\"" + caption + "\">" + shapes_ +
           texts_ + "</svg><figcaption>" + caption + "</figcaption></figure>\n";
  }

 private:
  void write(const Vec2& c, const std::string& text, const char* style, double font) {
    texts_ += "<text translate=\"no\" class=\"" + std::string(style) + "\" style=\"font-size:" + fixed(font, 0) +
              "px\" x=\"" + fixed(c.x()) + "\" y=\"" + fixed(c.y() + 0.36 * font) + "\" text-anchor=\"middle\">" +
              escape(text) + "</text>";
  }

  Vec2 low_;
  double scale_;
  Vec2 size_;
  Labels labels_;
  std::vector<Vec2> crosses_;
  std::string shapes_, texts_;
};

std::vector<Vec2> in_plan(const std::vector<Vec3>& line) {
  std::vector<Vec2> out;
  for (const Vec3& p : line) out.emplace_back(p.head<2>());
  return out;
}

/// What a depth sketch shows, on paper.
struct Depths {
  std::vector<Vec2> outline;
  std::vector<ThicknessLine> contours;
  std::vector<DepthStop> stops;
  char along = 'x';
};

/// The corners of a drawing, mm.
struct Extent {
  Vec2 low = Vec2::Constant(1e9), high = Vec2::Constant(-1e9);
  void grow(const Vec2& p) { low = low.cwiseMin(p), high = high.cwiseMax(p); }
  Vec2 size() const { return (high - low).cwiseMax(0); }
};

Extent extent_of(const Depths& d) {
  Extent out;
  for (const Vec2& p : d.outline) out.grow(p);
  for (const auto& l : d.contours)
    for (const Vec2& p : in_plan(l.line)) out.grow(p);
  return out;
}

/// Every how many thicknesses a line is drawn: across the short side of the outline lines stand 5 units apart at least.
double drawn_step(const Depths& d, double scale) {
  Extent outline;
  double least = INFINITY, most = 0;
  for (const Vec2& p : d.outline) outline.grow(p);
  for (const auto& l : d.contours)
    if (l.depth > 0) least = std::min(least, l.depth), most = std::max(most, l.depth);
  if (!(most > 0)) return 0;
  const double room = 0.5 * scale * outline.size().minCoeff() / 5;  // lines from the rim to the middle
  for (const int times : {1, 2, 4, 10, 20})
    if (most / (times * least) <= std::max(2.0, room)) return times * least;
  return 40 * least;
}

bool is_drawn(const ThicknessLine& l, double step) {
  return l.depth <= 0 || std::abs(l.depth - step * std::round(l.depth / step)) < 0.01 * step;
}

std::string depth_figure(const Depths& d, const Message& name, double scale, const Vec2& frame, const Voice& v) {
  const Extent e = extent_of(d);
  const double step = drawn_step(d, scale);
  Sketch s(e.low, e.high, scale);
  s.arrow(s.corner(), Vec2(1, 0), d.along, v);
  s.path(d.outline, "out");
  for (const auto& l : d.contours)
    if (is_drawn(l, step)) s.path(in_plan(l.line), l.depth > 0 ? "level" : "tape");
  for (const auto& stop : d.stops) s.cross(stop.at.head<2>());
  for (const auto& stop : d.stops) s.number(stop.at.head<2>(), std::to_string(stop.number));
  s.keep_off_line(d.outline);
  for (const auto& l : d.contours)
    if (l.depth > 0 && is_drawn(l, step)) s.on_line(in_plan(l.line), depth_mark(l.depth, v));
  if (d.stops.empty()) return s.figure(told(v, "bench.outline-seen-from-cavity", {arg::message(name)}), frame);
  return s.figure(told(v, "bench.seen-from-cavity-half", {arg::message(name), arg::name(depth_unit(v.units))}), frame);
}

/// The drawings of one correction, all to one scale.
std::string depth_figures(const std::vector<std::pair<Depths, Message>>& parts, const Voice& v) {
  Vec2 largest = Vec2::Ones();
  for (const auto& [d, name] : parts) largest = largest.cwiseMax(extent_of(d).size());
  const double scale = kAcross / largest.maxCoeff();
  std::string out;
  for (const auto& [d, name] : parts) out += depth_figure(d, name, scale, scale * largest, v);
  return out;
}

}  // namespace

std::string depth_number(double mm, const Voice& v) {
  return v.units == UnitSystem::inch ? fixed(1000 * mm / inch, 0) : fixed(mm, 2, v);
}
std::string depth_unit(UnitSystem u) { return u == UnitSystem::inch ? "thou" : "mm"; }

std::string by_depth(double mm, const Voice& v) { return depth_number(mm, v) + "\u00a0" + depth_unit(v.units); }

Text bench_words(const Correction& c) {
  if (c.face == "upper") return {Message("bench.upper-half-lies-turned"), Message("bench.seen-from-above-tool-x")};
  return {Message("bench.lower-half-lies-cavity"), Message("bench.seen-from-above-tool")};
}

namespace {

/// The rim of the sheet, as the half lies on the bench.
void draw_rim(Sketch& s, const Mesh& mesh, bool upper) {
  for (const auto& [a, b] : rim_edges(mesh))
    s.path({correct::on_bench(mesh.points[a], upper), correct::on_bench(mesh.points[b], upper)}, "rim");
}

/// Which way the tool's x and y run there: on the half that is turned over y runs towards the reader.
void draw_axes(Sketch& s, bool upper, const Voice& v) {
  s.arrow(s.corner(), Vec2(1, 0), 'x', v);
  if (upper)
    s.arrow(s.top_corner(), Vec2(0, 1), 'y', v);
  else
    s.arrow(s.corner(), Vec2(0, -1), 'y', v);
}

/// The numbers of the parts of a template, each in the middle of its depth stops; whether there are any.
template <class Bench>
bool write_parts(Sketch& s, const Correction& c, const Bench& bench) {
  bool any = false;
  for (const Template& t : c.templates) {
    std::vector<Vec3> places;
    for (const DepthStop& of_part : t.stops)
      for (const DepthStop& stop : c.stops)
        if (stop.number == of_part.number) places.push_back(stop.at);
    if (t.part == 0) continue;
    // A part without stops is shown by where its mark lies.
    const Vec2 middle = s.at(bench(places.empty() ? t.origin : mean_place(places)));
    std::vector<Vec2> centres{middle};
    for (const Vec2& p : centres_around(middle, Vec2::Zero(), 7)) centres.push_back(p);
    any = s.words(centres, std::to_string(t.part)) || any;
  }
  return any;
}

}  // namespace

std::string place_sketch(const Inspection& r, const Correction& c) {
  const Voice v = voice_of(r.job);
  const bool upper = c.face == "upper";
  const auto bench = [&](const Vec3& p) { return correct::on_bench(p, upper); };
  const auto line = [&](const std::vector<Vec3>& points) {
    std::vector<Vec2> out;
    for (const Vec3& p : points) out.push_back(bench(p));
    return out;
  };
  Extent all;
  const auto grow = [&](const Vec3& p) { all.grow(bench(p)); };
  for (const Vec3& p : r.sheet.mesh.points) grow(p);
  for (const auto& t : c.tape) grow(t.at);
  for (const auto& s : c.shims) grow(s.at);
  for (const auto& k : r.plan.references) grow(k.at);
  Sketch s(all.low, all.high, kAcross / std::max(1.0, all.size().maxCoeff()));
  draw_rim(s, r.sheet.mesh, upper);
  for (const auto& t : c.tape) {
    s.path(line(t.line.size() > 1 ? t.line : std::vector<Vec3>{t.at, c.centre}), "tape");
    s.dot(bench(t.at), 4);
  }
  if (!c.outline.empty()) s.path(line(c.outline), "out");
  for (const auto& k : r.plan.references) s.keep_off(bench(k.at), 5);
  draw_axes(s, upper, v);
  for (const auto& station : c.shims) s.dot(bench(station.at), 5);
  for (const auto& station : c.shims) s.beside(bench(station.at), station.station);
  const bool parts = write_parts(s, c, bench);
  if (c.shims.empty()) {
    std::vector<Vec2> centres{s.at(bench(c.centre))};
    if (parts) centres.clear();
    // Beside the work where the middle of it is taken.
    Vec2 rim = Vec2::Constant(4);
    for (const Vec3& p : c.outline) rim = rim.cwiseMax((s.at(bench(p)) - s.at(bench(c.centre))).cwiseAbs());
    for (const Vec2& p : centres_around(s.at(bench(c.centre)), size_of(c.name, kFont) + 2 * rim, 4))
      centres.push_back(p);
    s.words(centres, c.name);
  }
  for (const auto& k : r.plan.references)
    if (std::none_of(c.shims.begin(), c.shims.end(),
                     [&](const ShimChange& h) { return (h.at - k.at).norm() < 1e-3; })) {
      s.dot(bench(k.at), 3);
      s.beside(bench(k.at), k.name);  // there is no room to say what it is
    }
  const std::string caption = told(v, upper ? "bench.where-upper-half-turned" : "bench.where-lower-half-cavity");
  return s.figure(caption + (parts ? " " + told(v, "bench.numbers-parts") : ""));
}

namespace {

bool on_half(const UnseenPlace& p, bool upper) { return p.missing != (upper ? Missing::lower : Missing::upper); }

/// A place that is not measured, filled: the cells of its nodes; where the sheet has none, a disc of its area.
template <class Bench>
void draw_unseen(Sketch& s, const Mesh& mesh, const UnseenPlace& place, const Bench& bench) {
  std::vector<char> in(mesh.points.size(), 0);
  for (const int i : place.nodes) in[i] = 1;
  for (const auto& t : mesh.triangles) {
    const bool whole = in[t[0]] && in[t[1]] && in[t[2]];
    for (int k = 0; k < (whole ? 1 : 3); ++k) {
      const Vec3 &a = mesh.points[t[k]], &b = mesh.points[t[(k + 1) % 3]], &c = mesh.points[t[(k + 2) % 3]];
      if (whole)
        s.path({bench(a), bench(b), bench(c)}, "blind");
      else if (in[t[k]])
        s.path({bench(a), bench((a + b) / 2), bench((a + b + c) / 3), bench((a + c) / 2)}, "blind");
    }
  }
  if (!place.nodes.empty()) return;
  std::vector<Vec2> disc;
  const double radius = std::sqrt(place.area / std::numbers::pi);
  for (int k = 0; k < 24; ++k) {
    const double a = 2 * std::numbers::pi * k / 24;
    disc.push_back(bench(place.centre) + radius * Vec2(std::cos(a), std::sin(a)));
  }
  s.path(disc, "blind");
}

}  // namespace

std::string scan_sketch(const Inspection& r, bool upper) {
  const Voice v = voice_of(r.job);
  const std::vector<UnseenPlace> places = conformity::to_scan(r.verdict);
  if (std::none_of(places.begin(), places.end(), [&](const auto& p) { return on_half(p, upper); })) return "";
  const auto bench = [&](const Vec3& p) { return correct::on_bench(p, upper); };
  const Mesh& mesh = r.sheet.mesh;
  Extent all;
  for (const Vec3& p : mesh.points) all.grow(bench(p));
  for (const auto& k : r.plan.references) all.grow(bench(k.at));
  Sketch s(all.low, all.high, kAcross / std::max(1.0, all.size().maxCoeff()));
  for (const UnseenPlace& p : places)
    if (on_half(p, upper)) draw_unseen(s, mesh, p, bench);
  draw_rim(s, mesh, upper);
  draw_axes(s, upper, v);
  for (const auto& k : r.plan.references) s.dot(bench(k.at), 3);
  for (const UnseenPlace& p : places) {
    if (!on_half(p, upper)) continue;
    const std::string area = say(Message("list.plain", {arg::area(p.area)}), v);
    std::vector<Vec2> centres{s.at(bench(p.centre))};
    for (const Vec2& c : centres_around(centres[0], size_of(area, kFont), 4)) centres.push_back(c);
    s.words(centres, area);
  }
  for (const auto& k : r.plan.references) s.beside(bench(k.at), k.name);
  return s.figure(told(v, upper ? "bench.where-upper-half-turned" : "bench.where-lower-half-cavity"));
}

std::string depth_sketches(const Inspection& r, const Correction& c) {
  const Voice v = voice_of(r.job);
  std::vector<std::pair<Depths, Message>> parts;
  for (const auto& t : c.templates)
    parts.emplace_back(Depths{t.outline, t.contours, t.stops, t.along}, template_name(c, t));
  if (!parts.empty()) return depth_figures(parts, v);
  if (c.outline.empty() || c.contours.empty()) return "";
  // Looked at along the face's normal; of the tool's x and y the one that lies better in the face runs to the right.
  const bool x = std::abs(c.facing.x()) < 0.87;
  Vec3 right = x ? Vec3::UnitX() : Vec3::UnitY();
  right = (right - right.dot(c.facing) * c.facing).normalized();
  const Vec3 up = c.facing.cross(right);
  const auto seen = [&](const Vec3& p) { return Vec3((p - c.centre).dot(right), (p - c.centre).dot(up), 0); };
  Depths d;
  d.along = x ? 'x' : 'y';
  for (const Vec3& p : c.outline) d.outline.emplace_back(seen(p).head<2>());
  for (const auto& l : c.contours) {
    d.contours.push_back({l.depth, {}});
    for (const Vec3& p : l.line) d.contours.back().line.push_back(seen(p));
  }
  for (const auto& s : c.stops) d.stops.push_back({seen(s.at), s.depth, s.number});
  return depth_figures({{d, Message("list.plain", {arg::name(c.name)})}}, v);
}

}  // namespace gapfront::report
