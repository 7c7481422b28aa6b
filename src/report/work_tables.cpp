#include "report/work_tables.hpp"

#include <cmath>

#include "report/html.hpp"
#include "report/work_sketches.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

constexpr const char* kBlank = "<span class=\"blank\"></span>";  // to be written in by hand

/// As the instruction has it: a hundredth of a millimetre, and a place more for stock that needs it.
Quantity shim(double mm) {
  const bool fine = std::abs(100 * mm - std::round(100 * mm)) > 1e-6;
  return arg::length(mm, fine ? 3 : 2);
}

const char* way_of(Way way) {
  switch (way) {
    case Way::straight:
      return "bench.straight-through-free-air";
    case Way::over_surface:
      return "bench.over-surface-pressed-face";
    case Way::along_edge:
      return "bench.along-edge-moulding-face";
    case Way::from_edge:
      return "bench.squarely-pressed-face-from";
  }
  return "";
}

}  // namespace

std::string shim_table(const Correction& c, const Voice& v) {
  std::vector<std::vector<std::string>> rows{
      heads(v, {"order.station", "page.place", "order.change", "order.new-stack-bottom-first", "order.will-stand-clear",
                "bench.measured-before", "bench.measured-after"})};
  for (const auto& s : c.shims) {
    Messages pieces;
    for (const double t : s.stack) pieces.push_back(Message("list.plain", {shim(t)}));
    rows.push_back({"<b>" + own(s.station) + "</b>", place(s.at, v),
                    told(v, s.change == 0 ? Message("page.none") : Message("list.plain", {shim(s.change)})),
                    told(v, s.relief > 0     ? Message("order.none-take-off-flange", {shim(s.relief)})
                            : pieces.empty() ? Message("page.none")
                                             : Message("join.sum", {pieces})),
                    told(v, s.carries_gap > 0.02 ? Message("list.plain", {shim(s.carries_gap)}) : Message("page.no")),
                    kBlank, kBlank});
  }
  return table(rows, told(v, "order.stacks-station"));
}

std::string place_table(const Correction& c, const Voice& v) {
  std::vector<std::vector<std::string>> rows{{told(v, "order.middle-work"), ""},
                                             {told(v, "order.tool-coordinates"), place(c.centre, v)}};
  for (const auto& t : c.tape) rows.push_back({told(v, way_of(t.way), {arg::message(t.from)}), by_tape(t.distance, v)});
  std::string out = table(rows);
  if (!c.tape_side.empty()) out += para(told(v, "bench.two-lengths-meet-several", {arg::name(c.tape_side)}));
  if (c.tape.empty() && c.kind != Kind::vent_enlarge) out += para(told(v, "bench.no-tape-finds-this"));
  return out;
}

std::string size_table(const Correction& c, const Voice& v) {
  std::vector<std::vector<std::string>> rows{heads(v, {"page.size", ""})};
  if (c.area > 0) rows.push_back({told(v, "order.area-inside-outline"), with_unit(c.area, D::area, v)});
  if (c.peak > 0 && (c.kind == Kind::build_up || c.kind == Kind::relief))
    rows.push_back({told(v, "order.greatest-thickness"), by_depth(c.peak, v)});
  if (c.volume > 0) rows.push_back({told(v, "page.volume"), with_unit(c.volume, D::volume, v)});
  if (c.blend > 0) rows.push_back({told(v, "order.feathered-out-over"), by_tape(c.blend, v)});
  if (c.port_radius > 0) rows.push_back({told(v, "order.mouth-across"), by_tape(2 * c.port_radius, v)});
  if (c.mass > 0)
    rows.push_back({told(v, c.kind == Kind::build_up ? "order.filler-mix-waste-included" : "order.glass-every-part"),
                    told(v, "list.plain", {arg::mass(c.mass)})});
  return rows.size() > 1 ? table(rows) : "";
}

std::string stop_table(const Correction& c, const Voice& v) {
  if (c.stops.empty()) return "";
  std::vector<std::vector<std::string>> rows{
      heads(v, {"order.no", "page.place", c.kind == Kind::build_up ? "order.add" : "order.take",
                "bench.measured-before", "bench.measured-after"})};
  for (const auto& s : c.stops)
    rows.push_back({std::to_string(s.number), place(s.at, v), by_depth(s.depth, v), kBlank, kBlank});
  return table(rows, told(v, "order.depth-stops-number-deepest"));
}

}  // namespace gapfront::report
