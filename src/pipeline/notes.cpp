#include "pipeline/notes.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>

#include "core/sheet_parts.hpp"
#include "gapfront/drape.hpp"
#include "gapfront/error.hpp"

namespace gapfront::pipeline {

void append(Messages& to, const Messages& from) {
  for (const Message& m : from)
    if (std::find(to.begin(), to.end(), m) == to.end()) to.push_back(m);
}

Messages crossing_warning(const Measured& r) {
  double area = 0, minimum = 0;
  std::size_t where = 0;
  for (std::size_t i = 0; i < r.sheet.size(); ++i) {
    const NodeGap& g = r.gap.nodes[i];
    if (!g.measured || g.gap + g.U >= 0) continue;
    area += r.sheet.area[i];
    if (g.gap < minimum) minimum = g.gap, where = i;
  }
  if (area == 0) return {};
  return {Message("warnings.halves-run-through",
                  {arg::area(area), arg::length(-minimum), arg::place(r.sheet.mesh.points[where])})};
}

Messages unlikely_values(const Predicted& r) {
  // A mouth that takes in more is no vent any more; resins for injection have a few Pa s at most (both from memory).
  constexpr double kMuchOfFace = 0.05, kThick = 5;
  Messages out;
  const double face = sheet_area(r.sheet);
  for (const Vent& v : r.job.flow.vents) {
    const double disc = std::numbers::pi * v.radius * v.radius;
    if (disc > kMuchOfFace * face)
      out.push_back(Message("warnings.vent-takes-in",
                            {arg::name(v.name), arg::fraction(disc / face, 0), arg::length(v.radius, 0)}));
  }
  if (r.job.flow.viscosity > kThick)
    out.push_back(Message("warnings.thick-resin", {arg::viscosity(r.job.flow.viscosity)}));
  // A hundredth of an atmosphere is what gauges differ by.
  const double channel = r.job.flow.closing.perimeter_vacuum, cavity = atmosphere_pa - r.job.flow.cavity_pressure;
  if (channel > 0 && channel < cavity - 0.01 * atmosphere_pa)
    out.push_back(Message("warnings.channel-weaker",
                          {arg::fraction(channel / atmosphere_pa, 0), arg::fraction(cavity / atmosphere_pa, 0)}));
  return out;
}

Messages half_notes(const Predicted& r) {
  const Breathing& b = r.breathing;
  if (!b.computed) return {};
  // Up to this share of the gap the model was held against an independent one.
  constexpr double kTested = 1.0 / 3;
  double most = 0, move = 0;
  std::size_t where = 0;
  for (const BreathingState* s : {&b.dry, &b.filling, &b.worst})
    for (std::size_t i = 0; i < s->move.size(); ++i)
      if (const double share = std::abs(s->move[i]) / std::max(r.flow_gap[i], 1e-9); share > most)
        most = share, move = s->move[i], where = i;
  if (most <= kTested) return {};
  const auto [low, high] = std::minmax({r.filling.fill_time, b.at_dry.fill_time, b.at_worst.fill_time});
  return {Message(move > 0 ? "warnings.half-lifts-far" : "warnings.half-bends-in-far",
                  {arg::length(std::abs(move)), arg::place(r.sheet.mesh.points[where]),
                   arg::length(r.flow_gap[where], 2), arg::time(low, high), arg::time(high)})};
}

void check_permeability(const Predicted& r, const std::vector<double>& nominal) {
  // Less of the sheet is a matter of one place, where glass is thin or a zone ends.
  constexpr double kGoodPart = 0.05;
  double area = 0, most = 0, gap = 0;
  for (std::size_t i = 0; i < nominal.size(); ++i) {
    const NodeLaminate& n = r.nominal_laminate.nodes[i];
    const double glass = n.conductance - std::pow(n.channel, 3) / 12 - n.beside;
    if (!(glass > std::pow(nominal[i], 3) / 12)) continue;
    area += r.sheet.area[i];
    if (glass / nominal[i] > most) most = glass / nominal[i], gap = nominal[i];
  }
  if (!(area > kGoodPart * sheet_area(r.sheet))) return;
  char text[160];
  std::snprintf(text, sizeof text, "%.2g m2 in a gap of %.3g mm, where an empty gap has %.2g m2", 1e-6 * most, gap,
                1e-6 * gap * gap / 12);
  throw Error(Fault::input, r.job.file.string() + ": [laminate] lets resin through more easily than no glass would (" +
                                text + "); correct areal_weight, loft, density or permeability");
}

Messages narrow_warnings(const Measured& r) {
  // So many places are walked to; of the others the number is enough.
  constexpr std::size_t kNamed = 3;
  Messages out;
  for (const auto half : {NarrowPlace::Half::lower, NarrowPlace::Half::upper}) {
    const bool low = half == NarrowPlace::Half::lower;
    const auto places = cavity::narrow_places(r.sheet, r.gap, half, low ? r.halves->lower : r.halves->upper);
    if (places.empty()) continue;
    Messages named;
    double U = 0;
    for (const NarrowPlace& p : places) {
      U = std::max(U, p.U);
      if (named.size() < kNamed)
        named.push_back(Message("warnings.narrow-place", {arg::tape(p.length), arg::place(p.at)}));
    }
    if (places.size() > kNamed) named.push_back(Message("warnings.narrow-further"));
    const double spacing = low ? r.lower_clean.spacing : r.upper_clean.spacing;
    Quantity enough = arg::length(0.5 * spacing);
    enough.round_down = true;
    out.push_back(Message(low ? "warnings.too-narrow-lower" : "warnings.too-narrow-upper",
                          {long(places.size()), arg::length(6 * spacing, 1), named,
                           arg::message(U > 0 ? Message("warnings.narrow-known-to", {arg::length(U)})
                                              : Message("warnings.narrow-not-measured")),
                           enough}));
  }
  return out;
}

Message shift_warning(const SpotShift& shift, bool ample) {
  return Message(shift.removed ? "warnings.spot-readings-say-clamped"
                 : ample       ? "warnings.spot-readings-say-clamped-mold"
                               : "warnings.spot-readings-say-clamped-nearby",
                 {arg::length(shift.offset)});
}

void say_reach(Measured& m, const ReadingsReach& reach, const char* id) {
  if (reach.beyond.empty() || reach.ample()) return;
  m.warnings.push_back(
      Message(id, {arg::tape(reach.across), arg::fraction(reach.share, 0), arg::tape(reach.farthest)}));
}

namespace {

/// Filled holes are a few places; where a filter went over a whole scan there are many, all over the face.
Messages made_up_notes(const Measured& r, char half, const std::vector<std::vector<int>>& parts) {
  constexpr std::size_t kManyPlaces = 8;
  constexpr double kMuchOfFace = 0.02;
  Messages out;
  double all = 0;
  for (const auto& part : parts) {
    double area = 0;
    Vec3 middle = Vec3::Zero();
    for (const int i : part) area += r.sheet.area[i], middle += r.sheet.area[i] * r.sheet.mesh.points[i];
    all += area;
    out.push_back(Message(half == kOfLower ? "warnings.made-up-lower" : "warnings.made-up-upper",
                          {arg::area(area), arg::place(middle / area, 2)}));
  }
  if (parts.size() < kManyPlaces || all < kMuchOfFace * sheet_area(r.sheet)) return out;
  return {Message(half == kOfLower ? "warnings.smoothed-lower" : "warnings.smoothed-upper",
                  {arg::area(all), static_cast<long>(parts.size())})};
}

}  // namespace

Messages job_notes(const Measured& r) {
  Messages out;
  const auto& stations = r.job.correct.stations;
  const auto none = [](const Station& s) { return s.present == 0; };
  if (!stations.empty() && std::all_of(stations.begin(), stations.end(), none) && r.verdict.rigid_significant) {
    Messages names;
    for (const Station& s : stations) names.push_back(Message("list.plain", {arg::name(s.name)}));
    out.push_back(Message("warnings.no-stack-declared", {names}));
  }
  for (const char half : {kOfLower, kOfUpper}) {
    std::vector<char> flagged(r.gap.made_up.size(), 0);
    for (std::size_t i = 0; i < flagged.size(); ++i) flagged[i] = (r.gap.made_up[i] & half) && !is_masked(r.sheet, i);
    if (!flagged.empty()) append(out, made_up_notes(r, half, parts_of_sheet(r.sheet, flagged)));
  }
  // People name scans by what they show, in any language that they write: by the beginnings of words.
  const auto names_half = [](const std::filesystem::path& file, std::initializer_list<const char*> beginnings) {
    std::string word;
    bool found = false;
    for (const unsigned char c : file.filename().string() + " ") {
      if (std::isalpha(c) || c > 127) {
        word += static_cast<char>(std::tolower(c));
        continue;
      }
      found = found ||
              std::any_of(beginnings.begin(), beginnings.end(), [&](const char* b) { return word.starts_with(b); });
      word.clear();
    }
    return found;
  };
  const auto low = {"lower", "unter", "infer", "inf\u00e9r", "bottom"}, high = {"upper", "ober", "super", "sup\u00e9r"};
  if (names_half(r.job.lower.file, high) && !names_half(r.job.lower.file, low) && names_half(r.job.upper.file, low) &&
      !names_half(r.job.upper.file, high))
    out.push_back(Message("warnings.halves-named-otherwise", {arg::name(r.job.lower.file.filename().string()),
                                                              arg::name(r.job.upper.file.filename().string())}));
  return out;
}

Messages draping_notes(const Predicted& r) {
  // Below that cloth lays less than half a per cent more glass.
  constexpr double kWorthSaying = 5 * std::numbers::pi / 180;
  Messages out;
  const auto degrees = [](double rad) { return arg::number(rad * 180 / std::numbers::pi); };
  for (const DrapedCloth& net : r.job.laminate.draped) {
    if (net.most_shear > kWorthSaying)
      out.push_back(Message(
          "warnings.cloth-sheared",
          {arg::number(net.direction_deg), degrees(net.most_shear), arg::place(r.sheet.mesh.points[net.most_at]),
           arg::number(1 / std::cos(net.most_shear), 2), arg::fraction(laminate::stretch_of(net.most_shear) - 1)}));
    if (net.locked_area > 0)
      out.push_back(Message("warnings.cloth-locks", {arg::area(net.locked_area), degrees(r.job.laminate.drape.lock),
                                                     arg::place(r.sheet.mesh.points[net.most_at])}));
    if (net.missed_area > 0) out.push_back(Message("warnings.cloth-misses", {arg::area(net.missed_area)}));
  }
  return out;
}

Messages radii_notes(const Predicted& r) {
  // A box has nine: its rim, four edges of the floor, four corners. A face with many more is one of ribs.
  constexpr std::size_t kNamed = 12;
  Messages items;
  for (const FoundRadius& f : r.found_radii) {
    if (items.size() == kNamed) break;
    const char* id = f.lower      ? f.resolved ? "warnings.radius-lower" : "warnings.radius-lower-sharp"
                     : f.resolved ? "warnings.radius-upper"
                                  : "warnings.radius-upper-sharp";
    const double U = 2 * f.u;
    const int digits = U < 0.95 ? 1 : 0;
    items.push_back(Message(id, {arg::length(f.radius, digits), arg::number(f.turn * 180 / std::numbers::pi),
                                 arg::length(f.length, 0), arg::place(f.path[f.path.size() / 2])}));
    if (f.resolved) items.back().arguments.push_back(arg::length(U, digits));
  }
  if (items.empty()) return {};
  return {Message("warnings.radii-seen", {items})};
}

Messages void_notes(const Predicted& r) {
  if (r.capillary.empty()) return {};
  double slow = 0, fast = 0, all = 0;
  std::size_t slowest = 0, fastest = 0;
  bool any = false;
  for (std::size_t i = 0; i < r.capillary.size(); ++i) {
    const double c = r.capillary[i];
    if (!std::isfinite(c)) continue;
    if (!any || c < r.capillary[slowest]) slowest = i;
    if (!any || c > r.capillary[fastest]) fastest = i;
    any = true, all += r.sheet.area[i];
    if (c < kSlowFront) slow += r.sheet.area[i];
    if (c > kFastFront) fast += r.sheet.area[i];
  }
  if (!any) return {};
  return {Message("warnings.voids-by-speed", {arg::fraction(slow / all), arg::place(r.sheet.mesh.points[slowest]),
                                              arg::fraction(fast / all), arg::place(r.sheet.mesh.points[fastest])})};
}

Messages air_notes(const Predicted& r) {
  if (!r.air.computed) return {};
  const auto share = [&](AirClass c) { return arg::fraction(r.air.area[static_cast<std::size_t>(c)] / r.air.whole()); };
  return {Message("warnings.residual-air",
                  {share(AirClass::sound), share(AirClass::in_bundles), share(AirClass::between_bundles),
                   share(AirClass::dry_below), share(AirClass::dry)})};
}

Messages reinforcement_warnings(const Predicted& r) {
  Messages out;
  const auto area = [&](double mm2, const char* id) {
    if (mm2 >= r.job.tolerance.min_region_area) out.push_back(Message(id, {arg::area(mm2)}));
  };
  area(r.laminate.over_packed_area, "warnings.glass-over-packed-pushes");
  area(r.laminate.under_filled_area, "warnings.glass-does-not-fill");
  area(r.laminate.weight_out_area, "warnings.glass-weight-outside-window");
  return out;
}

Messages unsettled_warnings(const Filling& f) {
  if (flow::settled(f)) return {};
  return {Message("warnings.unsettled-filling", {arg::fraction(f.unsettled, 1)})};
}

Messages unsettled_warnings(const Predicted& r) {
  Messages out = unsettled_warnings(r.filling);
  append(out, unsettled_warnings(r.nominal_filling));
  const auto drawn =
      std::count_if(r.ensemble.each.begin(), r.ensemble.each.end(), [](const auto& f) { return !f.settled; });
  if (drawn > 0)
    out.push_back(Message("warnings.unsettled-drawn-fillings",
                          {static_cast<long>(drawn), static_cast<long>(r.ensemble.each.size())}));
  const auto moves = [](const Breathing& b) { return b.computed && !b.converged; };
  if (moves(r.breathing) || moves(r.nominal_breathing)) out.push_back(Message("warnings.unsettled-shape-under-load"));
  return out;
}

}  // namespace gapfront::pipeline
