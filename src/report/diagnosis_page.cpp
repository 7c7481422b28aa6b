// The page of a diagnosis: what makes the dry spot, how to tell, and what cures it; from what diagnosis.json holds.
#include <algorithm>
#include <cmath>

#include "report/pages.hpp"
#include "report/plain_page.hpp"
#include "units/digits.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

/// A probability with its interval; a dash where nothing was drawn.
std::string chance(const Chance& c, const Voice& v) {
  if (c.draws <= 0) return "–";
  return counted_percent(c.p, v) + " (" + percent(c.low, 0, v) + " – " + percent(c.high, 0, v) + ")";
}

/// How many fillings tell it, where these are not those of the others.
std::string fewer_drawn(const Chance& c, const Chance& others, const Voice& v) {
  if (c.draws <= 0 || c.draws == others.draws) return "";
  return ", " + told(v, "diagnosis.so-many-drawn", {arg::number(c.draws)});
}

/// What is said of the only spot, or of one of several by its number.
Message of_spot(const DiagnosisFile& file, std::size_t k, const char* only, const char* numbered,
                std::vector<Argument> more = {}) {
  if (file.spots.size() < 2) return Message(only, std::move(more));
  more.insert(more.begin(), arg::number(static_cast<double>(k + 1)));
  return Message(numbered, std::move(more));
}

/// A bar for a share of the parts, or of the spot in one filling where none were drawn.
struct ChanceBar {
  Message what;
  double share;
  std::string says;  ///< HTML
};

std::string bar_table(const std::vector<ChanceBar>& list, const std::string& caption, const Voice& v) {
  std::string out;
  for (const ChanceBar& b : list)
    out += "<tr><th scope=\"row\">" + told(v, b.what) + "</th><td><span class=\"share\" style=\"width: " +
           fixed(9 * std::clamp(std::isfinite(b.share) ? b.share : 0, 0.0, 1.0), 2) + "rem\"></span> " + b.says +
           "</td></tr>";
  return "<table class=\"bars\"><caption>" + caption + "</caption><tbody>" + out + "</tbody></table>\n";
}

Message named_cause(const Cause& c);

constexpr std::size_t kMostBars = 4;  // the first causes; the table below has all

/// How often the spot comes: as it is, with each cause put right, with the cure.
std::string chance_bars(const SpotFile& file, const Voice& v) {
  const SpotDiagnosis& s = file.spot;
  const bool drawn = s.now.draws > 0;
  const auto bar = [&](Message what, const Chance& c, double trouble) {
    const bool known = drawn && c.draws > 0;
    return ChanceBar{std::move(what), known ? c.p : trouble,
                     known ? counted_percent(c.p, v) + fewer_drawn(c, s.model, v) : percent(trouble, 0, v)};
  };
  std::vector<ChanceBar> all{bar(Message("spot.as-it-is"), s.now, s.trouble)};
  for (std::size_t k = 0; k < std::min(kMostBars, s.causes.size()); ++k)
    if (s.causes[k].relief > 0)
      all.push_back(bar(Message("spot.put-right", {arg::message(named_cause(s.causes[k]))}), s.causes[k].chance,
                        s.causes[k].without));
  if (file.planned) all.push_back(bar(Message("spot.with-the-report"), file.planned->chance, file.planned->trouble));
  if (file.cure) all.push_back(bar(Message("spot.with-the-cure"), file.cure->chance, file.cure->trouble));
  return bar_table(all, told(v, drawn ? "spot.share-of-parts" : "spot.share-of-spot"), v);
}

/// Cause and cure first; the corrections themselves, and where they stand in full.
std::string verdict(const DiagnosisFile& file, std::size_t k, const Voice& v) {
  const SpotDiagnosis& s = file.spots[k].spot;
  const bool predicted = s.predicted, gap = s.gap_explains;
  std::string more = "<p class=\"headline\"><b>" + told(v, s.cure_text) + "</b></p>";
  for (const auto& step : s.cure_steps) more += para(told(v, step));
  std::string where = told(v, of_spot(file, k, "pages.spot-x-y-z", "pages.spot-x-y-z-across",
                                      {arg::place(s.spot.at), arg::tape(s.spot.size)}));
  if (s.spot.parts > 0)
    where += " " + told(v, "pages.seen-parts", {arg::number(s.spot.seen), arg::number(s.spot.parts)});
  // A model that does not make the spot has not cleared the gap of it.
  const char* cause = gap ? "gap.gap" : predicted ? "pages.not-gap" : "diagnosis.cause-not-found";
  return verdict_box(gap ? "bad" : "maybe", told(v, cause), told(v, s.headline), more + para(where)) +
         chance_bars(file.spots[k], v);
}

std::string chances(const SpotDiagnosis& s, const Voice& v) {
  Rows rows{heads(v, {"pages.spot-3", "pages.gap-measured", "pages.nominal-gap"}),
            {told(v, "diagnosis.share-spot-stays-dry"), percent(s.trouble, 0, v), percent(s.nominal_trouble, 0, v)}};
  const int parts = s.spot.parts;
  if (s.model.draws > 0) {
    rows.push_back(
        {told(v, "pages.share-parts-show-model"), chance(s.model, v), parts > 0 ? "" : chance(s.nominal, v)});
    if (parts > 0)
      rows.push_back({told(v, "diagnosis.share-parts-show-weighted"), chance(s.now, v), chance(s.nominal, v)});
  }
  if (parts > 0)
    rows.push_back(
        {told(v, "pages.share-parts-show-counted"), percent(static_cast<double>(s.spot.seen) / parts, 0, v), ""});
  return table(rows) + para(told(v, "diagnosis.dry-area-how")) +
         (s.model.draws <= 0 ? ""
                             : para(told(v, "diagnosis.brackets-95-interval-number", {arg::number(s.model.draws)})));
}

const char* kind_word(CauseKind k) {
  switch (k) {
    case CauseKind::gap_region:
      return "pages.gap-region";
    case CauseKind::radius:
      return "pages.radius";
    case CauseKind::seat:
      return "pages.seat-upper-half";
    case CauseKind::overlap:
      return "pages.overlap";
    case CauseKind::vent:
      return "pages.vent-place";
    case CauseKind::schedule:
      return "pages.flow-schedule";
    case CauseKind::vacuum:
      return "pages.vacuum";
    case CauseKind::viscosity:
      return "pages.viscosity";
    case CauseKind::whole_gap:
      return "pages.whole-gap";
    case CauseKind::vent_closed:
      return "diagnosis.vent-closed";
    case CauseKind::gel:
      return "diagnosis.gel";
  }
  return "";
}

/// With its name where it is a region; the other causes say what they are.
Message named_cause(const Cause& c) {
  const bool region = c.kind == CauseKind::gap_region || c.kind == CauseKind::radius;
  return region ? Message("list.named", {arg::name(c.name), arg::message(c.what)}) : c.what;
}

std::string wide_cell(const std::string& html) { return "<div class=\"do\">" + html + "</div>"; }

std::string causes(const SpotDiagnosis& s, const Voice& v) {
  if (s.causes.empty()) return "";
  Rows rows{{"", told(v, "pages.cause-removed"), told(v, "pages.kind"),
             told(v, "pages.spot-left", {arg::name(percent(s.trouble, 0, v))}), told(v, "pages.taken-away"),
             told(v, "pages.parts-still-show")}};
  int rank = 0;
  for (const Cause& c : s.causes)
    rows.push_back({"<b>" + std::to_string(++rank) + "</b>", wide_cell(told(v, named_cause(c))),
                    told(v, kind_word(c.kind)), percent(c.without, 0, v), percent(c.relief, 0, v),
                    chance(c.chance, v) + fewer_drawn(c.chance, s.model, v)});
  std::string out = table(rows, told(v, "pages.possible-causes-filling-computed"));
  if (s.now.draws > 0) out += para(told(v, "diagnosis.where-fillings-were-drawn"));
  if (s.now.draws > 0 && s.spot.parts > 0) out += para(told(v, "pages.last-column-weighs-models"));
  return out;
}

std::string suspects(const SpotDiagnosis& s, const Voice& v) {
  if (s.suspects.empty()) return "";
  Rows rows{heads(v, {"pages.fault-not-job", "pages.would-make-spot", "diagnosis.whole-sheet-would-leave",
                      "pages.tell-measure-this"})};
  for (const Suspect& c : s.suspects)
    rows.push_back(
        {wide_cell(told(v, c.what)), percent(c.trouble, 0, v), percent(c.dry, 0, v), wide_cell(told(v, c.measure))});
  return table(rows, told(v, "pages.faults-put-into-model"));
}

/// What the report's own corrections make of the spot.
std::string planned_table(const SpotDiagnosis& s, const CureEffect& planned, const Voice& v) {
  Rows rows{heads(v, {"", "corrections.now", "diagnosis.corrections-report-has-chosen-2"}),
            {told(v, "diagnosis.share-spot-stays-dry"), percent(s.trouble, 0, v), percent(planned.trouble, 0, v)}};
  if (s.model.draws > 0)
    rows.push_back({told(v, "pages.share-parts-show"), chance(s.now, v), chance(planned.chance, v)});
  return table(rows);
}

/// What cures it, and what that does besides.
std::string cure_table(const DiagnosisFile& file, const SpotDiagnosis& s, const CureEffect& c, const Voice& v) {
  std::string names;
  for (const auto& part : c.parts) names += (names.empty() ? "" : ", ") + part.name;
  Rows rows{{own(names), told(v, "corrections.now"), told(v, "diagnosis.with-it")},
            {told(v, "diagnosis.work"), "", fixed(c.effort, 1, v) + " h"},
            {told(v, "diagnosis.share-spot-stays-dry"), percent(s.trouble, 0, v), percent(c.trouble, 0, v)}};
  if (s.model.draws > 0) rows.push_back({told(v, "pages.share-parts-show"), chance(s.now, v), chance(c.chance, v)});
  if (file.air_now.draws > 0 && c.after)
    rows.push_back(
        {told(v, "diagnosis.fillings-trap-air-anywhere"), chance(file.air_now, v), chance(file.air_after, v)});
  if (c.after) {
    const Effect &before = c.before, &after = *c.after;
    const auto area = [&](const char* name, double Effect::*value) {
      rows.push_back({told(v, name), with_unit(before.*value, D::area, v), with_unit(after.*value, D::area, v)});
    };
    const auto time = [&](const char* name, double Effect::*value) {
      rows.push_back(
          {told(v, name), with_time(before.*value, before.fill_time, v), with_time(after.*value, before.fill_time, v)});
    };
    area("front.dry-area", &Effect::dry_area);
    time("page.fill-time", &Effect::fill_time);
    time("corrections.greatest-lead-front", &Effect::max_lead_s);
    area("order.area-out-tolerance", &Effect::out_of_tolerance_area);
  }
  return table(rows, told(v, "diagnosis.what-cures-spot-effect"));
}

std::string cure(const DiagnosisFile& file, const SpotFile& spot, const Voice& v) {
  const SpotDiagnosis& s = spot.spot;
  std::string out;
  if (s.model.draws > 0)
    out += para(told(v, "diagnosis.spot-counts-cured-where", {arg::name(percent(file.cured_below, 0, v))}));
  if (spot.cure) return out + cure_table(file, s, *spot.cure, v);
  return spot.planned ? out + planned_table(s, *spot.planned, v) : out;
}

constexpr int kFrames = 24;  // of the fronts' film: a step of 4 % of the fill

/// The two fronts, which play at once; and the other maps.
struct Maps {
  std::string fronts, others;
};
Maps maps(const DiagnosisFile& file, Inspection& stage, const Voice& v) {
  std::vector<SeenSpot> seen;
  for (std::size_t k = 0; k < file.spots.size(); ++k) {
    const DrySpot& s = file.spots[k].spot.spot;
    seen.push_back({say(of_spot(file, k, "pages.spot", "pages.spot-2"), v), s.at, s.size});
  }
  double last = 0;
  for (const auto* arrival : {&file.arrival, &file.nominal_arrival})
    for (const double t : *arrival)
      if (std::isfinite(t)) last = std::max(last, t);
  std::vector<double> film;
  for (int k = 1; k <= kFrames; ++k) film.push_back(last * (k - 0.5) / kFrames);
  const auto map = [&](const char* id, const char* title, const char* meaning, D d, Scale scale,
                       const std::vector<double>& values, bool lines) {
    const Field f{id, Message(title), Message(meaning), d, scale, scale == Scale::diverging, values};
    return map_figure(stage, f, map_caption(v, f), MapExtras{lines, seen, {}, lines ? film : std::vector<double>()});
  };
  std::string fronts, out;
  stage.filling.pockets = file.pockets;
  fronts += map("arrival_s", "pages.front-gap-measured", "pages.arrival-spot-air", D::time, Scale::sequence,
                file.arrival, true);
  out += map("deviation_mm", "pages.deviation-gap", "gap.gap-minus-nominal-brown", D::length, Scale::diverging,
             file.deviation, false);
  out += map("lead_s", "pages.lead-front", "gap.nominal-arrival-minus-measured", D::time, Scale::diverging, file.lead,
             false);
  stage.filling.pockets = file.nominal_pockets;
  fronts += map("arrival_nominal_s", "pages.front-nominal-gap", "pages.nominal-arrival-air", D::time, Scale::sequence,
                file.nominal_arrival, true);
  const std::string play = "<label class=\"play\"><input type=\"checkbox\" id=\"play-fronts\"> " +
                           told(v, "spot.play-both-fronts", {arg::time(last)}) + "</label>";
  return {
      "<div class=\"see fronts\">" + play + "<div class=\"maps two\">" + fronts + "</div></div>\n",
      section("maps", told(v, "pages.seen-predicted"), "<div class=\"maps\">" + out + "</div>\n" + map_orientation(v))};
}

std::string provenance(const DiagnosisFile& file, const Voice& v) {
  const auto hash = [](const std::string& s) { return "<code>" + escape(s) + "</code>"; };
  const std::string note =
      file.unsettled > 0
          ? para(told(v, "diagnosis.unsettled-fillings", {arg::number(file.unsettled), arg::number(file.fillings)}))
          : "";
  return section("provenance", told(v, "proof.where-numbers-come-from"),
                 note + table({{"", ""},
                               {told(v, "pages.fillings-computed"), std::to_string(file.fillings)},
                               {told(v, "pages.made-gapfront"), own(file.version)},
                               {told(v, "pages.job-file-sha-256"), hash(file.job_sha256)},
                               {told(v, "pages.lower-scan-sha-256"), hash(file.lower_sha256)},
                               {told(v, "pages.upper-scan-sha-256"), hash(file.upper_sha256)}}));
}

std::string facts(const Job& job, const Voice& v) {
  std::vector<Argument> known;
  for (const auto* s : {&job.tool, &job.date})
    if (!s->empty()) known.push_back(arg::name(*s));
  return told(v,
              known.empty()      ? "pages.diagnosis-recurring-dry-spot"
              : job.date.empty() ? "pages.diagnosis-recurring-dry-spot-2"
              : job.tool.empty() ? "pages.diagnosis-recurring-dry-spot-scanned"
                                 : "pages.diagnosis-recurring-dry-spot-scanned-2",
              known);
}

}  // namespace

std::string diagnosis_page(const DiagnosisFile& file) {
  const Voice v = voice_of(file.job);
  Inspection stage = stage_of(file.job, file.mesh);
  stage.verdict.regions = file.regions;
  stage.verdict.deviation = file.deviation, stage.lead.seconds = file.lead;
  stage.filling.arrival = file.arrival, stage.nominal_filling.arrival = file.nominal_arrival;
  const Maps shown = maps(file, stage, v);
  std::string body = "<section class=\"first even\"><div>";
  for (std::size_t k = 0; k < file.spots.size(); ++k) body += verdict(file, k, v);
  body += "</div>" + shown.fronts + "</section>\n" + outcome_of(v, file.outcome) + beside(v) + shown.others;
  for (std::size_t k = 0; k < file.spots.size(); ++k) {
    const SpotDiagnosis& s = file.spots[k].spot;
    body += section("spot-" + std::to_string(k + 1),
                    told(v, of_spot(file, k, "pages.causes-cure-spot", "pages.causes-cure-spot-2")),
                    chances(s, v) + causes(s, v) + suspects(s, v) +
                        (s.discriminate.empty() ? "" : para(told(v, s.discriminate))) + cure(file, file.spots[k], v));
  }
  return plain_page(file.job, Message("pages.diagnosis"), facts(file.job, v), body + provenance(file, v));
}

}  // namespace gapfront::report
