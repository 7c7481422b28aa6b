#include "correct/remains.hpp"

#include <cmath>

#include "correct/words.hpp"

namespace gapfront {
namespace {

// Areas are printed to a tenth of a square centimetre at the finest, mm².
constexpr double kShown = 5;

bool has(const std::vector<Uncured>& list, Uncured u) { return std::find(list.begin(), list.end(), u) != list.end(); }

/// What drawn fillings say of trapped air; a sentence of its own, with a space before it.
std::string chance_sentence(const Effect& e, UnitSystem u) {
  if (!(e.expected_dry_area > 0)) return "";
  return " With gap and glass drawn at random within their uncertainty, " + words(100 * e.pocket, 0) +
         " % of the fillings trap air, and " + format_area(e.expected_dry_area, u) + " stay dry on average.";
}

/// Of a state that counts as cured: pockets may leave a little dry even so.
std::string dry_clause(const Effect& e, UnitSystem u) {
  return e.dry_area == 0
             ? " and no pocket stays dry"
             : ", and the " + format_area(e.dry_area, u) + " that pockets leave dry are too little to count";
}

/// What hands leave out of tolerance although all is ordered within it; a sentence of its own, with a space before it.
std::string hands_sentence(const Effect& e, const std::vector<Uncured>& not_cured, UnitSystem u) {
  if (has(not_cured, Uncured::tolerance) || !(e.out_of_tolerance_area > kShown)) return "";
  return " With the job's workmanship " + format_area(e.out_of_tolerance_area, u) +
         " of it are out of tolerance on average.";
}

std::string gap_sentence(const Effect& e, const std::vector<Uncured>& not_cured, double area, bool worked,
                         UnitSystem u) {
  if (!has(not_cured, Uncured::tolerance)) {
    const std::string whole = std::string("The whole measured area is ") + (worked ? "then " : "") + "within tolerance";
    if (e.dry_area == 0)
      return whole + (has(not_cured, Uncured::dry_area) || e.expected_dry_area > 0
                          ? " and no pocket stays dry as computed, but one may."
                          : " and no pocket stays dry.");
    return whole + ", but pockets leave " + format_area(e.dry_area, u) + " dry.";
  }
  std::string out = words(100 * e.out_of_tolerance_area / area, 1) + " % of the area (" +
                    format_area(e.out_of_tolerance_area, u) + ") stays out of tolerance, " +
                    format_area(e.nonconforming_area, u) + " of it provably";
  if (e.dry_area > 0) out += ", and pockets leave " + format_area(e.dry_area, u) + " dry";
  return out + " (re-computed, not measured).";
}

std::string why_nothing(const CorrectionPlan& plan, const CorrectOptions& o, const Refused& refused) {
  if (plan.obstacle == Obstacle::stack_cannot_fill || plan.obstacle == Obstacle::reinforcement_holds_open)
    return " No correction is proposed: no plies at hand make a stack that suits the section.";
  int harm = 0;
  for (const auto& [what, count] : refused.worse) harm += count;
  if (harm > 0 && harm >= refused.little)
    return " No correction is proposed: each that was considered would make something else worse.";
  if (refused.little > 0)
    return " No correction is proposed: what each would gain is less than the computation can tell.";
  if (!o.touch_tool)
    return " No correction is proposed: the tool is not to be touched, and no glass improves it enough.";
  return " No correction is proposed: none of those that the program knows acts on this.";
}

}  // namespace

std::string obstacle_sentence(const Bench& bench, Obstacle obstacle, const Chance& nominal) {
  const CorrectInput& in = bench.in();
  const UnitSystem u = in.tolerance.units;
  switch (obstacle) {
    case Obstacle::none:
      return "";
    case Obstacle::reinforcement_holds_open: {
      const Closing c = close_mold(in.sheet, in.verdict.nominal, in.laminate, in.flow);
      return "The glass alone holds the mold open, and a true mold as well: it pushes back with " +
             format_force(c.reinforcement, u) + " against a closing force of " + format_force(c.closing, u) +
             ". No work on the gap cures that.";
    }
    case Obstacle::stack_cannot_fill: {
      const auto m = evaluate_laminate(in.sheet, in.verdict.nominal, in.laminate);
      return "The glass cannot fill the section, in a true mold either: over " +
             spoken_area(m.under_filled_area, 0, u) +
             " the stack is thinner than the nominal gap. No work on the gap cures that.";
    }
    case Obstacle::layout_traps_air:
      return nominal.draws > 0
                 ? "A true mold traps air as well, in " + words(100 * nominal.p, 0) +
                       " % of the drawn fillings: inlets and vents are at fault. No work on the gap "
                       "cures that."
                 : "A true mold traps air as well: inlets and vents are at fault. No work on the gap cures "
                   "that.";
  }
  return "";
}

std::string remains_sentence(const Bench& bench, const CorrectionPlan& plan, const CorrectOptions& o,
                             const Refused& refused) {
  const CorrectInput& in = bench.in();
  const UnitSystem u = in.tolerance.units;
  const bool worked = !plan.chosen.empty();
  const Effect& e = plan.after;
  const auto& left = plan.not_cured;
  if (left.empty() && !worked)
    return "Nothing needs a correction: the whole measured area is within tolerance" + dry_clause(e, u) + "." +
           chance_sentence(e, u);
  if (left.empty())
    return "Nothing is left to cure: the whole measured area is then within tolerance" + dry_clause(e, u) +
           " (re-computed, not measured)." + hands_sentence(e, left, u) + chance_sentence(e, u);
  std::string out = gap_sentence(e, left, bench.area(), worked, u) + hands_sentence(e, left, u) + chance_sentence(e, u);
  if (has(left, Uncured::lead))
    out += " The front leads by " + format_time(e.max_lead_s) +
           " at the most; in a true mold the scatter of the glass makes " + format_time(plan.limits.lead_s) + ".";
  if (has(left, Uncured::opening))
    out += " The mold may open: what closes it is " + words(e.closing_balance, 2) + " times what opens it, and " +
           words(plan.limits.safety, 2) + " times are wanted. Inject slower or at less pressure, or clamp harder.";
  if (has(left, Uncured::over_packed))
    out += " The glass is over-packed over " + format_area(e.over_packed_area, u) + ".";
  if (has(left, Uncured::under_filled))
    out += " The glass does not fill the gap over " + format_area(e.under_filled_area, u) + ".";
  if (has(left, Uncured::gel))
    out +=
        " The fill takes " + format_time(e.fill_time) + "; the resin gels after " + format_time(in.flow.gel_time) + ".";
  if (!worked) out += why_nothing(plan, o, refused);
  return out;
}

}  // namespace gapfront
