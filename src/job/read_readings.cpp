// Readings of the thickness from a file: they join those that the job lists itself.
#include <algorithm>
#include <map>

#include "gapfront/scan.hpp"
#include "job/sections.hpp"

namespace gapfront::job {
namespace {

std::map<std::string, Vec3> named_places(Table& t) {
  std::map<std::string, Vec3> out;
  for (auto& p : t.tables("place")) {
    const std::string name = p.need("name", p.text("name"), "\"A1\"");
    if (!out.emplace(name, p.need("at", p.point("at"), "\"10, 20, -30 mm\"")).second)
      p.fail("name", "is given to two places; give each its own");
    p.done();
  }
  return out;
}

}  // namespace

void read_readings(Table t, Job& job) {
  const std::string use = t.word("use", {"compare", "update", "alone"}, "compare");
  job.readings_use = use == "alone" ? ReadingsUse::alone : use == "update" ? ReadingsUse::update : ReadingsUse::compare;
  const auto file = t.text("file"), unit = t.text("unit");
  std::filesystem::path path;
  double mm = job.upper.read.unit.value_or(1);
  if (job.readings_use == ReadingsUse::alone) {
    if (file || unit) t.fail(file ? "file" : "unit", "stands in [upper] where readings take the scan's place; move it");
    path = job.upper.file;
  } else if (file) {
    path = job.readings_file = (job.file.parent_path() / *file).lexically_normal();
    mm = read_file_unit(t);
  }
  const auto U = t.quantity("U", Dimension::length, Sign::positive);
  const double shrinkage = t.quantity("shrinkage", Dimension::fraction).value_or(0);
  // Resins shrink by some per cent across the part; half of it would be no part any more.
  if (!(shrinkage >= 0 && shrinkage < 0.5)) t.fail("shrinkage", "must be less than 50 %");
  const auto places = named_places(t);
  t.done();
  if (path.empty()) return;
  for (const ReadingRow& row : scan::read_readings(path, mm)) {
    SpotReading r;
    const std::string where = path.filename().string() + ":" + std::to_string(row.line);
    r.name = row.place.empty() ? where : row.place;
    if (std::any_of(job.spots.begin(), job.spots.end(), [&](const SpotReading& s) { return s.name == r.name; }))
      r.name += " (" + where + ")";
    const auto place = places.find(row.place);
    if (!row.at && place == places.end())
      t.fail("place",
             "\"" + row.place + "\" of " + where + " is not given; add [[cavity.readings.place]] with its name");
    r.at = row.at ? *row.at : place->second;
    if (!row.U && !U) t.fail("U", "is missing for " + where + "; give it there or for all, U = \"0.05 mm\"");
    // What is read is the part, which filled the gap before it shrank.
    r.thickness = row.thickness / (1 - shrinkage), r.U = row.U.value_or(U.value_or(0)) / (1 - shrinkage);
    job.spots.push_back(std::move(r));
  }
}

}  // namespace gapfront::job
