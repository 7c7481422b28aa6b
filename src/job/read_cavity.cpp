#include <algorithm>
#include <cmath>

#include "job/sections.hpp"

namespace gapfront::job {
namespace {

/// Fills the limits from `tolerance` (both sides) or `minus` and `plus`; returns false when none is given.
bool read_limits(Table& t, double& minus, double& plus) {
  const auto both = t.quantity("tolerance", Dimension::length, Sign::positive);
  const auto low = t.quantity("minus", Dimension::length, Sign::not_negative);
  const auto high = t.quantity("plus", Dimension::length, Sign::not_negative);
  if (both && (low || high)) t.fail("tolerance", "give either tolerance, or minus and plus, not both");
  if (low.has_value() != high.has_value()) t.fail(low ? "minus" : "plus", "minus and plus are given together");
  if (both) minus = plus = *both;
  if (low) minus = *low, plus = *high;
  return both || low;
}

/// Twice the enclosed area in the X–Y plane; zero for a polygon that encloses nothing.
double double_area(const std::vector<Vec3>& polygon) {
  double sum = 0;
  for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++)
    sum += polygon[j].x() * polygon[i].y() - polygon[i].x() * polygon[j].y();
  return std::abs(sum);
}

std::vector<Vec3> read_polygon(Table& t, const std::string& key) {
  auto polygon = t.points(key);
  if (!t.has(key)) return {};
  // A closed outline may repeat its first corner at the end; one of the two says nothing.
  if (polygon.size() > 3 && (polygon.front() - polygon.back()).norm() == 0) polygon.pop_back();
  if (polygon.size() < 3) t.fail(key, "needs three corners or more");
  if (double_area(polygon) == 0) t.fail(key, "encloses no area; the corners lie on one line");
  return polygon;
}

}  // namespace

void read_path(Table& t, std::vector<Vec3>& path, double& radius) {
  path = t.points("path");
  const auto at = t.point("at");
  if (at && !path.empty()) t.fail("at", "give either at or path, not both");
  if (at) path = {*at};
  radius = t.quantity("radius", Dimension::length, Sign::positive).value_or(radius);
}

Region read_region(Table& t, double default_radius) {
  Region r;
  r.polygon = read_polygon(t, "polygon");
  r.box = t.points("box");
  if (t.has("box") && r.box.size() != 2) t.fail("box", "needs exactly two opposite corners, \"x, y, z mm\" each");
  if (t.has("box") && ((r.box[0] - r.box[1]).array() == 0).any())
    t.fail("box", "encloses no space; the corners must differ in x, y and z");
  r.radius = default_radius;
  read_path(t, r.path, r.radius);
  const int shapes = !r.polygon.empty() + !r.box.empty() + !r.path.empty();
  if (shapes == 0) t.fail("where is it? give polygon, box, path with radius, or at with radius");
  if (shapes > 1) t.fail("give only one of polygon, box, path and at");
  return r;
}

void read_cavity(Table t, Job& job) {
  auto& tol = job.tolerance;
  tol.nominal = t.need("nominal", t.quantity("nominal", Dimension::length, Sign::positive), "\"3 mm\"");
  if (!read_limits(t, tol.minus, tol.plus)) t.need("tolerance", std::optional<double>(), "\"0.3 mm\"");
  if (tol.minus >= tol.nominal)
    t.fail(t.has("minus") ? "minus" : "tolerance", "must be smaller than nominal; no gap is left at the lower limit");
  job.gap.nominal = tol.nominal;

  job.sheet.edge = t.quantity("edge", Dimension::length, Sign::positive).value_or(job.sheet.edge);
  const auto floor = t.quantity("min_edge", Dimension::length, Sign::positive);
  // A sheet asked to be finer than the usual floor takes the floor with it.
  job.sheet.min_edge = floor.value_or(std::min(job.sheet.min_edge, job.sheet.edge));
  if (job.sheet.min_edge > job.sheet.edge) t.fail("min_edge", "must not be greater than edge");
  job.sheet.seal = read_polygon(t, "seal");
  job.gap.u_instrument =
      t.quantity("u_instrument", Dimension::length, Sign::not_negative).value_or(job.gap.u_instrument);
  job.gap.max_gap = t.quantity("max_gap", Dimension::length, Sign::positive).value_or(0);
  if (job.gap.max_gap > 0 && job.gap.max_gap <= tol.nominal + tol.plus)
    t.fail("max_gap", "must be greater than nominal with its upper tolerance");
  tol.allowed_nonconforming_share = t.quantity("allowed_nonconforming", Dimension::fraction).value_or(0);
  tol.min_region_area =
      t.quantity("min_region_area", Dimension::area, Sign::not_negative).value_or(tol.min_region_area);

  std::vector<std::string> names;
  for (auto& z : t.tables("zone")) {
    ToleranceZone zone;
    zone.name = z.text("name").value_or("zone " + std::to_string(names.size() + 1));
    refuse_duplicate(z, zone.name, names);
    zone.where = read_region(z);
    zone.nominal = z.quantity("nominal", Dimension::length, Sign::positive).value_or(tol.nominal);
    zone.minus = tol.minus, zone.plus = tol.plus;  // unless the zone has its own
    read_limits(z, zone.minus, zone.plus);
    if (zone.minus >= zone.nominal) z.fail("the lower tolerance must be smaller than nominal");
    z.done();
    tol.zones.push_back(std::move(zone));
  }
  names.clear();
  job.remove_spot_shift = t.flag("remove_spot_shift").value_or(false);
  for (auto& s : t.tables("spot")) {
    SpotReading spot;
    spot.name = s.text("name").value_or("spot " + std::to_string(names.size() + 1));
    refuse_duplicate(s, spot.name, names);
    spot.at = s.need("at", s.point("at"), "\"10, 20, -30 mm\"");
    spot.thickness = s.need("thickness", s.quantity("thickness", Dimension::length, Sign::positive), "\"3.10 mm\"");
    spot.U = s.need("U", s.quantity("U", Dimension::length, Sign::positive), "\"0.05 mm\"");
    s.done();
    job.spots.push_back(std::move(spot));
  }
  t.done();
}

}  // namespace gapfront::job
