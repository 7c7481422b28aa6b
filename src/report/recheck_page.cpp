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

std::string with_U(double x, double U, const Voice& v) {
  return (x > 0 ? "+" : "") + with_U_of(x, U, v) + "<br>± " + with_U_of(U, U, v);
}

Message left_words(const Wear& w) {
  const double low = std::isfinite(w.left_low) ? cycles_at_least(w.left_low) : 0;
  if (at_limit(w)) return Message("pages.limit-reached-2");
  if (w.bent) return Message("pages.no-straight-line");
  if (!w.enough)
    return low > 0 ? Message("pages.not-enough-evidence-not", {arg::cycles(low)})
                   : Message("pages.not-enough-evidence");
  return Message("pages.cycles-95", {arg::cycles(w.left), arg::cycles(low), arg::cycles(w.left_high)});
}

const char* datum_words(DatumState d) {
  switch (d) {
    case DatumState::steady:
      return "pages.targets-stand-where-they";
    case DatumState::unchecked:
      return "pages.not-checked-fewer-than";
    case DatumState::target_moved:
      return "pages.target-moved-stands-elsewhere";
    case DatumState::half_moved:
      return "pages.upper-half-sits-otherwise";
    case DatumState::untold:
      return "pages.untold-datum";
  }
  return "";
}

/// What to do, and when.
std::string what_next(const Recheck& r, const Voice& v) {
  const auto bold = [&](const Message& m) { return para("<b>" + told(v, m) + "</b>"); };
  if (!(r.next_cycles > r.now.cycles)) return bold(r.next_why);  // also where there is none
  const std::string why = folded(told(v, "pages.why-then"), para(told(v, "pages.reason", {arg::message(r.next_why)})));
  const Argument cycles = arg::name(count(r.next_cycles));
  if (r.next_date.empty()) return bold(Message("pages.next-re-check-cycles", {cycles})) + why;
  return bold(Message("pages.next-re-check-cycles-todays", {cycles, arg::name(r.next_date)})) + why;
}

std::string verdict(const Recheck& r, const Voice& v) {
  const bool worn = !r.wear.empty(), moved = r.datum == DatumState::target_moved || r.datum == DatumState::half_moved;
  const bool narrower = worn && first_to_end(r)->peak < 0;
  const bool reached = std::any_of(r.wear.begin(), r.wear.end(), at_limit);
  return verdict_box(reached || moved                                                ? "bad"
                     : worn || r.unsure || r.not_compared > 0 || !r.vanished.empty() ? "maybe"
                                                                                     : "ok",
                     told(v, r.seat_first          ? "pages.seat-moved"
                             : reached             ? "pages.limit-reached"
                             : worn && narrower    ? "pages.narrower"
                             : worn                ? "pages.worn"
                             : r.unsure            ? "pages.cannot-be-told"
                             : moved               ? "pages.datum-moved"
                             : !r.vanished.empty() ? "pages.vanished"
                             : r.not_compared > 0  ? "pages.not-all-compared"
                                                   : "pages.no-wear"),
                     told(v, r.headline), what_next(r, v) + para(told(v, datum_words(r.datum))));
}

/// The drift itself, first on the page; and what it is made of, folded.
struct DriftMaps {
  std::string drift, others;
};
DriftMaps maps(const Recheck& r, const Inspection& stage, const Voice& v) {
  // One scale for all that is change, wide enough for the greatest wear, which may be a small place.
  const Field drift{"drift_mm", {}, {}, D::length, Scale::diverging, true, r.drift};
  std::vector<double> peaks;
  for (const Wear& w : r.wear) peaks.push_back(w.peak);
  ColourScale change = common_scale({&drift}, v.units, peaks);
  change.limits.clear();  // they only made it wide enough
  const auto map = [&](const char* id, const char* title, const char* meaning, Scale s,
                       const std::vector<double>& values) {
    const bool zero = s == Scale::diverging;
    const Field f{id, Message(title), Message(meaning), D::length, s, zero, values};
    MapExtras extras;
    if (zero) extras.scale = change;
    return map_figure(stage, f, map_caption(v, f), extras);
  };
  const std::string others =
      map("significant_mm", "pages.significant-change", "pages.what-left-when-rigid", Scale::diverging,
          significant_change(r)) +
      map("drift_U_mm", "pages.u-drift", "pages.drift-within-u-about", Scale::amount, r.U) +
      map("remainder_mm", "gap.remainder", "pages.drift-without-rigid-motion", Scale::diverging, r.remainder);
  return {"<div class=\"see\">" + map("drift_mm", "pages.drift-2", "pages.drift-meaning", Scale::diverging, r.drift) +
              "</div>\n",
          section("drift", told(v, "pages.drift"),
                  para(told(v, "pages.change-over-place-some", {arg::name(with_unit(r.detects, D::length, v))})) +
                      folded(told(v, "pages.what-the-drift-is-made-of"),
                             "<div class=\"maps\">" + others + "</div>\n" + map_orientation(v)))};
}

/// What is read out of the chart: every value of the course, and the limit.
std::string said_of(const Wear& w, const Voice& v) {
  Messages values;
  const auto number = [&](double mm) { return spelt(shown(mm, D::length, v.units), v); };
  for (const auto& p : w.course)
    values.push_back(Message("pages.cycles", {arg::name(count(p.cycles)), arg::name(number(p.value)),
                                              arg::name(with_unit(2 * p.u, D::length, v))}));
  values.push_back(Message("pages.limit", {arg::name(with_unit(w.limit, D::length, v))}));
  return told(v, "pages.gap-top-over-cycles", {arg::name(w.name), arg::message(in_one_sentence(values))});
}

Trend trend_of(const Wear& w, double now, const Voice& v) {
  const double per = mm_per_unit(v.units);
  Trend t;
  t.y_label = told(v, v.units == UnitSystem::mm ? "pages.gap-mm" : "pages.gap");
  t.name = said_of(w, v);
  t.now = now, t.limit = w.limit / per;
  for (const auto& p : w.course) t.seen.push_back({p.cycles, p.value / per, 2 * p.u / per});
  const Line& line = w.line;
  if (!w.straight()) return t;
  const double first = line.first, a = line.at_first, b = line.rate, k = line.t;
  // The line is drawn on to the limit, but not farther than the tool has run already: beyond that it says little.
  const double run = std::max(now - first, 1.0), low = w.left_low, high = w.left_high;
  double end = now + 0.1 * run;
  if (w.enough) {
    end = std::clamp(now + 1.05 * high, end, now + run);
    t.reached = std::pair{now + low, now + high};
    if (high <= 0 || now + low > end) t.reached.reset();
  }
  for (int i = 0; i <= 24; ++i) {
    const double x = (end - first) * i / 24, y = a + b * x,
                 half = k * std::sqrt(std::max(0.0, line.v00 + 2 * x * line.v01 + x * x * line.v11));
    t.line.push_back({first + x, y / per, (y - half) / per, (y + half) / per});
  }
  return t;
}

std::string trend_of_place(const Recheck& r, const Wear& w, const Voice& v) {
  return trend_chart(
      "<b>" + own(w.name) + ".</b> " +
          told(v, w.straight() ? "pages.gap-top-u-rigid" : "pages.gap-top-no-line", {arg::place(w.worst)}),
      trend_of(w, r.now.cycles, v), v);
}

/// All places; the course of the one that reaches its limit first stands beside the drift instead.
std::string wear(const Recheck& r, const Voice& v) {
  const std::string title = told(v, "pages.wear");
  if (r.wear.empty())
    return section("wear", title, para(r.unsure ? told(v, r.headline) : told(v, "pages.no-place-has-changed")));
  Rows rows{heads(v, {"page.place", "pages.face", "page.centre", "page.area", "pages.change-mean", "pages.change-top",
                      "pages.per-000-cycles-95", "pages.limit-gap", "pages.cycles-left"})};
  std::string charts;
  for (const auto& w : r.wear) {
    const std::string rate = w.straight()             ? with_U(1e3 * w.rate, 1e3 * w.rate_U, v)
                             : w.bent || w.paceless() ? "–"
                                                      : told(v, "pages.no-cycles-between-dates");
    rows.push_back({"<b>" + own(w.name) + "</b>", told(v, half_word(w.face)), place(w.centre, v),
                    with_unit(w.area, D::area, v), with_U(w.mean, w.mean_U, v), with_U(w.peak, w.peak_U, v), rate,
                    with_unit(w.limit, D::length, v), told(v, left_words(w))});
    if (&w != first_to_end(r)) charts += trend_of_place(r, w, v);
  }
  if (!charts.empty()) charts = "<div class=\"pair\">" + charts + "</div>\n";
  return section("wear", title, table(rows, told(v, "pages.places-have-provably-changed")) + charts);
}

/// What the history keeps of a verdict: its word in English.
std::string verdict_word(const std::string& kept, const Voice& v) {
  for (int k = 0; k <= static_cast<int>(Conformity::not_judged); ++k)
    if (const auto c = static_cast<Conformity>(k); kept == to_string(c)) return told(v, word_of(c));
  return own(kept);
}

std::string front(const Recheck& r, const Inspection& stage, const Voice& v) {
  const Record &now = r.now, &then = r.then;
  const Field f{"front_lead_s",
                Message("pages.change-front"),
                Message("pages.arrival-then-minus-arrival"),
                D::time,
                Scale::diverging,
                true,
                r.front.seconds};
  const double full = then.fill_time;
  const Rows rows{
      heads(v, {"", "pages.then", "corrections.now"}),
      {told(v, "zones.verdict"), verdict_word(then.verdict, v), verdict_word(now.verdict, v)},
      {told(v, "page.fill-time"), with_time(full, full, v), with_time(now.fill_time, full, v)},
      {told(v, "front.dry-area"), with_unit(then.dry_area, D::area, v), with_unit(now.dry_area, D::area, v)},
      {told(v, "page.last-point-fill-from"), by_tape(then.last_to_vent, v), by_tape(now.last_to_vent, v)}};
  // A lead below a thousandth of the fill time is the calculation's own scatter.
  const double scatter = 1e-3 * then.fill_time;
  const auto [late, by] = latest_front(r);
  Text words;
  const auto comes = [&](const char* id, double s, const Vec3& at) {
    words.push_back(Message(id, {arg::name(with_time(s, full, v)), arg::place(at)}));
  };
  if (r.front.max_node >= 0 && r.front.max_s > scatter)
    comes("pages.front-comes-earlier-up", r.front.max_s, front_place(r));
  if (by > scatter) comes("pages.front-comes-later-up", by, r.sheet.mesh.points[late]);
  const std::string lead = words.empty() ? told(v, "pages.front-runs-ran") : told(v, words);
  return section("front", told(v, "pages.front-then-now"),
                 para(lead) + "<div class=\"pair\">" + map_figure(stage, f, map_caption(v, f), MapExtras{}) + "<div>" +
                     table(rows) + "</div></div>\n");
}

std::string datum(const Recheck& r, const Voice& v) {
  const auto row = [&](const char* name, double x, double U) {
    return std::vector<std::string>{told(v, name), with_U_of(x, U, v), with_U_of(U, U, v)};
  };
  std::string out = para(told(v, datum_words(r.datum))) +
                    table({heads(v, {"pages.rigid-motion-upper-half", "pages.value", "U"}),
                           row("gap.offset", r.rigid.offset, r.rigid.offset_U),
                           row("pages.effect-gap-root-mean", r.rigid.rms, r.rigid.rms_U),
                           {told(v, "pages.chance-so-much-if"),
                            r.rigid_p < 0.001 ? told(v, "pages.below") : percent(r.rigid_p, 1, v), ""}});
  if (!r.moved.empty()) {
    Rows rows{heads(v, {"proof.target", "proof.half", "pages.moved", "U"})};
    for (const DatumMove& m : r.moved)
      rows.push_back({own(m.name) + (m.several ? "<br>" + told(v, "pages.most-of-several") : ""),
                      told(v, half_word(m.half)), with_unit(m.distance, D::length, v), with_unit(m.U, D::length, v)});
    out += table(rows, told(v, "pages.targets-stand-elsewhere-among"));
  }
  return section("datum", told(v, "pages.did-datum-move-face"), out);
}

std::string uncertainty(const Recheck& r, const Inspection& stage, const Voice& v) {
  return section(
      "proof", told(v, "pages.what-drops-out-difference"),
      folded(told(v, "pages.how-well-the-drift-is-known"),
             list(stage, r.cancels) + para(told(v, "pages.scatter-drift-times-what", {arg::number(r.inflation, 2)}))));
}

std::string provenance(const Recheck& r, const Voice& v) {
  Rows rows{heads(v, {"", "pages.then", "corrections.now"})};
  const auto add = [&](const char* name, const std::string Record::*text, bool code) {
    std::vector<std::string> cells{told(v, name)};
    for (const Record* date : {&r.then, &r.now}) {
      const std::string& s = date->*text;
      cells.push_back(s.empty() ? told(v, "pages.not-named") : code ? "<code>" + escape(s) + "</code>" : own(s));
    }
    rows.push_back(cells);
  };
  add("pages.inspection", &Record::name, false), add("pages.date", &Record::date, false);
  add("proof.instrument", &Record::instrument, false), add("pages.made-gapfront", &Record::version, false);
  add("pages.job-file-sha-256", &Record::job_sha256, true);
  add("pages.lower-scan-sha-256", &Record::lower_sha256, true);
  add("pages.upper-scan-sha-256", &Record::upper_sha256, true);
  return section("provenance", told(v, "proof.where-numbers-come-from"), table(rows));
}

}  // namespace

std::string recheck_page(const RecheckFile& file) {
  const Recheck& r = file.recheck;
  const Voice v = voice_of(file.job);
  Inspection stage = stage_of(file.job, r.sheet.mesh);
  for (const Wear& w : r.wear) {
    DeviationRegion& region = stage.verdict.regions.emplace_back();
    region.name = w.name, region.centre = w.centre, region.outline = w.outline;
  }
  const std::string facts = told(v, "pages.re-check-cycles-against",
                                 {arg::name(file.job.tool), arg::name(r.now.date), arg::name(count(r.now.cycles)),
                                  arg::name(r.then.date), arg::name(count(r.then.cycles))});
  const DriftMaps drift = maps(r, stage, v);
  const Wear* first = first_to_end(r);
  const std::string trend = first ? trend_of_place(r, *first, v) : "";
  return plain_page(file.job, Message("pages.re-check"), facts,
                    "<section class=\"first even\"><div>" + verdict(r, v) + trend + "</div>" + drift.drift +
                        "</section>\n" + list(stage, r.notes) + outcome_of(v, file.outcome) + beside(v) + wear(r, v) +
                        drift.others + front(r, stage, v) + datum(r, v) + uncertainty(r, stage, v) + provenance(r, v));
}

}  // namespace gapfront::report
