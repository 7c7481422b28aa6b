// The table for spreadsheets.
#include <cmath>
#include <cstdio>

#include "gapfront/history.hpp"

namespace gapfront::history {
namespace {

/// A spreadsheet must not take a name for a formula.
std::string quoted(const std::string& s) {
  std::string out = !s.empty() && std::string("=+-@").find(s[0]) != std::string::npos ? "\"'" : "\"";
  for (const char c : s) out += c == '"' ? "\"\"" : std::string(1, c);
  return out + "\"";
}

}  // namespace

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

}  // namespace gapfront::history
