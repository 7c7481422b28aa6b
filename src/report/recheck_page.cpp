// The page of a re-check: what has worn, how fast, how long it lasts; from recheck.json alone.
#include <algorithm>
#include <cmath>

#include "report/pages.hpp"
#include "report/plain_page.hpp"
#include "units/digits.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

std::string count(double cycles) { return std::isfinite(cycles) ? fixed(cycles, 0) : "–"; }

std::string with_U(double v, double U, UnitSystem u) {
  return (v > 0 ? "+" : "") + with_U_of(v, U, u) + "<br>± " + with_U_of(U, U, u);
}

std::string left_words(const Json& w) {
  const double low = real_of(w, "cycles_left_low");
  if (!w.at("enough_evidence"))
    return low > 0 ? "Not enough evidence; not before " + spoken_cycles(low) + " cycles from now (95 %)."
                   : "Not enough evidence.";
  if (real_of(w, "cycles_left_high") <= 0) return "The limit is reached.";
  return spoken_cycles(real_of(w, "cycles_left")) + " cycles (95 %: " + spoken_cycles(low) + " to " +
         spoken_cycles(real_of(w, "cycles_left_high")) + ")";
}

std::string datum_words(const Json& r) {
  const std::string state = r.at("datum");
  if (state == "steady") return "The targets stand where they stood, and the upper half sits as it sat.";
  if (state == "unchecked") return "Not checked: fewer than four targets are common to both dates.";
  if (state == "target moved") return "A target moved: it stands elsewhere among the others than it did.";
  return "The upper half sits otherwise than it did, by a rigid motion.";
}

std::string verdict(const Json& r) {
  const bool worn = !r.at("wear").empty(), moved = r.at("datum") == "target moved" || r.at("datum") == "half moved";
  bool reached = false;
  for (const auto& w : r.at("wear"))
    reached = reached || (w.at("enough_evidence") && real_of(w, "cycles_left_high") <= 0);
  const Json& next = r.at("next");
  std::string more = "<p>Next re-check: at " + count(real_of(next, "cycles")) + " cycles";
  if (next.at("date") != "") more += ", at today's pace on " + text_of(next, "date");
  more += ". The reason: " + text_of(next, "why") + ".</p>\n";
  if (reached)
    more = "<p>Mend the place before more parts are made; the inspection after that is the new baseline.</p>\n";
  more += "<p>" + datum_words(r) + "</p>\n";
  return verdict_box(reached || moved ? "bad"
                     : worn           ? "maybe"
                                      : "ok",
                     reached ? "Limit reached"
                     : worn  ? "Worn"
                     : moved ? "Datum moved"
                             : "No wear",
                     text_of(r, "headline"), more) +
         bullets(r.at("notes").get<std::vector<std::string>>());
}

std::string maps(const Json& r, const Inspection& stage) {
  // One scale for all that is change, wide enough for the greatest wear, which may be a small place.
  const auto field = [&](const char* id, const char* title, const char* meaning, D d, Scale s, bool zero) {
    return Field{id, title, meaning, d, s, zero, stage.columns.at(id)};
  };
  const Field drift = field("drift_mm", "", "", D::length, Scale::diverging, true);
  std::vector<double> peaks;
  for (const auto& w : r.at("wear")) peaks.push_back(real_of(w, "peak_mm"));
  ColourScale change = common_scale({&drift}, stage.job.units, peaks);
  change.limits.clear();  // they only made it wide enough
  const auto map = [&](const char* id, const char* title, const char* meaning, D d, Scale s, bool zero) {
    const Field f = field(id, title, meaning, d, s, zero);
    MapExtras extras;
    if (zero) extras.scale = change;
    return map_figure(stage, f, "<b>" + f.title + ".</b> " + f.meaning, extras);
  };
  std::string out = "<div class=\"maps\">";
  out += map("drift_mm", "Drift", "Gap now minus gap then: brown has grown, blue has shrunk. Outlined: significant.",
             D::length, Scale::diverging, true);
  out +=
      map("significant_mm", "Significant change",
          "What is left when the rigid motion is taken out, where it is more than noise; elsewhere nothing is shown.",
          D::length, Scale::diverging, true);
  out += map("drift_U_mm", "U of the drift", "The drift is within ± U with about 95 % confidence.", D::length,
             Scale::amount, false);
  out += map("remainder_mm", "Remainder", "Drift without the rigid motion of the upper half; wear is sought in it.",
             D::length, Scale::diverging, true);
  out += "</div>\n";
  return section("drift", "The drift",
                 out + map_orientation() + "<p>A change of " +
                     with_unit(real_of(r, "detects_mm"), D::length, stage.job.units) +
                     " over a place of some edges of the sheet would still have been found.</p>\n");
}

Trend trend_of(const Json& r, const Json& w, UnitSystem units) {
  const double per = units == UnitSystem::inch ? 25.4 : 1;
  Trend t;
  const std::string name = w.at("name"), unit = shown_unit(D::length, units);
  t.y_label = "gap, " + unit;
  t.now = real_of(r.at("now"), "cycles"), t.limit = real_of(w, "limit_mm") / per;
  for (const auto& p : w.at("course")) t.seen.push_back({real(p.at(0)), real(p.at(1)) / per, 2 * real(p.at(2)) / per});
  t.name = "Gap at the top of " + name + " over the cycles:";
  for (const auto& p : t.seen)
    t.name += " " + count(p.x) + " cycles " + shown(p.y * per, D::length, units) + " ± " +
              shown(p.U * per, D::length, units) + " " + unit + ";";
  t.name += " limit " + shown(t.limit * per, D::length, units) + " " + unit + ".";
  const Json& line = w.at("line");
  if (line.is_null()) return t;
  const double first = real_of(line, "from_cycles"), a = real_of(line, "at_first_mm"),
               b = real_of(line, "rate_mm_per_cycle"), k = real_of(line, "t_95");
  const double v00 = real(line.at("covariance").at(0)), v01 = real(line.at("covariance").at(1)),
               v11 = real(line.at("covariance").at(2));
  // The line is drawn on to the limit, but not farther than the tool has run already: beyond that it says little.
  const double run = std::max(t.now - first, 1.0), low = real_of(w, "cycles_left_low"),
               high = real_of(w, "cycles_left_high");
  double end = t.now + 0.1 * run;
  if (w.at("enough_evidence")) {
    end = std::clamp(t.now + 1.05 * high, end, t.now + run);
    t.reached = std::pair{t.now + low, t.now + high};
    if (high <= 0 || t.now + low > end) t.reached.reset();
  }
  for (int i = 0; i <= 24; ++i) {
    const double x = (end - first) * i / 24, y = a + b * x,
                 half = k * std::sqrt(std::max(0.0, v00 + 2 * x * v01 + x * x * v11));
    t.line.push_back({first + x, y / per, (y - half) / per, (y + half) / per});
  }
  return t;
}

std::string wear(const Json& r, const Inspection& stage) {
  const UnitSystem u = stage.job.units;
  if (r.at("wear").empty())
    return section("wear", "Wear",
                   "<p>No place has changed by more than noise, once the rigid motion is taken out.</p>\n");
  Rows rows{{"place", "face", "centre", "area", "change in the mean", "change at its top", "per 1,000 cycles (95 %)",
             "limit of the gap", "cycles left"}};
  std::string charts;
  for (const auto& w : r.at("wear")) {
    const bool line = !w.at("line").is_null();
    rows.push_back({"<b>" + text_of(w, "name") + "</b>", text_of(w, "face"), place(vec(w.at("centre_mm")), u),
                    with_unit(real_of(w, "area_mm2"), D::area, u),
                    with_U(real_of(w, "mean_mm"), real_of(w, "mean_U_mm"), u),
                    with_U(real_of(w, "peak_mm"), real_of(w, "peak_U_mm"), u),
                    line ? with_U(1e3 * real_of(w, "rate_mm_per_cycle"), 1e3 * real_of(w, "rate_U_mm_per_cycle"), u)
                         : "no cycles between the dates",
                    with_unit(real_of(w, "limit_mm"), D::length, u), left_words(w)});
    charts += trend_chart("<b>" + text_of(w, "name") + ".</b> Gap at its top, at " + place(vec(w.at("worst_mm")), u) +
                              ", with U; rigid motions taken out. Line: weighted regression with its 95 % interval.",
                          trend_of(r, w, u));
  }
  return section("wear", "Wear",
                 table(rows, "Places that have provably changed, the greatest volume first") + "<div class=\"pair\">" +
                     charts + "</div>\n");
}

std::string front(const Json& r, const Inspection& stage) {
  const UnitSystem u = stage.job.units;
  const Json &now = r.at("now"), &then = r.at("then");
  const Field f{"front_lead_s",
                "Change of the front",
                "Arrival then minus arrival now: brown comes earlier now.",
                D::time,
                Scale::diverging,
                true,
                stage.columns.at("front_lead_s")};
  const auto both = [&](const char* name, const char* key, D d) {
    return std::vector<std::string>{name, with_unit(real_of(then, key), d, u), with_unit(real_of(now, key), d, u)};
  };
  Rows rows{{"", "then", "now"}};
  rows.push_back({"verdict", text_of(then, "verdict"), text_of(now, "verdict")});
  const double full = real_of(then, "fill_time_s");
  rows.push_back({"fill time", with_time(full, full), with_time(real_of(now, "fill_time_s"), full)});
  rows.push_back(both("dry area", "dry_area_mm2", D::area));
  rows.push_back({"last point to fill, from the vent", by_tape(real_of(then, "last_point_to_vent_mm"), u),
                  by_tape(real_of(now, "last_point_to_vent_mm"), u)});
  std::string lead;
  // A lead below a thousandth of the fill time is the calculation's own scatter.
  const Json& most = r.at("front");
  const bool changed = !most.is_null() && real_of(most, "greatest_s") > 1e-3 * real_of(then, "fill_time_s");
  lead = changed ? "<p>The front comes earlier by up to " + with_time(real_of(most, "greatest_s"), full) +
                       ", most at " + place(vec(most.at("greatest_at_mm")), u) + ".</p>\n"
                 : "<p>The front runs as it ran.</p>\n";
  return section("front", "The front, then and now",
                 lead + "<div class=\"pair\">" +
                     map_figure(stage, f, "<b>" + f.title + ".</b> " + f.meaning, MapExtras{}) + "<div>" + table(rows) +
                     "</div></div>\n");
}

std::string datum(const Json& r, UnitSystem u) {
  std::string out = "<p>" + datum_words(r) + "</p>\n";
  out += table(
      {{"rigid motion of the upper half since then", "value", "U"},
       {"offset", with_U_of(real_of(r, "rigid_offset_mm"), real_of(r, "rigid_offset_U_mm"), u),
        with_U_of(real_of(r, "rigid_offset_U_mm"), real_of(r, "rigid_offset_U_mm"), u)},
       {"effect on the gap, root mean square", with_U_of(real_of(r, "rigid_rms_mm"), real_of(r, "rigid_rms_U_mm"), u),
        with_U_of(real_of(r, "rigid_rms_U_mm"), real_of(r, "rigid_rms_U_mm"), u)},
       {"chance of so much if nothing moved",
        real_of(r, "rigid_p") < 0.001 ? "below 0.1 %" : fixed(100 * real_of(r, "rigid_p"), 1) + " %", ""}});
  if (!r.at("moved_targets").empty()) {
    Rows rows{{"target", "half", "moved by", "U"}};
    for (const auto& m : r.at("moved_targets"))
      rows.push_back({text_of(m, "target"), text_of(m, "half"), with_unit(real_of(m, "distance_mm"), D::length, u),
                      with_unit(real_of(m, "U_mm"), D::length, u)});
    out += table(rows, "Targets that stand elsewhere among the others of their half");
  }
  return section("datum", "Did the datum move, or the face?", out);
}

std::string uncertainty(const Json& r) {
  return section("proof", "What drops out of the difference",
                 bullets(r.at("cancels").get<std::vector<std::string>>()) + "<p>The scatter of the drift is " +
                     fixed(real_of(r, "scatter_over_U"), 2) +
                     " times what U says; where it is more than 1, the uncertainties of wear are raised by it.</p>\n");
}

std::string provenance(const Json& r) {
  Rows rows{{"", "then", "now"}};
  const auto add = [&](const char* name, const char* key, bool code) {
    std::vector<std::string> row{name};
    for (const char* date : {"then", "now"}) {
      const std::string s = r.at(date).at(key);
      row.push_back(s.empty() ? "not named" : code ? "<code>" + escape(s) + "</code>" : own(s));
    }
    rows.push_back(row);
  };
  add("inspection", "name", false), add("date", "date", false), add("instrument", "instrument", false);
  add("made by gapfront", "program_version", false), add("job file, SHA-256", "job_sha256", true);
  add("lower scan, SHA-256", "lower_sha256", true), add("upper scan, SHA-256", "upper_sha256", true);
  return section("provenance", "Where the numbers come from", table(rows));
}

}  // namespace

std::string recheck_page(const Json& r) {
  Inspection stage = stage_of(r, "wear");
  const Json& job = r.at("job");
  const auto when = [&](const char* key) {
    return text_of(r.at(key), "date") + " (" + count(real_of(r.at(key), "cycles")) + " cycles)";
  };
  const std::string facts = "Re-check of " + text_of(job, "tool") + ": " + when("now") + " against " + when("then");
  return plain_page(job, "re-check", facts,
                    verdict(r) + outcome_of(r) + maps(r, stage) + wear(r, stage) + front(r, stage) +
                        datum(r, stage.job.units) + uncertainty(r) + provenance(r));
}

}  // namespace gapfront::report
