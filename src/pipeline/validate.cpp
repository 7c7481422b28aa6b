#include "pipeline/validate.hpp"

#include <algorithm>
#include <limits>
#include <set>
#include <sstream>

#include "gapfront/check.hpp"
#include "gapfront/error.hpp"
#include "gapfront/geometry.hpp"
#include "gapfront/pipeline.hpp"
#include "pipeline/by_readings.hpp"
#include "pipeline/checks.hpp"
#include "pipeline/places.hpp"
#include "units/words.hpp"

namespace gapfront::pipeline {
namespace {

/// As the stages name what they return, so that a name means one thing in report and work order.
template <class Named>
void refuse_same_names(const std::vector<Named>& all, const std::string& file, const char* what) {
  std::set<std::string> names;
  for (const auto& one : all)
    if (!one.name.empty() && !names.insert(one.name).second)
      throw Error(Fault::input, file + ": " + what + " \"" + one.name + "\" is given twice; give each its own name");
}

void check_names(const Job& job) {
  const std::string file = job.file.string();
  refuse_same_names(job.tolerance.zones, file, "[[cavity.zone]]");
  refuse_same_names(job.spots, file, "[[cavity.spot]]");
  refuse_same_names(job.laminate.zones, file, "[[laminate.zone]]");
  refuse_same_names(job.flow.inlets, file, "[[flow.inlet]]");
  refuse_same_names(job.flow.vents, file, "[[flow.vent]]");
  refuse_same_names(job.correct.stations, file, "[[correct.station]]");
}

// Nearer than this two stations are one: a shim pack is some 30 mm wide.
constexpr double kStationsApart = 10;

/// A station is a place of its own on the flange, outside the seal line.
void check_stations(const Job& job, bool own_sheet) {
  const auto& stations = job.correct.stations;
  for (std::size_t i = 0; i < stations.size(); ++i) {
    const std::string who = job.file.string() + ": [[correct.station]] \"" + stations[i].name + "\" ";
    const auto on = [&](const std::vector<Vec3>& island) { return inside_polygon_xy(stations[i].at, island); };
    const bool on_island = std::any_of(job.sheet.islands.begin(), job.sheet.islands.end(), on);
    if (own_sheet && job.sheet.seal.size() >= 3 && inside_polygon_xy(stations[i].at, job.sheet.seal) && !on_island)
      throw Error(Fault::input,
                  who + "lies inside the seal line, where no shim can be set; correct its place (at) or [cavity] seal");
    for (std::size_t k = 0; k < i; ++k)
      if ((stations[i].at - stations[k].at).norm() < kStationsApart)
        throw Error(Fault::input, who + "lies where \"" + stations[k].name + "\" lies; correct the place of one (at)");
  }
}

/// Points along a path, no farther apart than `step`.
std::vector<Vec3> points_along(const std::vector<Vec3>& path, double step) {
  std::vector<Vec3> out = path;
  for (std::size_t i = 0; i + 1 < path.size(); ++i) {
    const int n = static_cast<int>(std::min(1e4, std::ceil((path[i + 1] - path[i]).norm() / step)));
    for (int k = 1; k < n; ++k) out.push_back(path[i] + double(k) / n * (path[i + 1] - path[i]));
  }
  return out;
}

/// Mouths that overlap would lead resin straight from one into the other.
void check_mouths(const Job& job) {
  for (const auto& i : job.flow.inlets)
    for (const auto& v : job.flow.vents) {
      double apart = std::numeric_limits<double>::infinity();
      if (!v.path.empty())
        for (const Vec3& p : points_along(i.path, std::max(0.1, i.radius)))
          apart = std::min(apart, distance_to_path(p, v.path));
      if (apart < i.radius + v.radius)
        throw Error(Fault::input, job.file.string() + ": the mouth of [[flow.vent]] \"" + v.name +
                                      "\" overlaps that of [[flow.inlet]] \"" + i.name +
                                      "\"; correct a place or a radius");
    }
}

/// A line along which a slip of the pen turns back or crosses itself encloses something else than the cavity.
void check_seal_shape(const Job& job) {
  std::vector<Eigen::Vector2d> line;  // a corner that is written twice is one
  for (const Vec3& p : job.sheet.seal)
    if (line.empty() || p.head<2>() != line.back()) line.push_back(p.head<2>());
  if (line.size() > 1 && line.front() == line.back()) line.pop_back();
  const std::size_t n = line.size();
  if (n < 3) return;
  const auto at = [&](std::size_t i) -> const Eigen::Vector2d& { return line[i % n]; };
  const auto corner = [&](std::size_t i) { return spoken_place(Vec3(at(i).x(), at(i).y(), 0), job.units, 2); };
  const auto cross = [](const Eigen::Vector2d& a, const Eigen::Vector2d& b) { return a.x() * b.y() - a.y() * b.x(); };
  const std::string file = job.file.string() + ": [cavity] seal ";
  for (std::size_t i = 0; i < n; ++i) {
    const Eigen::Vector2d in = at(i + 1) - at(i), on = at(i + 2) - at(i + 1);
    // By more than 166°, and the shorter leg lies within an edge of the other: a sharp tip of a part opens wider.
    const double apart = std::abs(cross(in, on)) / std::max(in.norm(), on.norm());
    if (in.dot(on) < -0.97 * in.norm() * on.norm() && apart < job.sheet.edge)
      throw Error(Fault::input, file + "turns back on itself at its corner " + corner(i + 1) + "; correct that corner");
  }
  const auto apart = [&](const Eigen::Vector2d& a, const Eigen::Vector2d& b, const Eigen::Vector2d& c,
                         const Eigen::Vector2d& d) { return cross(b - a, c - a) * cross(b - a, d - a) < 0; };
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t k = i + 2; k < n; ++k)
      if ((k + 1) % n != i && apart(at(i), at(i + 1), at(k), at(k + 1)) && apart(at(k), at(k + 1), at(i), at(i + 1)))
        throw Error(Fault::input, file + "crosses itself after its corners " + corner(i) + " and " + corner(k) +
                                      "; give the corners in their order round the cavity");
}

/// The first line of a section of the job file that names a file; 0: it is not found.
int line_naming(const std::string& text, const std::string& section, const std::string& name) {
  std::istringstream in(text);
  bool within = false;
  int number = 0;
  for (std::string line; std::getline(in, line);) {
    ++number;
    const std::size_t begin = std::min(line.find_first_not_of(" \t"), line.size());
    if (line[begin] == '#') continue;
    if (line[begin] == '[') {
      const std::string header = line.substr(std::min(line.find_first_not_of(" \t[", begin), line.size()));
      within = header.starts_with(section + "]") || header.starts_with(section + ".");
    } else if (within && line.find(name) != std::string::npos) {
      return number;
    }
  }
  return 0;
}

/// A fault of a file that the job names is told with the place where it is named.
template <class Check>
void where_named(const Job& job, const std::string& section, const std::filesystem::path& file, Check check) {
  try {
    check(file);
  } catch (const Error& e) {
    if (job.text.empty()) throw;
    const int line = line_naming(job.text, section, file.filename().string());
    const std::string what =
        job.file.string() + (line ? ":" + std::to_string(line) : "") + ": [" + section + "] " + e.what();
    throw Error(e.fault, what);
  }
}

/// In the order in which they would be missed.
void check_files(const Job& job) {
  for (const HalfInput* half : {&job.lower, &job.upper}) {
    const std::string name = half == &job.upper ? "upper" : "lower";
    where_named(job, name, half->file,
                half == &job.upper && by_readings_alone(job) ? check_input_file : check_scan_file);
    for (const PatchInput& p : half->more) {
      where_named(job, name, p.file, check_scan_file);
      if (!p.pose.empty()) where_named(job, name, p.pose, check_input_file);
    }
    // Without directions a tip is taken off against the other half, which patches of one half are not.
    if (!half->more.empty() && half->read.tip_radius > 0)
      throw Error(Fault::input, half->file.string() +
                                    ": several files of one half cannot be joined by tip centres; give one file, or "
                                    "leave tip_radius out");
  }
  std::error_code unknown;
  if (std::filesystem::equivalent(job.lower.file, job.upper.file, unknown))
    throw Error(Fault::input, "the same scan is given for both halves (" + job.lower.file.string() + " and " +
                                  job.upper.file.string() + "); name the scan of each half in [lower] and [upper]");
  for (const auto& file : {job.nominal_lower, job.nominal_upper})
    if (!file.empty()) where_named(job, "align", file, check_input_file);
  for (const auto& file : {job.sheet_mesh, job.painted, job.thickness, job.surface_lower, job.surface_upper})
    if (file) where_named(job, "cavity", file->file, check_input_file);
  if (!job.photo.empty()) where_named(job, "job", job.photo, job::read_photo);
}

/// Settings of two sections that need each other; within a section its own stage knows.
void check_together(const Job& job) {
  const std::string file = job.file.string();
  const auto& methods = job.align.methods;
  const bool nominal = std::count(methods.begin(), methods.end(), AlignMethod::nominal) > 0;
  const bool surfaces = (job.align.nominal_lower || !job.nominal_lower.empty()) &&
                        (job.align.nominal_upper || !job.nominal_upper.empty());
  if (nominal && !surfaces)
    throw Error(
        Fault::input,
        file + ": [align] method \"nominal\" needs both nominal surfaces; give nominal_lower and nominal_upper");
  if (job.surface_lower.has_value() != job.surface_upper.has_value())
    throw Error(Fault::input, file + ": [cavity.surfaces] needs both nominal surfaces; give lower and upper");
  if (job.thickness && job.surface_lower)
    throw Error(Fault::input,
                file + ": the nominal thickness comes from thickness or from surfaces; take one of them out");
  for (const auto& z : job.tolerance.zones)
    if (z.paint && !job.painted)
      throw Error(Fault::input,
                  file + ": [[cavity.zone]] \"" + z.name +
                      "\" is painted, but no painted mesh is given; add [cavity.paint] with file and unit");
  if (std::find(languages.begin(), languages.end(), job.language) == languages.end()) {
    std::string known;
    for (const char* code : languages) known += (known.empty() ? "" : ", ") + std::string(code);
    throw Error(Fault::input, file + ": [report] language \"" + job.language + "\" is unknown; give one of " + known);
  }
  // The lower half alone has nothing to be closed on.
  if (by_readings_alone(job) && methods != std::vector{AlignMethod::given})
    throw Error(Fault::input, file +
                                  ": [cavity.readings] use = \"alone\" needs the lower scan in the tool frame; give "
                                  "[align] method = \"given\"");
  if (job.readings_use != ReadingsUse::compare && job.spots.empty())
    throw Error(Fault::input, file + ": [cavity.readings] has no readings; name their file, or add [[cavity.spot]]");
  if (job.laminate.plies.empty()) throw Error(Fault::input, file + ": [laminate] no glass; give at least one ply");
}

}  // namespace

void check_settings(const Job& job, bool own_sheet) {
  check_options(job.align);
  check_options(job.sheet);
  check_options(job.tolerance);
  check_options(job.gap);
  check_options(job.laminate);
  check_options(job.flow);
  if (job.correct.patch.count > 0 && job.correct.patch.reinforcement.areal_weight > 0) check_ply(job.correct.patch);
  check_together(job);
  check_names(job);
  check_stations(job, own_sheet);
  check_seal_shape(job);
  check_mouths(job);
  if (own_sheet && job.sheet.seal.size() >= 3) check_ports(job.sheet.seal, job.sheet, job.file.string(), job.flow);
  check_files(job);
}

void validate(const Job& job) {
  // A job with a history is measured on its baseline's sheet, which the job's own line does not bound.
  check_settings(job, job.history.file.empty());
  if (!job.output.empty()) check_report_place(job.output);
  if (!job.history.file.empty()) check_history_place(job.history.file);
}

}  // namespace gapfront::pipeline
