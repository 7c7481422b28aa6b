// Where and by how much the front leads.
#include <algorithm>
#include <cmath>

#include "core/neighbours.hpp"
#include "core/sheet_parts.hpp"
#include "core/statistics.hpp"
#include "flow/steepness.hpp"
#include "gapfront/error.hpp"
#include "gapfront/flow.hpp"

namespace gapfront::flow {
namespace {

// A lead below 3 % of the fill time is within what scatter of the glass does to a front; it makes no region.
constexpr double kRegionFraction = 0.03;
// Arrival is flat where fronts meet, and 1/|∇t| grows without bound there: the speed is held to this multiple of
// the median over the sheet.
constexpr double kMaxSpeed = 10;
// Fewer nodes than this are no region, only the roughness of the front on the mesh.
constexpr std::size_t kMinRegion = 3;

// Local front speed 1/|∇ arrival| per node, mm/s.
std::vector<double> front_speed(const Sheet& sheet, const std::vector<double>& arrival) {
  const std::vector<double> slope = steepness(sheet.mesh, arrival);
  std::vector<double> speed(sheet.size(), 0), moving;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (slope[i] > 0) speed[i] = 1 / slope[i], moving.push_back(speed[i]);
  const double bound = kMaxSpeed * median(std::move(moving));
  for (auto& v : speed) v = std::min(v, bound);
  return speed;
}

std::vector<LeadRegion> find_regions(const Sheet& sheet, const std::vector<double>& lead, double minimum) {
  std::vector<char> leads;
  for (const double seconds : lead) leads.push_back(seconds > minimum);
  std::vector<LeadRegion> out;
  for (auto& part : connected_parts(sheet, leads)) {
    if (part.size() < kMinRegion) continue;
    LeadRegion r;
    r.nodes = std::move(part);
    for (int i : r.nodes) {
      r.area += sheet.area[i];
      r.centre += sheet.area[i] * sheet.mesh.points[i];
      r.mean_s += sheet.area[i] * lead[i];
      if (lead[i] > r.peak_s) r.peak_s = lead[i], r.peak_node = i;
    }
    if (r.area > 0) r.centre /= r.area, r.mean_s /= r.area;
    out.push_back(std::move(r));
  }
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.peak_s > b.peak_s; });
  return out;
}

// The way of the resin: backwards from the peak, always to the neighbour from which the front came fastest.
void trace(const Sheet& sheet, const std::vector<std::vector<int>>& near, const std::vector<double>& arrival,
           const std::vector<double>& lead, LeadRegion& r) {
  for (int i = r.peak_node; i >= 0;) {
    r.path.push_back(i);
    double steepest = 0;
    int next = -1;
    for (int j : near[i]) {
      const double slope = (arrival[i] - arrival[j]) / (sheet.mesh.points[i] - sheet.mesh.points[j]).norm();
      if (slope > steepest) steepest = slope, next = j;
    }
    i = next;
  }
  std::reverse(r.path.begin(), r.path.end());
  double before = 0;
  for (int i : r.path) {
    r.gained.push_back(lead[i] - before);
    before = lead[i];
    if (r.source < 0 && lead[i] >= 0.5 * r.peak_s) r.source = i;
  }
}

}  // namespace

double lead_threshold(const Filling& nominal) { return kRegionFraction * nominal.fill_time; }

Lead compare_fillings(const Sheet& sheet, const Filling& nominal, const Filling& measured) {
  const std::size_t n = sheet.size();
  if (nominal.arrival.size() != n || measured.arrival.size() != n)
    throw Error(Fault::input, "lead: both fillings must be computed on this sheet");
  Lead lead;
  lead.fill_time = measured.fill_time;
  lead.seconds.resize(n), lead.mm.resize(n), lead.percent.resize(n);
  const auto speed = front_speed(sheet, nominal.arrival);
  double sum = 0, area = 0;
  for (std::size_t i = 0; i < n; ++i) {
    // A node that stays dry, or into whose air resin creeps after the end of the filling, is as late as that end.
    const auto till_end = [i](const Filling& f) {
      return f.fill_time > 0 ? std::min(f.arrival[i], f.fill_time) : std::isfinite(f.arrival[i]) ? f.arrival[i] : 0.0;
    };
    const double a = till_end(nominal), b = till_end(measured);
    const bool both_dry = !std::isfinite(nominal.arrival[i]) && !std::isfinite(measured.arrival[i]);
    lead.seconds[i] = both_dry ? 0 : a - b;
    lead.mm[i] = lead.seconds[i] * speed[i];
    lead.percent[i] = nominal.fill_time > 0 ? 100 * lead.seconds[i] / nominal.fill_time : 0;
    sum += sheet.area[i] * lead.seconds[i] * lead.seconds[i];
    area += sheet.area[i];
    if (lead.seconds[i] > lead.max_s) lead.max_s = lead.seconds[i], lead.max_node = static_cast<int>(i);
  }
  lead.rms_s = area > 0 ? std::sqrt(sum / area) : 0;
  const auto near = neighbours(sheet.mesh);
  lead.regions = find_regions(sheet, lead.seconds, lead_threshold(nominal));
  for (auto& r : lead.regions) {
    for (int i : r.nodes) r.peak_mm = std::max(r.peak_mm, lead.mm[i]);
    r.peak_percent = lead.percent[r.peak_node];
    trace(sheet, near, measured.arrival, lead.seconds, r);
  }
  return lead;
}

void name_feeds(const Sheet& sheet, const std::vector<Feed>& feeds, Lead& lead) {
  const auto near = neighbours(sheet.mesh);
  std::vector<double> most(lead.regions.size(), 0);
  for (const auto& feed : feeds) {
    std::vector<char> inside(sheet.size(), 0);
    for (int i : feed.nodes) {
      inside[i] = 1;
      for (int j : near[i]) inside[j] = 1;
    }
    for (std::size_t l = 0; l < most.size(); ++l) {
      auto& r = lead.regions[l];
      double gained = 0;
      for (std::size_t k = 0; k < r.path.size(); ++k)
        if (inside[r.path[k]]) gained += r.gained[k];
      if (gained > most[l]) most[l] = gained, r.fed_by = feed.name;
    }
  }
}

}  // namespace gapfront::flow
