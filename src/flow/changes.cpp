// What would hold a mold shut that opens, and what would fill before the resin gels: tried, never assumed.
#include "flow/changes.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "core/sheet_parts.hpp"
#include "flow/arrival.hpp"
#include "flow/margin.hpp"

namespace gapfront {
namespace {

// In what steps a shop sets them (own choice): pressure 0.01 bar, force 0.1 kN, width of a channel 5 mm, vacuum 1 %.
constexpr double kPressureStep = 1000, kForceStep = 1e8, kWidthStep = 5, kVacuumStep = 0.01 * atmosphere_pa;
constexpr double kGoodVacuum = 0.9 * atmosphere_pa;  // what a pump and a sound seal keep (from memory)
constexpr double kWidestChannel = 150;               // mm; a wider one is no channel any more (own choice)
constexpr int kMaxTries = 6;
constexpr double kNearFull = 0.98;  // the mold opens only after this share: stopping the pump in time is enough
// Resins made for this run down to so much, Pa s; a tried one may be as much thinner than its own (both from memory).
constexpr double kThinResin = 0.05, kThinnest = 0.3;
constexpr double kMaxLimit = 3;                 // times the limit; beyond, it is another mold (own choice)
constexpr double kRoom = 1.1;                   // times what is wanted: so far from the limit it is worth looking for
constexpr double kToSpare = 0.95;               // of the gel time is aimed at
constexpr double kMoreAir = 1.02, kSome = 100;  // what the mesh makes of the same pocket: 2 % and 1 cm²

double down(double v, double step) { return std::floor(v / step * (1 + 1e-9)) * step; }
double up(double v, double step) { return std::ceil(v / step * (1 - 1e-9)) * step; }

/// A fill, and how far it is from what keeps the mold shut: closing = factor × opening.
struct Seen {
  Filling filling;
  /// Least over the steps that open it of the inlet's pressure above the cavity's that would not, Pa. A step that does
  /// not open it bounds nothing: with a lower limit its pressure is no higher.
  double inlet = flow::kNever;
  double fraction = flow::kNever;  ///< the same as a share of what it was
  double lack = 0;                 ///< greatest factor × opening − closing, Pa·mm²
  double spare = flow::kNever;     ///< least of closing over factor × opening
  bool shut() const { return !(lack > 0); }
  double dry() const { return flow::dry_area(filling); }
};
Seen see_closed(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& o, double factor) {
  Seen s;
  flow::OpeningWatch opening(sheet, laminate, o);
  const auto look = [&](const std::vector<double>& pressure) {
    const OpeningSample b = opening.balance(0, pressure);
    s.lack = std::max(s.lack, factor * b.opening - b.closing);
    s.spare = std::min(s.spare, b.safety() / factor);
  };
  look(std::vector<double>(sheet.size(), o.cavity_pressure));
  double last = 0;  // what comes after the gel opens nothing; the step that reaches it counts
  s.filling =
      flow::fill_watched(sheet, laminate, o, [&](double time, double inlet, const std::vector<double>& pressure) {
        if (o.gel_time > 0 && last > o.gel_time) return;
        last = time;
        look(pressure);
        const double fraction = opening.allowed(pressure, factor, false);
        if (!(fraction < 1)) return;
        s.fraction = std::min(s.fraction, fraction),
        s.inlet = std::min(s.inlet, fraction * (inlet - o.cavity_pressure));
      });
  return s;
}

/// Whether a gentler way to inject may be named: not where it is what makes the resin gel before the mold is full, and
/// not where the front then stops. Where it gels anyway a later fill at least spoils no mold, and is told as late.
bool may_be_named(const Filling& own, const Filling& then, const FlowOptions& o) {
  return flow::in_time(then, o) || (!flow::in_time(own, o) && !std::isfinite(then.supply.gelled_at));
}

/// Lowers the pressure limit until the mold stays shut.
bool lower_limit(const Sheet& sheet, const LaminateMap& laminate, FlowOptions o, const Filling& own, Seen seen,
                 double factor, ProcessChange& out) {
  const double vacuum = atmosphere_pa - o.cavity_pressure;
  double opens = o.pressure_limit;
  for (int k = 0; k < kMaxTries; ++k) {
    opens = o.pressure_limit;
    o.pressure_limit = down(std::min(o.pressure_limit - kPressureStep, seen.inlet - vacuum), kPressureStep);
    if (!(o.pressure_limit > 0)) return false;  // resin that has to be sucked in is another process
    seen = see_closed(sheet, laminate, o, factor);
    if (!seen.shut()) continue;
    double holds = o.pressure_limit;
    // Where the resin gels before it has come as far as with the limit that opens, more would do.
    for (int n = 0; n < kMaxTries && seen.spare > kRoom && opens - holds > 1.5 * kPressureStep; ++n) {
      o.pressure_limit = down(0.5 * (holds + opens), kPressureStep);
      Seen more = see_closed(sheet, laminate, o, factor);
      if (more.shut())
        holds = o.pressure_limit, seen = std::move(more);
      else
        opens = o.pressure_limit;
    }
    out = {ProcessChange::Kind::lower_limit, holds, 0, Vec3::Zero(), seen.filling.fill_time};
    return may_be_named(own, seen.filling, o);
  }
  return false;
}

/// One lower rate.
bool slower(const Sheet& sheet, const LaminateMap& laminate, FlowOptions o, const Filling& own, Seen seen,
            double factor, ProcessChange& out) {
  if (o.schedule.empty()) return false;
  double rate = o.schedule.front().rate;
  for (const auto& s : o.schedule) rate = std::min(rate, s.rate);
  for (int k = 0; k < kMaxTries; ++k) {
    rate *= 0.99 * std::min(1.0, seen.fraction);
    if (o.rate_setting > 0) rate = down(rate, o.rate_setting);
    if (!(rate > 0) || rate < o.min_rate) return false;
    o.schedule = {{0, rate}};
    seen = see_closed(sheet, laminate, o, factor);
    if (!seen.shut()) continue;
    out = {ProcessChange::Kind::slower, rate, 0, Vec3::Zero(), seen.filling.fill_time};
    return may_be_named(own, seen.filling, o);
  }
  return false;
}

/// Share of the cavity that is full when the mold first opens.
double opens_at(const Filling& f) {
  for (const auto& s : f.opening.history) {
    if (s.margin() >= 0) continue;
    double filled = 0;
    for (const auto& h : f.history)
      if (h.time <= s.time) filled = h.filled;
    return filled;
  }
  return 1;
}

/// How wide a channel of this vacuum brings so much force, mm.
double channel_width(const Sheet& sheet, double force, double vacuum) {
  ClosingOptions one;
  one.perimeter_vacuum = 1, one.perimeter_width = 1;
  return force / (vacuum * flow::flange_force(sheet, one));
}

std::vector<ProcessChange> changes_against_opening(const Sheet& sheet, const LaminateMap& laminate,
                                                   const FlowOptions& o, const Filling& own, double factor) {
  using Kind = ProcessChange::Kind;
  std::vector<ProcessChange> out;
  const Seen now = see_closed(sheet, laminate, o, factor);
  const bool dry_holds = own.opening.dry.closing >= factor * own.opening.dry.opening;
  ProcessChange c;
  if (dry_holds && lower_limit(sheet, laminate, o, own, now, factor, c)) out.push_back(c);
  if (dry_holds && slower(sheet, laminate, o, own, now, factor, c)) out.push_back(c);
  if (const double at = opens_at(own); factor == 1 && dry_holds && at >= kNearFull)
    out.push_back({Kind::stop_when_full, at});
  const double vacuum = atmosphere_pa - o.cavity_pressure;
  for (const double other : {kGoodVacuum, 0.0}) {
    if ((other > 0) != (other > vacuum + kVacuumStep)) continue;  // deeper, then none
    FlowOptions v = o;
    v.cavity_pressure = atmosphere_pa - other;
    if (!(v.pressure_limit + other > 0)) continue;
    if (const Seen s = see_closed(sheet, laminate, v, factor);
        s.shut() && s.dry() <= kMoreAir * now.dry() + kSome && may_be_named(own, s.filling, v))
      out.push_back({Kind::cavity_vacuum, other, 0, Vec3::Zero(), s.filling.fill_time});
  }
  // The rest is the balance: force that the fill does not feel.
  out.push_back({Kind::clamping, up(now.lack, kForceStep)});
  const ClosingOptions& closing = o.closing;
  const double there = closing.perimeter_vacuum * closing.perimeter_width;
  const double width = up(channel_width(sheet, now.lack, kGoodVacuum) + there / kGoodVacuum, kWidthStep);
  if (closing.perimeter_width > 0 && width <= up(closing.perimeter_width, kWidthStep)) {
    const double deeper = up(
        closing.perimeter_vacuum + channel_width(sheet, now.lack, kGoodVacuum) * kGoodVacuum / closing.perimeter_width,
        kVacuumStep);
    out.push_back({Kind::perimeter, std::min(deeper, kGoodVacuum), closing.perimeter_width});
  } else if (width <= kWidestChannel) {
    out.push_back({Kind::perimeter, kGoodVacuum, width});
  }
  return out;
}

/// Deeper vacuum draws more and closes the mold: as advised, or else with the limit held from the start.
template <class Fits>
std::optional<ProcessChange> deeper_vacuum(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& options,
                                           const FlowOptions& advised, const Fits& fits) {
  if (!(kGoodVacuum > atmosphere_pa - options.cavity_pressure + kVacuumStep)) return std::nullopt;
  const double factor = options.closing.safety;
  for (const double limit : {0.0, options.pressure_limit}) {
    FlowOptions o = advised;
    o.cavity_pressure = atmosphere_pa - kGoodVacuum;
    if (limit > 0) o.schedule.clear(), o.pressure_limit = limit;
    const Seen s = see_closed(sheet, laminate, o, limit > 0 ? factor : 0.995 * factor);
    if (fits(s, o) && s.shut())
      return ProcessChange{ProcessChange::Kind::cavity_vacuum, kGoodVacuum, limit, Vec3::Zero(), s.filling.fill_time};
  }
  return std::nullopt;
}

}  // namespace

const char* to_string(ProcessChange::Kind k) {
  constexpr const char* names[] = {"lower limit", "slower",        "stop when full", "cavity vacuum", "clamping",
                                   "perimeter",   "thinner resin", "second inlet",   "higher limit",  "limit alone"};
  return names[static_cast<int>(k)];
}

const char* to_string(OpeningHelp::Reason r) {
  constexpr const char* names[] = {"stays shut", "glass alone", "vacuum gone", "resin"};
  return names[static_cast<int>(r)];
}

OpeningHelp flow::opening_help(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& o,
                               const Filling& own) {
  using Kind = ProcessChange::Kind;
  OpeningHelp help;
  help.wanted = help.factor = o.closing.safety;
  const OpeningSample& dry = own.opening.dry;
  if (!(std::min(dry.margin(), own.opening.force.margin()) < 0)) return help;
  // With resin at atmosphere everywhere only flange and press close.
  const flow::OpeningWatch watch(sheet, laminate, o);
  const OpeningSample flooded = watch.balance(0, std::vector<double>(sheet.size(), atmosphere_pa));
  help.reason = dry.margin() < 0       ? OpeningHelp::Reason::reinforcement_alone
                : flooded.margin() < 0 ? OpeningHelp::Reason::vacuum_gone
                                       : OpeningHelp::Reason::resin;
  const auto setting = [](const ProcessChange& c) { return c.kind < Kind::clamping; };
  help.changes = changes_against_opening(sheet, laminate, o, own, help.factor);
  if (std::none_of(help.changes.begin(), help.changes.end(), setting)) {
    const auto barely = changes_against_opening(sheet, laminate, o, own, 1);
    if (std::any_of(barely.begin(), barely.end(), setting)) help.factor = 1, help.changes = barely;
  }
  return help;
}

std::vector<ProcessChange> flow::changes_to_be_in_time(const Sheet& sheet, const LaminateMap& laminate,
                                                       const FlowOptions& options, const ProcessAdvice& advice) {
  using Kind = ProcessChange::Kind;
  std::vector<ProcessChange> out;
  const double gel = advice.gel_time, vacuum = atmosphere_pa - options.cavity_pressure;
  const double faster = advice.advised.fill_time / (kToSpare * gel), factor = options.closing.safety;
  FlowOptions base = options;
  base.schedule = advice.steps, base.pressure_limit = advice.pressure_limit;
  // 0.5 % off the safety: the advice's own fill comes so near to it.
  // What is dry where the front stops is no measure of what may be.
  const double dry = advice.advised.gelled ? 0 : advice.advised.dry_area;
  const auto fits = [&](const Seen& s, const FlowOptions& o) {
    return flow::in_time(s.filling, o) && s.dry() <= kMoreAir * dry + kSome;
  };
  if (const auto deeper = deeper_vacuum(sheet, laminate, options, base, fits)) out.push_back(*deeper);
  {  // thinner: the same pressures, everything in less time
    FlowOptions o = base;
    const auto two_digits = [](double v) { return down(v, std::pow(10, std::floor(std::log10(v)) - 1)); };
    // What has gelled says little of how much more it would have taken: thinner in even steps down to the thinnest.
    const double thinnest = std::min(kThinnest * options.viscosity, kThinResin),
                 most = options.viscosity / (faster * thinnest);
    const int tries = advice.advised.gelled ? 2 * kMaxTries : 1;
    const double step = tries > 1 ? std::pow(std::max(1.0, most), 1.0 / (tries - 1)) : 1;
    for (int k = 0; k < tries; ++k) {
      o.viscosity = two_digits(options.viscosity / (faster * std::pow(step, k)));
      if (!(o.viscosity >= 0.9 * thinnest)) break;  // it was rounded down
      o.schedule = base.schedule;
      for (auto& s : o.schedule) {
        s.rate *= options.viscosity / o.viscosity;
        if (o.supply.max_rate > 0) s.rate = std::min(s.rate, o.supply.max_rate);
      }
      const Seen s = see_closed(sheet, laminate, o, 0.995 * factor);
      if (!fits(s, o) || !s.shut()) continue;
      double times = 0;
      for (std::size_t i = 0; i < base.schedule.size(); ++i)
        times = std::max(times, o.schedule[i].rate / base.schedule[i].rate);
      out.push_back({Kind::thinner_resin, o.viscosity, times, Vec3::Zero(), s.filling.fill_time});
      break;
    }
  }
  {  // a second inlet, where the front comes late: on its way, so that it does not shut air in
    const Filling now = flow::fill_watched(sheet, laminate, base, [](double, double, const std::vector<double>&) {});
    for (const double when : {0.35, 0.6}) {
      Vec3 middle = Vec3::Zero();
      double area = 0;
      for (std::size_t i = 0; i < sheet.size(); ++i)
        if (std::abs(now.arrival[i] / now.fill_time - when) < 0.1)
          middle += sheet.area[i] * sheet.mesh.points[i], area += sheet.area[i];
      if (!(area > 0)) continue;
      middle /= area;
      const Vec3& at = sheet.mesh.points[nearest_node(sheet, middle)];
      FlowOptions two = base;
      two.inlets.push_back({"second", false, {at}, options.inlets.front().radius});
      if (const Seen s = see_closed(sheet, laminate, two, 0.995 * factor); fits(s, two) && s.shut()) {
        out.push_back({Kind::second_inlet, 0, 0, at, s.filling.fill_time});
        break;
      }
    }
  }
  {  // one higher pressure from the start, with the clamping that it takes
    FlowOptions o = base;
    o.schedule.clear();
    double limit = options.pressure_limit;
    for (int k = 0; k < kMaxTries && limit <= kMaxLimit * options.pressure_limit; ++k) {
      o.pressure_limit = limit;  // all of it: whoever sets it has what is told
      const Seen s = see_closed(sheet, laminate, o, factor);
      if (fits(s, o)) {
        const Kind kind = limit > options.pressure_limit ? Kind::higher_limit : Kind::limit_alone;
        out.push_back({kind, limit, up(s.lack, kForceStep), Vec3::Zero(), s.filling.fill_time});
        break;
      }
      const double drive = std::max(advice.advised.gelled ? 1.3 : 1.1, s.filling.fill_time / (kToSpare * gel)) *
                           (o.pressure_limit + vacuum);
      limit = up(drive - vacuum, kPressureStep);
    }
  }
  return out;
}

}  // namespace gapfront
