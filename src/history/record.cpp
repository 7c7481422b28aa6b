// From an inspection to what the history keeps of it; dates; the table for spreadsheets.
#include <cmath>
#include <cstdio>

#include "gapfront/error.hpp"
#include "gapfront/history.hpp"

namespace gapfront {
namespace {

/// Standard uncertainty per coordinate of a ball's centre: σ √(3/n), from the normal matrix of n points spread over a
/// hemisphere, σ⁻² Σ n nᵀ = n/(3 σ²). Points that are given have their declared u, or that of the scan.
double u_of(double form, int points, const std::optional<double>& declared, double noise) {
  if (declared) return *declared;
  return points > 0 ? form * std::sqrt(3.0 / points) : noise;
}

/// A spreadsheet must not take a name for a formula.
std::string quoted(const std::string& s) {
  std::string out = !s.empty() && std::string("=+-@").find(s[0]) != std::string::npos ? "\"'" : "\"";
  for (const char c : s) out += c == '"' ? "\"\"" : std::string(1, c);
  return out + "\"";
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
  out.instrument = r.job.history.instrument;
  out.verdict = to_string(r.verdict.overall), out.version = r.version;
  out.job_sha256 = r.job_sha256, out.lower_sha256 = r.lower_sha256, out.upper_sha256 = r.upper_sha256;
  for (const auto& t : r.alignment.residuals) {
    std::optional<double> u;
    for (const auto& given : r.job.align.targets)
      if (given.name == t.name) u = given.u;
    out.datums.push_back({t.name, t.place, t.place + t.residual,
                          u_of(t.lower_form, t.lower_points, u, r.lower_clean.noise),
                          u_of(t.upper_form, t.upper_points, u, r.upper_clean.noise)});
  }
  out.gap = r.gap;
  out.arrival = r.filling.arrival;
  out.fill_time = r.filling.fill_time, out.last_to_vent = r.filling.last_to_vent;
  out.dry_area = dry_area(r.filling);
  return out;
}

std::string history_csv(const std::vector<Record>& records, const Sheet& sheet) {
  std::string out =
      "id,baseline,date,cycles,name,instrument,verdict,gap_mean_mm,gap_least_mm,gap_greatest_mm,U_mean_mm,"
      "measured_area_mm2,fill_time_s,dry_area_mm2,last_to_vent_mm,job_sha256,lower_sha256,upper_sha256\r\n";
  for (const Record& r : records) {
    double area = 0, mean = 0, u = 0, minimum = INFINITY, maximum = -INFINITY;
    for (std::size_t i = 0; i < std::min(r.gap.nodes.size(), sheet.size()); ++i)
      if (const NodeGap& n = r.gap.nodes[i]; n.measured) {
        area += sheet.area[i], mean += sheet.area[i] * n.gap, u += sheet.area[i] * n.U;
        minimum = std::min(minimum, n.gap), maximum = std::max(maximum, n.gap);
      }
    char numbers[240] = ",,,,";
    if (area > 0)
      std::snprintf(numbers, sizeof numbers, "%.4f,%.4f,%.4f,%.4f,%.0f", mean / area, minimum, maximum, u / area, area);
    char front[120];
    std::snprintf(front, sizeof front, ",%.2f,%.0f,%.1f,", r.fill_time, r.dry_area, r.last_to_vent);
    char cycles[40];
    std::snprintf(cycles, sizeof cycles, ",%.0f,", r.cycles);
    out += std::to_string(r.id) + "," + std::to_string(r.sheet) + "," + r.date + cycles + quoted(r.name) + "," +
           quoted(r.instrument) + "," + quoted(r.verdict) + "," + numbers + front + r.job_sha256 + "," +
           r.lower_sha256 + "," + r.upper_sha256 + "\r\n";
  }
  return out;
}

}  // namespace gapfront
