// The fillings that a log is held against: the tool as it is, and with what may have been the matter.
#include <algorithm>
#include <cmath>
#include <functional>

#include "core/parallel.hpp"
#include "core/places.hpp"
#include "diagnose/shot.hpp"
#include "gapfront/draws.hpp"
#include "gapfront/ensemble.hpp"

namespace gapfront::diagnosis {
namespace {

constexpr double kNotReached = std::numeric_limits<double>::infinity();
// The fillings follow the log's rate: their pump's limit stands so far above all that was logged.
constexpr double kAboveLog = 4;
// Amounts that are filled; between them what they predict is interpolated.
const std::vector<double> kMoreGlass{1, 1.12, 1.25, 1.4}, kLessGlass{1, 0.9, 0.82, 0.74, 0.66};
const std::vector<double> kWider{0, 0.04, 0.08, 0.13, 0.19, 0.27};  // of the mean gap
const std::vector<double> kLane{1, 3, 8, 20, 50, 125};              // times the conductance of the rim's strip
const std::vector<double> kPermeability{0.6, 1, 1.65};              // factors, for the joint fit
constexpr std::size_t kMaxVents = 6;                                // that are tried blocked

/// Volume injected when a filling has come so far, between its samples in proportion.
double reached_by(const Filling& f, double time, const Course& c) {
  const auto& h = f.history;
  const std::size_t n = std::min(h.size(), c.volume.size());
  for (std::size_t k = 0; k < n; ++k)
    if (h[k].time >= time) {
      if (k == 0) return c.volume[0];
      const double part = (time - h[k - 1].time) / (h[k].time - h[k - 1].time);
      return c.volume[k - 1] + part * (c.volume[k] - c.volume[k - 1]);
    }
  // After the middle of the last step.
  return n ? std::min(std::max(f.injected, c.volume[n - 1]), c.volume[n - 1] + (time - h[n - 1].time) * h[n - 1].rate)
           : kNotReached;
}

/// What cavity and runners take, mm³.
double cavity_of(const Sheet& sheet, const LaminateMap& state, const Filling& f, const FlowOptions& o) {
  double total = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) total += sheet.area[i] * state.nodes[i].fluid_thickness;
  const auto runner = [](const Inlet& i) { return i.has_section(); };
  if (std::none_of(o.inlets.begin(), o.inlets.end(), runner) || f.history.size() < 2) return total;
  // A runner holds resin too: what came while so much of the whole was filled.
  double came = 0;
  for (std::size_t k = 1; k < f.history.size(); ++k) {
    const FlowSample &a = f.history[k - 1], &b = f.history[k];
    if (b.filled > a.filled) came += 0.5 * (a.rate + b.rate) * (b.time - a.time);
  }
  return came / std::max(f.history.back().filled - f.history.front().filled, 1e-9);
}

/// `total`: what the cavity takes, mm³.
Course course_of(const Filling& f, const FlowOptions& o, double total) {
  Course out;
  // Until a vent lets resin through, what is filled says what was injected; then the rate does.
  double bled_from = kNotReached, all = 0, integral = 0, rate = 0, time = 0;
  for (std::size_t v = 0; v < o.vents.size(); ++v)
    if (o.vents[v].bleed > 0) bled_from = std::min(bled_from, f.vent_closed_at[v] - o.vents[v].bleed);
  const auto& h = f.history;
  for (const FlowSample& s : h) {
    const double before = all;
    all = s.time < bled_from ? s.filled * total : all + 0.5 * (s.rate + rate) * (s.time - time);
    rate = s.rate, time = s.time;
    const double slope = (s.inlet_pressure + atmosphere_pa - o.cavity_pressure) / (o.viscosity * s.rate);
    if (!(all > before)) continue;
    // By the trapezium; up to the first of them it rises from nothing.
    integral += (all - before) * (out.volume.empty() ? 0.5 * slope : 0.5 * (slope + out.slope.back()));
    out.volume.push_back(all), out.integral.push_back(integral), out.slope.push_back(slope);
  }
  out.full = std::max(f.injected, all);
  for (std::size_t v = 0; v < o.vents.size(); ++v) {
    const double at = f.vent_closed_at[v] - o.vents[v].bleed;
    double injected = kNotReached;
    if (std::isfinite(at) && o.vents[v].blocked_from > at) injected = reached_by(f, at, out);
    out.vents.push_back(injected);
  }
  return out;
}

/// Nodes of the rim, all or on one side of the line from inlet to vent.
std::vector<int> strip_of(const Sheet& sheet, const FlowOptions& o, int side, Vec3& centre) {
  const Vec3 from = mean_place(o.inlets.front().path), to = mean_place(o.vents.front().path);
  Vec3 normal = Vec3::Zero();
  for (std::size_t i = 0; i < sheet.size(); ++i) normal += sheet.area[i] * sheet.normals[i];
  const Vec3 across = normal.cross(to - from);
  std::vector<int> out;
  centre.setZero();
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    if (!sheet.rim[i]) continue;
    if (side && side * across.dot(sheet.mesh.points[i] - 0.5 * (from + to)) <= 0) continue;
    out.push_back(static_cast<int>(i)), centre += sheet.mesh.points[i];
  }
  centre /= double(std::max<std::size_t>(1, out.size()));
  return out;
}

LaminateOptions with_glass(LaminateOptions o, double factor) {
  for (Ply& p : o.plies) p.count *= factor;
  for (LaminateZone& z : o.zones)
    for (Ply& p : z.plies) p.count *= factor;
  return o;
}

/// What is to be filled, and for which amount of which family.
class FamilyRuns {
 public:
  FamilyRuns(const ShotCase& c, const FlowOptions& job) : c_(c), job_(job) {}
  using State = std::function<LaminateMap(double)>;

  LaminateMap as_is() const { return laminate::evaluate_laminate(c_.sheet, c_.gap, c_.laminate); }
  Family& add(ShotCause cause, double scale, std::vector<double> amounts = {0}, const State& state = {}) {
    Family f;
    f.cause = cause, f.scale = scale, f.amount = std::move(amounts);
    f.courses.resize(f.amount.size());
    families.push_back(f);
    for (std::size_t k = 1; k < f.amount.size(); ++k)
      later(static_cast<int>(families.size()) - 1, k,
            [this, state, amount = f.amount[k]] { return filled(state(amount), c_.flow); });
    return families.back();
  }
  void add_glass_and_gap();
  void add_rim();
  void add_vents();
  void run(Family& permeability);
  int size() const { return static_cast<int>(runs_.size()); }

  std::vector<Family> families;

 private:
  Course filled(const LaminateMap& state, const FlowOptions& o) const {
    const Filling f = flow::fill_watched(c_.sheet, state, o, [](double, double, const std::vector<double>&) {});
    return course_of(f, o, cavity_of(c_.sheet, state, f, o));
  }
  /// Injected when the air that is shut in keeps the resin from going on, under the log's last pressure if that stood.
  double rest_of(FlowOptions o) const {
    if (!(c_.last_pressure + atmosphere_pa > o.cavity_pressure)) return kNotReached;
    o.schedule.clear(), o.pressure_limit = c_.last_pressure;
    const LaminateMap state = as_is();
    const Filling f = flow::fill_watched(c_.sheet, state, o, [](double, double, const std::vector<double>&) {});
    return f.injected;
  }
  void later(int family, std::size_t amount, std::function<Course()> f) {
    runs_.push_back(std::move(f)), places_.emplace_back(family, amount);
  }

  const ShotCase& c_;
  const FlowOptions& job_;
  std::vector<std::function<Course()>> runs_;
  std::vector<std::pair<int, std::size_t>> places_;  // family, −1: permeability; amount
};

void FamilyRuns::add_glass_and_gap() {
  const State glass = [this](double factor) {
    return laminate::evaluate_laminate(c_.sheet, c_.gap, with_glass(c_.laminate, factor));
  };
  add(ShotCause::more_glass, 0.15, kMoreGlass, glass);
  add(ShotCause::less_glass, 0.15, kLessGlass, glass);
  double mean = 0, area = 0;
  for (std::size_t i = 0; i < c_.gap.size(); ++i) mean += c_.sheet.area[i] * c_.gap[i], area += c_.sheet.area[i];
  mean /= area;
  std::vector<double> wider = kWider;
  for (double& w : wider) w *= mean;
  add(ShotCause::wide_gap, 0.1 * mean, wider, [this](double by) {
    auto gap = c_.gap;
    for (double& g : gap) g += by;
    return laminate::evaluate_laminate(c_.sheet, gap, c_.laminate);
  });
}

void FamilyRuns::add_rim() {
  if (job_.inlets.empty() || job_.vents.empty()) return;  // what the filling refuses has no sides
  if (std::any_of(job_.inlets.begin(), job_.inlets.end(), [](const Inlet& i) { return i.perimeter; })) return;
  for (const int side : {0, 1, -1}) {
    Vec3 at;
    const auto strip = strip_of(c_.sheet, job_, side, at);
    Family& f = add(ShotCause::race_track, 2, kLane, [this, strip](double factor) {
      LaminateMap state = as_is();
      for (const int i : strip) state.nodes[i].conductance *= factor, state.nodes[i].conductance2 *= factor;
      return state;
    });
    f.subject = side == 0 ? "whole" : side > 0 ? "side 1" : "side 2";
    f.at = at, f.prior = 1.0 / 3;
  }
}

void FamilyRuns::add_vents() {
  const std::size_t vents = std::min(kMaxVents, job_.vents.size());
  for (std::size_t v = 0; v < vents; ++v) {
    Family& f = add(ShotCause::clogged_vent, 0, {1});
    f.subject = job_.vents[v].name, f.fixed = true, f.prior = 1.0 / double(vents);
    if (!job_.vents[v].path.empty()) f.at = job_.vents[v].path.front();
    FlowOptions blocked = c_.flow;
    blocked.vents[v].blocked_from = 0;
    later(static_cast<int>(families.size()) - 1, 0, [this, blocked] {
      Course out = filled(as_is(), blocked);
      out.rest = rest_of(blocked);
      return out;
    });
  }
}

void FamilyRuns::run(Family& permeability) {
  later(0, 0, [this] { return filled(as_is(), c_.flow); });
  permeability.amount = kPermeability, permeability.courses.resize(kPermeability.size());
  for (std::size_t k = 0; k < kPermeability.size(); ++k)
    if (kPermeability[k] != 1)
      later(-1, k, [this, factor = kPermeability[k]] {
        LaminateMap state = as_is();
        flow::scatter_reinforcement(state, std::vector<double>(c_.sheet.size(), factor));
        return filled(state, c_.flow);
      });
  std::vector<Course> found(runs_.size());
  parallel_for(
      runs_.size(), [&](std::size_t k) { found[k] = runs_[k](); }, 1);
  for (std::size_t k = 0; k < runs_.size(); ++k)
    (places_[k].first < 0 ? permeability : families[places_[k].first]).courses[places_[k].second] = found[k];
  for (Family& f : families)
    if (!f.fixed) f.courses[0] = families[0].courses[0];
  for (std::size_t k = 0; k < kPermeability.size(); ++k)
    if (kPermeability[k] == 1) permeability.courses[k] = families[0].courses[0];
}

}  // namespace

double Course::resistance(double from, double to) const {
  if (volume.size() < 2 || to > full || !(to > from)) return kNotReached;
  const auto at = [&](double v) {
    const auto next = std::lower_bound(volume.begin(), volume.end(), v);
    if (next == volume.begin()) return integral.front() * std::pow(v / std::max(volume.front(), 1e-300), 2);
    if (next == volume.end()) return integral.back() + (v - volume.back()) * slope.back();
    const std::size_t k = static_cast<std::size_t>(next - volume.begin());
    return integral[k - 1] + (v - volume[k - 1]) / (volume[k] - volume[k - 1]) * (integral[k] - integral[k - 1]);
  };
  return (at(to) - at(from)) / (to - from);
}

ShotCase case_of(const Sheet& sheet, const std::vector<double>& gap, const LaminateOptions& laminate,
                 const FlowOptions& job, const Stretches& log) {
  FlowOptions flow = flow::drawn_flow(sheet, job, {});
  flow.schedule.clear();
  double most = job.pressure_limit;
  for (std::size_t k = 0; k < log.size(); ++k) {
    flow.schedule.push_back({k ? log.edge[k] : 0, std::max(log.rate[k], 1e-3 * log.rate[0])});
    most = std::max(most, log.pressure[k]);
  }
  flow.pressure_limit = kAboveLog * most;
  return {sheet, gap, laminate, flow, log.stands ? log.last_pressure : std::numeric_limits<double>::quiet_NaN()};
}

std::vector<Family> run_families(const ShotCase& c, const FlowOptions& job, const Progress& progress, int& fillings,
                                 Family& permeability) {
  FamilyRuns runs(c, job);
  runs.add(ShotCause::none, 0);
  // A resin that is cold or old is the common one of these.
  for (const ShotCause cause : {ShotCause::thick_resin, ShotCause::thin_resin}) runs.add(cause, 0.5).prior = 2;
  for (const ShotCause cause : {ShotCause::low_permeability, ShotCause::high_permeability}) runs.add(cause, 0.5);
  runs.add(ShotCause::resin_leak, 0.15);
  runs.add(ShotCause::poor_vacuum, 0.2 * atmosphere_pa);
  runs.add_glass_and_gap();
  runs.add_rim();
  runs.add_vents();
  report_progress(progress, "shot", 0);
  runs.run(permeability);
  report_progress(progress, "shot", 1);
  fillings = runs.size();
  return std::move(runs.families);
}

}  // namespace gapfront::diagnosis
