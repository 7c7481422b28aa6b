// What a reader takes in within ten seconds: the verdict, one picture, and three lines.
#include <algorithm>
#include <cctype>
#include <cmath>

#include "gapfront/report.hpp"
#include "report/overview.hpp"

namespace gapfront::report {
namespace {

/// After the work: whether it did what an earlier inspection predicted. Empty without such a prediction.
Message work_did(const Inspection& r) {
  if (r.expects.empty()) return {};
  long told_of = 0, agree = 0;
  for (const Confirmed& c : r.confirmed)
    if (c.can_tell || c.port != Confirmed::Port::none)
      ++told_of, agree += c.can_tell ? c.En <= 1 : c.port == Confirmed::Port::there;
  if (told_of == 0) return Message("first.work-cannot-be-told");
  if (agree == told_of) return Message("first.work-did-what-predicted");
  return Message("first.work-did-not", {agree, told_of});
}

/// Where the measured gap makes the front trap air, and what leads it there.
Message air_cause(const Inspection& r, const std::vector<NumberedPlace>& places) {
  if (!flow::in_time(r.filling, r.job.flow)) {
    const double stops = flow::stops_at(r.filling, r.job.flow);
    return Message("first.front-stops", {arg::time(std::isfinite(stops) ? stops : r.advice.gel_time)});
  }
  const auto air = std::find_if(places.begin(), places.end(), [](const auto& p) { return p.air; });
  const LeadRegion* lead = r.lead.regions.empty() ? nullptr : &r.lead.regions[0];
  const auto fed = std::find_if(places.begin(), places.end(),
                                [&](const auto& p) { return lead && !p.region.empty() && p.region == lead->fed_by; });
  if (air == places.end()) {
    if (!lead || fed == places.end()) return {};
    return Message("first.front-ahead-from",
                   {place_number(fed->number), arg::time(lead->peak_s, r.nominal_filling.fill_time)});
  }
  if (fed == places.end()) return Message("first.front-traps-air", {place_number(air->number)});
  return Message(
      "first.front-ahead-traps-air",
      {place_number(fed->number), arg::time(lead->peak_s, r.nominal_filling.fill_time), place_number(air->number)});
}

Text cause(const Inspection& r, const std::vector<NumberedPlace>& places) {
  Text out;  // an obstacle stands above the verdict already
  const Verdict& v = r.verdict;
  if (v.rigid_significant) out.push_back(Message("first.upper-half-off", {arg::length(v.rigid_rms)}));
  for (const NumberedPlace& p : places) {
    if (p.air || out.size() > 2) continue;
    out.push_back(Message(p.wide() ? "first.gap-too-wide" : "first.gap-too-tight",
                          {place_number(p.number), arg::length(p.gap), arg::length(p.low), arg::length(p.high)}));
  }
  if (Message air = air_cause(r, places); !air.empty()) out.push_back(std::move(air));
  return out;
}

/// That the upper half moves farther than its model was tested for: a clause, made a sentence.
std::string half_moves(const Inspection& r, const Voice& v) {
  for (const Message& m : r.warnings) {
    if (m.id != "warnings.half-lifts-far" && m.id != "warnings.half-bends-in-far") continue;
    std::string s = say(m, v);
    s[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(s[0])));
    return " " + told(v, "list.sentence", {arg::name(s)});
  }
  return "";
}

/// Where a correction works: the number on the map, or the place.
Argument where(const Correction& c, const std::vector<NumberedPlace>& places) {
  for (const NumberedPlace& p : places)
    if (works_on(c, p.region)) return place_number(p.number);
  return arg::place(c.centre, 2);
}

/// A correction in one line; the work order has the rest.
Text short_instruction(const Correction& c, const std::vector<NumberedPlace>& places) {
  if (c.kind == Kind::build_up || c.kind == Kind::relief) {
    const bool lower = c.face == "lower", add = c.kind == Kind::build_up;
    return {Message(add ? (lower ? "first.build-up-lower" : "first.build-up-upper")
                        : (lower ? "first.relieve-lower" : "first.relieve-upper"),
                    {where(c, places), arg::depth(std::abs(c.peak)), arg::area(c.area)})};
  }
  const bool plain = std::none_of(c.shims.begin(), c.shims.end(), [](const auto& s) { return s.relief > 0; });
  if (c.kind != Kind::shim || !plain) return c.instruction;
  Messages stations;
  for (const ShimChange& s : c.shims)
    if (s.change != 0)
      stations.push_back(Message("overview.station-by", {arg::name(s.station), arg::length(s.change, 2, true)}));
  return stations.empty() ? c.instruction : Text{Message("first.change-shims", {stations})};
}

std::string to_do(const Inspection& r, const std::vector<NumberedPlace>& places, const Voice& v) {
  const bool work = has_work_order(r);
  const std::string first = scan_first(r, work, v);
  if (!r.plan.chosen.empty() && !work) return first;  // the obstacle above the verdict comes first
  std::string out;
  for (const int k : r.plan.chosen) {
    const Correction& c = r.plan.candidates[k];
    out += "<li><a href=\"#" + row_id(c.name) + "\"><b>" + own(c.name) + "</b></a> " +
           told(v, short_instruction(c, places)) + "</li>";
  }
  if (!out.empty())
    return first + "<ol>" + out + "</ol><p><a href=\"work-order.html\">" + told(v, "first.work-order") + "</a></p>" +
           against_opening(r, v);
  if (const std::string shut = against_opening(r, v); !shut.empty()) return first + shut;
  if (r.verdict.overall == Conformity::conforming && r.plan.not_cured.empty())
    return para(told(v, "first.nothing-to-do"));
  if (!r.verdict.would_change.empty()) return first + para(told(v, r.verdict.would_change));
  return first + para(told(v, "corrections.no-correction-proposed"));
}

std::string first_line(const Voice& v, const char* id, const std::string& html) {
  return html.empty() ? "" : "<dt>" + told(v, id) + "</dt><dd>" + html + "</dd>";
}

}  // namespace

std::string first_screen(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const Verdict& verdict = r.verdict;
  const auto places = numbered_places(r);
  // The headline begins with the verdict's word, which already stands above it.
  const bool word = !verdict.headline.empty() && verdict.headline[0].id.rfind("verdict.", 0) == 0;
  const Text headline(verdict.headline.begin() + word, verdict.headline.end());
  const char* style = verdict.overall == Conformity::conforming  ? "ok"
                      : verdict.overall == Conformity::undecided ? "maybe"
                                                                 : "bad";
  std::string out = "<section class=\"first\"><div class=\"verdict " + std::string(style) + "\">";
  if (const Message worked = work_did(r); !worked.empty())
    out += "<p class=\"headline first\"><a href=\"#expected\">" + told(v, worked) + "</a></p>";
  if (!r.plan.obstacle_says.empty()) out += "<p class=\"headline first\">" + told(v, r.plan.obstacle_says) + "</p>";
  out += "<p class=\"word\">" + told(v, word_of(verdict.overall, job::provisional(r.job))) +
         "</p><p class=\"headline\">" + told(v, headline) + "</p></div>\n";
  if (r.sheet.size() > 0) out += "<div class=\"see\">" + overview_map(r, places) + "</div>\n";
  const Text why = cause(r, places);
  return out + "<dl class=\"three\">" +
         first_line(v, "first.cause", (why.empty() ? "" : told(v, why)) + half_moves(r, v)) +
         first_line(v, "first.do-this", to_do(r, places, v)) +
         first_line(v, r.outcome.works ? "first.then" : "first.now", told(v, outcome_after_verdict(r))) + "</dl>\n" +
         place_list(r, places, v) + "</section>\n";
}

}  // namespace gapfront::report
