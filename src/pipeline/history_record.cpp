// From an inspection to what the history keeps of it.
#include <cmath>
#include <sstream>

#include "core/sha256.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"

namespace gapfront::pipeline {
namespace {

/// Standard uncertainty per coordinate of a ball's centre: σ √(3/n), from the normal matrix of n points spread over a
/// hemisphere, σ⁻² Σ n nᵀ = n/(3 σ²); what neighbouring points share is in the registration's own u of it, which counts
/// where it is more. Points that are given have their declared u, or that of the scan.
double u_of(double form, int points, const std::optional<double>& declared, double noise) {
  if (declared) return *declared;
  return points > 0 ? form * std::sqrt(3.0 / points) : noise;
}

/// Numbers and zones by hash. Of a nominal that varies from node to node only that it does: its values stand on scans.
Limits limits_of(const ToleranceOptions& o) {
  std::ostringstream all;
  all.precision(9);
  all << o.nominal << ' ' << o.minus << ' ' << o.plus << ' ' << o.nominal_field.empty();
  for (const ToleranceZone& z : o.zones) {
    all << '|' << z.name << ' ' << z.nominal << ' ' << z.minus << ' ' << z.plus << ' ' << z.where.radius;
    for (const auto* list : {&z.where.polygon, &z.where.box, &z.where.path}) {
      all << ';';
      for (const Vec3& p : *list) all << p.transpose() << ',';
    }
  }
  return {o.nominal, o.minus, o.plus, sha256(all.str())};
}

}  // namespace

std::filesystem::path history_file(const Job& job) {
  if (!day_number(job.date))
    throw Error(Fault::input,
                job.file.string() + ": [job] date: a history needs the day of the scans; add date = \"2026-05-20\"");
  if (!job.history.file.empty()) return job.history.file;
  if (job.tool.empty())
    throw Error(Fault::input, job.file.string() + ": [job] tool: a history needs the tool's name; add tool = \"HC-7\"");
  return job.file.parent_path() / (job.tool + ".history");
}

Job in_frame_of(Job job, const Record& baseline) {
  job.align.test_tool_places = false;
  for (Target& t : job.align.targets)
    for (const DatumPlace& d : baseline.datums)
      if (t.name == d.name) t.tool = d.lower;
  return job;
}

Record record_of(const Inspection& r) {
  history_file(r.job);
  Record out;
  out.date = r.job.date, out.cycles = r.job.cycles, out.name = r.job.name, out.note = r.job.note;
  // Errors of readings are others on each date: nothing of the instrument's drops out of the change then.
  const bool by_readings = r.job.readings_use != ReadingsUse::compare || r.spot_shift.removed;
  out.instrument = by_readings ? "" : r.job.history.instrument, out.limits = limits_of(r.job.tolerance);
  out.verdict = to_string(r.verdict.overall), out.version = r.version;
  out.job_sha256 = r.job_sha256, out.lower_sha256 = r.lower_sha256, out.upper_sha256 = r.upper_sha256;
  for (const auto& t : r.alignment.residuals) {
    std::optional<double> u;
    for (const auto& given : r.job.align.targets)
      if (given.name == t.name) u = given.u;
    out.datums.push_back({t.name, t.place, t.place + t.residual,
                          std::max(t.lower_u, u_of(t.lower_form, t.lower_points, u, r.lower_clean.noise)),
                          std::max(t.upper_u, u_of(t.upper_form, t.upper_points, u, r.upper_clean.noise))});
  }
  out.gap = r.gap;
  // A history keeps no shapes. Warp and steps are others at each scan, also by the same instrument: they are kept with
  // the temperature, which never drops out of a change.
  for (std::size_t i = 0; i < out.gap.nodes.size() && r.gap.shapes.cols() > 0; ++i) {
    NodeGap& n = out.gap.nodes[i];
    n.u_temperature = std::hypot(n.u_temperature, r.gap.shapes.row(Eigen::Index(i)).norm());
    n.u_instrument = r.gap.common_instrument(i);
  }
  out.gap.shapes.resize(0, 0);
  out.arrival = r.filling.arrival;
  out.fill_time = r.filling.fill_time, out.last_to_vent = r.filling.last_to_vent;
  out.dry_area = flow::dry_area(r.filling);
  return out;
}

}  // namespace gapfront::pipeline
