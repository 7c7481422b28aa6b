#include "report/work_json.hpp"

#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

namespace gapfront::report {
namespace {

using Out = nlohmann::ordered_json;
using In = nlohmann::json;

Out number(double v) {  // a micrometre is a thousandth: finer than paper, tape and hand, so four decimals will do
  if (!std::isfinite(v)) return nullptr;
  return std::round(v * 1e4) / 1e4 + 0.0;
}
double number(const In& j) { return j.is_null() ? std::numeric_limits<double>::quiet_NaN() : j.get<double>(); }
Out point(const Vec3& p) { return Out::array({number(p.x()), number(p.y()), number(p.z())}); }
Vec3 point(const In& j) { return {number(j.at(0)), number(j.at(1)), number(j.at(2))}; }

template <class List, class Write>
Out array(const List& list, Write write) {
  Out out = Out::array();
  for (const auto& one : list) out.push_back(write(one));
  return out;
}
/// A list that results of older versions lack.
template <class Read>
auto list(const In& j, const char* key, Read read) {
  std::vector<decltype(read(j))> out;
  if (const auto it = j.find(key); it != j.end())
    for (const auto& one : *it) out.push_back(read(one));
  return out;
}

Out stop(const DepthStop& s) { return {{"number", s.number}, {"at_mm", point(s.at)}, {"depth_mm", number(s.depth)}}; }
DepthStop stop(const In& j) { return {point(j.at("at_mm")), number(j.at("depth_mm")), j.value("number", 0)}; }
Out line(const ThicknessLine& l) {
  return {{"depth_mm", number(l.depth)}, {"line_mm", array(l.line, [](const Vec3& p) { return point(p); })}};
}
ThicknessLine line(const In& j) {
  return {number(j.at("depth_mm")), list(j, "line_mm", [](const In& p) { return point(p); })};
}

Out flat(const Template& t) {
  return {{"name", t.name},
          {"stretch", number(t.stretch)},
          {"along", std::string(1, t.along)},
          {"origin_mm", point(t.origin)},
          {"rays",
           array(t.rays,
                 [](const PaperRay& a) {
                   return Out{{"to", a.to}, {"towards", Out::array({number(a.towards.x()), number(a.towards.y())})}};
                 })},
          {"outline_mm", array(t.outline,
                               [](const Eigen::Vector2d& p) {
                                 return Out::array({number(p.x()), number(p.y())});
                               })},
          {"contours", array(t.contours, [](const auto& l) { return line(l); })},
          {"stops", array(t.stops, [](const auto& s) { return stop(s); })},
          {"joins", array(t.joins, [](const JoinMark& m) {
             return Out{{"name", m.name}, {"at_mm", Out::array({number(m.at.x()), number(m.at.y())})}};
           })}};
}
Template flat(const In& j) {
  Template t;
  t.name = j.at("name"), t.stretch = number(j.at("stretch")), t.origin = point(j.at("origin_mm"));
  t.along = j.at("along").get<std::string>().at(0);
  t.outline = list(j, "outline_mm", [](const In& p) { return Eigen::Vector2d(number(p.at(0)), number(p.at(1))); });
  t.contours = list(j, "contours", [](const In& l) { return line(l); });
  t.stops = list(j, "stops", [](const In& s) { return stop(s); });
  t.rays = list(j, "rays", [](const In& a) {
    return PaperRay{a.at("to"), {number(a.at("towards").at(0)), number(a.at("towards").at(1))}};
  });
  t.joins = list(j, "joins", [](const In& m) {
    return JoinMark{m.at("name"), {number(m.at("at_mm").at(0)), number(m.at("at_mm").at(1))}};
  });
  return t;
}

Kind kind(const In& j) {
  for (int k = 0; k < kinds; ++k)
    if (j == to_string(static_cast<Kind>(k))) return static_cast<Kind>(k);
  throw In::other_error::create(501, "unknown kind of correction " + j.dump(), &j);
}

}  // namespace

Out work_of(const Correction& c) {
  Out out = {{"because", c.why}, {"blend_mm", number(c.blend)}, {"in_plane_mm", number(c.in_plane)}};
  if (!c.port.empty())
    out["port"] = c.port, out["port_to_mm"] = array(c.port_to, [](const Vec3& p) { return point(p); });
  out["tape"] = array(c.tape, [](const TapeLine& t) {
    return Out{{"from", t.from},
               {"way", to_string(t.way)},
               {"distance_mm", number(t.distance)},
               {"at_mm", point(t.at)},
               {"line_mm", array(t.line, [](const Vec3& p) { return point(p); })}};
  });
  if (!c.tape_side.empty()) out["tape_side"] = c.tape_side;
  out["facing"] = point(c.facing);
  out["depth_stops"] = array(c.stops, [](const auto& s) { return stop(s); });
  out["contours"] = array(c.contours, [](const auto& l) { return line(l); });
  out["templates"] = array(c.templates, [](const auto& t) { return flat(t); });
  if (!c.no_template.empty()) out["no_template"] = c.no_template;
  // Only of chosen corrections, which have tapes, contours or stacks: what each node's gap changes by, for the before
  // and after.
  Out nodes = Out::array(), change = Out::array();
  if (!c.tape.empty() || !c.contours.empty() || c.kind == Kind::shim)
    for (std::size_t i = 0; i < c.gap_change.size(); ++i)
      if (std::abs(c.gap_change[i]) >= 5e-5) nodes.push_back(i), change.push_back(number(c.gap_change[i]));
  out["gap_change"] = {{"nodes", nodes}, {"mm", change}};
  return out;
}

void read_work(const In& j, Correction& c) {
  c.why = j.value("because", ""), c.blend = j.value("blend_mm", 0.0), c.in_plane = j.value("in_plane_mm", 0.0);
  c.port = j.value("port", ""), c.no_template = j.value("no_template", "");
  c.port_to = list(j, "port_to_mm", [](const In& p) { return point(p); });
  c.tape = list(j, "tape", [](const In& t) {
    TapeLine out{t.at("from"), number(t.at("distance_mm")), point(t.at("at_mm"))};
    for (const Way w : {Way::straight, Way::over_surface, Way::along_edge})
      if (t.value("way", "straight") == to_string(w)) out.way = w;
    out.line = list(t, "line_mm", [](const In& p) { return point(p); });
    return out;
  });
  if (const auto it = j.find("facing"); it != j.end()) c.facing = point(*it);
  c.tape_side = j.value("tape_side", "");
  c.stops = list(j, "depth_stops", [](const In& s) { return stop(s); });
  c.contours = list(j, "contours", [](const In& l) { return line(l); });
  c.templates = list(j, "templates", [](const In& t) { return flat(t); });
  if (const auto it = j.find("gap_change"); it != j.end()) {
    const auto nodes = it->at("nodes").get<std::vector<std::size_t>>();
    const auto change = it->at("mm").get<std::vector<double>>();
    for (std::size_t k = 0; k < nodes.size(); ++k) {
      if (nodes[k] >= c.gap_change.size()) c.gap_change.resize(nodes[k] + 1, 0);
      c.gap_change[nodes[k]] = change.at(k);
    }
  }
}

Out plan_extras(const CorrectionPlan& p) {
  return {{"shop_step_mm", number(p.shop_step)},
          {"references", array(p.references,
                               [](const Reference& r) {
                                 return Out{{"name", r.name}, {"at_mm", point(r.at)}, {"radius_mm", number(r.radius)}};
                               })},
          {"left", p.left},
          {"paper", p.letter ? "letter" : "A4"},
          {"effort_table", array(p.effort, [](const Effort& e) {
             return Out{{"kind", to_string(e.kind)},
                        {"fixed_h", number(e.fixed)},
                        {"each_h", number(e.each)},
                        {"per_cm2_h", number(e.per_cm2)},
                        {"what", e.what}};
           })}};
}

void read_plan_extras(const In& j, CorrectionPlan& p) {
  if (const auto it = j.find("shop_step_mm"); it != j.end()) p.shop_step = number(*it);
  p.references = list(j, "references", [](const In& r) {
    return Reference{r.at("name"), point(r.at("at_mm")), number(r.at("radius_mm"))};
  });
  p.letter = j.value("paper", "A4") == "letter";
  p.left = list(j, "left", [](const In& s) { return s.get<std::string>(); });
  p.effort = list(j, "effort_table", [](const In& e) {
    return Effort{kind(e.at("kind")), number(e.at("fixed_h")), number(e.at("each_h")), number(e.at("per_cm2_h")),
                  e.at("what")};
  });
}

Out expectations(const Inspection& r) {
  return {{"from", r.expects}, {"corrections", array(r.confirmed, [](const Confirmed& c) {
                                  return Out{{"correction", c.correction},
                                             {"part", c.part},
                                             {"kind", to_string(c.kind)},
                                             {"area_mm2", number(c.area)},
                                             {"before_mm", number(c.before)},
                                             {"predicted_mm", number(c.predicted)},
                                             {"predicted_U_mm", number(c.predicted_U)},
                                             {"achieved_mm", number(c.achieved)},
                                             {"achieved_U_mm", number(c.achieved_U)},
                                             {"En", number(c.En)},
                                             {"can_tell", c.can_tell},
                                             {"says", c.says}};
                                })}};
}

void read_expectations(const In& result, Inspection& r) {
  const auto it = result.find("expectations");
  if (it == result.end()) return;
  r.expects = it->at("from");
  r.confirmed = list(*it, "corrections", [](const In& j) {
    Confirmed c;
    c.correction = j.at("correction"), c.part = j.at("part"), c.kind = kind(j.at("kind"));
    c.area = number(j.at("area_mm2")), c.before = number(j.at("before_mm"));
    c.predicted = number(j.at("predicted_mm")), c.predicted_U = number(j.at("predicted_U_mm"));
    c.achieved = number(j.at("achieved_mm")), c.achieved_U = number(j.at("achieved_U_mm"));
    c.En = number(j.at("En")), c.can_tell = j.at("can_tell"), c.says = j.at("says");
    return c;
  });
}

}  // namespace gapfront::report
