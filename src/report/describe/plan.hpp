// result.json: outcome, corrections and what an earlier inspection predicted.
#pragma once
#include <algorithm>

#include "gapfront/inspection.hpp"
#include "gapfront/report.hpp"
#include "report/describe/head.hpp"

namespace gapfront::report {

// Outcome.

void describe_air(auto& v, Is<Chance> auto& c) {
  v.object_if(c.draws != 0, "trapped_air", "Chance that a filling traps air; null: not estimated.", [&](auto& g) {
    g("probability", share(c.p));
    g("interval_95", row(share(c.low), share(c.high)), "Exact binomial (Clopper & Pearson 1934).");
    g("draws_with_air", c.hits);
    g("draws", c.draws);
  });
}

void describe(auto& v, Is<StateOutcome> auto& s) {
  v.about("state_outcome");
  v("out_of_tolerance_area_mm2", s.out_area,
    "Where the gap, best estimate, is outside its limits; after hand work the mean over the workmanship's draws.");
  v("out_of_tolerance_area_interval_95_mm2", row(s.out_low, s.out_high),
    "By workmanship; both ends equal where no work is in it.");
  describe_air(v, s.air);
  v("expected_dry_area_mm2", s.expected_dry, "Mean over the draws; of the one filling where none were drawn.");
  v("closing_over_opening_force", never(s.balance),
    "Of the whole mold, least until it is full; below 1 it opens. null: nothing opens it.");
  v("least_local_margin_Pa", never(s.local_margin),
    "Least over place and time; negative: a light half lifts off the glass there, the whole mold need not open.");
  v("closes_on_its_glass", s.closes);
  v("fill_time_s", s.fill_time);
}

inline const std::vector<std::string> obstacle_words{
    "none", "stack cannot fill the section", "glass holds the mold open", "layout traps air", "resin gels first"};

void describe_outcome(auto& v, Is<Inspection> auto& r) {
  v.derived(
      "line", [&] { return outcome_line(r); }, "In words, in the report's units.");
  v("obstacle", word(r.outcome.obstacle, obstacle_words), "What no work on the gap can cure.");
  v("corrections_chosen", r.outcome.works, "Otherwise after_corrections equals now.");
  v("now", r.outcome.now);
  v("after_corrections", r.outcome.after);
  v("nominal", r.outcome.nominal);
}

// Corrections.

void describe(auto& v, Is<Effect> auto& e) {
  v.about("effect", "A state of the tool in a few numbers.");
  v("nonconforming_area_mm2", e.nonconforming_area, "Provably out.");
  v("out_of_tolerance_area_mm2", e.out_of_tolerance_area, "By the point value, U left out.");
  v("greatest_lead_s", e.max_lead_s);
  v("rms_lead_s", e.rms_lead_s);
  v("dry_area_mm2", e.dry_area);
  v("fill_time_s", e.fill_time);
  v("last_point_to_vent_mm", e.last_to_vent);
  v("probability_of_trapped_air", e.pocket,
    "Of fillings drawn at random; null but where the ensemble of the tool as it is traps air in more than one of "
    "twenty.");
  v("expected_dry_area_mm2", e.expected_dry_area,
    "Sheet area in pockets, mean over those fillings, or null. The ranking goes by this where it stands, by "
    "dry_area_mm2 "
    "otherwise.");
  // Of the drawn fillings only their number is kept; a job draws a thousand at the most.
  v.via(
      "drawn_fillings", [&] { return only_if(!e.drawn.empty(), known(e.drawn.size(), 0, 1000)); },
      [&](const auto& n) { e.drawn.resize(n.value.value); },
      "How many those were, or null. Candidates are drawn less often than steps, and these less often than the first "
      "and "
      "the last state: only states of one number compare.");
  v("closing_over_opening", never(e.closing_balance),
    "Least ratio of closing to opening force of the whole mold, before and during the fill; null: nothing opens it.");
  v("least_local_margin_Pa", never(e.local_margin), "Closing less opening pressure where and when that is least.");
  v("over_packed_area_mm2", e.over_packed_area);
  v("under_filled_area_mm2", e.under_filled_area, "Where the glass does not fill the gap.");
  v("weight_out_area_mm2", e.weight_out_area, "Where the glass by weight is outside its window.");
  v("glass_g", e.glass, "In a part.");
  v("resin_g", e.resin);
  v("converged", e.settled, "Its filling did; what did not is never chosen.");
  v("chance_of_a_bad_part", share(e.bad),
    "1 - (1 - air)(1 - d/(d + 0.05)), d: shares of the face out of tolerance and so on; orders plans, no quality "
    "plan.");
  v("fill_time_over_gel_time", e.gel_fraction,
    "null: the job gives no gel time. Where the front stops as the resin gels: the least it would be.");
}

void describe(auto& v, Is<ShimChange> auto& s) {
  v.about("shim");
  v("station", s.station);
  v("change", length(s.change));
  v("stack_mm", s.stack, "The pieces of the new stack.");
  v("carries_gap_mm", s.carries_gap, "Clearance over the stack when it does not carry.");
  v("at_mm", s.at);
  v("relief_mm", s.relief, "To take off the flange.");
}

void describe(auto& v, Is<TapeLine> auto& t) {
  v.about("tape");
  v("from", t.from,
    "What the tape is held to: the near side of a ball, a named place, or an edge of the moulding face (squarely in).");
  v("way", word(t.way, Way::from_edge),
    "Straight through free air, pressed to the face, along the edge of the moulding face, or squarely in from it.");
  v("distance_mm", t.distance);
  v("at_mm", t.at);
  v("line_mm", t.line, "How the tape runs.");
}

void describe(auto& v, Is<DepthStop> auto& s) {
  v.about("stop");
  v("number", s.number, "In the table of the work order, from 1.");
  v("at_mm", s.at);
  v("depth_mm", s.depth);
}

void describe(auto& v, Is<ThicknessLine> auto& l) {
  v.about("contour");
  v("depth_mm", l.depth);
  v("line_mm", not_empty(l.line));
}

void describe(auto& v, Is<PaperRay> auto& a) {
  v.about("ray");
  v("to", a.to);
  v("towards", a.towards);
}

void describe(auto& v, Is<JoinMark> auto& m) {
  v.about("join");
  v("name", m.name);
  v("at_mm", m.at);
}

/// From its mark, mm: beyond it paper is no help, and every sheet of it is drawn.
inline constexpr double kWidestTemplate = 5e3;

void describe(auto& v, Is<Template> auto& t) {
  v.about("template", "A flattened outline to print at 1:1, in mm.");
  v("part", t.part, "Of a template that was split, from 1; 0: it is whole.");
  v("stretch", t.stretch);
  v.via(
      "along", [&] { return not_empty(std::string(1, t.along)); }, [&](const auto& axis) { t.along = axis.value[0]; },
      "Tool axis that the arrow on the paper shows.");
  v("origin_mm", t.origin);
  v.no_larger_than(kWidestTemplate);
  v("rays", t.rays, "Directions on the paper from the mark towards what the tapes are held to.");
  v("outline_mm", not_empty(t.outline));
  v("contours", t.contours);
  v("stops", t.stops);
  v("joins", t.joins,
    "Of a template that was split: places on the cut; the other part has the same name at the same place of the face.");
}

/// A change of the gap where there is one.
struct SparseChange {
  std::vector<int> nodes;
  std::vector<double> change;
};
void describe(auto& v, Is<SparseChange> auto& s) {
  v.about("gap_change", "Of a chosen correction: where it changes the gap, and by how much.");
  v("nodes", corners(s.nodes));
  v("mm", coarse(s.change));
  v.check(
      "nodes", [&] { return s.nodes.size() == s.change.size(); }, "must have as many items as mm");
}
/// Only of chosen corrections, which have tapes, contours or stacks: for the before and after of each node.
inline SparseChange sparse_change(const Correction& c) {
  SparseChange out;
  if (!c.tape.empty() || !c.contours.empty() || c.kind == Kind::shim)
    for (std::size_t i = 0; i < c.gap_change.size(); ++i)
      if (std::abs(c.gap_change[i]) >= 5e-5)
        out.nodes.push_back(static_cast<int>(i)), out.change.push_back(c.gap_change[i]);
  return out;
}
inline void put_change(const SparseChange& from, Correction& c) {
  for (std::size_t k = 0; k < from.nodes.size(); ++k) {
    const auto i = static_cast<std::size_t>(from.nodes[k]);
    if (i >= c.gap_change.size()) c.gap_change.resize(i + 1, 0);
    c.gap_change[i] = from.change[k];
  }
}

void describe(auto& v, Is<Saving> auto& s) {
  v.about("saving", "Of the run's expected cost; the interval by pairs of the same draws.");
  v("expected", coarse(s.mean));
  v("interval_95", row(coarse(s.low), coarse(s.high)));
}

void describe(auto& v, Is<Prices> auto& p) {
  v.about("prices", "In the currency; 0: not given. Empty currency: no prices are given.");
  v("currency", p.currency);
  v("hour", p.hour, "Of work.");
  v("bad_part", p.bad_part, "Beyond its glass and resin.");
  v("parts", p.parts, "Of the run.");
  v("resin_per_g", p.resin);
  v("glass_per_g", p.glass);
}

void describe_mass(auto& v, const char* key, Is<Mass> auto& m) {
  v.object(key, nullptr, [&](auto& g) {
    g.about("mass");
    g("g", m.g);
    g("U_g", m.U, "Expanded, k = 2.");
  });
}

void describe(auto& v, Is<MaterialUse> auto& m) {
  v.about("material", "What one part takes.");
  describe_mass(v, "glass", m.glass);
  describe_mass(v, "resin", m.resin);
  v("waste_g", m.waste, "Resin that goes in and is in no part: catch pot, runner.");
  v("hose_g", m.hose, "Resin that hardens in the hose.");
  v("cost", m.cost, "Of all of it, in the prices' currency; 0: no price is given.");
}

void describe(auto& v, Is<Correction> auto& c) {
  v.about("correction");
  v("name", c.name);
  v("kind", word(c.kind, Kind::vent_open));
  v("face", c.face, "What is worked on: lower, upper, flange, laminate, or a port.");
  v("region", c.region, "Name of the region it cures, if any.");
  v("instruction", c.instruction);
  v("centre_mm", c.centre);
  v("area_mm2", c.area);
  v("mean", length(c.mean), "Thickness to add or take.");
  v("peak", length(c.peak));
  v("volume_mm3", c.volume);
  v("mass_g", c.mass);
  v("outline_mm", c.outline);
  v("shims", c.shims);
  v("effort_h", c.effort);
  v("benefit_per_effort", c.benefit);
  v("saving", c.saving,
    "Alone, its own hours taken off; the order of the candidates where prices decide, 0 where not.");
  v("before", c.before);
  v("after", c.after);
  v("because", c.why);
  v("blend_mm", coarse(c.blend));
  v("in_plane_mm", coarse(c.in_plane));
  v.maybe("port", !c.port.empty(), c.port, "The inlet or vent that moves; only of such a move.");
  v.maybe("port_to_mm", !c.port.empty(), coarse(c.port_to));
  v.maybe("port_radius_mm", c.port_radius > 0, c.port_radius,
          "Half of the width of its mouth; only where that changes.");
  v("tape", coarse(c.tape), "Two lengths to find its middle with; none where no tape finds it well.");
  v.maybe("tape_side", !c.tape_side.empty(), c.tape_side,
          "Where the two lengths meet in several places: it is the one farthest towards this.");
  v("facing", coarse(c.facing), "Unit: out of the face in the middle of the work, into the cavity.");
  v("depth_stops", coarse(c.stops));
  v("contours", coarse(c.contours));
  v("templates", coarse(c.templates));
  v.maybe("no_template", !c.no_template.empty(), c.no_template, "Why there is none.");
  v.via(
      "gap_change", [&] { return sparse_change(c); }, [&](const auto& change) { put_change(change, c); });
}

void describe(auto& v, Is<Reference> auto& r) {
  v.about("reference");
  v("name", r.name);
  v("mark", word(r.mark, Mark::station), "What is there; other: its name says it.");
  v("at_mm", r.at);
  v("radius_mm", r.radius, "Of its ball; 0: none.");
}

void describe(auto& v, Is<Effort> auto& e) {
  v.about("effort");
  v("kind", word(e.kind, Kind::vent_open));
  v("fixed_h", e.fixed);
  v("each_h", e.each);
  v("per_cm2_h", e.per_cm2);
  v("per_part_h", e.per_part);
  v("what", e.what);
}

/// Candidates by name, and back; −1: there is none of that name.
inline std::vector<std::string> names_of(const std::vector<int>& chosen, const CorrectionPlan& p) {
  std::vector<std::string> out;
  for (const int i : chosen) out.push_back(p.candidates[i].name);
  return out;
}
inline std::vector<int> places_of(const std::vector<std::string>& names, const CorrectionPlan& p) {
  std::vector<int> out;
  for (const std::string& name : names) {
    const auto is = [&](const Correction& c) { return c.name == name; };
    const auto found = std::find_if(p.candidates.begin(), p.candidates.end(), is);
    out.push_back(found == p.candidates.end() ? -1 : static_cast<int>(found - p.candidates.begin()));
  }
  return out;
}

/// A plan option with its steps by name.
struct NamedOption {
  std::vector<std::string> steps;
  PlanOption option;
};
void describe(auto& v, Is<NamedOption> auto& o) {
  v.about("plan_option");
  v("steps", o.steps, "Candidates in order; none: nothing is done.");
  v("effort_h", coarse(o.option.hours));
  describe_air(v, o.option.air);
  v("chance_of_a_bad_part", share(o.option.bad));
  v("cost", coarse(o.option.cost), "Expected, of the run; 0 where prices do not decide.");
}
inline std::vector<NamedOption> named_options(const CorrectionPlan& p) {
  std::vector<NamedOption> out;
  for (const PlanOption& o : p.options) out.push_back({names_of(o.steps, p), o});
  return out;
}
inline void put_options(const std::vector<NamedOption>& from, CorrectionPlan& p) {
  for (const NamedOption& o : from) {
    p.options.push_back(o.option);
    p.options.back().steps = places_of(o.steps, p);
  }
}

void describe(auto& v, Is<CorrectionPlan> auto& p) {
  v.about("plan");
  v("now", p.now);
  v("candidates", p.candidates, "Each alone, by benefit per hour, or by what it saves the run where prices decide.");
  v.via(
      "chosen", [&] { return names_of(p.chosen, p); }, [&](const auto& names) { p.chosen = places_of(names, p); },
      "Names of the candidates chosen, in order.");
  v.check(
      "chosen", [&] { return std::count(p.chosen.begin(), p.chosen.end(), -1) == 0; }, "names what is no candidate");
  v("after_each", p.after_each, "After each chosen step, cumulative.");
  v.check(
      "after_each", [&] { return p.after_each.size() == p.chosen.size(); }, "must have as many items as chosen");
  v("after", p.after);
  v("remains", p.remains);
  v("warnings", p.warnings);
  v("not_cured", each(p.not_cured, [](auto& u) { return word(u, Uncured::weight); }),
    "What is not cured after the chosen corrections.");
  v("obstacle", p.obstacle_says, "What no work on the gap can cure; empty: nothing.");
  v("shop_step_mm", coarse(p.shop_step), "Depths to add or take are whole steps of this.");
  v("references", coarse(p.references), "Named places that a tape can be held to.");
  v("left", p.left, "What was not proposed, and why.");
  v("paper", word(p.letter, {"A4", "letter"}), "Of the templates.");
  v("effort_table", coarse(p.effort), "Hours that corrections are ranked with.");
  v("prices", p.prices);
  v("cost_now", coarse(p.cost_now), "Expected, of the run: bad parts, glass and resin; 0 where prices do not decide.");
  v("cost_after", coarse(p.cost_after), "With the hours of the chosen steps.");
  v("saving", p.saving, "Of all chosen steps against doing nothing.");
  v.via(
      "options", [&] { return named_options(p); }, [&](const auto& options) { put_options(options, p); },
      "Of the sets computed with all draws, those that no other beats in hours and in bad parts at once.");
  v.check(
      "options",
      [&] {
        return std::all_of(p.options.begin(), p.options.end(),
                           [](const PlanOption& o) { return std::count(o.steps.begin(), o.steps.end(), -1) == 0; });
      },
      "names what is no candidate");
}

void describe(auto& v, Is<Confirmed> auto& c) {
  v.about("confirmed");
  v("correction", c.correction);
  v("part", c.part);
  v("kind", word(c.kind, Kind::vent_open));
  v("area_mm2", c.area);
  v("before_mm", c.before);
  v("predicted_mm", c.predicted);
  v("predicted_U_mm", c.predicted_U);
  v("achieved_mm", c.achieved);
  v("achieved_U_mm", c.achieved_U);
  v("En", c.En);
  v("can_tell", c.can_tell);
  v.maybe("seat_mm", c.seat != 0, c.seat,
          "By which the halves lie farther apart there than predicted; taken out of what was achieved. Absent: 0.");
  v.maybe("worst_mm", std::isfinite(c.worst), c.worst, "The largest deviation where it worked. Absent: not known.");
  v.maybe("worst_is", std::isfinite(c.worst), word(c.worst_is, Conformity::not_judged));
  v.maybe("port", c.port != Confirmed::Port::none, word(c.port, {"none", "missing", "there"}),
          "Whether the new job has the inlet or vent that the correction adds or moves. Absent: it does neither.");
  v("says", c.says);
}

}  // namespace gapfront::report
