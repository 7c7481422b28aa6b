// Counterfactuals: the same filling again with one thing put right, or one fault put in.
#include "gapfront/diagnose.hpp"

#include <algorithm>
#include <cmath>

#include "core/sheet_parts.hpp"
#include "core/triangle_tree.hpp"
#include "diagnose/fillings.hpp"
#include "gapfront/error.hpp"
#include "units/words.hpp"

namespace gapfront {
namespace {

// Air pressed to less than this share of its pocket shows as pores rather than as a dry spot (own choice).
constexpr double kShows = 0.25;
// Air shut in over so many times the spot goes where the resin drives it: there, and only there, it makes a spot.
constexpr double kWide = 10;

/// Refused before minutes are spent on the others.
void check_spots(const Sheet& sheet, const std::vector<DrySpot>& spots) {
  if (spots.empty())
    throw Error(Fault::input, "diagnose: no spot given; add --spot \"x, y, z mm\" in tool coordinates");
  const TriangleTree face(sheet.mesh);
  for (const DrySpot& spot : spots) {
    const double off = face.nearest(spot.at).distance;
    if (off > spot.size)
      throw Error(Fault::input,
                  words("diagnose: the spot at x %.0f, y %.0f mm lies %.2f mm from the moulding face; give it in tool "
                        "coordinates, on the lower face",
                        spot.at.x(), spot.at.y(), off));
  }
}

/// No narrower than the mesh tells anything of: the longest edge at the spot.
DrySpot as_wide_as_mesh(const Sheet& sheet, DrySpot spot) {
  const int node = nearest_node(sheet, spot.at);
  double edge = 0;
  for (const auto& t : sheet.mesh.triangles)
    if (std::count(t.begin(), t.end(), node) > 0)
      for (int k = 0; k < 3; ++k)
        edge = std::max(edge, (sheet.mesh.points[t[k]] - sheet.mesh.points[t[(k + 1) % 3]]).norm());
  spot.size = std::max(spot.size, edge);
  return spot;
}

}  // namespace

const char* to_string(CauseKind k) {
  constexpr const char* names[] = {
      "gap region", "radius",    "seat of the upper half", "overlap", "vent place", "flow schedule", "vacuum",
      "viscosity",  "whole gap", "vent closed too soon",   "gel"};
  return names[static_cast<int>(k)];
}

bool diagnosis::comes_gelled(const Filling& f, const FlowOptions& flow, std::size_t node) {
  const double at = flow::passing_time(f, node);
  return flow.gel_time > 0 && std::isfinite(at) && at > flow.gel_time;
}

double diagnosis::gelled_area(const Sheet& sheet, const Filling& f, const FlowOptions& flow) {
  if (flow::in_time(f, flow)) return 0;
  double area = std::isfinite(f.supply.gelled_at) ? f.supply.left_dry : 0;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (comes_gelled(f, flow, i)) area += sheet.area[i];
  return area;
}

double diagnosis::trouble_at(const Sheet& sheet, const Filling& f, const FlowOptions& flow, const DrySpot& spot) {
  std::vector<double> shut(sheet.size(), 0);  // share that shows of the pocket around the node; 0: in none
  for (const Pocket& p : f.pockets) {
    double area = 0;
    for (const int i : p.nodes) area += sheet.area[i];
    if (area > kWide * M_PI / 4 * spot.size * spot.size) continue;
    const double left = p.initial_volume > 0 ? p.final_volume / p.initial_volume : 1;
    for (const int i : p.nodes) shut[i] = std::max(shut[i], std::clamp(left / kShows, 1e-9, 1.0));
  }
  // Bubbles drift until the resin gels, so air that is shut in within a spot's width of the spot counts for it.
  double bad = 0, disc = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const double d = (sheet.mesh.points[i] - spot.at).norm();
    if (d > spot.size) continue;
    if (d <= spot.size / 2) disc += sheet.area[i];
    const bool dry = !std::isfinite(f.arrival[i]), late = comes_gelled(f, flow, i);
    // The nodes of a pocket share its air: on a coarse mesh the last one stays dry, however little air is left.
    bad += sheet.area[i] * (late || (dry && shut[i] == 0) ? 1 : shut[i]);
  }
  disc = std::max(disc, M_PI / 4 * spot.size * spot.size * 0.5);  // a spot off the face still has a size
  return std::min(1.0, bad / disc);
}

Diagnosis diagnosis::diagnose(const CorrectInput& in, const CorrectionPlan& plan, const std::vector<DrySpot>& spots,
                              const DiagnoseOptions& o, const Progress& progress) {
  using namespace diagnosis;
  check_spots(in.sheet, spots);
  Diagnosis out;
  Fillings run(in, o, progress);
  const State now = measured_state(in);
  for (const DrySpot& spot : spots) {
    SpotDiagnosis d;
    d.spot = as_wide_as_mesh(in.sheet, spot);
    const Counted counted = ask(in, now, o, run, d);
    if (d.predicted) find_causes(in, now, o, counted, run, d);
    const bool found = !d.causes.empty() && d.causes[0].relief >= kExplains;
    if (!d.predicted || !found || !d.seen_fits) find_suspects(in, now, run, d);
    tell(in, d);
    if (d.spot.size > spot.size)
      d.discriminate.push_back(
          Message("diagnosis.spot-widened", {arg::length(spot.size, 1), arg::length(d.spot.size, 1)}));
    find_cure(in, plan, now, o, counted, run, d);
    out.spots.push_back(std::move(d));
  }
  out.fillings = run.done, out.unsettled = run.unsettled, out.cured_below = o.cured_below;
  report_progress(progress, "diagnose", 1);
  return out;
}

}  // namespace gapfront
