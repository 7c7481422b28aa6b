// The interactive part of the page: its controls, and the data that its script reads.
#include <zlib.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "gapfront/error.hpp"
#include "report/assets.hpp"
#include "report/html.hpp"
#include "report/scales.hpp"

namespace gapfront::report {
namespace {

using nlohmann::json;

constexpr double steps_per_mm = 100;  // places on screen: 10 µm is far below a pixel

// Whole numbers as differences from the one `stride` before, folded so that small ones of either sign stay small, 0
// kept for "none", and written as four planes of bytes: the upper planes are then nearly all zero and deflate to
// nothing.
class Packer {
 public:
  void add(const std::vector<long long>& values, const std::vector<bool>& none, std::size_t stride) {
    std::vector<long long> last(stride, 0);
    std::vector<std::uint32_t> codes(values.size());
    for (std::size_t i = 0; i < values.size(); ++i) {
      if (!none.empty() && none[i]) continue;
      const long long d = values[i] - last[i % stride];
      codes[i] = static_cast<std::uint32_t>((d < 0 ? -2 * d - 1 : 2 * d) + 1);
      last[i % stride] = values[i];
    }
    for (int shift = 0; shift < 32; shift += 8)
      for (auto c : codes) bytes_ += static_cast<char>(c >> shift & 255);
  }
  std::string base64() const {
    uLongf size = compressBound(bytes_.size());
    std::string out(size, '\0');
    if (compress2(reinterpret_cast<Bytef*>(out.data()), &size, reinterpret_cast<const Bytef*>(bytes_.data()),
                  bytes_.size(), Z_BEST_COMPRESSION) != Z_OK)
      throw Error(Fault::measurement, "the report's sheet could not be compressed: not enough memory");
    return report::base64(out.data(), size);
  }

 private:
  std::string bytes_;
};

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

json marks(const Inspection& r, Language& language) {
  json out = json::array();
  for (const auto& v : r.job.flow.vents)
    if (!v.path.empty()) out.push_back({{"kind", "vent"}, {"word", language.say("vent")}, {"at", point(v.path[0])}});
  for (const auto& i : r.job.flow.inlets)
    if (!i.perimeter && !i.path.empty())
      out.push_back({{"kind", "inlet"}, {"word", language.say("inlet")}, {"at", point(i.path[0])}});
  const std::pair<const char*, const Filling*> states[] = {
      {"arrival_nominal_s", &r.nominal_filling}, {"arrival_s", &r.filling}, {"arrival_after_s", &r.filling_after}};
  for (const auto& [id, filling] : states)
    for (const auto& p : filling->pockets)
      out.push_back({{"kind", "air"}, {"word", language.say("air")}, {"at", point(p.centre)}, {"only", id}});
  return out;
}

std::string button(const char* act, const char* text) {
  return "<button type=\"button\" data-act=\"" + std::string(act) + "\">" + text + "</button>";
}

}  // namespace

std::string page_data(const Inspection& r, Language& language) {
  const UnitSystem u = r.job.units;
  const Mesh& mesh = r.sheet.mesh;
  Packer packer;
  std::vector<long long> whole;
  for (const auto& p : mesh.points)
    for (int k = 0; k < 3; ++k) whole.push_back(std::llround(steps_per_mm * p[k]));
  packer.add(whole, {}, 3);
  whole.clear();
  for (const auto& t : mesh.triangles) whole.insert(whole.end(), t.begin(), t.end());
  packer.add(whole, {}, 3);
  json list = json::array();
  const auto all = fields(r);
  for (const auto& f : all) {
    std::vector<bool> none(f.values.size());
    whole.assign(f.values.size(), 0);
    for (std::size_t i = 0; i < f.values.size(); ++i)
      if (std::isfinite(f.values[i]))
        whole[i] = shown_steps(f.values[i], f, u);
      else
        none[i] = true;
    packer.add(whole, none, 1);
    const ColourScale s = scale_of(all, f, u);
    const Extremes ends = extremes(f, u);
    const auto printed = [&](double v) { return std::isfinite(v) ? json(std::stod(fixed(v, 6))) : json(); };
    json ticks = json::array(), limits = json::array();
    for (double t : s.ticks) ticks.push_back(printed(t));
    for (double l : s.limits) limits.push_back(printed(l));
    list.push_back({{"id", f.id},
                    {"title", language.say(f.title)},
                    {"meaning", language.say(f.meaning)},
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
                    {"on_screen", f.on_screen}});
  }
  json scales = json::array();
  for (Scale s : {Scale::sequence, Scale::amount, Scale::diverging}) {
    json colours = json::array();
    for (int i = 0; i <= 32; ++i) colours.push_back(hex(colour(s, i / 32.0)));
    scales.push_back(colours);
  }
  json regions = json::array(), corrections = json::array();
  for (const auto& g : r.verdict.regions)
    regions.push_back({{"name", g.name}, {"at", point(g.centre)}, {"outline", outline(g.outline)}});
  for (int i : r.plan.chosen) {
    const auto& c = r.plan.candidates[i];
    json stations = json::array();
    for (const auto& s : c.shims)
      if (s.change != 0) stations.push_back({{"name", s.station}, {"at", point(s.at)}});
    corrections.push_back(
        {{"name", c.name}, {"at", point(c.centre)}, {"outline", outline(c.outline)}, {"stations", stations}});
  }
  json words = json::object(), classes = json::array();
  for (const auto& text : script_texts(page_js))
    if (std::string there = language.say(text); there != text) words[text] = there;
  for (int k = 0; k < 4; ++k) classes.push_back(language.say(to_string(static_cast<Conformity>(k))));
  const View v = map_view(mesh);
  const json out = {{"nodes", mesh.points.size()},
                    {"triangles", mesh.triangles.size()},
                    {"mm_per_unit", u == UnitSystem::inch ? 25.4 : 1},
                    {"place_decimals", u == UnitSystem::inch ? 2 : 0},
                    {"length_unit", u == UnitSystem::inch ? "in" : "mm"},
                    {"plan", {v.px_per_mm, v.x0, v.y0}},
                    {"classes", classes},
                    {"fields", list},
                    {"scales", scales},
                    {"regions", regions},
                    {"corrections", corrections},
                    {"marks", marks(r, language)},
                    {"words", words},
                    {"decimal", language.decimal_comma() ? "," : "."},
                    {"filled", {history(r.nominal_filling), history(r.filling), history(r.filling_after)}},
                    {"packed", packer.base64()}};
  return script_safe(out.dump());
}

std::string viewer(const Inspection& r) {
  std::string out =
      "<div id=\"viewer\" hidden><div class=\"controls\"><label>Show <select id=\"field\"></select></label>"
      "<fieldset><legend>State</legend><label><input type=\"radio\" name=\"state\" value=\"\" checked> as "
      "measured</label>"
      "<label><input type=\"radio\" name=\"state\" value=\"after\"> after the corrections "
      "(re-computed)</label></fieldset>"
      "<label><input type=\"checkbox\" id=\"show-regions\" checked> regions</label>"
      "<label><input type=\"checkbox\" id=\"show-corrections\"> chosen corrections</label></div>\n"
      "<div id=\"stage\"><canvas tabindex=\"0\" role=\"application\" aria-label=\"The sheet in three dimensions. Arrow "
      "keys "
      "move the place that is read; with Shift they turn the sheet; plus and minus change the size. The same maps "
      "stand "
      "in plan under 'all maps in plan', and the numbers in the tables below.\" aria-describedby=\"reading\"></canvas>"
      "<svg id=\"over\" aria-hidden=\"true\"></svg></div><div id=\"legend\"></div>"
      "<p class=\"read\" id=\"reading\" aria-live=\"polite\"></p><div class=\"views\">" +
      button("top", "from above") + button("corner", "from a corner") + button("left", "turn left") +
      button("right", "turn right") + button("up", "tilt up") + button("down", "tilt down") +
      button("closer", "closer") + button("farther", "farther") +
      "</div><div class=\"controls\"><label><input type=\"checkbox\" id=\"fronts\"> both fronts in step: nominal gap, "
      "and "
      "the state chosen above</label><button type=\"button\" id=\"play\" aria-pressed=\"false\">play</button>"
      "<label>time <input type=\"range\" id=\"time\" min=\"0\" value=\"0\"></label><output id=\"clock\"></output></div>"
      "<button type=\"button\" id=\"plans\" aria-expanded=\"false\">all maps in plan</button></div>\n";
  out +=
      "<figure id=\"section\" class=\"section\" hidden><div class=\"controls\"><label>section line at "
      "<input type=\"range\" id=\"place\" min=\"-100\" max=\"100\" value=\"0\"></label>"
      "<label>direction <input type=\"range\" id=\"angle\" min=\"0\" max=\"175\" step=\"5\" value=\"0\"></label>"
      "<button type=\"button\" id=\"through\">through the place read</button></div>"
      "<div id=\"profile\"></div><figcaption id=\"profile-caption\"></figcaption></figure>\n";
  return r.sheet.size() == 0 ? "" : out;
}

}  // namespace gapfront::report
