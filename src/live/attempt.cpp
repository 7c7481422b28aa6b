// One trial: corrections, process, ports and glass, then gap → laminate → flow as everywhere.
#include <algorithm>
#include <cmath>
#include <limits>

#include "gapfront/error.hpp"
#include "gapfront/live.hpp"

namespace gapfront::live {
namespace {

// What is carried along the face stands at whole tenths of a millimetre: nobody sets a vent finer, and job lines with
// such numbers say exactly what was tried.
constexpr double kSteps = 10;  // per mm

double in_tenths(double mm) { return std::round(mm * kSteps) / kSteps; }

/// The node nearest in plan.
std::size_t below(const Sheet& sheet, const Vec3& p) {
  std::size_t best = 0;
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (const double d = (sheet.mesh.points[i] - p).head<2>().squaredNorm(); d < least) least = d, best = i;
  return best;
}

/// Carried sideways, and as high above the face as before.
void carry(const Sheet& sheet, std::vector<Vec3>& path, const PortMove& m) {
  for (Vec3& p : path) {
    const double above = p.z() - sheet.mesh.points[below(sheet, p)].z();
    p += Vec3(m.dx, m.dy, 0);
    p.z() = sheet.mesh.points[below(sheet, p)].z() + above;
    p = p.unaryExpr(&in_tenths);
  }
}

/// What is added stands on the face.
void lay_on(const Sheet& sheet, std::vector<Vec3>& path) {
  for (Vec3& p : path) {
    p.z() = sheet.mesh.points[below(sheet, p)].z();
    p = p.unaryExpr(&in_tenths);
  }
}

void set_process(const LiveTrial& t, LaminateOptions& laminate, FlowOptions& flow) {
  if (t.viscosity) flow.viscosity = *t.viscosity;
  if (t.pressure_limit) flow.pressure_limit = *t.pressure_limit;
  if (t.rate) flow.schedule = *t.rate > 0 ? std::vector<RateStep>{{0, *t.rate}} : std::vector<RateStep>{};
  if (t.cavity_pressure) {
    // The vacuum presses on the glass as well.
    const auto vacuum = [](double p) { return std::max(0.0, atmosphere_pa - p); };
    laminate.clamping_pressure += vacuum(*t.cavity_pressure) - vacuum(flow.cavity_pressure);
    flow.cavity_pressure = *t.cavity_pressure;
  }
}

void set_plies(const std::vector<double>& counts, LaminateOptions& laminate) {
  std::vector<Ply> kept;
  for (std::size_t k = 0; k < laminate.plies.size(); ++k) {
    Ply ply = laminate.plies[k];
    if (k < counts.size()) ply.count = counts[k];
    if (ply.count > 0) kept.push_back(std::move(ply));
  }
  laminate.plies = std::move(kept);
}

void carry_ports(const Sheet& sheet, const LiveTrial& t, FlowOptions& flow) {
  for (const PortMove& m : t.moves) {
    if (m.index >= (m.vent ? flow.vents.size() : flow.inlets.size()))
      throw Error(Fault::input, "trial: moves a port that is not there; make the report again");
    carry(sheet, m.vent ? flow.vents[m.index].path : flow.inlets[m.index].path, m);
  }
  for (Vent v : t.vents) {
    lay_on(sheet, v.path);
    flow.vents.push_back(std::move(v));
  }
}

double out_area(const LiveCase& c, const Sheet& sheet, const std::vector<double>& gap) {
  double out = 0;
  for (std::size_t i = 0; i < gap.size(); ++i)  // false for the NaN of what is not judged
    if (gap[i] > c.high[i] || gap[i] < c.low[i]) out += sheet.area[i];
  return out;
}

}  // namespace

LiveOutcome attempt(const LiveCase& c, const Sheet& sheet, const LiveTrial& t) {
  LaminateOptions laminate = c.laminate;
  FlowOptions flow = c.flow;
  set_plies(t.plies, laminate);
  std::vector<double> change(sheet.size(), 0);
  for (std::size_t k = 0; k < std::min(c.corrections.size(), t.corrections.size()); ++k)
    if (t.corrections[k]) correct::apply(c.corrections[k], change, laminate, flow);
  set_process(t, laminate, flow);  // what is set by hand goes before what a correction sets
  carry_ports(sheet, t, flow);
  LiveOutcome out;
  out.added = t.added;
  for (LaminateZone& z : out.added) lay_on(sheet, z.where.path);
  laminate.zones.insert(laminate.zones.end(), out.added.begin(), out.added.end());
  out.gap = c.gap;
  for (std::size_t i = 0; i < change.size(); ++i) out.gap[i] += change[i];
  const LaminateMap scanned = laminate::evaluate_laminate(sheet, out.gap, laminate);
  out.over_packed_area = scanned.over_packed_area, out.under_filled_area = scanned.under_filled_area;
  out.out_area = out_area(c, sheet, out.gap);
  std::vector<double> met = out.gap;  // by the resin
  for (std::size_t i = 0; i < c.breathing.size(); ++i) met[i] += c.breathing[i];
  const bool rigid = c.breathing.empty();
  out.filling = flow::fill(sheet, rigid ? scanned : laminate::evaluate_laminate(sheet, met, laminate), flow);
  out.balance = flow::least_balance(out.filling.opening);
  for (const FlowSample& s : out.filling.history) out.peak_pressure = std::max(out.peak_pressure, s.inlet_pressure);
  out.inlets = std::move(flow.inlets), out.vents = std::move(flow.vents);
  return out;
}

}  // namespace gapfront::live
