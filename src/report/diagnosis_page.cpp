// The page of a diagnosis: what makes the dry spot, how to tell, and what cures it; from what diagnosis.json holds.
#include <algorithm>
#include <cmath>

#include "report/pages.hpp"
#include "report/plain_page.hpp"
#include "units/digits.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

std::string percent(double fraction) { return std::isfinite(fraction) ? fixed(100 * fraction, 0) + " %" : "–"; }

/// A probability with its interval; a dash where nothing was drawn.
std::string chance(const Chance& c) {
  if (c.draws <= 0) return "–";
  return parts_percent(c.p) + " (" + percent(c.low) + " – " + percent(c.high) + ")";
}

std::string name_of(const DiagnosisFile& file, std::size_t k) {
  return file.spots.size() > 1 ? "spot " + std::to_string(k + 1) : "spot";
}

std::string verdict(const Inspection& stage, const SpotDiagnosis& s, const std::string& name) {
  const UnitSystem u = stage.job.units;
  const bool predicted = s.predicted, gap = s.gap_explains;
  std::string more =
      "<p>The " + name + ": " + place(s.spot.at, u) + ", " + escape(tape_length(s.spot.size, u)) + " across.";
  if (s.spot.parts > 0)
    more += " Seen in " + std::to_string(s.spot.seen) + " of " + std::to_string(s.spot.parts) + " parts.";
  return verdict_box(gap         ? "bad"
                     : predicted ? "maybe"
                                 : "ok",
                     gap ? "The gap" : "Not the gap", told(stage, s.headline), more + "</p>\n");
}

std::string chances(const SpotDiagnosis& s) {
  Rows rows{
      {"the spot", "with the gap as measured", "with the nominal gap"},
      {"share of it that stays dry or fills late, in one filling", percent(s.trouble), percent(s.nominal_trouble)}};
  const int parts = s.spot.parts;
  if (s.model.draws > 0) {
    rows.push_back(
        {"share of the parts that show it, by the model", chance(s.model), parts > 0 ? "" : chance(s.nominal)});
    if (parts > 0)
      rows.push_back({"share of the parts that show it, weighted by the count", chance(s.now), chance(s.nominal)});
  }
  if (parts > 0)
    rows.push_back({"share of the parts that show it, counted", fixed(100.0 * s.spot.seen / parts, 0) + " %", ""});
  return table(rows) + (s.model.draws <= 0
                            ? ""
                            : para("In brackets: the 95 % interval that the number of drawn fillings leaves (" +
                                   std::to_string(s.model.draws) + " drawn)."));
}

/// With its name where it is a region; the other causes say what they are.
Message named_cause(const Cause& c) {
  const bool region = c.kind == CauseKind::gap_region || c.kind == CauseKind::radius;
  return region ? Message("list.named", {arg::name(c.name), arg::message(c.what)}) : c.what;
}

std::string causes(const Inspection& stage, const SpotDiagnosis& s) {
  if (s.causes.empty()) return "";
  Rows rows{
      {"", "cause removed", "kind", "spot left, of " + percent(s.trouble), "taken away", "parts that still show it"}};
  int rank = 0;
  for (const Cause& c : s.causes)
    rows.push_back({"<b>" + std::to_string(++rank) + "</b>",
                    "<div class=\"do\">" + told(stage, named_cause(c)) + "</div>", to_string(c.kind),
                    percent(c.without), percent(c.relief), chance(c.chance)});
  return table(rows, "Possible causes: the filling computed again with each one alone removed") +
         (s.now.draws <= 0 ? ""
                           : para("Where fillings were drawn, the cause is judged by the share of the "
                                  "parts that still show the spot, not by the one filling.")) +
         (s.spot.parts > 0 && s.now.draws > 0
              ? "<p>The last column weighs the model's draws so that they show the spot in the share of parts in which "
                "it was seen.</p>\n"
              : "");
}

std::string suspects(const Inspection& stage, const SpotDiagnosis& s) {
  if (s.suspects.empty()) return "";
  Rows rows{{"fault that is not in the job", "it would make of the spot", "of the whole sheet it would leave dry",
             "to tell, measure this"}};
  for (const Suspect& c : s.suspects)
    rows.push_back({"<div class=\"do\">" + told(stage, c.what) + "</div>", percent(c.trouble), percent(c.dry),
                    "<div class=\"do\">" + told(stage, c.measure) + "</div>"});
  return table(rows, "Faults put into the model, one at a time, to see whether they make the spot");
}

/// What the report's own corrections make of the spot, and what cures it.
std::string cure(const Inspection& stage, const DiagnosisFile& file, const SpotFile& spot) {
  const UnitSystem u = stage.job.units;
  const SpotDiagnosis& s = spot.spot;
  std::string out = "<p><b>" + told(stage, s.cure_text) + "</b></p>\n";
  for (const auto& step : s.cure_steps) out += para(told(stage, step));
  const bool drawn = s.model.draws > 0;
  if (drawn)
    out += para("A spot counts as cured where it comes in fewer than " + percent(file.cured_below) +
                " of the parts (own choice).");
  if (!spot.cure) {
    if (!spot.planned) return out;
    const CureEffect& planned = *spot.planned;
    Rows rows{{"", "now", "with the corrections that the report has chosen"},
              {"share of the spot that stays dry or fills late, in one filling", percent(s.trouble),
               percent(planned.trouble)}};
    if (drawn) rows.push_back({"share of the parts that show it", chance(s.now), chance(planned.chance)});
    return out + table(rows);
  }
  const CureEffect& c = *spot.cure;
  std::string names;
  for (const auto& part : c.parts) names += (names.empty() ? "" : ", ") + escape(part.name);
  Rows rows{{own(names), "now", "with it"},
            {"work", "", fixed(c.effort, 1) + " h"},
            {"share of the spot that stays dry or fills late, in one filling", percent(s.trouble), percent(c.trouble)}};
  if (drawn) rows.push_back({"share of the parts that show it", chance(s.now), chance(c.chance)});
  if (file.air_now.draws > 0 && c.after)
    rows.push_back(
        {"fillings that trap air anywhere, as the report draws them", chance(file.air_now), chance(file.air_after)});
  if (c.after) {
    const Effect &before = c.before, &after = *c.after;
    const auto area = [&](const char* name, double Effect::*value) {
      rows.push_back({name, with_unit(before.*value, D::area, u), with_unit(after.*value, D::area, u)});
    };
    const auto time = [&](const char* name, double Effect::*value) {
      rows.push_back({name, with_time(before.*value, before.fill_time), with_time(after.*value, before.fill_time)});
    };
    area("dry area", &Effect::dry_area);
    time("fill time", &Effect::fill_time);
    time("greatest lead of the front", &Effect::max_lead_s);
    area("area out of tolerance", &Effect::out_of_tolerance_area);
  }
  return out + table(rows, "What cures the spot; its effect is re-computed");
}

std::string maps(const DiagnosisFile& file, Inspection& stage) {
  std::vector<SeenSpot> seen;
  for (std::size_t k = 0; k < file.spots.size(); ++k) {
    const DrySpot& s = file.spots[k].spot.spot;
    seen.push_back({name_of(file, k), s.at, s.size});
  }
  const auto map = [&](const char* id, const char* title, const char* meaning, D d, Scale scale,
                       const std::vector<double>& values, bool lines) {
    const Field f{id, Message(title), Message(meaning), d, scale, scale == Scale::diverging, values};
    return map_figure(stage, f, map_caption(voice_of(stage.job), f), MapExtras{lines, seen, {}});
  };
  std::string out = "<div class=\"maps\">";
  stage.filling.pockets = file.pockets;
  out += map("arrival_s", "pages.front-gap-measured", "pages.arrival-spot-air", D::time, Scale::sequence, file.arrival,
             true);
  out += map("deviation_mm", "pages.deviation-gap", "gap.gap-minus-nominal-brown", D::length, Scale::diverging,
             file.deviation, false);
  out += map("lead_s", "pages.lead-front", "gap.nominal-arrival-minus-measured", D::time, Scale::diverging, file.lead,
             false);
  stage.filling.pockets = file.nominal_pockets;
  out += map("arrival_nominal_s", "pages.front-nominal-gap", "pages.nominal-arrival-air", D::time, Scale::sequence,
             file.nominal_arrival, true);
  return section("maps", "Seen and predicted", out + "</div>\n" + map_orientation(voice_of(stage.job)));
}

}  // namespace

std::string diagnosis_page(const DiagnosisFile& file) {
  Inspection stage = stage_of(file.job, file.mesh);
  stage.verdict.regions = file.regions;
  stage.verdict.deviation = file.deviation, stage.lead.seconds = file.lead;
  stage.filling.arrival = file.arrival, stage.nominal_filling.arrival = file.nominal_arrival;
  std::string body;
  for (std::size_t k = 0; k < file.spots.size(); ++k) body += verdict(stage, file.spots[k].spot, name_of(file, k));
  body += outcome_of(voice_of(stage.job), file.outcome) + maps(file, stage);
  for (std::size_t k = 0; k < file.spots.size(); ++k) {
    const SpotDiagnosis& s = file.spots[k].spot;
    body += section("spot-" + std::to_string(k + 1), "Causes and cure of the " + name_of(file, k),
                    chances(s) + causes(stage, s) + suspects(stage, s) +
                        (s.discriminate.empty() ? "" : para(told(stage, s.discriminate))) +
                        cure(stage, file, file.spots[k]));
  }
  body += section("provenance", "Where the numbers come from",
                  table({{"", ""},
                         {"fillings computed", std::to_string(file.fillings)},
                         {"made by gapfront", own(file.version)},
                         {"job file, SHA-256", "<code>" + escape(file.job_sha256) + "</code>"},
                         {"lower scan, SHA-256", "<code>" + escape(file.lower_sha256) + "</code>"},
                         {"upper scan, SHA-256", "<code>" + escape(file.upper_sha256) + "</code>"}}));
  std::string facts = "Diagnosis of a recurring dry spot";
  if (!file.job.tool.empty()) facts += ": " + escape(file.job.tool);
  if (!file.job.date.empty()) facts += ", scanned " + escape(file.job.date);
  return plain_page(file.job, "diagnosis", facts, body);
}

}  // namespace gapfront::report
