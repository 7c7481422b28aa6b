// What a filling does with hose, weight, ageing and the way through the thickness.
#include <algorithm>
#include <cmath>

#include "flow/fill_run.hpp"
#include "flow/pump.hpp"

namespace gapfront::flow {
namespace {

// Air at 20 °C, Pa s (1.82e-5; standard tables, from memory).
constexpr double kAir = 1.82e-5;
// A step in which the resin gels is halved down to this share of a row of cells; what the front would still gain is
// less.
constexpr double kGelCells = 0.02;
// A front that carries its own weight comes to a stand where it comes on no faster than this share of its mean pace.
constexpr double kStands = 1e-3;
// Resin below the vents' pressure by more than this share of the column that hangs there has run ahead of what comes.
constexpr double kHangs = 0.1;
// An inlet that stands above the vents by less than this share of the column pushes nothing: weight takes all that
// comes.
constexpr double kStarves = 0.01;
// And so for this share of the resin: what hangs in the first moments behind a hose is filled again.
constexpr double kForLong = 0.05;

}  // namespace

std::vector<RateStep> limited_schedule(const FlowOptions& o) {
  if (!o.schedule.empty() || !(o.supply.max_rate > 0)) return o.schedule;
  return {{0, o.supply.max_rate}};
}

// Weight acts along the links; the inlet's nodes stand in one body of resin.
void Fill::hang() {
  const Vec3 pull = o_.gravity.pull();
  if (!o_.gravity.on()) return;
  Vec3 middle = Vec3::Zero();
  for (int i : ports_.inlet) middle += sheet_.mesh.points[i] / double(ports_.inlet.size());
  for (const Vec3& way : ground_.links.way) drops_.push_back(pull.dot(way));
  for (int i : ports_.inlet) heads_.push_back(pull.dot(sheet_.mesh.points[i] - middle));
  double highest = 0;
  for (const Vec3& p : sheet_.mesh.points) {
    const double head = pull.dot(p - middle);
    deepest_ = std::max(deepest_, head), highest = std::min(highest, head);
  }
  out_.supply.column = deepest_ - highest;
  may_stand_ = drive_ < -highest;
  front_.weigh_down(drops_, heads_);
}

// From an open channel resin soaks down: φ z ż = K_z p/µ, so that z² = 2 K_z/φ · ∫ p dt/µ, and that is the pressure
// integral.
void Fill::soak(const LaminateMap& given) {
  if (!(o_.wet_out.through > 0)) return;
  soak_.assign(net_.size(), 0), soaked_at_.assign(net_.size(), kNever);
  for (int i = 0; i < net_.size(); ++i) {
    const NodeLaminate& n = given.nodes[ground_.order[i]];
    // Of the glass alone: neither what runs above it nor what runs along a radius beside it.
    const double along = n.conductance - n.channel * n.channel * n.channel / 12 - n.beside;
    if (!(n.channel > 0) || !(along > 0) || !(n.loft > 0)) continue;
    const double resin = n.fluid_thickness - n.channel;  // in the glass, mm: φ · loft
    soak_[i] = resin * n.loft * n.loft / (2 * o_.wet_out.through * along);
  }
}

void Fill::note_soaked(const Step& step) {
  for (std::size_t i = 0; i < soak_.size(); ++i) {
    if (soaked_at_[i] < kNever || !front_.full(static_cast<int>(i))) continue;
    const double now = front_.integral()[i], before = front_.integral_before()[i];
    if (now < soak_[i]) continue;
    const double share = now > before ? std::clamp((soak_[i] - before) / (now - before), 0.0, 1.0) : 1;
    soaked_at_[i] = time_ - (1 - share) * step.time;
  }
}

void Fill::note_supply(const Step& step, double inlet) {
  SupplyCourse& s = out_.supply;
  const double loss = o_.supply.resistance() * clock_.mean(time_ - step.time, step.time) * step.volume / step.time;
  const double pump = inlet - atmosphere_pa + loss - pump_head(o_);
  if (o_.supply.gauge_at_pump) out_.history.back().gauge_pressure = pump;
  s.pump_peak = out_.history.size() > 1 ? std::max(s.pump_peak, pump) : pump;  // below atmosphere it is negative
  s.hose_peak = std::max(s.hose_peak, loss);
  if (o_.supply.vent_length > 0)
    s.vent_air = std::max(s.vent_air,
                          tube_resistance(o_.supply.vent_length, o_.supply.vent_bore) * kAir * step.volume / step.time);
  if (o_.ageing.on()) s.thickest = std::max(s.thickest, o_.ageing.factor(o_.ageing.start + time_));
  if (drops_.empty()) return;
  const double hangs = o_.cavity_pressure - kHangs * deepest_;
  bool runs = inlet - o_.cavity_pressure < kStarves * deepest_;
  for (int i = 0; i < net_.size() && !runs && !air_.regions().empty(); ++i)
    runs = front_.full(i) && pressure_[ground_.order[i]] < hangs;
  if (runs) hanging_ += step.volume;
}

// Whether it is over.
bool Fill::gel(Step& step, double cells, double& again) {
  front_.undo(), air_.undo();
  if (step.volume > kGelCells * cells || !(step.volume > 0)) {
    const double most = clock_.left(time_, drive_);
    again = 0.5 * std::min(step.integral, most);
    // The first guess may lie so far off that nothing was computed; an integral of nothing ends it as well.
    if (again > 1e-6 * front_.inlet_integral() && again > 0) return false;
  }
  out_.supply.gelled_at = std::isfinite(clock_.gels_at()) ? clock_.gels_at() : time_;
  return true;
}

bool Fill::stands(const Step& step) {
  if (drops_.empty() || only_pockets()) return false;
  if (!(step.volume / step.time < kStands * front_.volume() / time_)) return false;
  out_.supply.stands_at = time_;
  return true;
}

/// What the resin has not reached when it gels, or stands, stays dry, whether air can get out or not.
void Fill::list_left_dry(double since) {
  for (const auto& r : air_.regions()) {
    if (r.pocket >= 0) continue;
    Pocket p;
    p.closed_at = since, p.initial_volume = p.final_volume = r.space;
    p.final_pressure = o_.cavity_pressure, p.nodes = r.nodes;
    shrink(p, r, kNever);
    out_.supply.left_dry += p.area;
    if (r.nodes.size() < 3) continue;  // the raggedness of the front on the mesh
    std::sort(p.nodes.begin(), p.nodes.end());
    out_.pockets.push_back(std::move(p));
  }
}

void Fill::finish_supply() {
  SupplyCourse& s = out_.supply;
  s.on = o_.supply.any() || o_.gravity.on() || o_.ageing.on() || o_.wet_out.through > 0;
  if (!s.on) {
    s = {};
    return;
  }
  s.head = pump_head(o_);
  s.runs_down = hanging_ > kForLong * total_;
  s.bled = front_.bled();
  s.past_known = o_.ageing.on() && o_.ageing.start + time_ > o_.ageing.known_to;
  double driest = 0;
  for (std::size_t i = 0; i < soak_.size(); ++i) {
    const bool wet = front_.full(static_cast<int>(i)), below = soak_[i] > 0;
    out_.wet_through.push_back(below ? soaked_at_[i] : out_.arrival[i]);
    const double depth = below ? std::sqrt(std::max(0.0, front_.integral()[i]) / soak_[i]) : 1;
    const double dry = out_.dry_below.emplace_back(wet ? std::clamp(1 - depth, 0.0, 1.0) : 1);
    if (!wet || !below) continue;
    const Vec3& at = sheet_.mesh.points[i];
    if (dry > 0) s.soak_dry += sheet_.area[i];
    if (dry > driest) driest = dry, s.soak_dry_at = at;
    if (const double took = soaked_at_[i] - out_.arrival[i]; soaked_at_[i] < kNever && took > s.soak_time)
      s.soak_time = took, s.soak_at = at;
  }
}

}  // namespace gapfront::flow
