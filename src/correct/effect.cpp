// What a state comes to, and whether that is good, or worse than before.
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "core/parallel.hpp"
#include "core/sheet_parts.hpp"
#include "correct/state.hpp"

namespace gapfront {
namespace {

// Of a ratio of forces: pressures are known to about a hundredth (the flow's bar for closed forms), two of them differ.
constexpr double kBalanceStep = 0.02;
// Standard errors by which a mean of pairs must exceed nothing: the usual level.
constexpr double kStandardErrors = 2;
// Of the cavity: a front that gels after less has hardly come in (own choice).
constexpr double kLeastFilled = 1e-3;
// Areas in mm² that differ by rounding alone.
constexpr double kSameArea = 1e-6;

/// Whether the dry area grew, by pairs of the same draws; where there are none by the one filling. What stays below the
/// area that counts as trapped air is no harm.
bool drier(const Effect& a, const Effect& b, double counts) {
  const auto growth = [&](double from, double to) { return std::max(to, counts) - std::max(from, counts); };
  const std::size_t n = std::min(a.drawn.size(), b.drawn.size());
  if (n < 2) return growth(a.dry_area, b.dry_area) > kSameArea;
  double sum = 0, square = 0;
  for (std::size_t k = 0; k < n; ++k) sum += growth(a.drawn[k].dry_area, b.drawn[k].dry_area);
  const double mean = sum / double(n);
  for (std::size_t k = 0; k < n; ++k) square += std::pow(growth(a.drawn[k].dry_area, b.drawn[k].dry_area) - mean, 2);
  return mean > kStandardErrors * std::sqrt(square / double(n - 1) / double(n)) + kSameArea;
}

}  // namespace

const char* to_string(Uncured u) {
  switch (u) {
    case Uncured::tolerance:
      return "tolerance";
    case Uncured::dry_area:
      return "dry area";
    case Uncured::lead:
      return "lead";
    case Uncured::opening:
      return "opening";
    case Uncured::over_packed:
      return "over-packed";
    case Uncured::under_filled:
      return "not filled";
    case Uncured::gel:
      return "gel";
    case Uncured::weight:
      return "weight";
  }
  return "";
}

std::vector<Uncured> correct::uncured(const Effect& e, const CureLimits& l) {
  std::vector<Uncured> out;
  const auto add = [&](bool is, Uncured what) {
    if (is) out.push_back(what);
  };
  add(e.out_of_tolerance_area > l.out_area || e.nonconforming_area > l.out_area, Uncured::tolerance);
  add(e.dry_area > l.dry_area || e.pocket > l.pocket, Uncured::dry_area);
  add(e.max_lead_s > l.lead_s, Uncured::lead);
  add(e.closing_balance < l.safety, Uncured::opening);
  add(e.over_packed_area > l.reinforcement_area, Uncured::over_packed);
  add(e.under_filled_area > l.reinforcement_area, Uncured::under_filled);
  add(e.gel_fraction > 1, Uncured::gel);
  return out;
}

bool correct::cured(const Effect& e, const CureLimits& l) { return correct::uncured(e, l).empty(); }

std::optional<Uncured> correct::worse(const Effect& a, const Effect& b, const CureLimits& l) {
  if (b.out_of_tolerance_area > a.out_of_tolerance_area + kSameArea) return Uncured::tolerance;
  if (drier(a, b, l.dry_area) || correct::fewer_pockets(b.drawn, a.drawn)) {
    // What the resin does not reach before it gels is dry as well. A mold that opens is shut although a part that gels
    // unfilled is left the emptier for it: neither state makes a part, and this one spoils no mold.
    const bool gels = b.gel_fraction > 1, later = gels && b.gel_fraction > a.gel_fraction,
               shuts = a.closing_balance < 1 && b.closing_balance >= 1;
    if (!(later && a.gel_fraction > 1 && shuts)) return later ? Uncured::gel : Uncured::dry_area;
  }
  // A late fill presses no longer than until the gel: what fills in time is held against what opens, not against that.
  const bool in_time = a.gel_fraction > 1 && b.gel_fraction <= 1 && b.closing_balance >= 1;
  if (!in_time && std::min(b.closing_balance, l.safety) < std::min(a.closing_balance, l.safety) - kBalanceStep)
    return Uncured::opening;
  if (std::max(b.over_packed_area, l.reinforcement_area) >
      std::max(a.over_packed_area, l.reinforcement_area) + kSameArea)
    return Uncured::over_packed;
  // Less glass than fills the gap is another part: whoever designed it decides that, not a choice of corrections.
  if (std::max(b.under_filled_area, l.reinforcement_area) >
      std::max(a.under_filled_area, l.reinforcement_area) + kSameArea)
    return Uncured::under_filled;
  if (b.gel_fraction > 1 && a.gel_fraction <= 1) return Uncured::gel;
  if (b.weight_out_area > a.weight_out_area + l.reinforcement_area) return Uncured::weight;
  return std::nullopt;
}

bool correct::fewer_pockets(const std::vector<DrawnFill>& before, const std::vector<DrawnFill>& after) {
  double cleared = 0, made = 0;
  for (std::size_t i = 0; i < std::min(before.size(), after.size()); ++i) {
    cleared += before[i].pocket && !after[i].pocket;
    made += !before[i].pocket && after[i].pocket;
  }
  return cleared - made > kStandardErrors * std::sqrt(cleared + made);
}

bool correct::seems_drier(const Effect& before, const Effect& after) {
  return after.pocket < before.pocket || after.expected_dry_area < before.expected_dry_area;
}

Effect correct::with_draws(Effect e, std::size_t draws) {
  if (e.drawn.size() > draws) e.drawn.resize(draws);
  constexpr double unknown = std::numeric_limits<double>::quiet_NaN();
  e.pocket = e.drawn.empty() ? unknown : correct::air_chance(e.drawn).p;
  e.expected_dry_area = e.drawn.empty() ? unknown : flow::mean_dry_area(e.drawn);
  return e;
}

Chance correct::air_chance(const std::vector<DrawnFill>& fills) {
  const auto hits = std::count_if(fills.begin(), fills.end(), [](const DrawnFill& f) { return f.pocket; });
  return conformity::chance_of(static_cast<int>(hits), static_cast<int>(fills.size()));
}

LaminateMap correct::filled(const CorrectInput& in, const std::vector<double>& gap, const LaminateOptions& laminate,
                            const Breathing* b) {
  return laminate::evaluate_laminate(in.sheet, b ? flow::under_filling(gap, *b) : gap, laminate);
}

correct::Bench::Bench(const CorrectInput& in) : in_(in), area_(sheet_area(in.sheet)) {
  if (!draws()) return;
  const ScatterModel glass = flow::scatter_model(in.sheet, in.laminate, flow::scatter_of(*in.ensemble));
  kept_.emplace(Draws(in.sheet, in.gap, glass, in.ensemble->seed), all_draws(),
                flow::sheet_of_draws(in.sheet, *in.ensemble));
}

correct::State correct::Bench::now() const {
  return {std::vector<double>(in_.sheet.size(), 0), in_.laminate, in_.laminate, in_.flow, false};
}

correct::State correct::Bench::with(const correct::State& s, const Correction& c) const {
  correct::State out = s;
  correct::apply(c, out.change, out.laminate, out.flow);
  if (!c.redesign) return out;
  out.redesigned = true;
  std::vector<double> gap = s.change;  // of a true mold, which a redesign leaves as it is
  FlowOptions flow = s.flow;
  correct::apply(c, gap, out.design, flow);
  return out;
}

std::vector<double> correct::Bench::gap(const correct::State& s) const {
  std::vector<double> gap(in_.sheet.size());
  for (std::size_t i = 0; i < gap.size(); ++i) gap[i] = in_.gap.flow_gap(i, in_.verdict.nominal[i]) + s.change[i];
  return gap;
}

Filling correct::Bench::nominal(const correct::State& s) const {
  if (!s.redesigned) return in_.nominal;
  return flow::fill(in_.sheet, correct::filled(in_, in_.verdict.nominal, s.design, in_.nominal_breathing), s.flow);
}

std::vector<DrawnFill> correct::Bench::drawn_nominal(const correct::State& s, const Filling& nominal, int draws) const {
  if (draws <= 0 || !in_.ensemble) return {};
  const auto gap =
      in_.nominal_breathing ? flow::under_filling(in_.verdict.nominal, *in_.nominal_breathing) : in_.verdict.nominal;
  return flow::draw_air(in_.sheet, in_.gap, gap, s.design, s.flow, *in_.ensemble, flow::numbers_from(0, draws), true,
                        &nominal, kept());
}

Effect correct::Bench::effect(const correct::State& s, int draws) const {
  const auto gap = this->gap(s);
  const LaminateMap laminate = correct::filled(in_, gap, s.laminate, in_.breathing);
  // With a port moved or other glass the front of the nominal gap is another one as well.
  Filling filling, other;
  parallel_for(
      s.redesigned ? 2 : 1,
      [&](std::size_t k) {
        if (k == 0)
          filling = flow::fill(in_.sheet, laminate, s.flow);
        else
          other = nominal(s);
      },
      1);
  const Filling& nominal = s.redesigned ? other : in_.nominal;
  return describe(s, gap, filling, flow::compare_fillings(in_.sheet, nominal, filling), in_.breathing, draws, {},
                  in_.breathing ? nullptr : &laminate);
}

Effect correct::Bench::describe(const correct::State& s, const std::vector<double>& gap, const Filling& filling,
                                const Lead& lead, const Breathing* breathing, int draws,
                                const std::vector<DrawnFill>& have, const LaminateMap* laminate) const {
  Effect e;
  for (std::size_t i = 0; i < gap.size(); ++i) {
    if (!in_.gap.nodes[i].measured) continue;
    const NodeLimits& limits = in_.verdict.limits[i];
    const double over = std::max(gap[i] - limits.high, limits.low - gap[i]);
    if (over > 0) e.out_of_tolerance_area += in_.sheet.area[i];
    if (over > in_.gap.nodes[i].U) e.nonconforming_area += in_.sheet.area[i];
  }
  e.max_lead_s = lead.max_s, e.rms_lead_s = lead.rms_s;
  e.dry_area = flow::dry_area(filling);
  e.fill_time = filling.fill_time, e.last_to_vent = filling.last_to_vent;
  e.closing_balance = flow::least_balance(filling.opening), e.local_margin = filling.opening.place.minimum;
  std::optional<LaminateMap> evaluated;
  if (!laminate) laminate = &evaluated.emplace(laminate::evaluate_laminate(in_.sheet, gap, s.laminate));
  const LaminateMap& reinforcement = *laminate;
  e.over_packed_area = reinforcement.over_packed_area, e.under_filled_area = reinforcement.under_filled_area;
  e.weight_out_area = reinforcement.weight_out_area;
  e.settled = flow::settled(filling);
  const MaterialUse part = flow::part_masses(in_.sheet, reinforcement, s.laminate, s.flow);
  e.glass = part.glass.g, e.resin = part.resin.g;
  if (s.flow.gel_time > 0) e.gel_fraction = filling.fill_time / s.flow.gel_time;
  // A front that stops tells no fill time: as long as the rest would take if it ran on at its mean pace.
  if (flow::in_time(filling, s.flow))
    e.gel_fraction = std::min(e.gel_fraction, 1.0);
  else if (std::isfinite(filling.supply.gelled_at))
    e.gel_fraction = 1 / std::max(kLeastFilled, filling.history.empty() ? 0 : filling.history.back().filled);
  e.drawn = have;
  return draw_on(s, breathing ? flow::under_filling(gap, *breathing) : gap, std::move(e), draws);
}

Effect correct::Bench::drawn(const correct::State& s, Effect known, int draws) const {
  const auto gap = this->gap(s);
  return draw_on(s, in_.breathing ? flow::under_filling(gap, *in_.breathing) : gap, std::move(known), draws);
}

Effect correct::Bench::draw_on(const correct::State& s, const std::vector<double>& resin_gap, Effect e,
                               int draws) const {
  const int known = static_cast<int>(e.drawn.size());
  if (draws > known && in_.ensemble)
    for (const auto& f : flow::draw_air(in_.sheet, in_.gap, resin_gap, s.laminate, s.flow, *in_.ensemble,
                                        flow::numbers_from(known, draws - known), false, nullptr, kept()))
      e.drawn.push_back(f);
  return correct::with_draws(std::move(e), static_cast<std::size_t>(std::max(0, draws)));
}

}  // namespace gapfront
