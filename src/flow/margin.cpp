#include "flow/margin.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "core/neighbours.hpp"
#include "core/sheet_parts.hpp"
#include "flow/arrival.hpp"
#include "flow/thin_out.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

constexpr std::size_t kMaxRegions = 12;  // over-packed regions listed: a reader gives up sooner
constexpr int kHalvings = 40;            // more than any search here needs to meet its own tolerance

double rim_length(const Mesh& mesh) {
  double length = 0;
  for (const auto& [i, j] : rim_edges(mesh)) length += (mesh.points[i] - mesh.points[j]).norm();
  return length;
}

// Connected over-packed parts, by their load.
std::vector<PackedRegion> packed_regions(const Sheet& sheet, const LaminateMap& laminate,
                                         const std::vector<double>& area, double load) {
  std::vector<char> packed;
  for (const NodeLaminate& n : laminate.nodes) packed.push_back(n.over_packed);
  std::vector<PackedRegion> out;
  for (const auto& part : connected_parts(sheet, packed)) {
    PackedRegion r;
    for (const int i : part) {
      r.centre += sheet.area[i] * sheet.mesh.points[i];
      r.area += sheet.area[i];
      r.load += laminate.nodes[i].compaction * area[i];
    }
    if (r.area > 0) r.centre /= r.area;
    if (load > 0) r.fraction = r.load / load;
    out.push_back(r);
  }
  std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.load > b.load; });
  if (out.size() > kMaxRegions) out.resize(kMaxRegions);
  return out;
}

}  // namespace

double OpeningSample::safety() const { return opening > 0 ? closing / opening : flow::kNever; }

double flow::least_balance(const Opening& o) {
  double least = std::min(o.dry.safety(), o.force.safety());
  for (const OpeningSample& s : o.history) least = std::min(least, s.safety());
  return least;
}

Vec3 flow::opening_axis(const Sheet& sheet) {
  Vec3 sum = Vec3::Zero();
  for (std::size_t i = 0; i < sheet.size(); ++i) sum += sheet.area[i] * sheet.normals[i];
  return sum.norm() > 0 ? sum.normalized() : sum;
}

std::vector<double> flow::projected_areas(const Sheet& sheet) {
  const Vec3 axis = flow::opening_axis(sheet);
  std::vector<double> out(sheet.size());
  for (std::size_t i = 0; i < sheet.size(); ++i) out[i] = sheet.area[i] * sheet.normals[i].dot(axis);
  return out;
}

double flow::flange_force(const Sheet& sheet, const ClosingOptions& c) {
  if (!(c.perimeter_vacuum > 0)) return c.force;
  return c.force + c.perimeter_vacuum * c.perimeter_width * rim_length(sheet.mesh);
}

double flow::end_of_flow(const Filling& f, const FlowOptions& o) {
  return o.gel_time > 0 ? std::min(f.fill_time, o.gel_time) : f.fill_time;
}

flow::OpeningWatch::OpeningWatch(const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& o)
    : area_(flow::projected_areas(sheet)),
      mechanical_(o.closing.pressure),
      flange_(flow::flange_force(sheet, o.closing)),
      cavity_(o.cavity_pressure),
      gel_(o.gel_time > 0 ? o.gel_time : flow::kNever) {
  // The upper end of what is known of it (k = 2): the safe side, and never more than dry.
  wet_share_ = std::min(1.0, o.closing.wet_glass * (1 + 2 * o.closing.wet_glass_spread));
  for (const auto& n : laminate.nodes) compaction_.push_back(n.compaction);
  out_.minimum.assign(area_.size(), flow::kNever);
  out_.mean_pressure.assign(area_.size(), 0);
  out_.force.closing = flow::kNever;
  out_.place.minimum = flow::kNever;
  const std::vector<double> empty(area_.size(), cavity_);
  out_.dry = balance(0, empty);
  see(0, empty);
}

double flow::OpeningWatch::glass_push(std::size_t i, double pressure) const {
  return pressure > cavity_ ? wet_share_ * compaction_[i] : compaction_[i];
}

OpeningSample flow::OpeningWatch::balance(double time, const std::vector<double>& pressure) const {
  OpeningSample s{time, flange_, 0, flow::kNever, -1};
  for (std::size_t i = 0; i < area_.size(); ++i) {
    const double above = pressure[i] - atmosphere_pa;
    s.closing += (mechanical_ + std::max(0.0, -above)) * area_[i];
    s.opening += (glass_push(i, pressure[i]) + std::max(0.0, above)) * area_[i];
    if (const double m = mechanical_ - above - glass_push(i, pressure[i]); m < s.minimum)
      s.minimum = m, s.node = static_cast<int>(i);
  }
  return s;
}

void flow::OpeningWatch::see(double time, const std::vector<double>& pressure) {
  if (last_time_ > gel_) return;  // a gelled part presses no more
  const OpeningSample s = balance(time, pressure);
  // The mean counts by the area that the front takes: what a shape does to the front it does while that runs, not while
  // shut-in air creeps to its end.
  double wet = 0;
  for (std::size_t i = 0; i < area_.size(); ++i)
    if (pressure[i] > cavity_) wet += std::abs(area_[i]);
  const double won = std::max(0.0, wet - wet_);
  wet_ = std::max(wet_, wet);
  for (std::size_t i = 0; i < area_.size(); ++i) {
    out_.mean_pressure[i] += won * pressure[i];
    out_.minimum[i] = std::min(out_.minimum[i], mechanical_ + atmosphere_pa - pressure[i] - glass_push(i, pressure[i]));
  }
  if (s.margin() < out_.force.margin()) out_.force = s, out_.worst_pressure = pressure;
  if (s.minimum < out_.place.minimum) out_.place = s;
  out_.history.push_back(s);
  last_ = pressure, last_time_ = time;
}

Opening flow::OpeningWatch::finish(double time, double inlet) {
  const double end = std::max(time, last_time_);
  for (std::size_t i = 0; i < area_.size(); ++i)
    out_.mean_pressure[i] = wet_ > 0 ? out_.mean_pressure[i] / wet_ : last_[i];
  // The fill has ended where nobody waits for more: what comes after that is `held`'s matter. Its last step counts.
  const double full = time > 0 ? time : end;
  const auto last =
      std::find_if(out_.history.begin(), out_.history.end(), [&](const auto& s) { return s.time >= full; });
  if (last != out_.history.end()) out_.history.erase(last + 1, out_.history.end());
  for (OpeningSample& s : out_.history) s.time = std::min(s.time, full);
  out_.force = out_.place = out_.history.front();
  for (const OpeningSample& s : out_.history) {
    if (s.margin() < out_.force.margin()) out_.force = s;
    if (s.minimum < out_.place.minimum) out_.place = s;
  }
  out_.held = balance(full, std::vector<double>(area_.size(), inlet));
  thin_out(out_.history);
  return std::move(out_);
}

double flow::OpeningWatch::allowed(const std::vector<double>& pressure, double safety, bool everywhere) const {
  double most = 4;  // times the pressure: any limit of the inlet is met before
  if (everywhere)
    for (std::size_t i = 0; i < area_.size(); ++i) {
      // mechanical + (atmosphere − p)⁺ = safety·(compaction + (p − atmosphere)⁺), solved for p − atmosphere.
      const double spare = mechanical_ - safety * glass_push(i, pressure[i]);
      const double above = spare < 0 ? spare : spare / safety;
      const double room = atmosphere_pa - cavity_ + above;
      // Where the glass alone lifts the half no rate helps; there the map of the margin speaks.
      if (room > 0 && pressure[i] > cavity_) most = std::min(most, room / (pressure[i] - cavity_));
    }
  std::vector<double> p(pressure.size());
  const auto spare = [&](double fraction) {
    for (std::size_t i = 0; i < p.size(); ++i) p[i] = cavity_ + fraction * (pressure[i] - cavity_);
    const auto s = balance(0, p);
    return s.closing - safety * s.opening;
  };
  double low = 0, high = most, at_low = spare(low), at_high = spare(high);
  if (!(at_low >= 0)) return 0;
  if (at_high >= 0) return most;
  // False position, Illinois: the balance is made of a few straight pieces. To a thousandth, the safe side kept.
  for (int k = 0; k < kHalvings && high - low > 1e-3 * high; ++k) {
    const double mid = low + (high - low) * std::clamp(at_low / (at_low - at_high), 0.05, 0.95), at = spare(mid);
    if (at >= 0)
      low = mid, at_low = at, at_high *= 0.5;
    else
      high = mid, at_high = at, at_low *= 0.5;
  }
  return low;
}

double flow::clamping_over_face(const Sheet& sheet, const FlowOptions& flow) {
  const auto area = flow::projected_areas(sheet);
  return flow::flange_force(sheet, flow.closing) / std::accumulate(area.begin(), area.end(), 0.0) +
         flow.closing.pressure + std::max(0.0, atmosphere_pa - flow.cavity_pressure);
}

Closing flow::close_mold(const Sheet& sheet, const std::vector<double>& gap, const LaminateOptions& laminate,
                         const FlowOptions& flow) {
  const auto area = flow::projected_areas(sheet);
  const auto glass_load = [&](const LaminateMap& map) {
    double load = 0;
    for (std::size_t i = 0; i < area.size(); ++i) load += map.nodes[i].compaction * area[i];
    return load;
  };
  const auto map = laminate::evaluate_laminate(sheet, gap, laminate);
  Closing c;
  c.area = std::accumulate(area.begin(), area.end(), 0.0);
  c.closing = c.area * flow::clamping_over_face(sheet, flow);
  c.reinforcement = glass_load(map);
  c.regions = packed_regions(sheet, map, area, c.reinforcement);
  if (c.closes()) return c;
  // A rigid half rises along the axis until the glass carries no more than the clamping; a wall opens less by its
  // slope.
  const Vec3 axis = flow::opening_axis(sheet);
  double low = 0, high = 0;
  for (const auto& n : map.nodes) high = std::max(high, n.loft);
  auto raised = gap;
  for (int k = 0; k < kHalvings && high - low > 1e-4; ++k) {
    const double mid = 0.5 * (low + high);
    for (std::size_t i = 0; i < gap.size(); ++i) raised[i] = gap[i] + mid * sheet.normals[i].dot(axis);
    (glass_load(laminate::evaluate_laminate(sheet, raised, laminate)) > c.closing ? low : high) = mid;
  }
  c.stands_open = high;
  return c;
}

}  // namespace gapfront
