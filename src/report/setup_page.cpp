// The page on which a job is set up by pointing: what its script reads, and the frame that it fills.
#include <algorithm>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>

#include "gapfront/align.hpp"
#include "gapfront/catalogue.hpp"
#include "gapfront/laminate.hpp"
#include "gapfront/survey.hpp"
#include "report/assets.hpp"
#include "report/html.hpp"
#include "report/packer.hpp"
#include "report/setup_points.hpp"

namespace gapfront::report {
namespace {

using SetupJson = nlohmann::ordered_json;

// Of each half: more than any screen resolves, and 4 MB of page.
constexpr std::size_t kMostShown = 150000;
constexpr double kStepsOfMm = 100;  // 10 µm, far below what anybody can point at

SetupJson numbers(const Vec3& p, double per = 1000) {
  return {std::round(per * p.x()) / per, std::round(per * p.y()) / per, std::round(per * p.z()) / per};
}

/// Three rows of four.
SetupJson motion(const Rigid& m) {
  SetupJson out = SetupJson::array();
  for (int i = 0; i < 3; ++i)
    for (int k = 0; k < 4; ++k) out.push_back(m.matrix()(i, k));
  return out;
}

/// Octahedral: a direction as two numbers from 0 to 254, its sign left open (Cigolle et al. 2014).
std::pair<int, int> as_octahedral(const Vec3f& n) {
  const float sum = std::abs(n.x()) + std::abs(n.y()) + std::abs(n.z());
  const float side = n.z() < 0 ? -1.f : 1.f;  // the light looks from both sides, so half of the octahedron is enough
  const float x = side * n.x() / sum, y = side * n.y() / sum;
  return {int(std::lround(127 * (x + y))) + 127, int(std::lround(127 * (x - y))) + 127};
}

void pack(Packer& packer, const ShownPoints& shown) {
  std::vector<long long> at, normals, edges;
  for (std::size_t i = 0; i < shown.at.size(); ++i) {
    for (int k = 0; k < 3; ++k) at.push_back(std::llround(kStepsOfMm * shown.at[i][k]));
    const auto [u, v] = as_octahedral(shown.normals[i]);
    normals.push_back(u), normals.push_back(v);
    edges.push_back(shown.edge[i]);
  }
  packer.add(at, {}, 3), packer.add(normals, {}, 2), packer.add(edges, {}, 1);
}

SetupJson balls_of(const SurveyedScan& s) {
  SetupJson out = SetupJson::array();
  for (const FoundBall& b : s.balls) {
    const SphereFit fit =
        align::fit_sphere(s.scan.cloud.points, b.centre.at, {.radius = b.diameter / 2, .noise = s.clean.noise});
    out.push_back({{"at", numbers(fit.used > 0 ? fit.centre : b.centre.at)},
                   {"diameter", std::round(1000 * b.diameter) / 1000},
                   {"measured", std::round(1000 * b.measured) / 1000},
                   {"form", std::round(10000 * fit.rms) / 10000},
                   {"points", b.points}});
  }
  return out;
}

SetupJson half(const SurveyedScan& s, const Rigid& to_tool, bool closed, const Voice& v, Packer& packer) {
  const ShownPoints shown = shown_points(s.scan.cloud.points, s.clean.spacing, kMostShown);
  pack(packer, shown);
  double hole = 0;
  for (const auto& h : s.facts.holes) hole += h.area;
  return {{"points", s.scan.cloud.points.size()},
          {"shown", shown.at.size()},
          {"shown_spacing", shown.spacing},
          {"spacing", s.clean.spacing},
          {"noise", s.clean.noise},
          {"size", numbers(s.facts.high - s.facts.low, 1)},
          {"unit", s.unit},
          {"declared", s.scan.unit_declared},
          {"unit_reason", s.scan.unit_declared ? "" : say(s.facts.likely_unit_reason, v)},
          {"holes", s.facts.holes.size()},
          {"hole_area", hole},
          {"pose", closed ? motion(to_tool) : SetupJson()},
          {"flat", motion(laid_flat(shown.at))},
          {"balls", balls_of(s)}};
}

SetupJson pair_of(const Survey& s, const Target& t) {
  return {{"name", t.name},
          {"diameter", t.ball.value_or(t.dowel.value_or(0))},
          {"dowel", t.dowel.has_value()},
          {"touched", t.touched},
          {"lower", numbers(t.lower->at)},
          {"upper", numbers(t.upper->at)},
          {"tool", s.framed ? numbers(s.to_tool * t.lower->at) : SetupJson()}};
}

SetupJson pairs_of(const Survey& s) {
  SetupJson out = SetupJson::array();
  for (const Target& t : s.balls) out.push_back(pair_of(s, t));
  for (const Target& t : s.dowels) out.push_back(pair_of(s, t));
  return out;
}

SetupJson seal_of(const Survey& s, const Voice& v) {
  if (!s.closed) return SetupJson();
  SetupJson line = SetupJson::array();
  for (const Vec3& p : s.seal.line) line.push_back(numbers(p));
  return {{"line", line},
          {"how", say(pipeline::seal_says(s.seal), v)},
          {"u", s.seal.u},
          {"land", s.seal.confidence},
          {"width", s.seal.land_width},
          {"apart", s.seal.land_gap}};
}

SetupJson glasses() {
  SetupJson out = SetupJson::array();
  for (const Reinforcement& r : laminate::reinforcements())
    out.push_back({{"name", r.name}, {"areal_weight", 1e6 * r.areal_weight}, {"loft", r.loft}});
  return out;
}

/// What keys are called and mean, in that language: the schema's own English is found in the catalogue.
void translate_meanings(SetupJson& node, const std::map<std::string, std::string>& ids, const Voice& v) {
  for (auto& [key, value] : node.items()) {
    if ((key == "description" || key == "title") && value.is_string()) {
      if (const auto id = ids.find(value.get<std::string>()); id != ids.end()) value = say(Message(id->second), v);
    } else if (value.is_structured()) {
      translate_meanings(value, ids, v);
    }
  }
}

SetupJson schema_in(const Voice& v) {
  SetupJson schema = SetupJson::parse(job_schema());
  std::map<std::string, std::string> ids;
  for (const auto& [id, text] : catalogue_of("en")->texts) ids.emplace(text.one, id);
  if (v.language != "en") translate_meanings(schema, ids, v);
  return schema;
}

SetupJson units_of_length() {
  SetupJson out = SetupJson::object();
  for (const std::string& name : length_units()) out[name] = *length_unit(name);
  return out;
}

}  // namespace

std::string setup_html(const Survey& s, const SetupJob& job) {
  const Voice v{UnitSystem::mm, job.language};
  Packer packer;
  SetupJson lower = half(s.lower, s.to_tool, s.closed, v, packer);
  SetupJson upper = half(s.upper, s.to_tool * s.closing, s.closed, v, packer);
  const SetupJson data = {{"file", job.file},
                          {"text", job.text},
                          {"lower", std::move(lower)},
                          {"upper", std::move(upper)},
                          {"pairs", pairs_of(s)},
                          {"ways", s.matches},
                          {"by_readings", s.by_readings},
                          {"face_to_face", s.face_to_face},
                          {"why_open", say(s.why_open, v)},
                          {"gap", s.gap},
                          {"seal", seal_of(s, v)},
                          {"glasses", glasses()},
                          {"photo", job.photo},
                          {"units", units_of_length()},
                          {"schema", schema_in(v)},
                          {"language", job.language},
                          {"words", SetupJson::parse(script_words(setup_js, v))},
                          {"decimal", job.language == "en" ? "." : ","},
                          {"packed", packer.base64()}};
  return "<!doctype html>\n<html lang=\"" + job.language +
         "\"><head><meta charset=\"utf-8\"><meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
         "img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'\"><meta name=\"viewport\" "
         "content=\"width=device-width, initial-scale=1\"><title translate=\"no\">" +
         escape(job.file) + "</title>\n<style>\n" + setup_css + "</style></head><body>\n<noscript><p>" +
         told(v, "pointing.no-script") + "</p></noscript>\n<script type=\"application/json\" id=\"data\">" +
         script_safe(data.dump()) + "</script>\n<script>\n" + three_js + "</script>\n<script>\n" + setup_js +
         "</script></body></html>\n";
}

}  // namespace gapfront::report
