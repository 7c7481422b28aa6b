#include "correct/remains.hpp"

#include <algorithm>
#include <cmath>

namespace gapfront::correct {
namespace {

// Areas are printed to a tenth of a square centimetre at the finest, mm².
constexpr double kShown = 5;

bool has(const std::vector<Uncured>& list, Uncured u) { return std::find(list.begin(), list.end(), u) != list.end(); }

/// Whether what stays dry does so because the resin gels first; that is more than any pocket.
bool dry_by_gel(const Effect& e) { return e.gel_fraction > 1 && e.dry_area > 0; }

/// What drawn fillings say of trapped air. They scatter by less than twofold: in a fill so near to the gel time the
/// resin may gel first in some of them.
void add_chance(const Effect& e, Text& out) {
  constexpr double kNearGel = 0.5;
  if (e.expected_dry_area > 0)
    out.push_back(Message(e.gel_fraction > kNearGel ? "remains.drawn-gel" : "order.gap-glass-drawn-random",
                          {arg::fraction(e.pocket, 0), arg::area(e.expected_dry_area)}));
}

/// What hands leave out of tolerance although all is ordered within it.
void add_hands(const Effect& e, const std::vector<Uncured>& not_cured, Text& out) {
  if (!has(not_cured, Uncured::tolerance) && e.out_of_tolerance_area > kShown)
    out.push_back(Message("hands.jobs-workmanship-out-tolerance", {arg::area(e.out_of_tolerance_area)}));
}

/// Of a gap that is left as it is and calls for no correction, where its verdict is not that it conforms: what is only
/// not seen to be out is not called within.
Text unproven(const Effect& e, const std::vector<Uncured>& not_cured) {
  Text out{Message("corrections.values-call-for-none")};
  if (e.dry_area > 0)
    out.push_back(Message(not_cured.empty() ? "outcome.pockets-leave-too-little"
                          : dry_by_gel(e)   ? "remains.gel-leaves-dry"
                                            : "advice.pockets-leave-dry",
                          {arg::area(e.dry_area)}));
  else if (has(not_cured, Uncured::dry_area) || (!not_cured.empty() && e.expected_dry_area > 0))
    out.push_back(Message("order.no-pocket-in-one-filling"));
  else
    out.push_back(Message("corrections.no-pocket-stays-dry"));
  return out;
}

Message gap_left(const Effect& e, const std::vector<Uncured>& not_cured, double area, bool worked) {
  if (!has(not_cured, Uncured::tolerance)) {
    if (dry_by_gel(e))
      return Message(worked ? "remains.within-then-gel" : "remains.within-gel", {arg::area(e.dry_area)});
    if (e.dry_area > 0)
      return Message(worked ? "advice.whole-measured-area-then-within" : "advice.whole-measured-area-within-tolerance",
                     {arg::area(e.dry_area)});
    if (has(not_cured, Uncured::dry_area) || e.expected_dry_area > 0)
      return Message(worked ? "order.whole-measured-area-then" : "order.whole-measured-area-within");
    return Message(worked ? "advice.whole-measured-area-then" : "advice.whole-measured-area-within");
  }
  Message m(dry_by_gel(e)    ? "remains.out-and-gel"
            : e.dry_area > 0 ? "corrections.area-stays-out-tolerance-provably"
                             : "corrections.area-stays-out-tolerance",
            {arg::fraction(e.out_of_tolerance_area / area, 1), arg::area(e.out_of_tolerance_area),
             arg::area(e.nonconforming_area)});
  if (e.dry_area > 0) m.arguments.push_back(arg::area(e.dry_area));
  return m;
}

Message why_nothing(const Bench& bench, const CorrectionPlan& plan, const CorrectOptions& o, const Refused& refused) {
  if (plan.obstacle == Obstacle::stack_cannot_fill || plan.obstacle == Obstacle::reinforcement_holds_open)
    return Message("advice.no-correction-proposed-no");
  if (plan.obstacle == Obstacle::resin_gels_first)
    return Message(std::isfinite(bench.in().measured.supply.gelled_at) ? "advice.no-correction-proposed-resin"
                                                                       : "advice.no-correction-proposed-resin-then");
  int harm = 0;
  for (const auto& [what, count] : refused.worse) harm += count;
  if (harm > 0 && harm >= refused.little) return Message("advice.no-correction-proposed-each");
  if (refused.little > 0) return Message("advice.no-correction-proposed-what");
  return Message(o.touch_tool ? "advice.no-correction-proposed-none" : "advice.no-correction-proposed-tool");
}

/// Whether a gentler way to inject is any advice: where it is known when the resin gels, one that was tried has to fill
/// the mold by then.
bool gentler_in_time(const Bench& bench, const CorrectionPlan& plan) {
  if (!std::isfinite(plan.after.gel_fraction) || !bench.in().advice) return true;
  return std::any_of(plan.candidates.begin(), plan.candidates.end(), [](const Correction& c) {
    return (c.kind == Kind::lower_limit || c.kind == Kind::pump_steps) && !(c.after.gel_fraction > 1);
  });
}

/// Where most is missing.
Message thinnest_against(const CorrectInput& in, const LaminateMap& m) {
  std::size_t worst = 0;
  const auto lacks = [&](std::size_t i) { return in.verdict.nominal[i] - m.nodes[i].loft; };
  for (std::size_t i = 1; i < m.nodes.size(); ++i)
    if (lacks(i) > lacks(worst)) worst = i;
  return Message("advice.too-thin-most", {arg::place(in.sheet.mesh.points[worst], 2), arg::length(m.nodes[worst].loft),
                                          arg::length(in.verdict.nominal[worst])});
}

/// Where a stack is thinner than the nominal gap.
Messages too_thin(const CorrectInput& in, const LaminateMap& m) {
  std::vector<double> area(m.zones.size(), 0);
  for (std::size_t i = 0; i < m.nodes.size(); ++i) {
    if (!m.nodes[i].under_filled) continue;
    std::size_t last = 0;  // where zones overlap
    for (std::size_t z = 0; z < in.laminate.zones.size(); ++z)
      if (in.laminate.zones[z].where.contains(in.sheet.mesh.points[i])) last = z + 1;
    area[last] += in.sheet.area[i];
  }
  Messages out;
  for (std::size_t z = 0; z < area.size(); ++z) {
    if (area[z] < kShown) continue;
    out.push_back(z == 0 ? Message("advice.outside-zones", {arg::area(area[z])})
                         : Message("advice.in-zone", {arg::area(area[z]), arg::name(in.laminate.zones[z - 1].name)}));
  }
  return out;
}

}  // namespace

Text obstacle_text(const Bench& bench, Obstacle obstacle, const Chance& nominal) {
  const CorrectInput& in = bench.in();
  const Message no_work("advice.no-work-gap-cures");
  switch (obstacle) {
    case Obstacle::none:
      return {};
    case Obstacle::reinforcement_holds_open: {
      const Closing c = flow::close_mold(in.sheet, in.verdict.nominal, in.laminate, in.flow);
      return {Message("advice.glass-alone-holds-mold", {arg::force(c.reinforcement), arg::force(c.closing)}), no_work};
    }
    case Obstacle::stack_cannot_fill: {
      const auto m = laminate::evaluate_laminate(in.sheet, in.verdict.nominal, in.laminate);
      Text out{Message("advice.glass-cannot-fill-section", {arg::area(m.under_filled_area, 0)})};
      out.push_back(thinnest_against(in, m));
      if (m.zones.size() > 1) out.push_back(Message("advice.too-thin-where", {too_thin(in, m)}));
      out.push_back(no_work);
      return out;
    }
    case Obstacle::layout_traps_air: {
      Text out{nominal.draws > 0 ? Message("advice.true-mold-traps-air-well", {arg::fraction(nominal.p, 0)})
                                 : Message("advice.true-mold-traps-air-well-inlets")};
      for (const Message& m : said_of_closed_vents(in.nominal, in.flow)) out.push_back(m);
      out.push_back(no_work);
      return out;
    }
    case Obstacle::resin_gels_first:
      return {Message("advice.resin-gels-in-nominal",
                      {arg::time(std::isfinite(in.nominal.supply.gelled_at) ? in.nominal.supply.gelled_at
                                                                            : in.flow.gel_time)}),
              no_work};
  }
  return {};
}

Text remains_text(const Bench& bench, const CorrectionPlan& plan, const CorrectOptions& o, const Refused& refused) {
  const bool worked = !plan.chosen.empty();
  const Effect& e = plan.after;
  const auto& left = plan.not_cured;
  // Work on the gap is judged by what it makes of it; glass, ports and settings prove nothing of it.
  const bool gap_worked =
      std::any_of(plan.chosen.begin(), plan.chosen.end(), [&](int i) { return works_gap(plan.candidates[i]); });
  const bool open =
      !gap_worked && !has(left, Uncured::tolerance) && bench.in().verdict.overall != Conformity::conforming;
  if (left.empty() && open) {
    Text out = unproven(e, left);
    add_chance(e, out);
    return out;
  }
  if (left.empty()) {
    const bool dry = e.dry_area > 0;  // pockets may leave a little dry in a state that counts as cured
    Message m(worked ? (dry ? "outcome.nothing-left-cure-whole" : "corrections.nothing-left-cure-whole")
                     : (dry ? "outcome.nothing-needs-correction-whole" : "corrections.nothing-needs-correction-whole"));
    if (dry) m.arguments = {arg::area(e.dry_area)};
    Text out{m};
    if (worked) add_hands(e, left, out);
    add_chance(e, out);
    return out;
  }
  Text out = open ? unproven(e, left) : Text{gap_left(e, left, bench.area(), worked)};
  add_hands(e, left, out);
  add_chance(e, out);
  if (has(left, Uncured::lead))
    out.push_back(Message("advice.front-leads-most-true", {arg::time(e.max_lead_s), arg::time(plan.limits.lead_s)}));
  if (has(left, Uncured::opening)) {
    out.push_back(Message(e.closing_balance < 1 ? "advice.mold-opens-what" : "advice.mold-may-open-what",
                          {arg::number(e.closing_balance, 2), arg::number(plan.limits.safety, 2)}));
    out.push_back(Message(has(left, Uncured::gel)        ? "remains.clamp-harder"
                          : gentler_in_time(bench, plan) ? "advice.inject-slower-less-pressure"
                                                         : "remains.clamp-harder-none-in-time"));
  }
  if (has(left, Uncured::over_packed))
    out.push_back(Message("advice.glass-over-packed-over", {arg::area(e.over_packed_area)}));
  if (has(left, Uncured::under_filled))
    out.push_back(Message("advice.glass-does-not-fill", {arg::area(e.under_filled_area)}));
  // Where the front stops its time is no fill time.
  if (const double gel = plan.flow_after.gel_time; has(left, Uncured::gel) && gel > 0 && e.fill_time > gel)
    out.push_back(Message("advice.fill-takes-resin-gels", {arg::time(e.fill_time), arg::time(gel)}));
  if (!worked) out.push_back(why_nothing(bench, plan, o, refused));
  return out;
}

}  // namespace gapfront::correct
