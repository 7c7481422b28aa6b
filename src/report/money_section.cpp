// Which sets of corrections were weighed against each other, what a part takes, and whether the work pays.
#include <algorithm>
#include <cmath>

#include "report/html.hpp"

namespace gapfront::report {
namespace {

Message money(double value, const Prices& p) {
  return Message("optimiser.money", {arg::number(value, std::abs(value) < 10 ? 2 : 0), arg::name(p.currency)});
}

Message between(const Saving& s, const Prices& p) {
  return Message("fleet.from-to", {arg::message(money(s.low, p)), arg::message(money(s.high, p))});
}

/// Whether the chosen corrections pay: what the run costs with and without them.
Text payback_says(const CorrectionPlan& p) {
  if (!p.prices.decide()) return {};
  const auto now = arg::message(money(p.cost_now, p.prices));
  if (p.chosen.empty()) return {Message("optimiser.left-costs", {now})};
  Text out{Message("optimiser.plan-saves",
                   {now, arg::message(money(p.cost_after, p.prices)), arg::message(between(p.saving, p.prices))})};
  out.push_back(Message(p.saving.low > 0    ? "optimiser.it-pays"
                        : p.saving.high < 0 ? "optimiser.does-not-pay"
                                            : "optimiser.may-not-pay"));
  return out;
}

/// Whether a set that was not chosen costs less than the one that was.
bool cheaper_is_listed(const CorrectionPlan& p) {
  const auto chosen =
      std::find_if(p.options.begin(), p.options.end(), [&](const PlanOption& o) { return o.steps == p.chosen; });
  return p.prices.decide() && chosen != p.options.end() &&
         std::any_of(p.options.begin(), p.options.end(),
                     [&](const PlanOption& o) { return std::round(o.cost) < std::round(chosen->cost); });
}

std::string mass_with_U(const Mass& m, const Voice& v) {
  return told(v, "optimiser.mass-with-u", {arg::mass(m.g), arg::mass(m.U)});
}

}  // namespace

Text ranking_by_cost(const CorrectionPlan& p) {
  return {Message("optimiser.ranked-in-money", {arg::number(p.prices.parts), arg::number(p.prices.bad_part, 0),
                                                arg::number(p.prices.hour, 0), arg::name(p.prices.currency)}),
          Message("optimiser.what-is-a-bad-part")};
}

std::string saving_cell(const Correction& c, const CorrectionPlan& p, const Voice& v) {
  return told(v, money(c.saving.mean, p.prices)) + "<br><small>" + told(v, between(c.saving, p.prices)) + "</small>";
}

std::string options_table(const CorrectionPlan& p, const Voice& v) {
  if (p.options.size() < 2) return "";
  const bool priced = p.prices.decide();
  std::vector<std::string> ids{"order.steps", "corrections.effort-h", "optimiser.chance-of-air", "optimiser.bad-parts"};
  if (priced) ids.emplace_back("optimiser.expected-cost");
  std::vector<std::vector<std::string>> rows{heads(v, ids)};
  for (const PlanOption& o : p.options) {
    std::string names;
    for (const int k : o.steps) names += (names.empty() ? "" : " + ") + own(p.candidates[k].name);
    if (names.empty()) names = told(v, "optimiser.nothing-done");
    const std::string air =
        o.air.draws > 0 ? told(v, "study.chance",
                               {arg::probability(o.air.p), arg::probability(o.air.low), arg::probability(o.air.high)})
                        : "–";
    rows.push_back({o.steps == p.chosen ? "<b>" + names + "</b>" : names, fixed(o.hours, 1, v), air,
                    told(v, "list.plain", {arg::probability(o.bad)})});
    if (priced) rows.back().push_back(told(v, money(o.cost, p.prices)));
  }
  return table(rows, told(v, "optimiser.least-hours-least-scrap")) +
         (priced ? "" : para(told(v, "optimiser.what-is-a-bad-part"))) +
         (cheaper_is_listed(p) ? para(told(v, "optimiser.cheaper-not-chosen")) : "");
}

std::string material_table(const Inspection& r, const Voice& v) {
  const bool works = !r.plan.chosen.empty();
  std::vector<const MaterialUse*> states{&r.nominal_material, &r.material};
  std::vector<std::string> ids{"", "optimiser.true-mold", "corrections.now"};
  if (works) states.push_back(&r.material_after), ids.emplace_back("optimiser.corrected");
  std::vector<std::vector<std::string>> rows{heads(v, ids)};
  const auto add = [&](const char* id, auto cell) {
    std::vector<std::string> row{told(v, id)};
    for (const MaterialUse* m : states) row.push_back(cell(*m));
    rows.push_back(row);
  };
  add("optimiser.glass-in-part", [&](const MaterialUse& m) { return mass_with_U(m.glass, v); });
  add("optimiser.resin-in-part", [&](const MaterialUse& m) { return mass_with_U(m.resin, v); });
  if (r.material.waste > 0)
    add("optimiser.resin-wasted", [&](const MaterialUse& m) { return told(v, "list.plain", {arg::mass(m.waste)}); });
  if (r.material.hose > 0)
    add("optimiser.resin-in-hose", [&](const MaterialUse& m) { return told(v, "list.plain", {arg::mass(m.hose)}); });
  if (r.plan.prices.material())
    add("optimiser.material-cost", [&](const MaterialUse& m) { return told(v, money(m.cost, r.plan.prices)); });
  return table(rows, told(v, "optimiser.part-takes")) + para(told(v, payback_says(r.plan)));
}

}  // namespace gapfront::report
