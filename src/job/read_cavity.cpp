#include <algorithm>
#include <cmath>
#include <cstdio>

#include "gapfront/units.hpp"
#include "job/sections.hpp"

namespace gapfront::job {
namespace {

/// Fills the limits from `tolerance` (both sides) or `minus` and `plus`; returns false when none is given.
bool read_limits(Table& t, double& minus, double& plus) {
  const auto both = t.quantity("tolerance", Dimension::length, Sign::positive);
  const auto low = t.quantity("minus", Dimension::length, Sign::not_negative);
  const auto high = t.quantity("plus", Dimension::length, Sign::not_negative);
  if (both && (low || high)) t.fail("tolerance", "give either tolerance, or minus and plus, not both");
  if (low.has_value() != high.has_value())
    t.fail(low ? "minus" : "plus", "is one limit of two; give minus and plus, or tolerance for both");
  if (both) minus = plus = *both;
  if (low) minus = *low, plus = *high;
  return both || low;
}

/// Sizes written where deviations belong, as "2.7 mm" and "3.3 mm" for 3 mm: a gap off by more than its nominal, or by
/// more than half of it both ways with the greater one above, is none that a mold is made for.
void refuse_sizes(const Table& t, double nominal, double minus, double plus) {
  if (!t.has("plus") || (plus <= nominal && !(minus > 0.5 * nominal && plus > minus))) return;
  const auto words = [](double mm) { return format_length(mm, UnitSystem::mm); };
  std::string line = words(plus) + " beside a nominal of " + words(nominal) + " looks like a size; say how far off it";
  if (nominal < plus && !(minus > 0.5 * nominal))  // one slip: the other limit is a deviation
    line += " the gap may be, plus = \"" + words(plus - nominal) + "\" for a gap of " + words(plus) + " at most";
  else if (minus < nominal && nominal < plus)
    line += ": for a gap from " + words(minus) + " to " + words(plus) + " that is minus = \"" + words(nominal - minus) +
            "\", plus = \"" + words(plus - nominal) + "\"";
  else
    line += " the gap may be, for example plus = \"" + words(0.1 * nominal) + "\"";
  t.fail("plus", line);
}

/// Twice the enclosed area in the X–Y plane; zero for a polygon that encloses nothing.
double double_area(const std::vector<Vec3>& polygon) {
  double sum = 0;
  for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++)
    sum += polygon[j].x() * polygon[i].y() - polygon[i].x() * polygon[j].y();
  return std::abs(sum);
}

bool cross(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
  const auto side = [](const Vec3& p, const Vec3& q, const Vec3& r) {
    return (q - p).x() * (r - p).y() - (q - p).y() * (r - p).x();
  };
  return side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
}

/// Two sides that cross make a bow tie, of which no side is the inside.
void refuse_bow_tie(const Table& t, const std::string& key, const std::vector<Vec3>& p) {
  const std::size_t n = p.size();
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = i + 1; j < n; ++j)
      if (cross(p[i], p[(i + 1) % n], p[j], p[(j + 1) % n]))
        t.fail(key, "the outline crosses itself: its side from corner " + std::to_string(i + 1) + " to " +
                        std::to_string((i + 1) % n + 1) + " cuts the one from corner " + std::to_string(j + 1) +
                        " to " + std::to_string((j + 1) % n + 1) + "; give the corners in order around it");
}

FileInput read_file(Table& t, const std::string& key, const std::string& example, const Job& job) {
  const std::string name = t.need(key, t.text(key), "\"" + example + "\"");
  if (name.empty()) t.fail(key, "must name a file");
  return {(job.file.parent_path() / name).lexically_normal(), read_file_unit(t)};
}

/// What else is given by files: the sheet's mesh, the nominal thickness, the paint of zones.
void read_files(Table& t, Job& job) {
  if (auto s = t.table("sheet")) job.sheet_mesh = read_file(*s, "file", "lower-nominal.stl", job), s->done();
  if (auto s = t.table("paint")) job.painted = read_file(*s, "file", "zones.ply", job), s->done();
  if (auto s = t.table("thickness")) job.thickness = read_file(*s, "file", "thickness.csv", job), s->done();
  if (auto s = t.table("surfaces")) {
    job.surface_lower = read_file(*s, "lower", "lower-nominal.stl", job);
    job.surface_upper = read_file(*s, "upper", "upper-nominal.stl", job);
    s->done();
  }
  if (job.thickness && job.surface_lower)
    t.fail("thickness", "the nominal thickness comes from thickness or from surfaces; take one of them out");
}

/// "#rrggbb"
Rgb read_rgb(Table& t, const std::string& key, const std::string& text) {
  const auto digit = [](char c) {
    return c >= '0' && c <= '9'   ? c - '0'
           : c >= 'a' && c <= 'f' ? c - 'a' + 10
           : c >= 'A' && c <= 'F' ? c - 'A' + 10
                                  : -1;
  };
  Rgb out{};
  bool good = text.size() == 7 && text[0] == '#';
  for (std::size_t k = 0; good && k < 3; ++k) {
    const int high = digit(text[2 * k + 1]), low = digit(text[2 * k + 2]);
    good = high >= 0 && low >= 0;
    out[k] = std::uint8_t(16 * high + low);
  }
  if (!good) t.fail(key, "must be red, green and blue as \"#rrggbb\", for example \"#ff8000\"");
  return out;
}

/// Where a zone is: a shape, or the part of the painted mesh that has a colour.
void read_zone_place(Table& z, const Job& job, ToleranceZone& zone) {
  const auto colour = z.text("colour");
  if (!colour) {
    zone.where = read_region(z);
    return;
  }
  if (!job.painted) z.fail("colour", "needs the painted mesh; add [cavity.paint] with file and unit");
  for (const char* key : {"polygon", "box", "path", "at", "radius"})
    if (z.has(key)) z.fail("colour", std::string("says where the zone is; take ") + key + " out");
  zone.paint = read_rgb(z, "colour", *colour);
}

std::vector<Vec3> read_polygon(Table& t, const std::string& key) {
  auto polygon = t.points(key);
  if (!t.has(key)) return {};
  // A closed outline may repeat its first corner at the end; one of the two says nothing.
  if (polygon.size() > 3 && (polygon.front() - polygon.back()).norm() == 0) polygon.pop_back();
  if (polygon.size() < 3) t.fail(key, "needs three corners or more");
  refuse_bow_tie(t, key, polygon);
  if (double_area(polygon) == 0) t.fail(key, "encloses no area; the corners lie on one line");
  return polygon;
}

std::string corner_text(const Vec3& c) {
  char text[64];
  std::snprintf(text, sizeof text, "(%g, %g mm)", c.x(), c.y());
  return text;
}

/// What is no cavity inside the seal line: an insert, a core, a land in the middle.
void read_islands(Table& t, SheetOptions& sheet) {
  std::vector<std::string> names;
  for (auto& i : t.tables("island")) {
    refuse_duplicate(i, i.text("name").value_or("island " + std::to_string(names.size() + 1)), names);
    auto polygon = read_polygon(i, "polygon");
    if (polygon.empty()) i.need("polygon", std::optional<double>(), "[\"0, 0 mm\", \"40, 0 mm\", \"40, 30 mm\"]");
    for (const Vec3& corner : polygon)
      if (!sheet.seal.empty() && !inside_polygon_xy(corner, sheet.seal))
        i.fail("polygon", "its corner " + corner_text(corner) + " lies outside of cavity.seal; an island lies inside");
    sheet.islands.push_back(std::move(polygon));
    i.done();
  }
}

/// What else stands on the halves and is no moulding face: a dowel, a clamp, a sticker.
void read_masks(Table& t, SheetOptions& sheet) {
  std::vector<std::string> names;
  for (auto& m : t.tables("mask")) {
    Mask mask;
    mask.name = m.text("name").value_or("mask " + std::to_string(names.size() + 1));
    refuse_duplicate(m, mask.name, names);
    mask.centre = m.need("at", m.point("at"), "\"210, 40, 0 mm\"");
    mask.radius = m.need_positive("radius", Dimension::length, "\"15 mm\"");
    sheet.masks.push_back(std::move(mask));
    m.done();
  }
}

}  // namespace

double read_file_unit(Table& t) {
  const std::string name = t.need("unit", t.text("unit"), "\"mm\"");
  const auto unit = length_unit(name);
  if (!unit) t.refuse_word("unit", name, length_units());
  return *unit;
}

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
  tol.nominal = t.need_positive("nominal", Dimension::length, "\"3 mm\"");
  if (!read_limits(t, tol.minus, tol.plus)) t.need("tolerance", std::optional<double>(), "\"0.3 mm\"");
  refuse_sizes(t, tol.nominal, tol.minus, tol.plus);
  if (tol.minus >= tol.nominal)
    t.fail(t.has("minus") ? "minus" : "tolerance", "must be smaller than nominal; no gap is left at the lower limit");
  job.gap.nominal = tol.nominal;

  job.sheet.edge = t.quantity("edge", Dimension::length, Sign::positive).value_or(job.sheet.edge);
  const auto floor = t.quantity("min_edge", Dimension::length, Sign::positive);
  // A sheet asked to be finer than the usual floor takes the floor with it.
  job.sheet.min_edge = floor.value_or(std::min(job.sheet.min_edge, job.sheet.edge));
  if (job.sheet.min_edge > job.sheet.edge) t.fail("min_edge", "must not be greater than edge");
  job.sheet.seal = read_polygon(t, "seal");
  read_islands(t, job.sheet);
  read_masks(t, job.sheet);
  job.gap.u_instrument =
      t.quantity("u_instrument", Dimension::length, Sign::not_negative).value_or(job.gap.u_instrument);
  job.gap.max_gap = t.quantity("max_gap", Dimension::length, Sign::positive).value_or(0);
  if (job.gap.max_gap > 0 && job.gap.max_gap <= tol.nominal + tol.plus)
    t.fail("max_gap", "must be greater than nominal with its upper tolerance");
  tol.allowed_nonconforming_fraction = t.quantity("allowed_nonconforming", Dimension::fraction).value_or(0);
  tol.min_area = t.quantity("least_area", Dimension::area, Sign::not_negative).value_or(tol.min_area);
  tol.unmeasured_fraction = t.quantity("unmeasured_share", Dimension::fraction).value_or(tol.unmeasured_fraction);
  tol.min_region_area =
      t.quantity("min_region_area", Dimension::area, Sign::not_negative).value_or(tol.min_region_area);

  read_files(t, job);
  std::vector<std::string> names;
  for (auto& z : t.tables("zone")) {
    ToleranceZone zone;
    zone.name = z.text("name").value_or("zone " + std::to_string(names.size() + 1));
    refuse_duplicate(z, zone.name, names);
    read_zone_place(z, job, zone);
    zone.nominal = z.quantity("nominal", Dimension::length, Sign::positive).value_or(tol.nominal);
    zone.minus = tol.minus, zone.plus = tol.plus;  // unless the zone has its own
    read_limits(z, zone.minus, zone.plus);
    refuse_sizes(z, zone.nominal, zone.minus, zone.plus);
    if (zone.minus >= zone.nominal) z.fail("the lower tolerance must be smaller than nominal");
    z.done();
    tol.zones.push_back(std::move(zone));
  }
  if (job.painted && std::none_of(tol.zones.begin(), tol.zones.end(), [](const auto& z) { return z.paint; }))
    t.fail("paint", "no zone has a colour of it; add [[cavity.zone]] with colour = \"#rrggbb\"");
  names.clear();
  job.remove_spot_shift = t.flag("remove_spot_shift").value_or(false);
  for (auto& s : t.tables("spot")) {
    SpotReading spot;
    spot.name = s.text("name").value_or("spot " + std::to_string(names.size() + 1));
    refuse_duplicate(s, spot.name, names);
    spot.at = s.need("at", s.point("at"), "\"10, 20, -30 mm\"");
    spot.thickness = s.need_positive("thickness", Dimension::length, "\"3.10 mm\"");
    spot.U = s.need_positive("U", Dimension::length, "\"0.05 mm\"");
    s.done();
    job.spots.push_back(std::move(spot));
  }
  if (auto readings = t.table("readings")) read_readings(*readings, job);
  t.done();
}

}  // namespace gapfront::job
