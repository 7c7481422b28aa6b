#include <algorithm>
#include <cmath>
#include <cstdio>

#include "report/axes.hpp"
#include "report/figures.hpp"
#include "report/labels.hpp"

namespace gapfront::report {
namespace {

constexpr double kFilm = 8;                                          // s, as page.css has it
constexpr int kMapWidth = 640, kMapMaxHeight = 620, kBarRoom = 116;  // pixels; the bar's numbers need about 100

std::string closed_path(const std::vector<Vec3>& outline, const View& v) {
  std::string d;
  for (const auto& p : outline) d += (d.empty() ? "M" : "L") + fixed(v.x(p)) + " " + fixed(v.y(p));
  return d.empty() ? d : d + "Z";
}

// A name beside a mark, on the side where the picture has room for it.
std::string beside(const View& v, double x, double y, const std::string& words) {
  const bool left = x > v.width - 75;  // pixels; "vent" takes about 55
  return plain_label(left ? x - 10 : x + 10, y, words, left ? "end" : "start");
}

/// The filling that a field is about: air stays in one state of the mold, not in the others.
const Filling& filling_of(const Inspection& r, const std::string& id) {
  if (id == "arrival_nominal_s") return r.nominal_filling;
  return id.find("_after") != std::string::npos ? r.filling_after : r.filling;
}

/// The vents that a field is about: after the corrections some are moved or added.
std::vector<Vent> vents_of(const Inspection& r, const std::string& id) {
  FlowOptions flow = r.job.flow;
  if (id.find("_after") == std::string::npos) return flow.vents;
  for (const int k : r.plan.chosen) {
    const Correction& c = r.plan.candidates[k];
    std::vector<double> gap(c.gap_change.size());
    LaminateOptions laminate;
    correct::apply(c, gap, laminate, flow);
  }
  return flow.vents;
}

/// A seal line that nobody has confirmed, dashed, with its name at its highest corner.
std::string proposed_seal(const Inspection& r, const View& v) {
  if (r.seal.source != SealOrigin::Source::proposed || r.job.sheet.seal.empty()) return "";
  const std::string line = closed_path(r.job.sheet.seal, v);
  return "<path class=\"seal halo\" d=\"" + line + "\"/><path class=\"seal\" d=\"" + line + "\"/>" +
         plain_label(v.width / 2.0, 16, told(voice_of(r.job), "setup.proposed-seal-line"), "middle");
}

/// Nodes of a page without classes (a re-check, a diagnosis) are not measured, for all that it knows.
std::vector<Conformity> node_classes(const Inspection& r) {
  if (!r.doubt && r.verdict.node.size() == r.sheet.size()) return r.verdict.node;
  return std::vector<Conformity>(r.sheet.size(), Conformity::not_measured);
}

// A line around what is not measured: on maps of the front, which runs through it, nothing else would tell.
std::string unseen_marks(const Inspection& r, const View& v) {
  const auto classes = node_classes(r);
  std::vector<double> open(classes.size());
  for (std::size_t i = 0; i < open.size(); ++i) open[i] = classes[i] == Conformity::not_measured;
  const std::string line = level_line(r.sheet.mesh, v, open, 0.5);
  std::string out = line.empty() ? line : "<path class=\"unseen\" d=\"" + line + "\"/>";
  const std::string words = told(voice_of(r.job), word_of(Conformity::not_measured));
  for (const auto& p : r.verdict.unseen)  // 4000 square pixels hold the words
    if (p.area * v.px_per_mm * v.px_per_mm > 4000) out += plain_label(v.x(p.centre), v.y(p.centre), words, "middle");
  return out;
}

// Masks, regions, vents, what stays dry and what is not measured.
std::string marks(const Inspection& r, const View& v, const std::string& id) {
  const Voice voice = voice_of(r.job);
  std::string out = proposed_seal(r, v) + unseen_marks(r, v);
  for (const Mask& m : r.sheet.masked_area > 0 ? r.job.sheet.masks : std::vector<Mask>{})
    out += "<circle class=\"masked\" cx=\"" + fixed(v.x(m.centre)) + "\" cy=\"" + fixed(v.y(m.centre)) + "\" r=\"" +
           fixed(m.radius * v.px_per_mm) + "\"/>" + "<text translate=\"no\" class=\"lab\" x=\"" + fixed(v.x(m.centre)) +
           "\" y=\"" + fixed(v.y(m.centre) + 4) + "\" text-anchor=\"middle\">" + told(voice, word_of(m)) + "</text>";
  for (const auto& region : r.verdict.regions) {
    out += "<path class=\"out halo\" d=\"" + closed_path(region.outline, v) + "\"/><path class=\"out\" d=\"" +
           closed_path(region.outline, v) + "\"/>" +
           plain_label(v.x(region.centre), v.y(region.centre), escape(region.name), "middle");
  }
  for (const auto& vent : vents_of(r, id))
    if (!vent.path.empty()) {
      const Vec3 at = middle_along(vent.path);
      const double x = v.x(at), y = v.y(at);
      out += "<circle class=\"vent\" cx=\"" + fixed(x) + "\" cy=\"" + fixed(y) + "\" r=\"6\"/>" +
             beside(v, x, y + 6, told(voice, "gap.vent"));
    }
  for (const auto& p : filling_of(r, id).pockets) {
    const double x = v.x(p.centre), y = v.y(p.centre);
    out += "<path class=\"dry\" d=\"M" + fixed(x - 7) + " " + fixed(y - 7) + "l14 14m0 -14l-14 14\"/>" +
           beside(v, x, y - 6, told(voice, "gap.air"));
  }
  return out;
}

// What was seen on parts: a dashed ring, so that it is told from what is predicted.
std::string seen_marks(const std::vector<SeenSpot>& seen, const View& v) {
  std::string out;
  for (const auto& s : seen) {
    const double x = v.x(s.at), y = v.y(s.at), r = std::max(8.0, 0.5 * s.size * v.px_per_mm);
    const std::string ring = "cx=\"" + fixed(x) + "\" cy=\"" + fixed(y) + "\" r=\"" + fixed(r) + "\"/>";
    out += "<circle class=\"out halo\" " + ring + "<circle class=\"seen\" " + ring +
           plain_label(x, y - r - 5, escape(s.name), "middle");
  }
  return out;
}

/// Under a map in plan: its scale, and which way it lies.
std::string scale_bar(const View& v, const Voice& voice) {
  const double unit = mm_per_unit(voice.units);
  const double mm = round_step(0.25 * v.width / v.px_per_mm / unit) * unit;
  const double x = 8, y = v.height + 14, w = mm * v.px_per_mm;
  return "<path class=\"bar\" d=\"M" + fixed(x) + " " + fixed(y - 4) + "v8M" + fixed(x) + " " + fixed(y) + "h" +
         fixed(w) + "m0 -4v8\"/>" +
         plain_label(x + w + 6, y + 6,
                     fixed(mm / unit, mm / unit < 1 ? 2 : 0, voice) + " " + length_unit(voice.units)) +
         plain_label(v.width - 2, y + 6, "+x →  +y ↑", "end");
}

/// The bar: round ticks, the limits as lines across it, and beyond its ends an arrow with the number that it leaves
/// out.
std::string colour_bar(const Field& f, const ColourScale& scale, const View& v, const Voice& voice) {
  const UnitSystem units = voice.units;
  const double x = v.width + 16, top = 62, height = std::max(120.0, v.height - 90.0);
  const auto at = [&](double value) { return top + height * (scale.high - value) / (scale.high - scale.low); };
  std::string out = "<g>";
  const int steps = 64;
  for (int i = 0; i < steps; ++i)
    out += "<rect x=\"" + fixed(x) + "\" y=\"" + fixed(top + height * i / steps) + "\" width=\"14\" height=\"" +
           fixed(height / steps + 0.6) + "\" fill=\"" + hex(colour(f.scale, 1 - (i + 0.5) / steps)) + "\"/>";
  for (const double t : scale.ticks)
    out += "<path class=\"bar\" d=\"M" + fixed(x + 14) + " " + fixed(at(t)) + "h4\"/>" +
           plain_label(x + 21, at(t) + 6, spelt(spoken(t, scale.decimals), voice));
  for (const double l : scale.limits)
    out += "<path class=\"limit\" d=\"M" + fixed(x - 5) + " " + fixed(at(l)) + "h22\"/>";
  const Extremes ends = extremes(f, units);
  const double hair = std::pow(10, -decimals_of(f, units));  // what is printed as the end is not beyond it
  const auto arrow = [&](double y, double tip, double t, double value) {
    out += "<path class=\"beyond\" fill=\"" + hex(colour(f.scale, t)) + "\" d=\"M" + fixed(x) + " " + fixed(y) +
           "h14l-7 " + fixed(tip) + "Z\"/>" +
           plain_label(x + 21, y + (tip < 0 ? -11 : 26), spelt(spoken(value, decimals_of(f, units)), voice));
  };
  if (ends.maximum > scale.high + hair) arrow(top - 2, -14, 1, ends.maximum);
  if (ends.minimum < scale.low - hair) arrow(top + height + 2, 14, 0, ends.minimum);
  return out + plain_label(x, 18, shown_unit(f.dimension, units)) + "</g>";
}

/// What the lines across the bar are, as a sentence after the caption.
std::string limit_words(const ColourScale& scale, const Field& f, const Voice& voice) {
  const auto number = [&](double v) {
    return arg::name(spelt(spoken(v, decimals_of(f, voice.units) - 1), voice) + "\u00a0" +
                     shown_unit(f.dimension, voice.units));
  };
  if (scale.limits.size() == 1)
    return " " + told(voice, "scales.line-across-bar", {arg::name(spoken(scale.limits[0], 0) + "\u00a0%")});
  if (scale.limits.size() == 2)
    return " " + told(voice, "scales.lines-across-bar-limits", {number(scale.limits[0]), number(scale.limits[1])});
  return "";
}

std::string frame(const View& v, bool bar, const std::string& id, const std::string& alt, const std::string& inside,
                  const std::string& caption) {
  return "<figure class=\"map\" data-map=\"" + escape(id) + "\"><svg viewBox=\"0 0 " +
         std::to_string(v.width + (bar ? kBarRoom : 0)) + " " + std::to_string(v.height + 28) +
         "\" role=\"img\" aria-label=\"" + alt + "\">" + inside + "</svg><figcaption>" + caption +
         "</figcaption></figure>\n";
}

std::string image(const Mesh& mesh, const View& v, const Paint& paint) {
  return "<image width=\"" + std::to_string(v.width) + "\" height=\"" + std::to_string(v.height) + "\" href=\"" +
         png_data_uri(rasterise(mesh, v, paint), v.width, v.height) + "\"/>";
}

}  // namespace

View map_view(const Mesh& mesh) { return plan_view(mesh, kMapWidth, kMapMaxHeight); }

std::string map_figure(const Inspection& r, const Field& f, const std::string& caption, bool isochrones) {
  return map_figure(r, f, caption, MapExtras{isochrones, {}, {}});
}

std::string map_figure(const Inspection& r, const Field& f, const std::string& caption, const MapExtras& extras) {
  const Voice voice = voice_of(r.job);
  const UnitSystem u = voice.units;
  const View v = map_view(r.sheet.mesh);
  const ColourScale scale = extras.scale ? *extras.scale : scale_of(fields(r), f, u);
  const double per = per_shown_unit(f.dimension, u);
  Paint paint;
  paint.values = &f.values;
  paint.low = scale.low * per, paint.high = scale.high * per, paint.scale = f.scale;
  std::string inside = image(r.sheet.mesh, v, paint);
  if (extras.isochrones)  // at the ticks of the bar, so that they can be read
    for (const double level : scale.ticks)
      if (level > scale.low)
        inside += "<path class=\"iso\" d=\"" + level_line(r.sheet.mesh, v, f.values, level * per) + "\"/>";
  std::string film;
  for (std::size_t k = 0; k < extras.film.size(); ++k)
    film += "<path style=\"animation-delay: " + fixed(kFilm * static_cast<double>(k) / extras.film.size(), 2) +
            "s\" d=\"" + level_line(r.sheet.mesh, v, f.values, extras.film[k]) + "\"/>";
  if (!film.empty()) inside += "<g class=\"film\" aria-hidden=\"true\">" + film + "</g>";
  inside += marks(r, v, f.id) + seen_marks(extras.seen, v) + scale_bar(v, voice) + colour_bar(f, scale, v, voice);
  const std::string alt = told(voice, Text{Message("gap.plan", {arg::message(f.title)}), f.meaning});
  return frame(v, true, f.id, alt, inside, caption + limit_words(scale, f, voice));
}

std::string map_caption(const Voice& v, const Field& f) {
  return "<b>" + told(v, Message("list.sentence", {arg::message(f.title)})) + "</b> " + told(v, f.meaning);
}

std::string map_orientation(const Voice& v) { return para(told(v, "orientation.maps-plan-look-down")); }

std::string class_figure(const Inspection& r, const std::string& caption) {
  const Voice voice = voice_of(r.job);
  const View v = map_view(r.sheet.mesh);
  Paint paint;
  const std::vector<Conformity> classes = node_classes(r);
  paint.classes = &classes;
  return frame(v, false, "conformity", told(voice, "gap.conformity-plan-colour-pattern"),
               image(r.sheet.mesh, v, paint) + marks(r, v, "conformity") + scale_bar(v, voice), caption);
}

std::string air_figure(const Inspection& r, const std::string& caption) {
  const Voice voice = voice_of(r.job);
  const View v = map_view(r.sheet.mesh);
  Paint paint;
  paint.air = &r.air.node;
  return frame(v, false, "", told(voice, "air.plan"),
               image(r.sheet.mesh, v, paint) + marks(r, v, "arrival_s") + scale_bar(v, voice), caption);
}

std::string corner_figure(const Inspection& r, const Field& f, const std::string& caption) {
  const Voice voice = voice_of(r.job);
  const View v = corner_view(r.sheet.mesh, kMapWidth, 420, f.values);
  const ColourScale scale = scale_of(fields(r), f, r.job.units);
  const double per = per_shown_unit(f.dimension, r.job.units);
  Paint paint;
  paint.values = &f.values;
  paint.low = scale.low * per, paint.high = scale.high * per, paint.scale = f.scale, paint.shaded = true;
  return "<div class=\"corner\">" +
         frame(v, true, "", told(voice, "gap.seen-from-corner-above", {arg::message(f.title)}),
               image(r.sheet.mesh, v, paint) + colour_bar(f, scale, v, voice), caption) +
         "</div>\n";
}

}  // namespace gapfront::report
