#include "laminate/stack.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "gapfront/check.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

// Round fibres lying side by side fill π/(2√3) of the space at most (hexagonal packing). A gap that asks for more
// cannot be closed by glass and resin; it is held here so that permeability and resin volume stay positive.
constexpr double kMaxVf = 0.9069;
// A measured compaction law gives some pressure at the loft, where by definition there is none. Over the first
// 10 % of packing beyond the loft the law is ramped up from zero; from there on it holds as measured. The ramp is
// short against the scatter of lofts (± 25 %), and a product of two rising functions, so pressure stays monotone.
constexpr double kOnset = 1.10;
// Samples of the stack's curve: enough to bracket tightly, so that a few secant steps finish the solve.
constexpr int kSamples = 96;
// (K1 − K2)/(K1 + K2) of one family of threads by itself, K1 along it: K1 is three times K2 (order of magnitude, from
// memory: 2 to 10 for parallel glass). A glass whose law says more keeps its own.
constexpr double kThread = 0.5;

double pressure_of(const CompactionLaw& law, double loft_vf, double vf) {
  if (vf <= loft_vf) return 0;
  return law.pressure(vf) * std::min(1.0, (vf / loft_vf - 1) / (kOnset - 1));
}

/// Root of a monotone f between a and b, f(a) and f(b) of opposite signs: false position with the Illinois rule. Ends
/// where f is within `enough` of nothing, or the bracket has no number left inside.
template <class F>
double root(const F& f, double a, double fa, double b, double fb, double enough) {
  double x = b;
  for (int k = 0; k < 60 && fa != fb; ++k) {
    x = (a * fb - b * fa) / (fb - fa);
    const double fx = f(x);
    if (std::abs(fx) <= enough || x == b) break;
    if ((fx > 0) == (fb > 0))
      fa *= 0.5;
    else
      a = b, fa = fb;
    b = x, fb = fx;
  }
  return x;
}

/// Fraction at which a power law, ramped up, gives a pressure, by Newton's method in ln(vf/loft − 1): there the law's
/// logarithm is nearly straight.
double on_the_ramp(const CompactionLaw& law, double loft_vf, double pressure) {
  const double wanted = std::log(pressure) - std::log(loft_vf / law.a) / law.b + std::log(kOnset - 1);
  double y = std::min(wanted, std::log(kOnset - 1));
  for (int k = 0; k < 30; ++k) {
    const double x = std::exp(y), step = (y + std::log1p(x) / law.b - wanted) / (1 + x / (1 + x) / law.b);
    y -= step;
    if (std::abs(step) < 1e-13) break;
  }
  return loft_vf * (1 + std::exp(y));
}

/// Of K/K1 in axes of direction 0: xx, xy, yy.
std::array<double, 3> direction_tensor(const Ply& ply) {
  const double angle = ply.direction_deg * std::numbers::pi / 180, ratio = ply.reinforcement.permeability.ratio;
  if (ply.threads_deg == 90) {
    const double c = std::cos(angle), s = std::sin(angle);
    return {c * c + ratio * s * s, (1 - ratio) * c * s, s * s + ratio * c * c};
  }
  const double mean = 0.5 * (1 + ratio), own = (1 - ratio) / (1 + ratio), each = std::max(kThread, std::abs(own));
  const double share = 0.5 * (1 + own / each), other = angle + ply.threads_deg * std::numbers::pi / 180;
  const double c = share * std::cos(2 * angle) + (1 - share) * std::cos(2 * other);
  const double s = share * std::sin(2 * angle) + (1 - share) * std::sin(2 * other);
  return {mean * (1 + each * c), mean * each * s, mean * (1 - each * c)};
}

bool same_law(const Reinforcement& a, const Reinforcement& b) {
  const auto &ka = a.permeability, &kb = b.permeability;
  const auto &ca = a.compaction, &cb = b.compaction;
  return a.areal_weight == b.areal_weight && a.loft == b.loft && a.density == b.density && ka.kind == kb.kind &&
         ka.a == kb.a && ka.b == kb.b && ka.table == kb.table && ka.ratio == kb.ratio && ca.kind == cb.kind &&
         ca.a == cb.a && ca.b == cb.b && ca.table == cb.table;
}

}  // namespace

laminate::Principal laminate::principal(double xx, double xy, double yy) {
  const double mean = 0.5 * (xx + yy), half = std::hypot(0.5 * (xx - yy), xy);
  return {mean + half, mean - half, 0.5 * std::atan2(2 * xy, xx - yy)};
}

void check_ply(const Ply& ply) {
  const auto& g = ply.reinforcement;
  if (!(g.areal_weight > 0 && g.density > 0 && g.loft > 0 && ply.count > 0))
    throw Error(Fault::input,
                "laminate: ply \"" + g.name + "\" needs areal_weight, density, loft and count greater than zero");
  if (g.areal_weight / g.density / g.loft >= kMaxVf)
    throw Error(Fault::input, "laminate: ply \"" + g.name +
                                  "\" has a loft thinner than its glass packed solid; "
                                  "check areal_weight and loft");
  if (!(g.permeability.at(0.3) > 0))
    throw Error(Fault::input, "laminate: ply \"" + g.name + "\" has no permeability; give a law and its constants");
  if (!(g.compaction.pressure(0.3) > 0))
    throw Error(Fault::input, "laminate: ply \"" + g.name + "\" has no compaction law; give a and b, or a table");
}

laminate::Stack::Stack(const std::vector<Ply>& plies) {
  for (const auto& ply : plies) {
    check_ply(ply);
    const double solid = ply.count * ply.reinforcement.areal_weight / ply.reinforcement.density;
    auto layer = std::find_if(layers_.begin(), layers_.end(),
                              [&](const Layer& l) { return same_law(l.reinforcement, ply.reinforcement); });
    if (layer == layers_.end()) {
      layers_.push_back({.reinforcement = ply.reinforcement});
      layer = layers_.end() - 1;
      layer->loft_vf = ply.reinforcement.areal_weight / ply.reinforcement.density / ply.reinforcement.loft;
      layer->onset_vf = std::min(kMaxVf, kOnset * layer->loft_vf);
    }
    const auto [xx, xy, yy] = direction_tensor(ply);
    if (ply.reinforcement.permeability.ratio != 1 || ply.threads_deg != 90) isotropic_ = false;
    shear_ = std::max(shear_, std::abs(90 - ply.threads_deg) * std::numbers::pi / 180);
    layer->solid += solid;
    layer->xx += solid * xx;
    layer->yy += solid * yy;
    layer->xy += solid * xy;
    loft_ += ply.count * ply.reinforcement.loft;
    solid_ += solid;
    mass_ += ply.count * ply.reinforcement.areal_weight;
  }
  double low = 1e300;
  for (auto& l : layers_) {
    for (double* d : {&l.xx, &l.xy, &l.yy}) *d /= l.solid;
    l.onset_pressure = pressure_of(l.reinforcement.compaction, l.loft_vf, l.onset_vf);
    l.max_pressure = pressure_of(l.reinforcement.compaction, l.loft_vf, kMaxVf);
    max_pressure_ = std::max(max_pressure_, l.max_pressure);
    low = std::min(low, pressure_of(l.reinforcement.compaction, l.loft_vf, l.loft_vf * 1.0001));
  }
  min_ = solid_ / kMaxVf;
  if (layers_.size() < 2) return;
  const double from = std::log(std::max(low, 1e-9)), to = std::log(max_pressure_);
  for (int k = 0; k < kSamples; ++k) {
    const double p = from + (to - from) * k / (kSamples - 1);
    curve_.emplace_back(p, thickness_at(std::exp(p)));
  }
}

double laminate::Stack::vf_at(const Layer& l, double pressure) const {
  const auto& law = l.reinforcement.compaction;
  if (pressure <= 0) return l.loft_vf;
  if (pressure >= l.max_pressure) return kMaxVf;
  if (pressure < l.onset_pressure) {
    if (law.kind == CompactionLaw::Kind::power) return on_the_ramp(law, l.loft_vf, pressure);
    const auto beyond = [&](double vf) { return pressure_of(law, l.loft_vf, vf) / pressure - 1; };
    return root(beyond, l.loft_vf, -1, l.onset_vf, l.onset_pressure / pressure - 1, 1e-14);
  }
  if (law.kind == CompactionLaw::Kind::power) return law.a * std::pow(pressure, law.b);
  // In ln pressure, which over a table's rows is far from straight otherwise.
  const auto beyond = [&](double vf) { return std::log(law.pressure(vf) / pressure); };
  return root(beyond, l.onset_vf, std::log(l.onset_pressure / pressure), kMaxVf, std::log(l.max_pressure / pressure),
              1e-14);
}

double laminate::Stack::thickness_at(double pressure) const {
  double h = 0;
  for (const auto& l : layers_) h += l.solid / vf_at(l, pressure);
  return h;
}

laminate::StackState laminate::Stack::squeeze(double thickness) const {
  laminate::StackState s;
  const double h = std::clamp(thickness, min_, loft_);
  if (layers_.size() == 1) {
    const auto& l = layers_[0];
    s.vf = {std::clamp(l.solid / h, l.loft_vf, kMaxVf)};
    s.pressure = pressure_of(l.reinforcement.compaction, l.loft_vf, s.vf[0]);
    return s;
  }
  if (layers_.empty()) return s;
  if (h >= loft_) {
    for (const auto& l : layers_) s.vf.push_back(l.loft_vf);
    return s;
  }
  // Bracket on the sampled curve, then the root in ln pressure.
  auto hi = std::lower_bound(curve_.begin(), curve_.end(), h, [](const auto& c, double v) { return c.second > v; });
  if (hi == curve_.begin()) {  // between the loft and the first sample: in proportion
    s.pressure = std::exp(curve_[0].first) * (loft_ - h) / std::max(loft_ - curve_[0].second, 1e-300);
  } else {
    if (hi == curve_.end()) --hi;
    const auto thicker = [&](double x) { return thickness_at(std::exp(x)) - h; };
    const double x = root(thicker, (hi - 1)->first, (hi - 1)->second - h, hi->first, hi->second - h, 1e-12 * h);
    s.pressure = std::exp(x);
  }
  for (const auto& l : layers_) s.vf.push_back(vf_at(l, s.pressure));
  return s;
}

std::array<double, 3> laminate::Stack::conductance(const laminate::StackState& s) const {
  std::array<double, 3> t{0, 0, 0};
  for (std::size_t k = 0; k < layers_.size(); ++k) {
    const auto& l = layers_[k];
    const double kh = l.reinforcement.permeability.at(s.vf[k]) * l.solid / s.vf[k];
    t[0] += kh * l.xx;
    t[1] += kh * l.xy;
    t[2] += kh * l.yy;
  }
  return t;
}

}  // namespace gapfront
