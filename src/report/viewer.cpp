// The interactive part of the page: its controls, and the data that its script reads.
#include <cmath>
#include <nlohmann/json.hpp>

#include "report/assets.hpp"
#include "report/html.hpp"
#include "report/labels.hpp"
#include "report/packer.hpp"
#include "report/scales.hpp"

namespace gapfront::report {
namespace {

using nlohmann::json;

constexpr double kStepsPerMm = 100;  // places on screen: 10 µm is far below a pixel

json point(const Vec3& p) {
  return {std::round(100 * p.x()) / 100, std::round(100 * p.y()) / 100, std::round(100 * p.z()) / 100};
}
json outline(const std::vector<Vec3>& points) {
  json out = json::array();
  for (const auto& p : points) out.push_back(point(p));
  return out;
}

json history(const Filling& f) {
  json out = json::array();
  for (const auto& s : f.history)
    if (std::isfinite(s.time)) out.push_back({std::round(10 * s.time) / 10, std::round(1000 * s.filled) / 10});
  return out;
}

json marks(const Inspection& r) {
  const auto word = [v = voice_of(r.job)](const char* id) { return say(Message(id), v); };
  json out = json::array();
  // A runner is drawn in its length, with its name at the middle.
  const auto port = [&](const char* kind, const char* id, const std::vector<Vec3>& path) {
    json mark = {{"kind", kind}, {"word", word(id)}, {"at", point(middle_along(path))}};
    if (path.size() > 1) mark["line"] = outline(path);
    out.push_back(mark);
  };
  for (const auto& v : r.job.flow.vents)
    if (!v.path.empty()) port("vent", "gap.vent", v.path);
  for (const auto& i : r.job.flow.inlets)
    if (!i.perimeter && !i.path.empty()) port("inlet", "gap.inlet", i.path);
  const std::pair<const char*, const Filling*> states[] = {
      {"arrival_nominal_s", &r.nominal_filling}, {"arrival_s", &r.filling}, {"arrival_after_s", &r.filling_after}};
  for (const auto& [id, filling] : states)
    for (const auto& p : filling->pockets)
      out.push_back({{"kind", "air"},
                     {"word", word("gap.air")},
                     {"at", point(p.centre)},
                     {"only", id},
                     {"from", std::round(10 * p.closed_at) / 10}});
  for (const auto& [id, filling] : states)
    if (filling->last_node >= 0 && std::isfinite(filling->fill_time))
      out.push_back({{"kind", "last"},
                     {"word", word("fronts.last-to-fill")},
                     {"at", point(r.sheet.mesh.points[filling->last_node])},
                     {"only", id},
                     {"from", std::round(10 * filling->fill_time) / 10}});
  return out;
}

/// When a filling ends and when it closes in air, s.
json events(const Filling& f) {
  json air = json::array();
  for (const auto& p : f.pockets) air.push_back(std::round(10 * p.closed_at) / 10);
  return {{"fill", std::isfinite(f.fill_time) ? std::round(10 * f.fill_time) / 10 : 0}, {"air", air}};
}

void pack_mesh(Packer& packer, const Mesh& mesh) {
  std::vector<long long> whole;
  for (const auto& p : mesh.points)
    for (int k = 0; k < 3; ++k) whole.push_back(std::llround(kStepsPerMm * p[k]));
  packer.add(whole, {}, 3);
  whole.clear();
  for (const auto& t : mesh.triangles) whole.insert(whole.end(), t.begin(), t.end());
  packer.add(whole, {}, 3);
}

void pack_values(Packer& packer, const Field& f, UnitSystem u) {
  std::vector<bool> none(f.values.size());
  std::vector<long long> whole(f.values.size(), 0);
  for (std::size_t i = 0; i < f.values.size(); ++i)
    if (std::isfinite(f.values[i]))
      whole[i] = shown_steps(f.values[i], f, u);
    else
      none[i] = true;
  packer.add(whole, none, 1);
}

/// What a field is, how it is coloured, and its ends.
json about_field(const Field& f, const std::vector<Field>& all, const Voice& v) {
  const UnitSystem u = v.units;
  const ColourScale s = scale_of(all, f, u);
  const Extremes ends = extremes(f, u);
  const auto printed = [](double x) { return std::isfinite(x) ? json(std::stod(fixed(x, 6))) : json(); };
  json ticks = json::array(), limits = json::array();
  for (double t : s.ticks) ticks.push_back(printed(t));
  for (double l : s.limits) limits.push_back(printed(l));
  return {{"id", f.id},
          {"title", say(f.title, v)},
          {"meaning", say(f.meaning, v)},
          {"unit", shown_unit(f.dimension, u)},
          {"decimals", decimals_of(f, u)},
          {"scale", static_cast<int>(f.scale)},
          {"low", printed(s.low)},
          {"high", printed(s.high)},
          {"ticks", ticks},
          {"tick_decimals", s.decimals},
          {"limits", limits},
          {"least", printed(ends.minimum)},
          {"greatest", printed(ends.maximum)},
          {"on_screen", f.on_screen}};
}

json colours() {
  json scales = json::array();
  for (Scale s : {Scale::sequence, Scale::amount, Scale::diverging}) {
    json list = json::array();
    for (int i = 0; i <= 32; ++i) list.push_back(hex(colour(s, i / 32.0)));
    scales.push_back(list);
  }
  return scales;
}

json regions_of(const Inspection& r) {
  json out = json::array();
  for (const auto& g : r.verdict.regions)
    out.push_back({{"name", g.name}, {"at", point(g.centre)}, {"outline", outline(g.outline)}});
  return out;
}

json chosen_corrections(const Inspection& r) {
  json out = json::array();
  for (int i : r.plan.chosen) {
    const auto& c = r.plan.candidates[i];
    json stations = json::array();
    for (const auto& s : c.shims)
      if (s.change != 0) stations.push_back({{"name", s.station}, {"at", point(s.at)}});
    out.push_back({{"name", c.name}, {"at", point(c.centre)}, {"outline", outline(c.outline)}, {"stations", stations}});
  }
  return out;
}

json class_names(const Voice& v) {
  json out = json::array();
  for (int k = 0; k < 4; ++k) out.push_back(say(word_of(static_cast<Conformity>(k)), v));
  return out;
}

std::string button(const Voice& v, const char* act, const char* id) {
  return "<button type=\"button\" data-act=\"" + std::string(act) + "\">" + told(v, id) + "</button>";
}

std::vector<std::string> script_ids(const std::string& script) {
  static const std::string mark = "say(\"";
  std::vector<std::string> out;
  for (std::size_t at = 0; (at = script.find(mark, at)) != std::string::npos;) {
    at += mark.size();
    out.push_back(script.substr(at, script.find('"', at) - at));
  }
  return out;
}

}  // namespace

std::string script_words(const std::string& script, const Voice& v) {
  json out = json::object();
  for (const std::string& id : script_ids(script)) {
    const auto words = [&](long count) {
      return say(Message(id, {arg::name("{1}"), arg::name("{2}"), arg::name("{3}"), arg::name("{4}"), count}), v);
    };
    const std::string one = words(1), many = words(2);
    out[id] = one == many ? json(one) : json({one, many});
  }
  return out.dump();
}

std::string page_data(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const UnitSystem u = v.units;
  const Mesh& mesh = r.sheet.mesh;
  Packer packer;
  pack_mesh(packer, mesh);
  json list = json::array();
  for (const auto all = fields(r); const Field& f : all)
    pack_values(packer, f, u), list.push_back(about_field(f, all, v));
  const View view = map_view(mesh);
  const json out = {{"nodes", mesh.points.size()},
                    {"triangles", mesh.triangles.size()},
                    {"mm_per_unit", mm_per_unit(u)},
                    {"place_decimals", u == UnitSystem::inch ? 2 : 0},
                    {"length_unit", u == UnitSystem::inch ? "in" : "mm"},
                    {"plan", {view.px_per_mm, view.x0, view.y0}},
                    {"classes", class_names(v)},
                    {"fields", list},
                    {"scales", colours()},
                    {"regions", regions_of(r)},
                    {"corrections", chosen_corrections(r)},
                    {"marks", marks(r)},
                    {"words", json::parse(script_words(page_js, v))},
                    {"decimal", v.language == "en" ? "." : ","},
                    {"filled", {history(r.nominal_filling), history(r.filling), history(r.filling_after)}},
                    {"events", {events(r.nominal_filling), events(r.filling), events(r.filling_after)}},
                    {"packed", packer.base64()}};
  return script_safe(out.dump());
}

std::string viewer(const Inspection& r) {
  if (r.sheet.size() == 0) return "";
  const Voice v = voice_of(r.job);
  const Text sheet{Message("front.sheet-three-dimensions"), Message("front.arrow-keys-move-place"),
                   Message("front.same-maps-stand-plan")};
  std::string out =
      "<div id=\"viewer\" hidden><div class=\"controls\"><label>" + told(v, "front.show") +
      " <select id=\"field\"></select></label><fieldset><legend>" + told(v, "front.state") +
      "</legend><label><input type=\"radio\" name=\"state\" value=\"\" checked> " + told(v, "front.measured") +
      "</label><label><input type=\"radio\" name=\"state\" value=\"after\"> " +
      told(v, "front.after-corrections-re-computed") +
      "</label><label><input type=\"radio\" name=\"state\" value=\"wipe\"> " + told(v, "front.both-side-by-side") +
      "</label></fieldset><label hidden>" + told(v, "front.line-between") +
      " <input type=\"range\" id=\"wipe\" min=\"0\" max=\"100\" value=\"50\"></label>"
      "<label><input type=\"checkbox\" id=\"show-regions\" checked> " +
      told(v, "front.regions") + "</label><label><input type=\"checkbox\" id=\"show-corrections\"> " +
      told(v, "front.chosen-corrections") + "</label><label><input type=\"checkbox\" id=\"show-open\"> " +
      told(v, "front.both-halves-opened") +
      "</label></div>\n<div id=\"stage\"><canvas tabindex=\"0\" role=\"application\" aria-label=\"" + told(v, sheet) +
      "\" aria-describedby=\"reading\"></canvas><svg id=\"over\" aria-hidden=\"true\"></svg></div>"
      "<div id=\"legend\"></div><p class=\"read\" id=\"reading\" aria-live=\"polite\"></p><div class=\"views\">";
  const std::pair<const char*, const char*> views[] = {
      {"top", "front.plan-view"},  {"corner", "front.3-d-view"},  {"fit", "front.fit"},
      {"left", "front.turn-left"}, {"right", "front.turn-right"}, {"up", "front.tilt-up"},
      {"down", "front.tilt-down"}, {"closer", "front.closer"},    {"farther", "front.farther"}};
  for (const auto& [act, id] : views) out += button(v, act, id);
  out += "</div><div class=\"controls\"><label><input type=\"checkbox\" id=\"fronts\"> " +
         told(v, "front.both-fronts-step-nominal") +
         "</label><button type=\"button\" id=\"play\" aria-pressed=\"false\">" + told(v, "front.play") +
         "</button><label>" + told(v, "front.speed") +
         " <select id=\"speed\"><option value=\"0.5\">½ ×</option><option value=\"1\" selected>1 ×</option>"
         "<option value=\"2\">2 ×</option><option value=\"4\">4 ×</option></select></label><label>" +
         told(v, "front.time") +
         " <input type=\"range\" id=\"time\" min=\"0\" value=\"0\"></label><output id=\"clock\"></output></div>"
         "<div id=\"events\" hidden></div>"
         "<button type=\"button\" id=\"plans\" aria-expanded=\"false\">" +
         told(v, "front.all-maps-plan") + "</button></div>\n";
  return out + "<figure id=\"section\" class=\"section\" hidden><div class=\"controls\"><label>" +
         told(v, "front.section-line") +
         " <input type=\"range\" id=\"place\" min=\"-100\" max=\"100\" step=\"0.5\" value=\"0\"></label><label>" +
         told(v, "front.direction") +
         " <input type=\"range\" id=\"angle\" min=\"0\" max=\"175\" step=\"5\" value=\"0\"></label>"
         "<button type=\"button\" id=\"through\">" +
         told(v, "front.through-place-read") +
         "</button></div><div id=\"profile\"></div><figcaption id=\"profile-caption\"></figcaption></figure>\n";
}

}  // namespace gapfront::report
