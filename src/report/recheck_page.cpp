// The page of a re-check: what has worn, how fast, how long it lasts; from what recheck.json holds.
#include <algorithm>
#include <cmath>

#include "report/describe/recheck.hpp"
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

std::string left_words(const Wear& w) {
  const double low = std::isfinite(w.left_low) ? w.left_low : 0;
  if (!w.enough)
    return low > 0 ? "Not enough evidence; not before " + spoken_cycles(low) + " cycles from now (95 %)."
                   : "Not enough evidence.";
  if (w.left_high <= 0) return "The limit is reached.";
  return spoken_cycles(w.left) + " cycles (95 %: " + spoken_cycles(low) + " to " + spoken_cycles(w.left_high) + ")";
}

std::string datum_words(const Recheck& r) {
  if (r.datum == DatumState::steady) return "The targets stand where they stood, and the upper half sits as it sat.";
  if (r.datum == DatumState::unchecked) return "Not checked: fewer than four targets are common to both dates.";
  if (r.datum == DatumState::target_moved) return "A target moved: it stands elsewhere among the others than it did.";
  return "The upper half sits otherwise than it did, by a rigid motion.";
}

std::string verdict(const Recheck& r, const Inspection& stage) {
  const bool worn = !r.wear.empty(), moved = r.datum == DatumState::target_moved || r.datum == DatumState::half_moved;
  bool reached = false;
  for (const auto& w : r.wear) reached = reached || (w.enough && w.left_high <= 0);
  std::string more = "<p>Next re-check: at " + count(r.next_cycles) + " cycles";
  if (!r.next_date.empty()) more += ", at today's pace on " + escape(r.next_date);
  more += ".</p>\n" + para(told(stage, Message("pages.reason", {arg::message(r.next_why)})));
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
                     told(stage, r.headline), more) +
         list(stage, r.notes);
}

std::string maps(const Recheck& r, const Inspection& stage) {
  // One scale for all that is change, wide enough for the greatest wear, which may be a small place.
  const Field drift{"drift_mm", {}, {}, D::length, Scale::diverging, true, r.drift};
  std::vector<double> peaks;
  for (const Wear& w : r.wear) peaks.push_back(w.peak);
  ColourScale change = common_scale({&drift}, stage.job.units, peaks);
  change.limits.clear();  // they only made it wide enough
  const auto map = [&](const char* id, const char* title, const char* meaning, Scale s,
                       const std::vector<double>& values) {
    const bool zero = s == Scale::diverging;
    const Field f{id, Message(title), Message(meaning), D::length, s, zero, values};
    MapExtras extras;
    if (zero) extras.scale = change;
    return map_figure(stage, f, map_caption(voice_of(stage.job), f), extras);
  };
  std::string out = "<div class=\"maps\">";
  out += map("drift_mm", "pages.drift-2", "pages.drift-meaning", Scale::diverging, r.drift);
  out += map("significant_mm", "pages.significant-change", "pages.what-left-when-rigid", Scale::diverging,
             significant_change(r));
  out += map("drift_U_mm", "pages.u-drift", "pages.drift-within-u-about", Scale::amount, r.U);
  out += map("remainder_mm", "gap.remainder", "pages.drift-without-rigid-motion", Scale::diverging, r.remainder);
  out += "</div>\n";
  return section("drift", "The drift",
                 out + map_orientation(voice_of(stage.job)) + "<p>A change of " +
                     with_unit(r.detects, D::length, stage.job.units) +
                     " over a place of some edges of the sheet would still have been found.</p>\n");
}

Trend trend_of(const Recheck& r, const Wear& w, UnitSystem units) {
  const double per = units == UnitSystem::inch ? 25.4 : 1;
  Trend t;
  const std::string name = w.name, unit = shown_unit(D::length, units);
  t.y_label = "gap, " + unit;
  t.now = r.now.cycles, t.limit = w.limit / per;
  for (const auto& p : w.course) t.seen.push_back({p.cycles, p.value / per, 2 * p.u / per});
  t.name = "Gap at the top of " + name + " over the cycles:";
  for (const auto& p : t.seen)
    t.name += " " + count(p.x) + " cycles " + shown(p.y * per, D::length, units) + " ± " +
              shown(p.U * per, D::length, units) + " " + unit + ";";
  t.name += " limit " + shown(t.limit * per, D::length, units) + " " + unit + ".";
  const Line& line = w.line;
  if (!(line.dof > 0)) return t;
  const double first = line.first, a = line.at_first, b = line.rate, k = line.t;
  // The line is drawn on to the limit, but not farther than the tool has run already: beyond that it says little.
  const double run = std::max(t.now - first, 1.0), low = w.left_low, high = w.left_high;
  double end = t.now + 0.1 * run;
  if (w.enough) {
    end = std::clamp(t.now + 1.05 * high, end, t.now + run);
    t.reached = std::pair{t.now + low, t.now + high};
    if (high <= 0 || t.now + low > end) t.reached.reset();
  }
  for (int i = 0; i <= 24; ++i) {
    const double x = (end - first) * i / 24, y = a + b * x,
                 half = k * std::sqrt(std::max(0.0, line.v00 + 2 * x * line.v01 + x * x * line.v11));
    t.line.push_back({first + x, y / per, (y - half) / per, (y + half) / per});
  }
  return t;
}

std::string wear(const Recheck& r, const Inspection& stage) {
  const UnitSystem u = stage.job.units;
  if (r.wear.empty())
    return section("wear", "Wear",
                   "<p>No place has changed by more than noise, once the rigid motion is taken out.</p>\n");
  Rows rows{{"place", "face", "centre", "area", "change in the mean", "change at its top", "per 1,000 cycles (95 %)",
             "limit of the gap", "cycles left"}};
  std::string charts;
  for (const auto& w : r.wear) {
    const bool line = w.line.dof > 0;
    rows.push_back({"<b>" + escape(w.name) + "</b>", escape(w.face), place(w.centre, u), with_unit(w.area, D::area, u),
                    with_U(w.mean, w.mean_U, u), with_U(w.peak, w.peak_U, u),
                    line ? with_U(1e3 * w.rate, 1e3 * w.rate_U, u) : "no cycles between the dates",
                    with_unit(w.limit, D::length, u), left_words(w)});
    charts += trend_chart("<b>" + escape(w.name) + ".</b> Gap at its top, at " + place(w.worst, u) +
                              ", with U; rigid motions taken out. Line: weighted regression with its 95 % interval.",
                          trend_of(r, w, u));
  }
  return section("wear", "Wear",
                 table(rows, "Places that have provably changed, the greatest volume first") + "<div class=\"pair\">" +
                     charts + "</div>\n");
}

std::string front(const Recheck& r, const Inspection& stage) {
  const UnitSystem u = stage.job.units;
  const Record &now = r.now, &then = r.then;
  const Field f{"front_lead_s",
                Message("pages.change-front"),
                Message("pages.arrival-then-minus-arrival"),
                D::time,
                Scale::diverging,
                true,
                r.front.seconds};
  const auto both = [&](const char* name, double Record::*value, D d) {
    return std::vector<std::string>{name, with_unit(then.*value, d, u), with_unit(now.*value, d, u)};
  };
  Rows rows{{"", "then", "now"}};
  rows.push_back({"verdict", escape(then.verdict), escape(now.verdict)});
  const double full = then.fill_time;
  rows.push_back({"fill time", with_time(full, full), with_time(now.fill_time, full)});
  rows.push_back(both("dry area", &Record::dry_area, D::area));
  rows.push_back({"last point to fill, from the vent", by_tape(then.last_to_vent, u), by_tape(now.last_to_vent, u)});
  std::string lead;
  // A lead below a thousandth of the fill time is the calculation's own scatter.
  const bool changed = r.front.max_node >= 0 && r.front.max_s > 1e-3 * then.fill_time;
  lead = changed ? "<p>The front comes earlier by up to " + with_time(r.front.max_s, full) + ", most at " +
                       place(front_place(r), u) + ".</p>\n"
                 : "<p>The front runs as it ran.</p>\n";
  return section("front", "The front, then and now",
                 lead + "<div class=\"pair\">" +
                     map_figure(stage, f, map_caption(voice_of(stage.job), f), MapExtras{}) + "<div>" + table(rows) +
                     "</div></div>\n");
}

std::string datum(const Recheck& r, UnitSystem u) {
  std::string out = "<p>" + datum_words(r) + "</p>\n";
  out += table(
      {{"rigid motion of the upper half since then", "value", "U"},
       {"offset", with_U_of(r.rigid.offset, r.rigid.offset_U, u), with_U_of(r.rigid.offset_U, r.rigid.offset_U, u)},
       {"effect on the gap, root mean square", with_U_of(r.rigid.rms, r.rigid.rms_U, u),
        with_U_of(r.rigid.rms_U, r.rigid.rms_U, u)},
       {"chance of so much if nothing moved", r.rigid_p < 0.001 ? "below 0.1 %" : fixed(100 * r.rigid_p, 1) + " %",
        ""}});
  if (!r.moved.empty()) {
    Rows rows{{"target", "half", "moved by", "U"}};
    for (const DatumMove& m : r.moved)
      rows.push_back({own(m.name) + (m.several ? "<br>the most of several" : ""), escape(m.half),
                      with_unit(m.distance, D::length, u), with_unit(m.U, D::length, u)});
    out += table(rows, "Targets that stand elsewhere among the others of their half");
  }
  return section("datum", "Did the datum move, or the face?", out);
}

std::string uncertainty(const Recheck& r, const Inspection& stage) {
  return section("proof", "What drops out of the difference",
                 list(stage, r.cancels) + "<p>The scatter of the drift is " + fixed(r.inflation, 2) +
                     " times what U says; where it is more than 1, the uncertainties of wear are raised by it.</p>\n");
}

std::string provenance(const Recheck& r) {
  Rows rows{{"", "then", "now"}};
  const auto add = [&](const char* name, const std::string Record::*text, bool code) {
    std::vector<std::string> cells{name};
    for (const Record* date : {&r.then, &r.now}) {
      const std::string& s = date->*text;
      cells.push_back(s.empty() ? "not named" : code ? "<code>" + escape(s) + "</code>" : own(s));
    }
    rows.push_back(cells);
  };
  add("inspection", &Record::name, false), add("date", &Record::date, false);
  add("instrument", &Record::instrument, false), add("made by gapfront", &Record::version, false);
  add("job file, SHA-256", &Record::job_sha256, true);
  add("lower scan, SHA-256", &Record::lower_sha256, true), add("upper scan, SHA-256", &Record::upper_sha256, true);
  return section("provenance", "Where the numbers come from", table(rows));
}

}  // namespace

std::string recheck_page(const RecheckFile& file) {
  const Recheck& r = file.recheck;
  Inspection stage = stage_of(file.job, r.sheet.mesh);
  for (const Wear& w : r.wear) {
    DeviationRegion& region = stage.verdict.regions.emplace_back();
    region.name = w.name, region.centre = w.centre, region.outline = w.outline;
  }
  const auto when = [&](const Record& one) { return escape(one.date) + " (" + count(one.cycles) + " cycles)"; };
  const std::string facts = "Re-check of " + escape(file.job.tool) + ": " + when(r.now) + " against " + when(r.then);
  return plain_page(file.job, "re-check", facts,
                    verdict(r, stage) + outcome_of(voice_of(stage.job), file.outcome) + maps(r, stage) +
                        wear(r, stage) + front(r, stage) + datum(r, stage.job.units) + uncertainty(r, stage) +
                        provenance(r));
}

}  // namespace gapfront::report
