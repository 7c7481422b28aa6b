// study.html: alternatives side by side, in a table, on small maps, and in what nothing beats.
#include <algorithm>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

#include "gapfront/report.hpp"
#include "gapfront/study.hpp"
#include "report/axes.hpp"
#include "report/describe/describe.hpp"
#include "report/plain_page.hpp"

namespace gapfront::report {
namespace {

// 2: arrivals end with the filling. An older file is computed again.
constexpr int kStudyVersion = 2;
// Pixels; the figure of one point would cover that of the other.
constexpr double kTogether = 8;

std::string name_of(const Alternatives& plan, std::size_t k, const Voice& v) {
  std::string out;
  for (const std::string& name : plan.all[k].names)
    if (!name.empty()) out += (out.empty() ? "" : " · ") + own(name);
  return out.empty() ? told(v, "try.as-job") : out;
}

std::string number_of(std::size_t k) { return std::to_string(k + 1); }

std::string chance_of_air(const StudiedFill& f, const Voice& v) {
  if (f.air.draws == 0) return told(v, "fleet.not-estimated");
  return told(v, "study.chance",
              {arg::fraction(f.air.p, 0), arg::fraction(f.air.low, 0), arg::fraction(f.air.high, 0)});
}

std::string balance_of(const StudiedFill& f, const Voice& v) {
  return std::isfinite(f.balance) ? fixed(f.balance, f.balance < 9.995 ? 2 : 0, v) : "–";
}

/// Under a head that says "mean of the drawn fillings", one without such a mean says what it is.
std::string dry_of(const StudiedFill& f, bool drawn, const Voice& v) {
  const std::string area = with_unit(f.expected_dry_area, Dimension::area, v);
  return drawn && f.air.draws == 0 ? told(v, "study.one-filling", {arg::name(area)}) : area;
}

/// As an inspection gives it; and that the resin gels before.
std::string time_of(const StudiedFill& f, const Voice& v) {
  const std::string time = with_time(f.fill_time, f.fill_time, v);
  return f.gels() ? time + "<br>" + told(v, "study.gels", {arg::time(f.gel_time), arg::area(f.gelled_area)}) : time;
}

Rows study_rows(const Alternatives& plan, const Study& s, const std::vector<bool>& best, const Voice& v) {
  const bool drawn = std::any_of(s.fills.begin(), s.fills.end(), [](const StudiedFill& f) { return f.air.draws > 0; });
  Rows rows{heads(v, {"order.no", "study.alternative", "page.fill-time", "fleet.trapped-air",
                      drawn ? "order.dry-area-mean-drawn" : "front.dry-area", "clamping.closing-force-over-opening",
                      "try.peak-pressure", "study.not-beaten"})};
  for (std::size_t k = 0; k < s.fills.size(); ++k) {
    const StudiedFill& f = s.fills[k];
    if (f.key.empty()) continue;
    rows.push_back({number_of(k), name_of(plan, k, v), time_of(f, v), chance_of_air(f, v), dry_of(f, drawn, v),
                    balance_of(f, v), with_unit(f.inlet_pressure, Dimension::pressure, v), best[k] ? "●" : ""});
  }
  return rows;
}

/// Fill time against the chance of trapped air; what is not beaten is filled.
std::string study_chart(const Study& s, const std::vector<bool>& best, const Voice& v) {
  double slowest = 0, most = 0;
  for (const StudiedFill& f : s.fills) slowest = std::max(slowest, f.fill_time), most = std::max(most, f.air.p);
  const Axis x{0, slowest > 0 ? 1.08 * slowest : 1, 52, 448}, y{0, std::max(10.0, 108 * most), 205, 26};
  std::string out = axes(x, y, told(v, "front.time-s"), "%", v);
  struct Point {
    double x, y;
    std::string numbers;
  };
  std::vector<Point> points;  // what would lie on another one shares its label
  for (std::size_t k = 0; k < s.fills.size(); ++k) {
    const StudiedFill& f = s.fills[k];
    if (f.key.empty() || f.air.draws == 0) continue;
    const double px = x.at(f.fill_time), py = y.at(100 * f.air.p);
    out += "<circle class=\"" + std::string(best[k] ? "col" : "dot") + "\" cx=\"" + fixed(px) + "\" cy=\"" + fixed(py) +
           "\" r=\"5\"/>";
    const auto same = std::find_if(points.begin(), points.end(),
                                   [&](const Point& p) { return std::hypot(p.x - px, p.y - py) < kTogether; });
    if (same == points.end())
      points.push_back({px, py, number_of(k)});
    else
      same->numbers += ", " + number_of(k);
  }
  for (const Point& p : points) {
    const bool left = p.x > 400;  // the chart ends at 460
    out += text(left ? p.x - 8 : p.x + 8, p.y + 4, p.numbers, left ? "end" : "start");
  }
  const std::string caption = told(v, "study.chart");
  return chart_figure(caption, caption, out, 245);
}

bool same_rates(const FlowOptions& a, const FlowOptions& b) {
  return std::equal(a.schedule.begin(), a.schedule.end(), b.schedule.begin(), b.schedule.end(),
                    [](const RateStep& p, const RateStep& q) { return p.from == q.from && p.rate == q.rate; });
}

/// Where another pump rate changes nothing, because the pump stands at its limit with either.
std::string limit_notes(const Alternatives& plan, const Study& s, const Voice& v) {
  const auto at_limit = [&](std::size_t k) {
    const FlowOptions& o = plan.all[k].job.flow;
    return !s.fills[k].key.empty() && !o.schedule.empty() && s.fills[k].inlet_pressure >= 0.999 * o.pressure_limit;
  };
  std::vector<bool> told_of(s.fills.size());
  std::string out;
  for (std::size_t k = 0; k < s.fills.size(); ++k) {
    if (told_of[k] || !at_limit(k)) continue;
    std::string like;
    for (std::size_t i = k + 1; i < s.fills.size(); ++i)
      if (at_limit(i) && !same_rates(plan.all[i].job.flow, plan.all[k].job.flow) &&
          pipeline::alike(s.fills[i], s.fills[k]))
        like += ", " + number_of(i), told_of[i] = true;
    if (!like.empty()) out += para(told(v, "study.at-limit", {arg::name(number_of(k) + like)}));
  }
  return out;
}

/// The arrival of each alternative, all on one scale, from the start to the end of the last filling.
std::string small_maps(const Alternatives& plan, const Study& s, const Voice& v) {
  const auto field = [](const std::vector<double>& values) {
    return Field{"arrival_s",
                 Message("gap.arrival-measured-gap"),
                 Message("gap.when-front-passes-gap"),
                 Dimension::time,
                 Scale::sequence,
                 false,
                 values};
  };
  double last = 0;
  for (const StudiedFill& f : s.fills)
    for (const double t : f.arrival)
      if (std::isfinite(t)) last = std::max(last, t);
  const Field every = field({0, last});
  MapExtras extras;
  extras.isochrones = true, extras.scale = common_scale({&every}, v.units);
  Inspection r = stage_of(plan.job, s.mesh);
  std::string out;
  for (std::size_t k = 0; k < s.fills.size(); ++k) {
    if (s.fills[k].key.empty()) continue;
    r.job.flow.vents = plan.all[k].job.flow.vents;
    out += map_figure(r, field(s.fills[k].arrival), "<b>" + number_of(k) + ".</b> " + name_of(plan, k, v), extras);
  }
  return "<div class=\"maps small\">" + out + "</div>\n";
}

}  // namespace

std::string study_html(const Alternatives& plan, const Study& s) {
  const Voice v = voice_of(plan.job);
  const auto best = pipeline::not_beaten(s.fills);
  const auto good = static_cast<long>(std::count(best.begin(), best.end(), true));
  const auto done = static_cast<long>(
      std::count_if(s.fills.begin(), s.fills.end(), [](const StudiedFill& f) { return !f.key.empty(); }));
  const bool some = std::any_of(s.fills.begin(), s.fills.end(), [](const StudiedFill& f) { return f.gels(); });
  const Message result = pipeline::all_gel(s.fills)
                             ? Message("study.all-gel")
                             : Message(some ? "study.result-beside-gelled" : "study.result", {good, done});
  std::string body =
      "<section>" + para("<b>" + told(v, result) + "</b>") +
      (pipeline::none_fills(s.fills, plan.job.ensemble.min_dry) ? para("<b>" + told(v, "study.none-fills") + "</b>")
                                                                : "") +
      para(told(v, "study.how"));
  body += "<div class=\"pair\">" + study_chart(s, best, v) + "</div>" + table(study_rows(plan, s, best, v)) +
          limit_notes(plan, s, v) + "</section>\n";
  const bool dry = std::any_of(s.fills.begin(), s.fills.end(), [](const StudiedFill& f) { return f.dry_area > 0; });
  body += section("maps", told(v, "study.maps"), (dry ? para(told(v, "study.dry")) : "") + small_maps(plan, s, v));
  const std::string tool = plan.job.tool.empty() ? "" : " · " + own(plan.job.tool);
  return plain_page(plan.job, Message("study.title"), told(v, "study.title") + tool, body);
}

std::string study_json(const Alternatives& plan, const Study& s) {
  Json out = {{"format", "gapfront study"}, {"format_version", kStudyVersion}, {"nodes_mm", Json::array()}};
  for (const Vec3& p : s.mesh.points) out["nodes_mm"].push_back({p.x(), p.y(), p.z()});
  out["triangles"] = s.mesh.triangles;
  out["alternatives"] = Json::array();
  for (std::size_t k = 0; k < s.fills.size(); ++k) {
    const StudiedFill& f = s.fills[k];
    if (f.key.empty()) continue;
    out["alternatives"].push_back({{"names", plan.all[k].names},
                                   {"key", f.key},
                                   {"fill_time_s", f.fill_time},
                                   {"dry_area_mm2", f.dry_area},
                                   {"expected_dry_area_mm2", f.expected_dry_area},
                                   {"air_hits", f.air.hits},
                                   {"air_draws", f.air.draws},
                                   {"closing_over_opening", f.balance},
                                   {"inlet_pressure_Pa", f.inlet_pressure},
                                   {"gel_time_s", f.gel_time},
                                   {"gelled_area_mm2", f.gelled_area},
                                   {"arrival_s", f.arrival}});
  }
  return out.dump() + "\n";
}

Study read_study(const std::string& text) {
  const auto number = [](const Json& j) {
    return j.is_number() ? j.get<double>() : std::numeric_limits<double>::infinity();
  };
  Study out;
  try {
    const Json in = Json::parse(text);
    if (in.at("format") != "gapfront study" || in.at("format_version") != kStudyVersion) return {};
    for (const Json& p : in.at("nodes_mm")) out.mesh.points.emplace_back(p.at(0), p.at(1), p.at(2));
    out.mesh.triangles = in.at("triangles").get<decltype(out.mesh.triangles)>();
    for (const Json& a : in.at("alternatives")) {
      StudiedFill f;
      f.key = a.at("key"), f.fill_time = number(a.at("fill_time_s")), f.dry_area = number(a.at("dry_area_mm2"));
      f.expected_dry_area = number(a.at("expected_dry_area_mm2"));
      if (const int draws = a.at("air_draws"); draws > 0) f.air = conformity::chance_of(a.at("air_hits"), draws);
      f.balance = number(a.at("closing_over_opening")), f.inlet_pressure = number(a.at("inlet_pressure_Pa"));
      f.gel_time = a.value("gel_time_s", 0.0);
      f.gelled_area = a.value("gelled_area_mm2", std::numeric_limits<double>::quiet_NaN());
      for (const Json& t : a.at("arrival_s")) f.arrival.push_back(number(t));
      if (f.arrival.size() != out.mesh.points.size()) return {};
      out.fills.push_back(std::move(f));
    }
  } catch (const Json::exception&) {
    return {};  // cut short, or of something else: it is computed again
  }
  return out;
}

}  // namespace gapfront::report
