// The numbers of a reinforcement, updated by what a bench says.
#include "gapfront/kit.hpp"

#include <algorithm>
#include <cmath>

#include "core/distributions.hpp"
#include "core/linear.hpp"
#include "gapfront/error.hpp"
#include "gapfront/units.hpp"

namespace gapfront::laminate {
namespace {

// ln areal weight, ln loft, ln Vf at kPivot, exponent of the compaction law, ln permeability: offsets from the library.
constexpr int kNumbers = 5;
enum { kWeight, kLoft, kVf, kExponent, kPermeability };
using Offsets = Eigen::Matrix<double, kNumbers, 1>;

// Half an atmosphere: where molds of this kind press, and so where the compaction law is held.
constexpr double kPivot = 0.5 * atmosphere_pa;
// Pieces whose worth the scatter known before has.
constexpr double kPriorPieces = 4;
// A handful of pieces is weighed and a handful of stacks is pressed; the mode is found in a few steps.
constexpr int kMaxSteps = 30;

/// Fibre fraction under a pressure: the law's inverse.
double law_vf(const CompactionLaw& law, double pressure) {
  if (law.kind == CompactionLaw::Kind::power) return law.a * std::pow(pressure, law.b);
  double low = 1e-3, high = 0.95;
  for (int k = 0; k < 80; ++k) {
    const double middle = 0.5 * (low + high);
    (law.pressure(middle) < pressure ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

struct BenchModel {
  const Reinforcement& glass;
  const BenchGlass& bench;
  const BenchOptions& o;
  double scatter;  ///< of the pieces

  double weight(const Offsets& x) const { return glass.areal_weight * std::exp(x[kWeight]); }
  double vf(const Offsets& x, double pressure) const {
    return law_vf(glass.compaction, pressure) * std::exp(x[kVf] + x[kExponent] * std::log(pressure / kPivot));
  }

  /// Of all data and of the prior, each by its standard uncertainty.
  Eigen::VectorXd residuals(const Offsets& x) const {
    std::vector<double> out{x[kWeight] / o.areal_weight, x[kLoft] / o.loft, x[kVf] / o.vf, x[kExponent] / o.exponent,
                            x[kPermeability] / o.permeability};
    for (const WeighedPiece& p : bench.pieces) out.push_back((std::log(p.weight / p.area / weight(x))) / scatter);
    for (const PressedStack& p : bench.presses) {
      const double u = std::hypot(o.thickness / p.thickness, o.press);
      const double predicted =
          p.pressure > 0 ? weight(x) / glass.density / vf(x, p.pressure) : glass.loft * std::exp(x[kLoft]);
      out.push_back(std::log(p.thickness / p.plies / predicted) / u);
    }
    for (const FilledStrip& s : bench.strips) {
      // t = φ µ L²/(2 K Δp): Darcy at constant pressure along a strip (1856; references, 2).
      const auto ratio = [&](double gap) {
        const double fraction = s.plies * weight(x) / glass.density / gap;
        const double seen = (1 - fraction) * s.viscosity * s.length * s.length / (2 * s.pressure * s.time);
        return std::log(seen / glass.permeability.at(fraction)) - x[kPermeability];
      };
      const double by_gap = (ratio(s.gap * 1.001) - ratio(s.gap)) / std::log(1.001);
      out.push_back(ratio(s.gap) / std::hypot(o.strip, by_gap * 0.5 * o.thickness / s.gap));
    }
    return Eigen::Map<const Eigen::VectorXd>(out.data(), static_cast<Eigen::Index>(out.size()));
  }
};

void check_bench(const Reinforcement& r, const BenchGlass& b) {
  const auto refuse = [&](const std::string& what) {
    throw Error(Fault::input, "laminate: measured \"" + b.glass + "\": " + what);
  };
  if (b.pieces.empty() && b.presses.empty() && b.strips.empty())
    refuse("nothing was measured; give piece, press or strip");
  for (const WeighedPiece& p : b.pieces) {
    if (!(p.area > 0 && p.weight > 0)) refuse("a piece needs an area and a weight greater than zero");
    const double ratio = p.weight / p.area / r.areal_weight;
    if (!(ratio > 0.5 && ratio < 2))
      refuse("a piece weighs " + std::to_string(std::lround(1e6 * p.weight / p.area)) + " g/m2, the glass " +
             std::to_string(std::lround(1e6 * r.areal_weight)) + " g/m2; check area, weight and the number of plies");
  }
  for (const PressedStack& p : b.presses) {
    if (!(p.thickness > 0 && p.plies > 0 && p.pressure >= 0)) refuse("a press needs thickness and plies above zero");
    // Below, the law is far from where anybody measured it; above, glass breaks.
    if (p.pressure > 0 && !(p.pressure >= 500 && p.pressure < 2e6))
      refuse("a press must be between 5 mbar and 20 bar, or without a load; check mass and area");
    if (p.plies * r.areal_weight / r.density >= 0.9 * p.thickness)
      refuse("a stack is thinner than its solid glass; check thickness and plies");
  }
  for (const FilledStrip& s : b.strips) {
    if (!(s.length > 0 && s.time > 0 && s.pressure > 0 && s.viscosity > 0 && s.gap > 0 && s.plies > 0))
      refuse("a strip needs length, time, pressure, viscosity, gap and plies above zero");
    if (s.gap > s.plies * r.loft * 1.1)
      refuse("a strip's gap is wider than its glass is thick, so resin runs beside it; add plies or close the gap");
    if (s.plies * r.areal_weight / r.density >= 0.8 * s.gap)
      refuse("a strip's gap is hardly wider than its solid glass; check gap and plies");
  }
}

/// Standard deviation of single pieces; few pieces lean on what is known before (conjugate: scaled inverse χ²).
double scatter_of(const BenchGlass& b, const BenchOptions& o) {
  double mean = 0, squares = kPriorPieces * o.piece * o.piece;
  for (const WeighedPiece& p : b.pieces) mean += std::log(p.weight / p.area) / double(b.pieces.size());
  for (const WeighedPiece& p : b.pieces) squares += std::pow(std::log(p.weight / p.area) - mean, 2);
  return std::sqrt(squares / (kPriorPieces + std::max(0.0, double(b.pieces.size()) - 1)));
}

void apply_offsets(Reinforcement& r, const Offsets& x) {
  r.areal_weight *= std::exp(x[kWeight]);
  r.loft *= std::exp(x[kLoft]);
  auto& c = r.compaction;
  if (c.kind == CompactionLaw::Kind::power) {
    c.b += x[kExponent];
    c.a *= std::exp(x[kVf] - x[kExponent] * std::log(kPivot));
  }
  for (auto& [vf, pressure] : c.table) vf *= std::exp(x[kVf] + x[kExponent] * std::log(pressure / kPivot));
  r.permeability.a *= std::exp(x[kPermeability]);
  for (auto& row : r.permeability.table) row.second *= std::exp(x[kPermeability]);
}

}  // namespace

BenchResult update(const Reinforcement& glass, const BenchGlass& bench, const BenchOptions& o) {
  check_bench(glass, bench);
  BenchResult out;
  out.glass = glass, out.piece_scatter = scatter_of(bench, o);
  const BenchModel model{glass, bench, o, out.piece_scatter};
  Offsets x = Offsets::Zero();
  Eigen::MatrixXd hessian = Eigen::MatrixXd::Identity(kNumbers, kNumbers);
  Eigen::VectorXd r;
  for (int step = 0; step < kMaxSteps; ++step) {
    r = model.residuals(x);
    Eigen::MatrixXd slope(r.size(), kNumbers);
    for (int j = 0; j < kNumbers; ++j) {
      Offsets y = x;
      y[j] += 1e-5;
      slope.col(j) = (model.residuals(y) - r) / 1e-5;
    }
    hessian = slope.transpose() * slope;
    const Eigen::VectorXd move = solve_symmetric(hessian, -slope.transpose() * r);
    x += move;
    if (move.norm() < 1e-9) break;
  }
  const Eigen::MatrixXd covariance = inverse_of(hessian);
  const auto u = [&](int k) { return std::sqrt(covariance(k, k)); };
  apply_offsets(out.glass, x);
  const double before = law_vf(glass.compaction, kPivot), after = before * std::exp(x[kVf]);
  out.areal_weight = {glass.areal_weight, o.areal_weight, out.glass.areal_weight, u(kWeight)};
  out.loft = {glass.loft, o.loft, out.glass.loft, u(kLoft)};
  out.vf = {before, o.vf, after, u(kVf)};
  out.permeability = {glass.permeability.at(after), o.permeability, out.glass.permeability.at(after), u(kPermeability)};
  // Drawn is what was measured: what the list says of the rest is as it was before.
  GlassSpread& spread = out.glass.spread;
  if (!bench.pieces.empty()) spread.areal_weight = u(kWeight), spread.pieces = out.piece_scatter;
  if (!bench.presses.empty()) spread.loft = u(kLoft), spread.vf = u(kVf);
  if (!bench.strips.empty()) spread.permeability = u(kPermeability);
  // Prior and data count alike: as many squares as data are left when the numbers are fitted.
  out.p_value = p_value(r.squaredNorm(), double(r.size() - kNumbers));
  const auto percent = [](double share) { return arg::number(200 * share, 0); };  // expanded
  Messages said{Message("clamping.measured-bench")};
  if (!bench.pieces.empty())
    said.push_back(Message("clamping.bench-weight", {arg::number(1e6 * out.glass.areal_weight, 0), percent(u(kWeight)),
                                                     arg::number(100 * out.piece_scatter, 0)}));
  if (!bench.presses.empty())
    said.push_back(Message("clamping.bench-press",
                           {arg::length(out.glass.loft), percent(u(kLoft)), arg::fraction(after, 1), percent(u(kVf))}));
  if (!bench.strips.empty())
    said.push_back(Message(
        "clamping.bench-strip",
        {arg::number(std::exp(x[kPermeability]), 2), arg::number(std::exp(x[kPermeability] - 2 * u(kPermeability)), 2),
         arg::number(std::exp(x[kPermeability] + 2 * u(kPermeability)), 2)}));
  if (out.p_value < 0.01) said.push_back(Message("clamping.bench-disagrees"));
  said.push_back(Message("clamping.the-rest", {arg::message(in_one_sentence(glass.source))}));
  out.glass.source = said;
  return out;
}

}  // namespace gapfront::laminate
