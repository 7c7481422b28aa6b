#include "report/overview.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>

#include "report/axes.hpp"
#include "report/labels.hpp"
#include "report/scales.hpp"
#include "units/digits.hpp"

namespace gapfront::report {
namespace {

constexpr std::size_t kMostRegions = 4, kMostAir = 3;  // more numbers than a hand has fingers are not taken in at once
constexpr int kPlanWidth = 760, kPlanHeight = 450;     // pixels; with the bar below it fits beside the verdict on 900
constexpr int kBarHeight = 96;
constexpr double kNameFont = 22;  // room that names are given, pixels: as large as letters are on a phone

/// The node inside an outline (none: anywhere) that deviates most, to the side that counts; −1: none is measured.
int worst_node(const Inspection& r, const std::vector<Vec3>* outline, double sign) {
  int best = -1;
  double most = -1;
  for (std::size_t i = 0; i < r.sheet.size(); ++i) {
    const double d = r.verdict.deviation[i] * sign;
    if (!(d > most) || (outline && !inside_polygon_xy(r.sheet.mesh.points[i], *outline))) continue;
    best = static_cast<int>(i), most = d;
  }
  return best;
}

NumberedPlace place_of(const Inspection& r, int node) {
  const NodeLimits& l = r.verdict.limits[node];
  const NodeGap& g = r.gap.nodes[node];
  return {0, r.sheet.mesh.points[node], "", false, 0, g.gap, g.U, l.nominal, l.low, l.high};
}

using Vec2 = Eigen::Vector2d;

void keep_free(Labels& labels, const Vec2& at, double r) {
  labels.keep_off(at - Vec2::Constant(r), at + Vec2::Constant(r));
}

/// Centres for a name beside a mark: its four sides, then its corners; then farther off, where a line leads to it.
std::vector<Vec2> centres_off(const Vec2& mark, double r, const Vec2& size) {
  std::vector<Vec2> out;
  for (const double far : {0.0, 24.0, 48.0}) {
    const double dx = r + 5 + far + 0.5 * size.x(), dy = r + 3 + far + 0.5 * size.y();
    for (const auto& [x, y] : {std::pair(1, 0), std::pair(-1, 0), std::pair(0, -1), std::pair(0, 1), std::pair(1, -1),
                               std::pair(-1, -1), std::pair(1, 1), std::pair(-1, 1)})
      out.push_back(mark + Vec2(x * dx, y * dy));
  }
  return out;
}

/// A name beside a mark of that size, at the first of these places where nothing stands yet; `html`: as it is written.
std::string name_beside(Labels& labels, const Vec2& mark, double r, const std::string& html, const std::string& words,
                        const char* style = "") {
  const Vec2 size = size_of(words, kNameFont);
  const auto at = labels.place(centres_off(mark, r, size), size);
  if (!at) return "";  // no room: the mark stands by itself
  // Letters are smaller on a large screen than the room that is kept: the end at the mark stays there.
  const int side = std::abs(at->x() - mark.x()) < 1 ? 0 : at->x() > mark.x() ? 1 : -1;
  const double x = at->x() - 0.5 * side * size.x();
  // To the middle of the letters' end, or to their upper or lower side.
  const Vec2 end(x - 2.0 * side, side ? at->y() : at->y() + (at->y() > mark.y() ? -0.4 : 0.4) * kNameFont);
  const Vec2 way = end - mark;
  const std::string leads = way.norm() < r + 20
                                ? ""
                                : "<path class=\"leads\" d=\"M" + fixed(mark.x() + r / way.norm() * way.x()) + " " +
                                      fixed(mark.y() + r / way.norm() * way.y()) + "L" + fixed(end.x()) + " " +
                                      fixed(end.y()) + "\"/>";
  return leads + "<text translate=\"no\" class=\"lab " + std::string(style) + "\" x=\"" + fixed(x) + "\" y=\"" +
         fixed(at->y() + 0.3 * kNameFont) + "\" text-anchor=\"" +
         (side == 0  ? "middle"
          : side > 0 ? "start"
                     : "end") +
         "\">" + html + "</text>";
}

std::string line_path(const std::vector<Vec3>& points, const View& v, bool close) {
  std::string d;
  for (const Vec3& p : points) d += (d.empty() ? "M" : "L") + fixed(v.x(p)) + " " + fixed(v.y(p));
  return d + (close && !d.empty() ? "Z" : "");
}

/// The area that a port takes in: its path, as wide as its mouth; `round`: it comes back to where it starts.
std::string port(const View& v, const std::vector<Vec3>& path, double radius, const char* style, bool round = false) {
  if (path.empty()) return "";
  if (path.size() == 1)
    return "<circle class=\"" + std::string(style) + " spot\" cx=\"" + fixed(v.x(path[0])) + "\" cy=\"" +
           fixed(v.y(path[0])) + "\" r=\"" + fixed(std::max(5.0, radius * v.px_per_mm)) + "\"/>";
  const std::string d = line_path(path, v, round);
  const double wide = std::max(8.0, 2 * radius * v.px_per_mm);
  return "<path class=\"port-rim\" d=\"" + d + "\" stroke-width=\"" + fixed(wide + 3) + "\"/><path class=\"" + style +
         "\" d=\"" + d + "\" stroke-width=\"" + fixed(wide) + "\"/>";
}

double mark_size(const Reference& f, const View& v) { return std::max(7.0, f.radius * v.px_per_mm); }

void keep_free_along(const std::vector<Vec3>& path, double r, const View& v, Labels& labels) {
  for (std::size_t k = 1; k < path.size(); ++k) {
    const Vec3 way = path[k] - path[k - 1];
    // Box beside box, so that no word finds room between two.
    const int boxes = 1 + static_cast<int>(way.norm() * v.px_per_mm / (2 * r));
    for (int i = 0; i <= boxes; ++i) {
      const Vec3 p = path[k - 1] + way * i / boxes;
      keep_free(labels, {v.x(p), v.y(p)}, r);
    }
  }
}

std::string seal_path(const Inspection& r, const View& v) {
  if (r.job.sheet.seal.empty()) return "";
  const std::string d = line_path(r.job.sheet.seal, v, true);
  return "<path class=\"seal halo\" d=\"" + d + "\"/><path class=\"seal\" d=\"" + d + "\"/>";
}

/// Chosen work that no number stands for: ports and glass.
std::vector<const Correction*> unnumbered_work(const Inspection& r) {
  std::vector<const Correction*> out;
  for (const int k : r.plan.chosen)
    if (const Correction& c = r.plan.candidates[k]; c.face == "port" || (c.face == "laminate" && c.region.empty()))
      out.push_back(&c);
  return out;
}

struct Named {
  Vec2 at;
  double size;  ///< of its mark
  std::string words;
};

double mouth_size(double radius, const View& v) { return std::max(5.0, radius * v.px_per_mm); }

/// Ports, balls, stations and places of work, with their names; between them the section's line, which no name may
/// lie under.
std::string tool_marks(const Inspection& r, const View& v, Labels& labels) {
  std::string out;
  std::vector<Named> named;
  const auto name = [&](const Vec3& at, double size, const std::string& words) {
    named.push_back({{v.x(at), v.y(at)}, size, words});
  };
  for (const Inlet& i : r.job.flow.inlets) {
    // It lies along the seal, whose line stays in sight.
    if (i.perimeter)
      out += port(v, r.job.sheet.seal, 0, "inlet", true) + "<path class=\"seal\" d=\"" +
             line_path(r.job.sheet.seal, v, true) + "\"/>";
    if (i.perimeter || i.path.empty()) continue;
    out += port(v, i.path, i.radius, "inlet");
    name(middle_along(i.path), mouth_size(i.radius, v), i.name);
  }
  for (const Vent& o : r.job.flow.vents) {
    if (o.path.empty()) continue;
    out += port(v, o.path, o.radius, "outlet");
    name(middle_along(o.path), mouth_size(o.radius, v), o.name);
  }
  for (const Reference& f : r.plan.references) {
    const double x = v.x(f.at), y = v.y(f.at), size = mark_size(f, v);
    if (f.mark == Mark::station)
      out +=
          "<rect class=\"station\" x=\"" + fixed(x - 6) + "\" y=\"" + fixed(y - 6) + "\" width=\"12\" height=\"12\"/>";
    else if (f.mark == Mark::target)
      out += "<circle class=\"ball\" cx=\"" + fixed(x) + "\" cy=\"" + fixed(y) + "\" r=\"" + fixed(size) + "\"/>";
    else
      out += "<path class=\"corner\" d=\"M" + fixed(x - 6) + " " + fixed(y) + "h12M" + fixed(x) + " " + fixed(y - 6) +
             "v12\"/>";
    name(f.at, size, f.name);
  }
  std::vector<Vec3> worked;
  std::vector<Named> work;
  for (const Correction* c : unnumbered_work(r)) {
    // Several at one vent stand side by side.
    const auto there =
        std::count_if(worked.begin(), worked.end(), [&](const Vec3& p) { return (p - c->centre).norm() < 1; });
    worked.push_back(c->centre);
    const Vec2 at(v.x(c->centre) + 16.0 * double(there), v.y(c->centre));
    out += "<a href=\"#" + row_id(c->name) + "\"><path class=\"work-mark\" d=\"M" + fixed(at.x()) + " " +
           fixed(at.y() - 8) + "l8 8l-8 8l-8 -8Z\"/></a>";
    work.push_back({at, 8, c->name});
  }
  named.insert(named.begin(), work.begin(), work.end());  // what is to be done is named first
  out += "<g id=\"cut-line\"></g>";
  for (const Named& n : named) out += name_beside(labels, n.at, n.size, escape(n.words), n.words, "minor");
  return out;
}

std::string gap_words(const NumberedPlace& p, const Voice& v) {
  return with_U_of(p.gap, p.U, v) + " ± " + with_U_of(p.U, p.U, v);
}

/// The numbered places, each a link to its row.
std::string numbers(const std::vector<NumberedPlace>& places, const View& v, const Voice& voice, Labels& labels) {
  std::string out;
  for (const NumberedPlace& p : places) {
    const double x = v.x(p.at), y = v.y(p.at);
    const std::string words = p.air ? told(voice, "gap.air") : say(arg::length(p.gap), voice);
    out += "<a href=\"#" +
           row_id(p.air              ? "air"
                  : p.region.empty() ? "gap"
                                     : p.region) +
           "\"><circle class=\"number" + (p.air ? " air" : "") + "\" cx=\"" + fixed(x) + "\" cy=\"" + fixed(y) +
           "\" r=\"14\"/><text class=\"digit\" x=\"" + fixed(x) + "\" y=\"" + fixed(y + 6.5) +
           "\" text-anchor=\"middle\">" + std::to_string(p.number) + "</text>" +
           name_beside(labels, {x, y}, 14, words, words) + "</a>";
  }
  return out;
}

// Of a figure of a number on the bar, in units of the drawing.
constexpr double kFigure = 8.5;

/// The colour bar lies below the map, so that the map has the page's width on a phone; the tolerance is a bracket on
/// it.
std::string lying_bar(const Inspection& r, const Field& f, const View& v, const Voice& voice) {
  const ColourScale scale = scale_of(fields(r), f, voice.units);
  const double left = 0.19 * v.width, right = 0.71 * v.width, y = v.height + 34.0;  // scale and axes stand beside it
  const auto at = [&](double t) { return left + (right - left) * (t - scale.low) / (scale.high - scale.low); };
  std::string out;
  constexpr int steps = 64;
  for (int i = 0; i < steps; ++i)
    out += "<rect x=\"" + fixed(left + (right - left) * i / steps) + "\" y=\"" + fixed(y) + "\" width=\"" +
           fixed((right - left) / steps + 0.6) + "\" height=\"14\" fill=\"" + hex(colour(f.scale, (i + 0.5) / steps)) +
           "\"/>";
  // On a phone every second number is left out; that of no deviation stays.
  const auto least = std::min_element(scale.ticks.begin(), scale.ticks.end(),
                                      [](double a, double b) { return std::abs(a) < std::abs(b); });
  // And everywhere where they would touch: sign, one figure and point before the decimals, and a space.
  const bool tight = at(scale.low + scale.step) - at(scale.low) < kFigure * (scale.decimals + 4);
  for (auto t = scale.ticks.begin(); t != scale.ticks.end(); ++t) {
    if (tight && (t - least) % 2) continue;
    out += "<g" + std::string((t - least) % 2 ? " class=\"between\"" : "") + "><path class=\"bar\" d=\"M" +
           fixed(at(*t)) + " " + fixed(y + 14) + "v5\"/>" +
           plain_label(at(*t), y + 36, spelt(spoken(*t, scale.decimals, true), voice), "middle") + "</g>";
  }
  if (scale.limits.size() == 2) {
    const double a = at(scale.limits[0]), b = at(scale.limits[1]);
    out += "<path class=\"limit\" d=\"M" + fixed(a) + " " + fixed(y + 17) + "V" + fixed(y - 7) + "H" + fixed(b) + "V" +
           fixed(y + 17) + "\"/>" + plain_label(0.5 * (a + b), y - 12, told(voice, "overview.tolerance"), "middle");
  }
  const Extremes ends = extremes(f, voice.units);
  const double hair = std::pow(10, -decimals_of(f, voice.units));
  const auto arrow = [&](double x, double tip, double t, double value) {
    out +=
        "<path class=\"beyond\" fill=\"" + hex(colour(f.scale, t)) + "\" d=\"M" + fixed(x) + " " + fixed(y) + "v14l" +
        fixed(tip) + " -7Z\"/>" +
        plain_label(x + 1.4 * tip, y + 13, spelt(spoken(value, voice.units == UnitSystem::inch ? 3 : 2, true), voice),
                    tip < 0 ? "end" : "start");
  };
  if (ends.maximum > scale.high + hair) arrow(right + 2, 13, 1, ends.maximum);
  if (ends.minimum < scale.low - hair) arrow(left - 2, -13, 0, ends.minimum);
  return out + plain_label(right + 28, y + 36, shown_unit(f.dimension, voice.units));
}

/// How long things are, and which way the map lies.
std::string map_scale(const View& v, const Voice& voice) {
  const double unit = mm_per_unit(voice.units), mm = round_step(0.15 * v.width / v.px_per_mm / unit) * unit;
  const double y = v.height + kBarHeight - 12.0, w = mm * v.px_per_mm, x = v.width - 58.0;
  return "<path class=\"bar\" d=\"M8 " + fixed(y - 5) + "v10M8 " + fixed(y) + "h" + fixed(w) + "m0 -5v10\"/>" +
         plain_label(8, y - 10, fixed(mm / unit, mm / unit < 1 ? 2 : 0, voice) + " " + length_unit(voice.units)) +
         "<path class=\"bar axis\" d=\"M" + fixed(x) + " " + fixed(y) + "h30l-6 -4m6 4l-6 4M" + fixed(x) + " " +
         fixed(y) + "v-30l-4 6m4 -6l4 6\"/>" + plain_label(x + 34, y + 5, "x") + plain_label(x - 4, y - 34, "y");
}

std::string key_mark(const char* inside) {
  return "<svg class=\"mark\" viewBox=\"0 0 22 14\" aria-hidden=\"true\">" + std::string(inside) + "</svg>";
}

/// What the marks are, of those that are there.
std::string key(const Inspection& r, const Voice& v) {
  const auto has = [&](Mark m) {
    return std::any_of(r.plan.references.begin(), r.plan.references.end(), [&](const auto& f) { return f.mark == m; });
  };
  const auto item = [&](bool there, const char* mark, const char* id) {
    return there ? "<li>" + key_mark(mark) + told(v, id) + "</li>" : std::string();
  };
  return "<ul class=\"key\">" +
         item(!r.job.flow.inlets.empty(), "<rect class=\"inlet-key\" x=\"2\" y=\"3\" width=\"18\" height=\"8\"/>",
              "gap.inlet") +
         item(!r.job.flow.vents.empty(), "<circle class=\"outlet spot\" cx=\"11\" cy=\"7\" r=\"5\"/>", "gap.vent") +
         item(has(Mark::target), "<circle class=\"ball\" cx=\"11\" cy=\"7\" r=\"5\"/>", "overview.ball") +
         item(has(Mark::station), "<rect class=\"station\" x=\"6\" y=\"2\" width=\"10\" height=\"10\"/>",
              "overview.station") +
         item(has(Mark::other), "<path class=\"corner\" d=\"M5 7h12M11 1v12\"/>", "overview.named-place") +
         item(!unnumbered_work(r).empty(), "<path class=\"work-mark\" d=\"M11 1l6 6l-6 6l-6 -6Z\"/>", "overview.work") +
         item(r.gap.unmeasured_area > 0,
              "<g fill=\"currentColor\"><circle cx=\"5\" cy=\"4\" r=\"1\"/><circle cx=\"11\" cy=\"4\" r=\"1\"/>"
              "<circle cx=\"17\" cy=\"4\" r=\"1\"/><circle cx=\"5\" cy=\"10\" r=\"1\"/><circle cx=\"11\" cy=\"10\" "
              "r=\"1\"/><circle cx=\"17\" cy=\"10\" r=\"1\"/></g>",
              "page.not-measured") +
         item(!r.job.sheet.seal.empty(), "<path class=\"seal\" d=\"M1 7h20\"/>",
              r.seal.source == SealOrigin::Source::proposed ? "setup.proposed-seal-line" : "overview.seal-line") +
         "<li id=\"cut-key\" hidden>" + key_mark("<path class=\"cut\" d=\"M1 7h20\"/>") + told(v, "overview.section") +
         "</li></ul>";
}

}  // namespace

bool works_on(const Correction& c, const std::string& region) {
  return !region.empty() && (" + " + c.region + " + ").find(" + " + region + " + ") != std::string::npos;
}

std::string row_id(const std::string& name) {
  std::string out = "row-";
  for (const char c : name) out += std::isalnum(static_cast<unsigned char>(c)) ? c : '-';
  return out;
}

Argument place_number(int number) {
  return arg::message(Message("overview.place", {arg::number(static_cast<double>(number))}));
}

std::vector<NumberedPlace> numbered_places(const Inspection& r) {
  std::vector<NumberedPlace> out;
  if (r.verdict.deviation.size() != r.sheet.size() || r.verdict.limits.size() != r.sheet.size()) return out;
  const auto add = [&](NumberedPlace p) { p.number = static_cast<int>(out.size()) + 1, out.push_back(std::move(p)); };
  for (const DeviationRegion& g : r.verdict.regions) {
    if (out.size() == kMostRegions) break;
    const int node = worst_node(r, &g.outline, g.high ? 1 : -1);
    if (node < 0) continue;
    NumberedPlace p = place_of(r, node);
    p.region = g.name, p.area = g.area;
    // A region of what is left after the rigid move may lie within the limits: its thickness would not say why.
    if (r.verdict.node[node] == Conformity::nonconforming) add(std::move(p));
  }
  if (out.empty() && r.verdict.overall == Conformity::nonconforming) {
    const int wide = worst_node(r, nullptr, 1), tight = worst_node(r, nullptr, -1);
    for (const int node : {wide, tight})
      if (node >= 0 && r.verdict.node[node] == Conformity::nonconforming) add(place_of(r, node));
  }
  if (flow::dry_area(r.filling) > r.job.ensemble.min_dry) {
    std::vector<Pocket> air = r.filling.pockets;
    std::stable_sort(air.begin(), air.end(), [](const Pocket& a, const Pocket& b) { return a.area > b.area; });
    for (std::size_t i = 0; i < std::min(kMostAir, air.size()); ++i) {
      NumberedPlace p{};
      p.at = air[i].centre, p.air = true, p.area = air[i].area;
      add(p);
    }
  }
  return out;
}

std::string place_list(const Inspection& r, const std::vector<NumberedPlace>& places, const Voice& v) {
  std::string out;
  for (const NumberedPlace& p : places) {
    std::string words =
        p.air ? told(v, "overview.air-stays", {arg::area(p.area), arg::place(p.at, 2)})
              : told(v, p.wide() ? "overview.too-wide" : "overview.too-tight",
                     {arg::name(gap_words(p, v)), arg::length(p.low), arg::length(p.high), arg::place(p.at, 2)});
    words = go(p.at, words);
    for (const int k : r.plan.chosen)
      if (const Correction& c = r.plan.candidates[k]; works_on(c, p.region))
        words += " → <a href=\"#" + row_id(c.name) + "\">" + own(c.name) + "</a>";
    out += "<li value=\"" + std::to_string(p.number) + "\">" + words + "</li>";
  }
  return out.empty() ? out : "<ol class=\"places\">" + out + "</ol>";
}

std::string overview_map(const Inspection& r, const std::vector<NumberedPlace>& places) {
  const Voice voice = voice_of(r.job);
  const auto all = fields(r);
  const Field& f = find_field(all, "deviation_mm");
  std::vector<Vec3> also = r.job.sheet.seal;
  for (const Reference& o : r.plan.references) also.push_back(o.at);
  const View v = plan_view(r.sheet.mesh, kPlanWidth, kPlanHeight, also);
  const ColourScale scale = scale_of(all, f, voice.units);
  const double per = per_shown_unit(f.dimension, voice.units);
  Paint paint;
  paint.values = &f.values, paint.low = scale.low * per, paint.high = scale.high * per, paint.scale = f.scale;
  Labels labels(Vec2::Zero(), Vec2(v.width, v.height));
  for (const Reference& o : r.plan.references) keep_free(labels, {v.x(o.at), v.y(o.at)}, mark_size(o, v));
  for (const NumberedPlace& p : places) keep_free(labels, {v.x(p.at), v.y(p.at)}, 15);
  for (const Correction* c : unnumbered_work(r)) keep_free(labels, {v.x(c->centre), v.y(c->centre)}, 8);
  for (const Inlet& i : r.job.flow.inlets) {
    keep_free_along(i.path, 5, v, labels);
    if (i.path.size() == 1) keep_free(labels, {v.x(i.path[0]), v.y(i.path[0])}, mouth_size(i.radius, v));
  }
  for (const Vent& o : r.job.flow.vents)
    if (o.path.size() == 1) keep_free(labels, {v.x(o.path[0]), v.y(o.path[0])}, mouth_size(o.radius, v));
  for (const DeviationRegion& g : r.verdict.regions)
    if (auto line = g.outline; !line.empty()) line.push_back(line.front()), keep_free_along(line, 3, v, labels);
  if (auto rim = r.job.sheet.seal; !rim.empty()) rim.push_back(rim.front()), keep_free_along(rim, 5, v, labels);
  std::string inside = "<image width=\"" + std::to_string(v.width) + "\" height=\"" + std::to_string(v.height) +
                       "\" href=\"" + png_data_uri(rasterise(r.sheet.mesh, v, paint), v.width, v.height) + "\"/>";
  for (const auto& g : r.verdict.regions)
    inside += "<path class=\"out halo\" d=\"" + line_path(g.outline, v, true) + "\"/><path class=\"out\" d=\"" +
              line_path(g.outline, v, true) + "\"/>";
  const std::string found = numbers(places, v, voice, labels);  // they choose their room first, and lie on top
  inside += seal_path(r, v) + tool_marks(r, v, labels) + found + "<g id=\"spot\"></g>" + map_scale(v, voice) +
            lying_bar(r, f, v, voice);
  return "<figure class=\"map overview\" id=\"overview\"><svg viewBox=\"0 0 " + std::to_string(v.width) + " " +
         std::to_string(v.height + kBarHeight) + "\" data-view=\"" + fixed(v.px_per_mm, 6) + " " + fixed(v.x0, 4) +
         " " + fixed(v.y0, 4) + "\" role=\"group\" aria-label=\"" + told(voice, "overview.what-it-shows") + "\">" +
         inside + "</svg><figcaption>" + key(r, voice) + "<p>" + told(voice, "overview.what-it-shows") +
         "</p></figcaption></figure>\n";
}

}  // namespace gapfront::report
